//! From a way on the graph to one a crew can lay: few bends, each where it should be.
//!
//! Two steps in turn, on every stretch of ground between fixed ends:
//! 1. Keep only the bends worth their price: over the points of the way, the cheapest choice of bends with exact
//!    prices of the straight pieces between them and [`BEND_SHARE`] of the stretch's price for each bend.
//! 2. Slide each remaining bend along the boundaries it lies on to where the price is least. At a boundary
//!    between two grounds that is refraction: price x sine of the angle to the normal is the same on both
//!    sides.

use super::corner::Corner;
use super::search::Terms;
use crate::ground::GroundMap;
use crate::ground::graph::{Step, clip_of};
use crate::ground::mesh::TOUCH_M;
use loamline_geometry::{Point2, Segment, project_on_segment};
use loamline_limits::go_on;

/// Price of a bend as a share of the price of its stretch. Larger: fewer bends, dearer ways; each bend left
/// out costs at most this share, so three in a row stay within 1 %.
const BEND_SHARE: f64 = 0.003;

/// Rounds of both steps; the second settles what the first made possible.
const ROUNDS: usize = 2;

/// Passes over the bends in one round.
const PASSES: usize = 6;

/// Sliding stops below this step, metres.
const FINEST_M: f64 = 0.002;

/// Stands for the price of a piece that cannot be laid straight; finite so that sums can be compared.
const BLOCKED: f64 = 1e15;

/// Moves a point along a line downhill from where it is, in steps that halve where neither side is better;
/// `reach_m` is the first step. The point stays where it is if it is not on the line and nothing on it is better.
fn slide_along(line: Segment, start: Point2, reach_m: f64, price: &dyn Fn(Point2) -> f64) -> Point2 {
    let length = line.length();
    let (mut at, mut least) = (start, price(start));
    let mut t = project_on_segment(start, line).1;
    let mut step = reach_m.min(0.5 * length) / length;
    while step * length > FINEST_M {
        let better = [t - step, t + step]
            .into_iter()
            .map(|u| u.clamp(0.0, 1.0))
            .map(|u| (price(line.a.lerp(line.b, u)), u))
            .filter(|c| c.0 < least - 1e-9)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        match better {
            Some((p, u)) => (least, t, at) = (p, u, line.a.lerp(line.b, u)),
            None => step *= 0.5,
        }
    }
    at
}

fn on_ground(step: Step) -> bool {
    matches!(step, Step::Ground | Step::Barred(_))
}

impl GroundMap {
    fn straight(&self, a: Point2, b: Point2, terms: &Terms, open: Option<u16>) -> f64 {
        go_on();
        let s = Segment::new(a, b);
        self.laying(s, open).map_or(BLOCKED, |laying| laying + s.length() * terms.cable_per_m)
    }

    /// Straightens a way; `open` is the building whose inside may be used.
    pub(crate) fn straighten(&self, way: Vec<Corner>, terms: &Terms, open: Option<u16>) -> Vec<Corner> {
        let mut done: Vec<Corner> = Vec::new();
        let mut stretch: Vec<Corner> = Vec::new();
        for corner in way {
            if !stretch.is_empty() && !on_ground(corner.step) {
                done.extend(self.stretch(std::mem::take(&mut stretch), terms, open));
            }
            stretch.push(corner);
        }
        done.extend(self.stretch(stretch, terms, open));
        let mut done = self.faces_in_one(done);
        for _ in 0..2 {
            self.slide_transitions(&mut done, terms, open);
        }
        done
    }

    /// Drops points on a straight along a face.
    fn faces_in_one(&self, way: Vec<Corner>) -> Vec<Corner> {
        let mut kept: Vec<Corner> = Vec::with_capacity(way.len());
        for c in way {
            if let [.., before, last] = &mut kept[..]
                && matches!((c.step, last.step), (Step::Face(a), Step::Face(b)) if a == b)
                && Segment::new(before.at, c.at).distance_to(last.at) < TOUCH_M
            {
                last.at = c.at;
                continue;
            }
            kept.push(c);
        }
        kept
    }

    /// Moves the places where a way gets on or off a face along it to where the price is least.
    fn slide_transitions(&self, way: &mut [Corner], terms: &Terms, open: Option<u16>) {
        for i in 2..way.len().saturating_sub(1) {
            let Step::Transition(face) = way[i].step else { continue };
            let Some(clip) = clip_of(&self.plan, &self.mesh, face) else { continue };
            let up = matches!(way[i + 1].step, Step::Face(_));
            let (ground, on_face, slides) = if up {
                (way[i - 2].at, way[i + 1].at, way[i - 1].slides.clone())
            } else {
                (way[i + 1].at, way[i - 2].at, way[i].slides.clone())
            };
            let ground_leg = if up { way[i - 1].step } else { way[i + 1].step };
            if !on_ground(ground_leg) {
                continue;
            }
            let along = clip.price_per_m + terms.cable_per_m;
            let price = |p: Point2| {
                let walked = if up {
                    self.straight(ground, p, terms, open)
                } else {
                    self.straight(p, ground, terms, open)
                };
                walked + p.distance(on_face) * along
            };
            let mut at = way[i].at;
            for line in slides.into_iter().filter(|l| l.distance_to(on_face) < TOUCH_M) {
                at = slide_along(line, at, 0.5, &price);
            }
            (way[i - 1].at, way[i].at) = (at, at);
        }
    }

    fn stretch(&self, mut way: Vec<Corner>, terms: &Terms, open: Option<u16>) -> Vec<Corner> {
        for _ in 0..ROUNDS {
            if way.len() < 3 {
                break;
            }
            way = self.worthwhile_bends(way, terms, open);
            self.slide(&mut way, terms, open);
        }
        if way.len() < 3 { way } else { self.worthwhile_bends(way, terms, open) }
    }

    fn worthwhile_bends(&self, way: Vec<Corner>, terms: &Terms, open: Option<u16>) -> Vec<Corner> {
        let n = way.len();
        let along: Vec<f64> = way.windows(2).map(|w| self.straight(w[0].at, w[1].at, terms, open)).collect();
        let bend = BEND_SHARE * along.iter().filter(|p| **p < BLOCKED).sum::<f64>();
        let cheapest = self.mesh.cheapest + terms.cable_per_m;
        let mut best = vec![(f64::INFINITY, 0usize); n];
        best[0].0 = 0.0;
        for j in 1..n {
            for i in (0..j).rev() {
                // Even over the cheapest ground there is, this would cost more.
                let at_least = way[i].at.distance(way[j].at) * cheapest;
                if best[i].0 + at_least >= best[j].0 {
                    continue;
                }
                let piece =
                    if i + 1 == j { along[i] } else { self.straight(way[i].at, way[j].at, terms, open) };
                let price = best[i].0 + piece + if i > 0 { bend } else { 0.0 };
                if price < best[j].0 {
                    best[j] = (price, i);
                }
            }
        }
        let mut kept = vec![n - 1];
        while let Some(&last) = kept.last()
            && last > 0
        {
            kept.push(best[last].1);
        }
        let mut keep = vec![false; n];
        kept.into_iter().for_each(|i| keep[i] = true);
        way.into_iter().zip(keep).filter_map(|(c, k)| k.then_some(c)).collect()
    }

    fn slide(&self, way: &mut [Corner], terms: &Terms, open: Option<u16>) {
        for _ in 0..PASSES {
            let mut moved = 0.0f64;
            for i in 1..way.len() - 1 {
                let (before, after) = (way[i - 1].at, way[i + 1].at);
                let price =
                    |p: Point2| self.straight(before, p, terms, open) + self.straight(p, after, terms, open);
                let start = way[i].at;
                let reach = 0.25 * before.distance(after).max(0.2);
                let mut at = start;
                for line in way[i].slides.clone() {
                    at = slide_along(line, at, reach, &price);
                }
                way[i].at = at;
                moved = moved.max(at.distance(start));
            }
            if moved < 2.0 * FINEST_M {
                break;
            }
        }
    }
}
