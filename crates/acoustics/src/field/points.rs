//! Listening points, sorted into patches of neighbours so that what may matter is found once per patch.

use super::local_expansion::Middle;
use super::paths::{Patch, Receiver};
use crate::areas::sample_outline;
use crate::scene::{Problem, Scene, SceneErrors, SceneProblem, Subject};
use crate::source::in_range;
use loamline_geometry::{Point2, Point3, Polygon};
use loamline_limits::GRID_POINTS;
use std::ops::Range;

/// Points per patch, at most. More make patches so large that little can be ruled out; fewer spend more time ruling
/// out than computing.
const MOST_PER_PATCH: usize = 64;
/// Points per patch aimed at.
const AIM_PER_PATCH: f64 = 32.0;
/// Largest side of a patch, metres: in larger ones fewer far loudspeakers could be lumped
/// ([`Settings::cut_off_db`](crate::Settings::cut_off_db)), in much smaller ones every point would be its own.
const WIDEST_M: f64 = 12.0;

/// Points made ready for one scene's ground and buildings. `z` is an elevation; a point lower than
/// [`crate::LOWEST_HEIGHT_M`] above the ground is raised to it.
#[derive(Debug, Clone)]
pub struct Points {
    /// As given.
    given: Vec<Point3>,
    /// Place of each given point among the sorted ones.
    slot: Vec<u32>,
    pub(crate) receivers: Vec<Receiver>,
    pub(crate) patches: Vec<(Range<usize>, Patch)>,
    /// Of each patch.
    pub(crate) middles: Vec<Middle>,
    /// Groups of four patches, of four of those, and so on up to one group of all.
    pub(crate) groups: Vec<Vec<Group>>,
    /// The smallest group of each patch.
    pub(crate) group_of: Vec<usize>,
}

/// Patches that lie together.
#[derive(Debug, Clone)]
pub(crate) struct Group {
    pub(crate) receivers: Range<usize>,
    pub(crate) patch: Patch,
    pub(crate) middle: Middle,
    /// Its place among the groups of the next level.
    pub(crate) above: usize,
}

impl Points {
    /// Any list of points, also none.
    ///
    /// # Errors
    /// [`SceneErrors`] names every point that is not a place on a site.
    pub fn new(scene: &Scene, points: Vec<Point3>) -> Result<Self, SceneErrors> {
        let mut problems = Vec::new();
        for (i, p) in points.iter().enumerate() {
            for (what, value) in [("x", p.x), ("y", p.y), ("elevation", p.z)] {
                if let Err(e) = in_range(what, value, "m", -50_000.0, 50_000.0) {
                    problems.push(SceneProblem { subject: Subject::Point(i), problem: Problem::Value(e) });
                }
            }
        }
        if !problems.is_empty() {
            return Err(SceneErrors(problems));
        }
        let (low, cell_m) = cells(&points);
        // Cells in the order of a Z (Morton), so that neighbours in the list are neighbours in plan.
        let cell = |p: &Point3| interleave(((p.x - low.x) / cell_m) as u32, ((p.y - low.y) / cell_m) as u32);
        let mut order: Vec<u32> = (0..points.len() as u32).collect();
        // The order within a cell is that of the input: nothing depends on chance.
        order.sort_by_key(|&i| (cell(&points[i as usize]), i));
        let mut slot = vec![0; points.len()];
        for (place, &i) in order.iter().enumerate() {
            slot[i as usize] = place as u32;
        }
        let receivers: Vec<Receiver> =
            order.iter().map(|&i| Receiver::new(&scene.world, points[i as usize])).collect();
        let mut patches = Vec::new();
        let mut start = 0;
        for i in 1..=order.len() {
            let ends = i == order.len()
                || i - start == MOST_PER_PATCH
                || cell(&points[order[i] as usize]) != cell(&points[order[start] as usize]);
            if ends {
                patches.push((start..i, Patch::around(&receivers[start..i])));
                start = i;
            }
        }
        let codes: Vec<u64> = patches.iter().map(|(r, _)| cell(&points[order[r.start] as usize])).collect();
        let (groups, group_of) = groups(&patches, &codes);
        let middles = Vec::new();
        let mut points = Self { given: points, slot, receivers, patches, middles, groups, group_of };
        points.measure();
        Ok(points)
    }

    /// The same places made ready for another scene.
    pub(crate) fn on(&self, scene: &Scene) -> Self {
        let mut points = self.clone();
        for (given, slot) in self.given.iter().zip(&self.slot) {
            points.receivers[*slot as usize] = Receiver::new(&scene.world, *given);
        }
        points.measure();
        points
    }

    /// Takes the boxes and middles of patches and groups from their receivers.
    fn measure(&mut self) {
        for (range, patch) in &mut self.patches {
            *patch = Patch::around(&self.receivers[range.clone()]);
        }
        self.middles =
            self.patches.iter().map(|(range, _)| Middle::of(&self.receivers[range.clone()])).collect();
        for group in self.groups.iter_mut().flatten() {
            let receivers = &self.receivers[group.receivers.clone()];
            (group.patch, group.middle) = (Patch::around(receivers), Middle::of(receivers));
        }
    }

    /// A grid over an outline at a height above the ground: places about `spacing_m` apart along the outline's own axes
    /// ([`sample_outline`]), so that what they say of an area does not change when the plan is turned or moved. An area
    /// smaller than one cell gets a place within it.
    ///
    /// # Errors
    /// [`SceneErrors`] for a spacing outside 0.05 to 100 m, a height outside 0 to 100 m, or more than a
    /// million points.
    pub fn grid(
        scene: &Scene,
        outline: &Polygon,
        height_m: f64,
        spacing_m: f64,
    ) -> Result<Self, SceneErrors> {
        let size = outline.own_axes().size;
        let fine = |v: f64| if v.is_finite() { v } else { 0.0 };
        let count = (fine(size.x) / spacing_m + 1.0) * (fine(size.y) / spacing_m + 1.0);
        let checks = [
            in_range("spacing of points", spacing_m, "m", 0.05, 100.0),
            in_range("height of points", height_m, "m", 0.0, 100.0),
            in_range("number of points in the grid", count.floor(), "", 0.0, GRID_POINTS.number as f64),
        ];
        let problems: Vec<SceneProblem> = checks
            .into_iter()
            .filter_map(Result::err)
            .map(|e| SceneProblem { subject: Subject::Scene, problem: e.into() })
            .collect();
        if !problems.is_empty() {
            return Err(SceneErrors(problems));
        }
        // The checks above are stricter than those of the sampling: the middle never stands in for it.
        let places = sample_outline(outline, spacing_m).unwrap_or_else(|_| vec![outline.centroid()]);
        let up = |p: Point2| p.at_height(scene.ground_elevation_m(p) + height_m);
        Self::new(scene, places.into_iter().map(up).collect())
    }

    /// How many.
    pub fn len(&self) -> usize {
        self.given.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.given.is_empty()
    }

    /// The points in the order given.
    pub fn places(&self) -> &[Point3] {
        &self.given
    }

    /// Whether a point lies inside a building, where levels are [`crate::SILENCE_DB`].
    ///
    /// # Panics
    /// Past the last point.
    pub fn is_indoors(&self, point: usize) -> bool {
        self.receivers[self.slot(point)].indoors
    }

    pub(crate) fn slot(&self, point: usize) -> usize {
        self.slot[point] as usize
    }
}

/// Bits of two numbers in turn.
fn interleave(x: u32, y: u32) -> u64 {
    let spread = |v: u32| (0..32).fold(0u64, |bits, i| bits | (u64::from(v >> i & 1) << (2 * i)));
    spread(x) | (spread(y) << 1)
}

/// Groups patches whose cells share all but the last two bits of their number, then all but four, and so on.
fn groups(patches: &[(Range<usize>, Patch)], codes: &[u64]) -> (Vec<Vec<Group>>, Vec<usize>) {
    let mut levels: Vec<Vec<Group>> = Vec::new();
    let mut group_of = Vec::new();
    // Ranges of receivers with their numbers, one level below.
    let mut below: Vec<(Range<usize>, u64)> =
        patches.iter().zip(codes).map(|((range, _), code)| (range.clone(), *code)).collect();
    while below.len() > 1 || (levels.is_empty() && !below.is_empty()) {
        let mut joined: Vec<(Range<usize>, u64)> = Vec::new();
        let mut place = Vec::with_capacity(below.len());
        for (range, code) in &below {
            match joined.last_mut() {
                Some(last) if last.1 == code >> 2 => last.0.end = range.end,
                _ => joined.push((range.clone(), code >> 2)),
            }
            place.push(joined.len() - 1);
        }
        match levels.last_mut() {
            None => group_of = place,
            Some(groups) => groups.iter_mut().zip(place).for_each(|(group, above)| group.above = above),
        }
        let group = |(range, _): &(Range<usize>, u64)| Group {
            receivers: range.clone(),
            patch: Patch::around(&[]),
            middle: Middle::of(&[]),
            above: 0,
        };
        levels.push(joined.iter().map(group).collect());
        below = joined;
    }
    (levels, group_of)
}

/// South-west corner and side of the cells that hold about [`AIM_PER_PATCH`] points each.
fn cells(points: &[Point3]) -> (Point2, f64) {
    let mut low = Point2::new(f64::INFINITY, f64::INFINITY);
    let mut high = Point2::new(f64::NEG_INFINITY, f64::NEG_INFINITY);
    for p in points {
        low = Point2::new(low.x.min(p.x), low.y.min(p.y));
        high = Point2::new(high.x.max(p.x), high.y.max(p.y));
    }
    if points.is_empty() {
        return (Point2::default(), 1.0);
    }
    let size = high - low;
    let cells = (points.len() as f64 / AIM_PER_PATCH).max(1.0);
    // Points along a line fill only one row of cells.
    let side = (size.x * size.y / cells).sqrt().max(size.x.max(size.y) / cells);
    (low, side.clamp(1e-3, WIDEST_M.max(size.x.max(size.y) / 60_000.0)))
}
