//! Loudspeakers back to back on one stake: two that look apart, between two areas or in a gap of one.

use crate::outline::{FARTHEST_M, along, outwards, straight_sides};
use crate::places::{Rules, Spot, nearest_in};
use loamline_geometry::{Point2, Polygon, Segment, bearing_between, direction, wrap_degrees};
use loamline_limits::go_on;
use loamline_model::ONE_STAKE_M;

/// How far from each other two on one stake are written down, metres: less than [`ONE_STAKE_M`] also once both are rounded to
/// the centimetre, and enough to tell them apart.
const BESIDE_M: f64 = 0.03;
/// How far apart they look at least, degrees.
const APART_DEG: f64 = 120.0;
/// Two sides face each other where they look this much against each other (the cosine of 25 degrees), run beside each other for so
/// long, and lie no farther apart, metres.
const AGAINST: f64 = 0.906;
const BESIDE_EACH_OTHER_M: f64 = 2.0;
const GAP_M: f64 = 8.0;

/// Whether two places are one stake.
pub(crate) fn on_one_stake(a: Point2, b: Point2) -> bool {
    a.distance(b) <= ONE_STAKE_M
}

/// A place on the same stake, on the side that looks in a direction.
pub(crate) fn behind(spot: &Spot, looks_deg: f64) -> Spot {
    Spot { at: spot.at + direction(looks_deg, 0.0).plan() * BESIDE_M, ..*spot }
}

/// Whether two loudspeakers that look in these directions stand back to back.
pub(crate) fn look_apart(a_deg: f64, b_deg: f64) -> bool {
    let apart_deg = wrap_degrees(b_deg - a_deg);
    apart_deg.min(360.0 - apart_deg) >= APART_DEG
}

/// Direction in which an area lies from a place outside it, degrees.
pub(crate) fn towards(outline: &Polygon, at: Point2) -> f64 {
    bearing_between(at, nearest_in(outline, at))
}

/// Direction away from the nearest part of an area in which it lies as well, degrees: from a place in a gap of it.
pub(crate) fn other_side(outline: &Polygon, at: Point2) -> Option<f64> {
    let back = (towards(outline, at) + 180.0).rem_euclid(360.0);
    let ray = direction(back, 0.0).plan();
    let mut steps = 1..=(2.0 * FARTHEST_M) as usize;
    steps.any(|k| outline.contains(at + ray * (0.5 * k as f64))).then_some(back)
}

/// A line between two areas along which loudspeakers of both may stand.
pub(crate) struct Between {
    /// The two areas.
    pub zones: [usize; 2],
    /// Places for the first and for the second, two by two on one stake; none where no stake may stand.
    pub places: [Vec<Option<Spot>>; 2],
    /// Distance from one place to the next, metres.
    pub step_m: f64,
}

impl Rules<'_> {
    /// The lines in the middle between areas that face each other.
    pub fn between(&self, zones: &[&Polygon], step_m: f64) -> Vec<Between> {
        let pairs = (0..zones.len()).flat_map(|b| (0..b).map(move |a| (a, b)));
        pairs.flat_map(|(a, b)| self.between_two(zones, [a, b], step_m)).collect()
    }

    fn between_two(&self, zones: &[&Polygon], of: [usize; 2], step_m: f64) -> Vec<Between> {
        let near_m = self.job.document().brief.nearest_listener_m;
        let mut all = Vec::new();
        for one in straight_sides(zones[of[0]]) {
            for other in straight_sides(zones[of[1]]) {
                go_on();
                let Some((from, to)) = middle_line(one, other, near_m) else { continue };
                let (points, step) = along(&[from, to], false, step_m);
                let looks_deg = bearing_between(Point2::default(), outwards(one));
                let first: Vec<Option<Spot>> =
                    points.iter().map(|p| self.in_bed(*p).then(|| self.on_ground(*p))).collect();
                let second: Vec<Option<Spot>> =
                    first.iter().map(|spot| spot.map(|s| behind(&s, looks_deg))).collect();
                if first.iter().any(Option::is_some) {
                    all.push(Between { zones: of, places: [first, second], step_m: step });
                }
            }
        }
        all
    }
}

/// The line in the middle between two sides that face each other, over the length they run beside each other.
fn middle_line(one: Segment, other: Segment, near_m: f64) -> Option<(Point2, Point2)> {
    let out = outwards(one);
    let length = one.length();
    if out.dot(outwards(other)) > -AGAINST || length < BESIDE_EACH_OTHER_M {
        return None;
    }
    let along = (one.b - one.a) * length.recip();
    let far = |p: Point2| ((p - one.a).dot(along), (p - one.a).dot(out));
    // The other side runs the other way.
    let ((begin, begin_m), (end, end_m)) = (far(other.b), far(other.a));
    let (from, to) = (begin.max(0.0), end.min(length));
    if to - from < BESIDE_EACH_OTHER_M {
        return None;
    }
    let gap_m = |at: f64| begin_m + (end_m - begin_m) * (at - begin) / (end - begin);
    let gaps = [gap_m(from), gap_m(to)];
    let room = |g: f64| g >= 2.0 * near_m + 2.0 * ONE_STAKE_M && g <= GAP_M;
    if !gaps.into_iter().all(room) {
        return None;
    }
    let at = |s: f64, gap: f64| one.a + along * s + out * (0.5 * gap);
    Some((at(from, gaps[0]), at(to, gaps[1])))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn side(ax: f64, ay: f64, bx: f64, by: f64) -> Segment {
        Segment::new(Point2::new(ax, ay), Point2::new(bx, by))
    }

    #[test]
    fn the_line_between_two_sides_runs_in_the_middle_of_what_they_share() {
        // The east side of one area, from south to north, and the west side of another 3 m off, from north to south.
        let (from, to) = middle_line(side(4.0, 0.0, 4.0, 6.0), side(7.0, 9.0, 7.0, 2.0), 0.5).unwrap();
        assert!(from.distance(Point2::new(5.5, 2.0)) < 1e-9 && to.distance(Point2::new(5.5, 6.0)) < 1e-9);
        assert_eq!(middle_line(side(4.0, 0.0, 4.0, 6.0), side(4.6, 6.0, 4.6, 0.0), 0.5), None, "too narrow");
        assert_eq!(middle_line(side(4.0, 0.0, 4.0, 6.0), side(7.0, 2.0, 7.0, 9.0), 0.5), None, "looks away");
        assert_eq!(middle_line(side(4.0, 0.0, 4.0, 6.0), side(7.0, 9.0, 7.0, 5.0), 0.5), None, "too short");
    }

    #[test]
    fn two_on_one_stake_stay_on_it_however_they_are_rounded() {
        let round = |v: f64| (100.0 * v).round() / 100.0;
        for k in 0..360 {
            let at = Point2::new(1.234_567 * f64::from(k), 0.777_777 * f64::from(k));
            let spot = Spot { at, out_deg: None, height_m: 0.0, lay_per_m: 0.0 };
            let other = behind(&spot, f64::from(k)).at;
            let (a, b) = (Point2::new(round(at.x), round(at.y)), Point2::new(round(other.x), round(other.y)));
            assert!(on_one_stake(a, b) && a.distance(b) > 0.01, "{k}: {}", a.distance(b));
        }
    }

    #[test]
    fn the_other_side_of_a_gap_is_seen_and_open_ground_is_not() {
        // A U, open to the north.
        let corners =
            [(0.0, 0.0), (9.0, 0.0), (9.0, 6.0), (6.0, 6.0), (6.0, 3.0), (3.0, 3.0), (3.0, 6.0), (0.0, 6.0)];
        let u = Polygon::new(corners.map(|(x, y)| Point2::new(x, y))).unwrap();
        let back = other_side(&u, Point2::new(4.4, 4.8)).unwrap();
        assert!((back - 90.0).abs() < 1e-6, "the nearest leg is to the west: {back}");
        assert_eq!(other_side(&u, Point2::new(-2.0, 3.0)), None);
        assert!(look_apart(10.0, 190.0) && !look_apart(10.0, 100.0) && !look_apart(100.0, 10.0));
    }
}
