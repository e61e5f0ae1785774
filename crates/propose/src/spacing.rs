//! Whether loudspeakers stand evenly: what people see of a row.

use loamline_geometry::Point2;

/// Distances to the nearest other may differ from their median by this part of it.
pub(crate) const UNEVEN: f64 = 0.25;

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

    #[test]
    fn a_pair_close_together_in_a_row_is_uneven() {
        let at = |x: f64| Point2::new(x, 0.0);
        assert!(even(&[at(0.0), at(3.0), at(6.2), at(9.0)], 1.5));
        assert!(!even(&[at(0.0), at(3.0), at(3.8), at(9.0)], 0.5));
        assert!(!even(&[at(0.0), at(1.0)], 1.5), "too near");
        assert!(even(&[at(0.0)], 1.5));
    }
}
