//! Whether loudspeakers stand evenly, and apart from those of other areas: what people see of a row.

use crate::back_to_back::on_one_stake;
use crate::types::Pose;
use loamline_geometry::Point2;

/// Distances to the nearest other may differ from their median by this part of it.
pub(crate) const UNEVEN: f64 = 0.25;

/// Places are written to the centimetre, so that two may come nearer to each other by this, metres: what is to keep apart once it is
/// written keeps so much more.
pub(crate) const WRITTEN_M: f64 = 0.015;
/// What it costs that two of different areas stand side by side, neither apart nor on one stake, in loudspeakers of usual price;
/// the less the farther apart: people see clusters (common practice, no source).
const CROWDED: f64 = 3.0;
/// Part of that which it costs even where hardly anything lacks: what is wished is a distance, not about a distance.
const JUST_CROWDED: f64 = 0.5;

/// How much two places lack of the distance they are to keep, metres; nothing for two on one stake.
pub(crate) fn lacking_m(a: Point2, b: Point2, apart_m: f64) -> f64 {
    if apart_m <= 0.0 || on_one_stake(a, b) { 0.0 } else { (apart_m + WRITTEN_M - a.distance(b)).max(0.0) }
}

/// What it costs that two of different areas stand at these places, in loudspeakers of usual price.
pub(crate) fn crowded(a: Point2, b: Point2, apart_m: f64) -> f64 {
    let lacking_m = lacking_m(a, b, apart_m);
    let part = (lacking_m / apart_m.max(WRITTEN_M)).min(1.0);
    if lacking_m > 1e-9 { CROWDED * (JUST_CROWDED + (1.0 - JUST_CROWDED) * part) } else { 0.0 }
}

/// What it costs that loudspeakers of different areas stand too near each other, each pair once, in loudspeakers of usual price.
pub(crate) fn crowding(poses: &[Pose], apart_m: f64) -> f64 {
    let of = |i: usize| {
        let others = poses[..i].iter().filter(|o| o.zone != poses[i].zone);
        others.map(|o| crowded(o.at, poses[i].at, apart_m)).sum::<f64>()
    };
    (0..poses.len()).map(of).sum()
}

/// Distance of each place to the nearest other, metres; none for a single one.
pub(crate) fn to_nearest(places: &[Point2]) -> Vec<f64> {
    if places.len() < 2 {
        return Vec::new();
    }
    let nearest = |i: usize| {
        let others = places.iter().enumerate().filter(|(k, _)| *k != i);
        others.map(|(_, o)| o.distance(places[i])).fold(f64::INFINITY, f64::min)
    };
    (0..places.len()).map(nearest).collect()
}

/// Whether every place is as far from its nearest as the others from theirs, and none too near.
pub(crate) fn even(places: &[Point2], apart_m: f64) -> bool {
    let mut gaps = to_nearest(places);
    gaps.sort_by(f64::total_cmp);
    let Some((&least, &most)) = gaps.first().zip(gaps.last()) else { return true };
    let median = gaps[gaps.len() / 2];
    least >= apart_m && least >= (1.0 - UNEVEN) * median && most <= (1.0 + UNEVEN) * median
}

#[cfg(test)]
mod tests {
    use super::*;

    /// However two places that lack nothing are rounded to the centimetre, they are as far apart as they are to be.
    #[test]
    fn what_lacks_nothing_keeps_its_distance_once_it_is_written() {
        let round = |v: f64| (100.0 * v).round() / 100.0;
        let written = |p: Point2| Point2::new(round(p.x), round(p.y));
        for k in 0..720 {
            let (sin, cos) = (f64::from(k) * 0.5).to_radians().sin_cos();
            let a = Point2::new(0.004_9 + 0.001 * f64::from(k), 0.337);
            let b = a + Point2::new(cos, sin) * 1.515;
            assert!(lacking_m(a, b, 1.5) < 1e-9 && crowded(a, b, 1.5) == 0.0);
            assert!(written(a).distance(written(b)) >= 1.5, "{k}");
        }
    }

    #[test]
    fn a_little_too_near_costs_more_than_a_loudspeaker_and_one_stake_nothing() {
        let at = |x: f64| Point2::new(x, 0.0);
        let costs = [1.41, 1.0, 0.3].map(|x| crowded(at(0.0), at(x), 1.5));
        assert!(costs[0] > 1.0 && costs.is_sorted(), "{costs:?}");
        assert_eq!((crowded(at(0.0), at(0.03), 1.5), crowded(at(0.0), at(0.5), 0.0)), (0.0, 0.0));
    }

    #[test]
    fn only_loudspeakers_of_different_areas_crowd_each_other() {
        let pose = |x: f64, zone: usize| Pose {
            model: 0,
            at: Point2::new(x, 0.0),
            height_m: None,
            out_deg: None,
            bearing_deg: 0.0,
            pitch_deg: 0.0,
            zone,
            tap_w: 1.0,
            reversed: false,
        };
        let costs = crowding(&[pose(0.0, 0), pose(1.0, 0), pose(2.0, 1), pose(5.0, 1)], 1.5);
        assert!((costs - crowded(Point2::new(1.0, 0.0), Point2::new(2.0, 0.0), 1.5)).abs() < 1e-12);
    }

    #[test]
    fn a_pair_close_together_in_a_row_is_uneven() {
        let at = |x: f64| Point2::new(x, 0.0);
        assert!(even(&[at(0.0), at(3.0), at(6.2), at(9.0)], 1.5));
        assert!(!even(&[at(0.0), at(3.0), at(3.8), at(9.0)], 0.5));
        assert!(!even(&[at(0.0), at(1.0)], 1.5), "too near");
        assert!(even(&[at(0.0)], 1.5));
    }
}
