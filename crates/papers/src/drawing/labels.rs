//! Places labels so that none covers another, a symbol or the edge of the drawing.
//!
//! Each label has a fixed list of candidate places: round its symbol at growing distance (a leader joins it to
//! the symbol from the second ring on), along its cable, or inside its outline. What must never overlap is hard:
//! labels, symbols, and leaders over either. What had better not (a label over a cable or an outline, leaders that
//! cross, distance) has a price. The method is the greedy start and repeated re-placement of point-feature labelling
//! (Christensen, Marks and Shieber 1995, discrete descent), with eviction where a label has no free place: it takes
//! the place that turns out the fewest others, and those are placed again. Order and ties follow the input, so equal
//! drawings come out equal. A label that finds no place is handed back as unplaced, never drawn over another.

use super::spot::{Frame, Spot};
use loamline_limits::go_on;

/// Room kept between labels, millimetres.
const ROOM: f64 = 0.35;
/// Distances from the symbol's rim to the label, ring by ring, millimetres.
const RINGS: [f64; 8] = [0.5, 2.0, 4.0, 6.5, 9.5, 13.5, 18.5, 25.0];
/// Directions tried in each ring.
const DIRECTIONS: usize = 16;
/// Ring from which a leader is drawn.
const LEADER_FROM: usize = 1;
/// Rounds in which every label may move to a cheaper place.
const ROUNDS: usize = 3;
/// Times one label may be turned out before it is given up: more finds rarer solutions, slower.
const EVICTIONS: usize = 6;

/// What a label belongs to.
#[derive(Debug, Clone)]
pub enum Anchor {
    /// A symbol of this radius at a spot; the label may stand off on a leader.
    Symbol { at: Spot, radius: f64 },
    /// The same, and the label stands close to it or nowhere.
    Close { at: Spot, radius: f64 },
    /// A cable: the label stands on it, anywhere along.
    Along(Vec<Spot>),
    /// An area: the label stands inside, at one of these spots, best first.
    Inside(Vec<Spot>),
}

/// A label to place.
#[derive(Debug, Clone)]
pub struct Label {
    pub width: f64,
    pub height: f64,
    pub anchor: Anchor,
}

/// Where a label went.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    pub frame: Frame,
    /// From the rim of the symbol to the edge of the label.
    pub leader: Option<(Spot, Spot)>,
}

/// What is on the drawing already.
#[derive(Debug, Clone, Default)]
pub struct Occupied {
    /// The label must lie inside.
    pub frame: Frame,
    /// Never covered by a label nor crossed by a leader.
    pub blocks: Vec<Frame>,
    /// Covered only at a price per millimetre.
    pub strokes: Vec<(Spot, Spot)>,
}

#[derive(Debug, Clone)]
struct Candidate {
    frame: Frame,
    leader: Option<(Spot, Spot)>,
    price: f64,
}

/// Places all labels; one entry per label, `None` where there is no room.
pub fn place(labels: &[Label], occupied: &Occupied) -> Vec<Option<Placed>> {
    let candidates: Vec<Vec<Candidate>> = labels.iter().map(|l| candidates(l, occupied)).collect();
    let mut order: Vec<usize> = (0..labels.len()).collect();
    order.sort_by_key(|&i| (candidates[i].len(), i));
    let mut state = State { candidates: &candidates, chosen: vec![None; labels.len()] };
    let mut turned_out = vec![0usize; labels.len()];
    let mut queue: std::collections::VecDeque<usize> = order.iter().copied().collect();
    while let Some(i) = queue.pop_front() {
        go_on();
        if let Some(best) = state.cheapest_free(i) {
            state.chosen[i] = Some(best);
            continue;
        }
        if turned_out[i] >= EVICTIONS {
            continue;
        }
        turned_out[i] += 1;
        if let Some((best, others)) = state.fewest_in_the_way(i) {
            for other in others {
                state.chosen[other] = None;
                queue.push_back(other);
            }
            state.chosen[i] = Some(best);
        }
    }
    for _ in 0..ROUNDS {
        let before = state.chosen.clone();
        for &i in &order {
            go_on();
            state.chosen[i] = None;
            state.chosen[i] = state.cheapest_free(i);
        }
        if state.chosen == before {
            break;
        }
    }
    let placed = |(i, choice): (usize, &Option<usize>)| {
        choice.map(|c| Placed { frame: candidates[i][c].frame, leader: candidates[i][c].leader })
    };
    state.chosen.iter().enumerate().map(placed).collect()
}

struct State<'a> {
    candidates: &'a [Vec<Candidate>],
    chosen: Vec<Option<usize>>,
}

impl State<'_> {
    fn placed(&self) -> impl Iterator<Item = (usize, &Candidate)> {
        self.chosen.iter().enumerate().filter_map(|(i, c)| Some((i, &self.candidates[i][(*c)?])))
    }

    fn cheapest_free(&self, i: usize) -> Option<usize> {
        let price = |c: &Candidate| -> Option<f64> {
            let mut price = c.price;
            for (other, o) in self.placed() {
                if other != i {
                    if clash(c, o) {
                        return None;
                    }
                    price += crossing_price(c, o);
                }
            }
            Some(price)
        };
        let priced = self.candidates[i].iter().enumerate().filter_map(|(k, c)| Some((k, price(c)?)));
        priced.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(k, _)| k)
    }

    fn fewest_in_the_way(&self, i: usize) -> Option<(usize, Vec<usize>)> {
        self.candidates[i]
            .iter()
            .enumerate()
            .map(|(k, c)| {
                let others: Vec<usize> =
                    self.placed().filter(|(other, o)| *other != i && clash(c, o)).map(|(o, _)| o).collect();
                (k, others)
            })
            .min_by_key(|(k, others)| (others.len(), *k))
    }
}

fn clash(a: &Candidate, b: &Candidate) -> bool {
    let over = |leader: Option<(Spot, Spot)>, frame: Frame| {
        leader.is_some_and(|(p, q)| frame.length_inside(p, q) > 0.05)
    };
    a.frame.grown(ROOM / 2.0).overlaps(b.frame.grown(ROOM / 2.0))
        || over(a.leader, b.frame)
        || over(b.leader, a.frame)
}

fn crossing_price(a: &Candidate, b: &Candidate) -> f64 {
    match (a.leader, b.leader) {
        (Some((p, q)), Some((r, s))) if cross(p, q, r, s) => 40.0,
        _ => 0.0,
    }
}

fn cross(p: Spot, q: Spot, r: Spot, s: Spot) -> bool {
    let side = |a: Spot, b: Spot, c: Spot| (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
    side(p, q, r) * side(p, q, s) < 0.0 && side(r, s, p) * side(r, s, q) < 0.0
}

fn candidates(label: &Label, occupied: &Occupied) -> Vec<Candidate> {
    let (w, h) = (label.width, label.height);
    let mut out = Vec::new();
    match &label.anchor {
        Anchor::Symbol { at, radius } | Anchor::Close { at, radius } => {
            let close = matches!(label.anchor, Anchor::Close { .. });
            let rings = if close { &RINGS[..LEADER_FROM] } else { &RINGS[..] };
            // A block round the own symbol must not rule out the leader that starts there.
            let own = |b: &Frame| b.contains(*at);
            for (ring, &gap) in rings.iter().enumerate() {
                for k in 0..DIRECTIONS {
                    // East first, then alternating up and down: labels read best to the right.
                    let turn = (k.div_ceil(2) as f64) * 360.0 / DIRECTIONS as f64;
                    let direction = Spot::towards(90.0 + if k.is_multiple_of(2) { turn } else { -turn });
                    let push = |d: f64, half: f64| (d * 1.6).clamp(-1.0, 1.0) * half;
                    let centre = *at
                        + direction * (radius + gap)
                        + Spot::new(push(direction.x, w / 2.0), push(direction.y, h / 2.0));
                    let frame = Frame::centred(centre, w, h);
                    let leader = (ring >= LEADER_FROM).then(|| {
                        let to = frame.nearest(*at);
                        (*at + (to - *at).unit() * *radius, to)
                    });
                    let blocked = |b: &Frame| {
                        frame.overlaps(*b)
                            || (!own(b) && leader.is_some_and(|(p, q)| b.length_inside(p, q) > 0.05))
                    };
                    if !occupied.frame.holds(frame) || occupied.blocks.iter().any(blocked) {
                        continue;
                    }
                    let ring_price = if ring == 0 { 0.0 } else { 6.0 + gap * 1.5 };
                    let price = ring_price
                        + k as f64 * 0.12
                        + 2.0 * over_strokes(frame, occupied)
                        + 0.6 * leader.map_or(0.0, |l| strokes_crossed(l, occupied));
                    out.push(Candidate { frame, leader, price });
                }
            }
        }
        Anchor::Along(points) => {
            let total: f64 = points.windows(2).map(|p| p[0].distance(p[1])).sum();
            let steps = ((total / 1.2).ceil() as usize).clamp(1, 400);
            for k in 0..=steps {
                let share = k as f64 / steps as f64;
                let Some(at) = point_at(points, total * share) else { continue };
                let frame = Frame::centred(at, w, h);
                if !occupied.frame.holds(frame) || occupied.blocks.iter().any(|b| frame.overlaps(*b)) {
                    continue;
                }
                // The middle of the run reads best; the price of strokes under it counts its own once.
                let price = (share - 0.5).abs() * 6.0 + 1.5 * (over_strokes(frame, occupied) - w).max(0.0);
                out.push(Candidate { frame, leader: None, price });
            }
            out.extend(beside(points, total, (w, h), occupied));
        }
        Anchor::Inside(spots) => {
            for (k, &at) in spots.iter().enumerate() {
                let frame = Frame::centred(at, w, h);
                if occupied.frame.holds(frame) && !occupied.blocks.iter().any(|b| frame.overlaps(*b)) {
                    let price = k as f64 * 0.15 + 2.0 * over_strokes(frame, occupied);
                    out.push(Candidate { frame, leader: None, price });
                }
            }
        }
    }
    out
}

/// Places beside a cable, joined to it by a leader: for a run too short or too crowded to carry its tag.
fn beside(points: &[Spot], total: f64, (w, h): (f64, f64), occupied: &Occupied) -> Vec<Candidate> {
    let mut out = Vec::new();
    for share in [0.5, 0.35, 0.65, 0.2, 0.8] {
        let Some(at) = point_at(points, total * share) else { continue };
        for gap in &RINGS[1..] {
            for k in 0..DIRECTIONS {
                let direction = Spot::towards(k as f64 * 360.0 / DIRECTIONS as f64);
                let push = |d: f64, half: f64| (d * 1.6).clamp(-1.0, 1.0) * half;
                let centre =
                    at + direction * *gap + Spot::new(push(direction.x, w / 2.0), push(direction.y, h / 2.0));
                let frame = Frame::centred(centre, w, h);
                let to = frame.nearest(at);
                let blocked = |b: &Frame| frame.overlaps(*b) || b.length_inside(at, to) > 0.05;
                if occupied.frame.holds(frame) && !occupied.blocks.iter().any(blocked) {
                    let price = 12.0
                        + gap * 1.5
                        + 2.0 * over_strokes(frame, occupied)
                        + 0.6 * strokes_crossed((at, to), occupied);
                    out.push(Candidate { frame, leader: Some((at, to)), price });
                }
            }
        }
    }
    out
}

/// Point at a distance along a way.
pub fn point_at(points: &[Spot], mut distance: f64) -> Option<Spot> {
    for piece in points.windows(2) {
        let length = piece[0].distance(piece[1]);
        if distance <= length && length > 0.0 {
            return Some(piece[0].lerp(piece[1], distance / length));
        }
        distance -= length;
    }
    points.last().copied()
}

fn over_strokes(frame: Frame, occupied: &Occupied) -> f64 {
    occupied.strokes.iter().map(|&(a, b)| frame.length_inside(a, b)).sum()
}

fn strokes_crossed((p, q): (Spot, Spot), occupied: &Occupied) -> f64 {
    occupied.strokes.iter().filter(|&&(a, b)| cross(p, q, a, b)).count() as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn symbols(at: &[(f64, f64)], width: f64) -> (Vec<Label>, Occupied) {
        let blocks = at.iter().map(|&(x, y)| Frame::centred(Spot::new(x, y), 3.0, 3.0)).collect();
        let label = |&(x, y): &(f64, f64)| Label {
            width,
            height: 2.8,
            anchor: Anchor::Symbol { at: Spot::new(x, y), radius: 1.6 },
        };
        let occupied = Occupied { frame: Frame::new(0.0, 0.0, 200.0, 140.0), blocks, strokes: Vec::new() };
        (at.iter().map(label).collect(), occupied)
    }

    fn assert_apart(placed: &[Option<Placed>], occupied: &Occupied) {
        let there: Vec<&Placed> = placed.iter().flatten().collect();
        for (i, a) in there.iter().enumerate() {
            assert!(occupied.frame.holds(a.frame));
            assert!(occupied.blocks.iter().all(|b| !a.frame.overlaps(*b)));
            for b in &there[i + 1..] {
                assert!(!a.frame.overlaps(b.frame), "{a:?} covers {b:?}");
                for (leader, frame) in [(a.leader, b.frame), (b.leader, a.frame)] {
                    assert!(leader.is_none_or(|(p, q)| frame.length_inside(p, q) <= 0.05));
                }
            }
        }
    }

    #[test]
    fn a_tight_row_is_solved_with_leaders() {
        let row: Vec<(f64, f64)> = (0..14).map(|k| (80.0 + f64::from(k) * 3.1, 70.0)).collect();
        let (labels, occupied) = symbols(&row, 6.0);
        let placed = place(&labels, &occupied);
        assert!(placed.iter().all(Option::is_some));
        assert_apart(&placed, &occupied);
        assert!(placed.iter().flatten().any(|p| p.leader.is_some()));
        assert_eq!(placed, place(&labels, &occupied), "the same drawing comes out the same");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]
        #[test]
        fn labels_never_overlap(at in prop::collection::vec((5.0..195.0f64, 5.0..135.0f64), 1..70), width in 3.0..14.0f64) {
            let (labels, occupied) = symbols(&at, width);
            let placed = place(&labels, &occupied);
            assert_apart(&placed, &occupied);
        }
    }
}
