//! Lines cut where they meet, before they are made into triangles.
//!
//! A triangulation that cuts lines itself puts each new corner where rounding lets it lie, a little off both lines, and
//! where many lines meet under flat angles it may end up with lines that cross after all. Here lines are cut until none
//! crosses another: corners nearer than [`SNAP_M`] are one corner, a corner that near to a line is on it (snap rounding by
//! hot pixels, after Hobby 1999, with discs for pixels).

use super::check::GroundProblem;
use loamline_geometry::{Crossing, Point2, Segment, project_on_segment, segments_cross};
use loamline_limits::{GROUND_CORNERS, go_on};
use std::collections::{BTreeSet, HashMap};

/// Corners nearer than this are one, metres: copied coordinates that differ in the last digits must not open gaps. Smaller
/// leaves slivers, larger moves lines by what a tape shows.
pub(super) const SNAP_M: f64 = 1e-5;

/// Each cutting moves lines by up to [`SNAP_M`], which may make others meet: so often it is looked again. Two suffice for
/// drawings; more are needed only where lines lie hundredths of a millimetre beside each other.
const ROUNDS: usize = 12;

/// Corners of the plan, each once.
#[derive(Default)]
pub(super) struct Corners {
    all: Vec<Point2>,
    cells: HashMap<(i64, i64), Vec<usize>>,
}

impl Corners {
    /// The corner at a point: the first one put in that lies within [`SNAP_M`], else a new one.
    pub fn at(&mut self, p: Point2) -> usize {
        let cell = |v: f64| (v / SNAP_M).floor() as i64;
        let (x, y) = (cell(p.x), cell(p.y));
        let around = (x - 1..=x + 1).flat_map(|x| (y - 1..=y + 1).map(move |y| (x, y)));
        let near = around.filter_map(|c| self.cells.get(&c)).flatten().copied();
        if let Some(found) = near.filter(|i| self.all[*i].distance(p) < SNAP_M).min() {
            return found;
        }
        self.all.push(p);
        self.cells.entry((x, y)).or_default().push(self.all.len() - 1);
        self.all.len() - 1
    }

    /// Where a corner lies.
    pub fn point(&self, corner: usize) -> Point2 {
        self.all[corner]
    }
}

/// Cuts lines where they meet. Pieces of the corners' indices, in the order of the lines, each once.
///
/// # Errors
/// A place where lines still cross after all rounds; more corners than a map may have.
pub(super) fn cut(lines: &[Segment], corners: &mut Corners) -> Result<Vec<[usize; 2]>, GroundProblem> {
    let mut pieces: Vec<[usize; 2]> = lines.iter().map(|l| [corners.at(l.a), corners.at(l.b)]).collect();
    let mut last = None;
    for _ in 0..ROUNDS {
        let mut seen = BTreeSet::new();
        pieces.retain(|[a, b]| a != b && seen.insert([*a.min(b), *a.max(b)]));
        let cuts = cuts(&pieces, corners)?;
        let Some(first) = cuts.iter().position(|c| !c.is_empty()) else { return Ok(pieces) };
        last = Some(corners.point(cuts[first][0]));
        pieces = pieces.iter().zip(cuts).flat_map(|(piece, cuts)| parts(*piece, cuts, corners)).collect();
    }
    last.map_or(Ok(pieces), |at| Err(GroundProblem::NoMap { at }))
}

/// A piece cut at corners, in their order along it.
fn parts([a, b]: [usize; 2], mut cuts: Vec<usize>, corners: &Corners) -> Vec<[usize; 2]> {
    let whole = Segment::new(corners.point(a), corners.point(b));
    let along = |corner: &usize| project_on_segment(corners.point(*corner), whole).1;
    cuts.sort_by(|x, y| along(x).total_cmp(&along(y)).then(x.cmp(y)));
    cuts.dedup();
    cuts.push(b);
    let mut from = a;
    cuts.into_iter().map(|to| [std::mem::replace(&mut from, to), to]).collect()
}

/// For each piece, the corners it has to be cut at. Pieces are looked through from west to east.
fn cuts(pieces: &[[usize; 2]], corners: &mut Corners) -> Result<Vec<Vec<usize>>, GroundProblem> {
    let segment = |corners: &Corners, i: usize| {
        let [a, b] = pieces[i];
        Segment::new(corners.point(a), corners.point(b))
    };
    let mut order: Vec<usize> = (0..pieces.len()).collect();
    let west = |corners: &Corners, i: usize| segment(corners, i).a.x.min(segment(corners, i).b.x) - SNAP_M;
    let east = |corners: &Corners, i: usize| segment(corners, i).a.x.max(segment(corners, i).b.x) + SNAP_M;
    order.sort_by(|i, j| west(corners, *i).total_cmp(&west(corners, *j)).then(i.cmp(j)));
    let mut cuts = vec![Vec::new(); pieces.len()];
    let mut open: Vec<usize> = Vec::new();
    for i in order {
        go_on();
        // Where lines cross there are corners that no outline has.
        GROUND_CORNERS.check(corners.all.len())?;
        let from = west(corners, i);
        open.retain(|j| east(corners, *j) >= from);
        for &j in &open {
            let (s, t) = (segment(corners, i), segment(corners, j));
            if s.a.y.min(s.b.y) - SNAP_M > t.a.y.max(t.b.y) || t.a.y.min(t.b.y) - SNAP_M > s.a.y.max(s.b.y) {
                continue;
            }
            let mut touches = false;
            for (corner, onto, line) in
                [(pieces[i][0], j, t), (pieces[i][1], j, t), (pieces[j][0], i, s), (pieces[j][1], i, s)]
            {
                let near = line.distance_to(corners.point(corner)) < SNAP_M;
                touches |= near;
                if near && !pieces[onto].contains(&corner) {
                    cuts[onto].push(corner);
                }
            }
            // A corner on a line is where they meet, unless they meet a second time, which the next round shows.
            if !touches && let Some(Crossing::Proper(at, _)) = segments_cross(s, t) {
                let corner = corners.at(at);
                [i, j]
                    .into_iter()
                    .filter(|k| !pieces[*k].contains(&corner))
                    .for_each(|k| cuts[k].push(corner));
            }
        }
        open.push(i);
    }
    Ok(cuts)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn line(a: [f64; 2], b: [f64; 2]) -> Segment {
        Segment::new(Point2::new(a[0], a[1]), Point2::new(b[0], b[1]))
    }

    /// No two pieces cross, and no corner lies within another piece.
    fn apart(pieces: &[[usize; 2]], corners: &Corners) -> bool {
        let of = |p: &[usize; 2]| Segment::new(corners.point(p[0]), corners.point(p[1]));
        pieces.iter().enumerate().all(|(i, p)| {
            pieces[..i].iter().all(|q| {
                let shared = p.iter().any(|end| q.contains(end));
                shared || segments_cross(of(p), of(q)).is_none()
            })
        })
    }

    #[test]
    fn lines_are_cut_where_they_cross_touch_and_overlap() {
        let mut corners = Corners::default();
        let crossing =
            cut(&[line([0.0, 0.0], [4.0, 4.0]), line([0.0, 4.0], [4.0, 0.0])], &mut corners).unwrap();
        assert_eq!(crossing.len(), 4);
        assert_eq!(corners.point(crossing[0][1]), Point2::new(2.0, 2.0));
        let mut corners = Corners::default();
        let touching = cut(&[line([0.0, 0.0], [4.0, 0.0]), line([1.0, 0.000_001], [1.0, 3.0])], &mut corners);
        assert_eq!(touching.unwrap().len(), 3);
        let mut corners = Corners::default();
        let over = cut(&[line([0.0, 0.0], [4.0, 0.0]), line([1.0, 0.0], [9.0, 0.0])], &mut corners).unwrap();
        assert_eq!(over.len(), 3, "what both cover stands once");
    }

    proptest! {
        /// On a grid many lines meet in one place; off it by less and more than what counts as one place.
        #[test]
        fn afterwards_no_lines_cross(
            ends in prop::collection::vec((0..6_i8, 0..6_i8, 0..6_i8, 0..6_i8, 0..4_usize), 2..30)
        ) {
            let lines: Vec<Segment> = ends.iter().map(|(a, b, c, d, off)| {
                let off = [0.0, 1e-9, 3e-6, 0.013][*off];
                line([f64::from(*a) + off, f64::from(*b)], [f64::from(*c), f64::from(*d) - off])
            }).collect();
            let mut corners = Corners::default();
            let pieces = cut(&lines, &mut corners).unwrap();
            prop_assert!(apart(&pieces, &corners));
            // Nothing is lost: the middle of every line still lies on a piece, within what cutting moves it by.
            for l in lines.iter().filter(|l| l.length() > 0.01) {
                let middle = l.a.lerp(l.b, 0.5);
                let near = pieces.iter().any(|p| {
                    Segment::new(corners.point(p[0]), corners.point(p[1])).distance_to(middle) < 1e-4
                });
                prop_assert!(near, "{l:?}");
            }
        }
    }
}
