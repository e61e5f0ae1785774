//! Rows: places that stand evenly along a guide.

use crate::guides::Guide;
use crate::places::Spot;
use crate::spacing::even;
use loamline_geometry::Point2;
use std::collections::BTreeSet;

/// Loudspeakers in one row, at most: more are two rows, and belong on two lines.
const MOST_IN_A_ROW: usize = 16;
/// How far a place may lie from where even spacing would have it, as a part of the spacing.
const SNAP: f64 = 0.12;
/// Where rows begin and end on their guide, as parts of its length left free at either end.
const INSETS: [f64; 3] = [0.0, 0.12, 0.25];

/// The rows that stand evenly along a guide, each as places among all.
pub(crate) fn rows_on(guide: &Guide, spots: &[Spot], apart_m: f64) -> Vec<Vec<usize>> {
    let steps = guide.places.len();
    if steps <= 1 {
        return guide.places.iter().flatten().map(|p| vec![*p]).collect();
    }
    let length = steps as f64 * guide.step_m;
    let most = ((length / apart_m.max(0.1)).floor() as usize).clamp(1, MOST_IN_A_ROW);
    let mut found: BTreeSet<Vec<usize>> = BTreeSet::new();
    for n in 1..=most {
        let insets: &[f64] = if guide.closed { &[0.0] } else { &INSETS };
        for &inset in insets {
            let share = |i: f64| inset + (1.0 - 2.0 * inset) * i / n as f64;
            let mut ways: Vec<Vec<f64>> = vec![(0..n).map(|i| share(i as f64 + 0.5)).collect()];
            if guide.closed {
                ways.push((0..n).map(|i| share(i as f64)).collect());
            } else if n > 1 && inset == 0.0 {
                // From end to end.
                ways.push((0..n).map(|i| 0.02 + 0.96 * i as f64 / (n as f64 - 1.0)).collect());
            }
            let tolerance = (SNAP * steps as f64 * (1.0 - 2.0 * inset) / n as f64).max(1.0);
            found.extend(ways.iter().filter_map(|at| snapped(guide, at, tolerance)));
        }
        found.insert(in_parts(guide, length / n as f64));
    }
    let fits = |row: &Vec<usize>| {
        let places: Vec<Point2> = row.iter().map(|i| spots[*i].at).collect();
        !row.is_empty() && row.len() <= MOST_IN_A_ROW && even(&places, apart_m)
    };
    found.into_iter().filter(fits).collect()
}

/// The places nearest to some shares of a guide's length; none where one of them has no place near.
fn snapped(guide: &Guide, shares: &[f64], tolerance: f64) -> Option<Vec<usize>> {
    let steps = guide.places.len() as i64;
    let middle = 0.5 * (steps as f64 - 1.0);
    let one = |share: &f64| {
        let wanted = share * steps as f64 - 0.5;
        let first = wanted.floor() as i64;
        let near = (first - tolerance as i64..=first + 1 + tolerance as i64)
            .filter(|k| guide.closed || (0..steps).contains(k))
            .filter_map(|k| {
                let place = guide.places[k.rem_euclid(steps) as usize]?;
                Some(((k as f64 - wanted).abs(), (k as f64 - middle).abs(), place))
            });
        // Of two as near the one towards the middle, so that both halves of a row come out alike.
        let nearest = near.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)))?;
        (nearest.0 <= tolerance).then_some(nearest.2)
    };
    shares.iter().map(one).collect()
}

/// A row that leaves out the gaps of a guide: in each part between two gaps as many as its length asks at a spacing.
fn in_parts(guide: &Guide, spacing_m: f64) -> Vec<usize> {
    let steps = guide.places.len();
    // A closed guide begins behind a gap.
    let begin = if guide.closed { guide.places.iter().position(Option::is_none).unwrap_or(0) } else { 0 };
    let places: Vec<Option<usize>> = (0..steps).map(|k| guide.places[(begin + k) % steps]).collect();
    let mut row = Vec::new();
    for part in places.split(Option::is_none) {
        let length = part.len() as f64 * guide.step_m;
        let n = (length / spacing_m).round() as usize;
        let n = if n == 0 && length >= 0.4 * spacing_m { 1 } else { n };
        let at = |i: usize| ((i as f64 + 0.5) / n as f64 * part.len() as f64).floor() as usize;
        row.extend((0..n).filter_map(|i| part.get(at(i)).copied().flatten()));
    }
    row.dedup();
    row
}

#[cfg(test)]
mod tests {
    use super::*;

    fn guide(free: &[bool], closed: bool) -> (Guide, Vec<Spot>) {
        let spot =
            |k: usize| Spot { at: Point2::new(k as f64, 0.0), out_deg: None, height_m: 0.0, lay_per_m: 0.0 };
        let places = free.iter().enumerate().map(|(k, f)| f.then_some(k)).collect();
        (Guide { zone: 0, places, closed, step_m: 1.0 }, (0..free.len()).map(spot).collect())
    }

    #[test]
    fn every_row_is_even_and_keeps_its_distance() {
        let (g, spots) = guide(&[true; 12], false);
        let rows = rows_on(&g, &spots, 2.0);
        assert!(rows.iter().any(|r| r.len() == 1) && rows.iter().any(|r| r.len() == 6));
        for row in rows {
            let gaps: Vec<f64> = row.windows(2).map(|w| (w[1] - w[0]) as f64).collect();
            let (least, most) = gaps.iter().fold((f64::INFINITY, 0f64), |(l, m), g| (l.min(*g), m.max(*g)));
            assert!(gaps.is_empty() || least >= 2.0 && most <= 1.7 * least, "{row:?}");
        }
    }

    #[test]
    fn a_row_stands_beside_a_gap_and_never_in_it() {
        let free: Vec<bool> = (0..12).map(|k| !(4..8).contains(&k)).collect();
        let (g, spots) = guide(&free, false);
        let rows = rows_on(&g, &spots, 1.0);
        assert!(rows.iter().any(|r| r.len() >= 2));
        assert!(rows.iter().flatten().all(|k| free[*k]));
    }
}
