//! Ways of cables on a drawing: runs that share a way are drawn side by side, not on top of each other.
//!
//! Every way is cut where an end or corner of another lies on it; pieces with the same two ends are a bundle.
//! Inside a bundle each run is shifted across by its place in the job's order, and neighbouring pieces of a run
//! are joined where their shifted lines meet.

use super::spot::Spot;
use std::collections::BTreeMap;

/// Distance between neighbours in a bundle, millimetres.
const PITCH: f64 = 0.75;
/// Ends nearer than this are the same place, millimetres.
const SAME: f64 = 0.15;
/// Corners are cut off where shifted lines would meet farther away than this many pitches.
const LONGEST_MITRE: f64 = 4.0;

type End = (i64, i64);

fn end(p: Spot) -> End {
    ((p.x / SAME).round() as i64, (p.y / SAME).round() as i64)
}

/// Shifts ways (in the job's order) so that none covers another. Same number of ways out as in; a way with
/// fewer than two points comes back as it was.
pub fn side_by_side(ways: &[Vec<Spot>]) -> Vec<Vec<Spot>> {
    let corners: Vec<Spot> = ways.iter().flatten().copied().collect();
    let cut: Vec<Vec<Spot>> = ways.iter().map(|w| cut_at(w, &corners)).collect();
    let mut bundles: BTreeMap<(End, End), Vec<usize>> = BTreeMap::new();
    for (i, way) in cut.iter().enumerate() {
        for piece in way.windows(2) {
            let members = bundles.entry(key(piece[0], piece[1])).or_default();
            if !members.contains(&i) {
                members.push(i);
            }
        }
    }
    cut.iter()
        .enumerate()
        .map(|(i, way)| {
            let shifts: Vec<f64> = way
                .windows(2)
                .map(|piece| {
                    let key = key(piece[0], piece[1]);
                    let members = &bundles[&key];
                    let place = members.iter().position(|&m| m == i).unwrap_or(0) as f64;
                    let shift = (place - (members.len() as f64 - 1.0) / 2.0) * PITCH;
                    // The same side of the ground whichever way the run goes.
                    if end(piece[0]) == key.0 { shift } else { -shift }
                })
                .collect();
            shifted(way, &shifts)
        })
        .collect()
}

fn key(a: Spot, b: Spot) -> (End, End) {
    let (a, b) = (end(a), end(b));
    if a <= b { (a, b) } else { (b, a) }
}

fn cut_at(way: &[Spot], corners: &[Spot]) -> Vec<Spot> {
    let mut out: Vec<Spot> = Vec::with_capacity(way.len());
    for piece in way.windows(2) {
        let (a, b) = (piece[0], piece[1]);
        let d = b - a;
        let length = d.norm();
        if length < 1e-9 {
            continue;
        }
        if out.is_empty() {
            out.push(a);
        }
        let mut on: Vec<f64> = corners
            .iter()
            .filter_map(|&c| {
                let t = (c - a).dot(d) / (length * length);
                let inside = t * length > SAME && (1.0 - t) * length > SAME;
                (inside && (a + d * t).distance(c) < SAME).then_some(t)
            })
            .collect();
        on.sort_by(f64::total_cmp);
        on.dedup_by(|x, y| (*x - *y).abs() * length < SAME);
        out.extend(on.into_iter().map(|t| a + d * t));
        out.push(b);
    }
    if out.is_empty() { way.to_vec() } else { out }
}

fn shifted(way: &[Spot], shifts: &[f64]) -> Vec<Spot> {
    if way.len() < 2 {
        return way.to_vec();
    }
    let side = |k: usize| (way[k + 1] - way[k]).unit().right() * shifts[k];
    let mut out = vec![way[0] + side(0)];
    for k in 1..way.len() - 1 {
        let (before, after) = (side(k - 1), side(k));
        let d1 = (way[k] - way[k - 1]).unit();
        let d2 = (way[k + 1] - way[k]).unit();
        let cross = d1.x * d2.y - d1.y * d2.x;
        let (p1, p2) = (way[k] + before, way[k] + after);
        if p1.distance(p2) < 1e-9 {
            out.push(p1);
            continue;
        }
        if cross.abs() > 1e-6 {
            let gap = p2 - p1;
            let t = (gap.x * d2.y - gap.y * d2.x) / cross;
            let meet = p1 + d1 * t;
            if meet.distance(way[k]) <= LONGEST_MITRE * PITCH {
                out.push(meet);
                continue;
            }
        }
        out.extend([p1, p2]);
    }
    let last = way.len() - 1;
    out.push(way[last] + side(last - 1));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_on_one_way_lie_side_by_side_in_order() {
        let a = vec![Spot::new(0.0, 0.0), Spot::new(20.0, 0.0)];
        let back: Vec<Spot> = a.iter().rev().copied().collect();
        let out = side_by_side(&[a.clone(), back]);
        assert!((out[0][0].y + out[1][0].y).abs() < 1e-9, "they lie either side of the way: {out:?}");
        assert!((out[0][0].y - out[1][0].y).abs() > PITCH - 1e-9);
        assert_eq!(side_by_side(std::slice::from_ref(&a)), vec![a]);
    }

    #[test]
    fn a_shared_part_is_found_where_only_part_is_shared() {
        let long = vec![Spot::new(0.0, 0.0), Spot::new(30.0, 0.0)];
        let short = vec![Spot::new(10.0, 0.0), Spot::new(20.0, 0.0), Spot::new(20.0, 9.0)];
        let out = side_by_side(&[long, short]);
        // The long one steps aside between 10 and 20 only.
        assert_eq!(out[0].first(), Some(&Spot::new(0.0, 0.0)));
        assert_eq!(out[0].last(), Some(&Spot::new(30.0, 0.0)));
        assert!(out[0].iter().any(|p| (p.y.abs() - PITCH / 2.0).abs() < 1e-9));
    }
}
