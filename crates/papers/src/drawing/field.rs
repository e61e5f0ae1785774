//! A field of levels under a plan, and the outlines of where it is so loud or louder.
//!
//! Marching squares over the grid, edge crossings by linear interpolation. The grid is framed by a border of very low values, so
//! that every line closes.

use loamline_geometry::Point2;
use loamline_limits::go_on;
use std::collections::BTreeMap;

/// Levels on an upright grid of points.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelField {
    /// South-west point of the grid, metres.
    pub origin: Point2,
    /// Distance between neighbours, metres.
    pub step_m: f64,
    /// Points from west to east.
    pub columns: usize,
    /// Levels, dB: row by row from south to north, each row from west to east.
    pub levels_db: Vec<f64>,
}

impl LevelField {
    /// Points from south to north.
    pub fn rows(&self) -> usize {
        self.levels_db.len().checked_div(self.columns).unwrap_or(0)
    }

    /// Closed outlines of the region where the level is at least `limit_db`, site coordinates.
    pub fn outlines(&self, limit_db: f64) -> Vec<Vec<Point2>> {
        trace(self, limit_db)
    }
}

/// An edge between two neighbouring grid points: column, row, and whether it runs north.
type Edge = (usize, usize, bool);

fn trace(field: &LevelField, limit_db: f64) -> Vec<Vec<Point2>> {
    let (columns, rows) = (field.columns + 2, field.rows() + 2);
    if field.columns < 2 || rows < 4 {
        return Vec::new();
    }
    let value = |c: usize, r: usize| -> f64 {
        let inside = (1..=field.columns).contains(&c) && (1..rows - 1).contains(&r);
        let level = if inside { field.levels_db[(r - 1) * field.columns + c - 1] } else { f64::NEG_INFINITY };
        if level.is_finite() { level } else { limit_db - 1e6 }
    };
    let at = |c: usize, r: usize| {
        // The frame of low values lies on the border itself: regions end there, not half a step outside.
        let clamp = |k: usize, n: usize| (k.clamp(1, n - 2) - 1) as f64 * field.step_m;
        field.origin + Point2::new(clamp(c, columns), clamp(r, rows))
    };
    let point = |(c, r, north): Edge| {
        let (c2, r2) = if north { (c, r + 1) } else { (c + 1, r) };
        let (a, b) = (value(c, r), value(c2, r2));
        at(c, r).lerp(at(c2, r2), ((limit_db - a) / (b - a)).clamp(0.0, 1.0))
    };
    // From edge to edge with the loud side on the left hand, so that every line leaves a cell where the next takes it up.
    let mut next: BTreeMap<Edge, Edge> = BTreeMap::new();
    for r in 0..rows - 1 {
        go_on();
        for c in 0..columns - 1 {
            let loud = |c: usize, r: usize| value(c, r) >= limit_db;
            let (sw, se) = (loud(c, r), loud(c + 1, r));
            let (nw, ne) = (loud(c, r + 1), loud(c + 1, r + 1));
            let (south, north) = ((c, r, false), (c, r + 1, false));
            let (west, east) = ((c, r, true), (c + 1, r, true));
            // Crossings in order round the cell, counter-clockwise: an edge is left where going along it the
            // level falls below the limit, entered where it rises.
            let around = [(south, sw, se), (east, se, ne), (north, ne, nw), (west, nw, sw)];
            let falls: Vec<usize> = (0..4).filter(|&k| around[k].1 && !around[k].2).collect();
            let rises: Vec<usize> = (0..4).filter(|&k| !around[k].1 && around[k].2).collect();
            // Two of each at a saddle: join so that the loud corners meet when the middle is loud.
            let middle = [value(c, r), value(c + 1, r), value(c, r + 1), value(c + 1, r + 1)];
            let middle_loud = middle.iter().sum::<f64>() / 4.0 >= limit_db;
            for &fall in &falls {
                let turn = |rise: usize| (rise + 4 - fall) % 4;
                let pick = if middle_loud {
                    rises.iter().copied().min_by_key(|&k| turn(k))
                } else {
                    rises.iter().copied().max_by_key(|&k| turn(k))
                };
                if let Some(rise) = pick {
                    next.insert(around[fall].0, around[rise].0);
                }
            }
        }
    }
    let mut rings = Vec::new();
    while let Some((&start, _)) = next.first_key_value() {
        let mut ring = Vec::new();
        let mut edge = start;
        while let Some(following) = next.remove(&edge) {
            let p = point(edge);
            if ring.last().is_none_or(|&q: &Point2| q.distance(p) > 1e-9) {
                ring.push(p);
            }
            edge = following;
        }
        if ring.len() >= 3 {
            rings.push(ring);
        }
    }
    rings
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cone(columns: usize, rows: usize, step_m: f64, peak: Point2) -> LevelField {
        let level = |k: usize| {
            let p = Point2::new((k % columns) as f64 * step_m, (k / columns) as f64 * step_m);
            80.0 - p.distance(peak)
        };
        LevelField {
            origin: Point2::default(),
            step_m,
            columns,
            levels_db: (0..columns * rows).map(level).collect(),
        }
    }

    fn area(ring: &[Point2]) -> f64 {
        let twice: f64 = (0..ring.len()).map(|i| ring[i].cross(ring[(i + 1) % ring.len()])).sum();
        twice / 2.0
    }

    #[test]
    fn the_line_round_a_cone_is_a_circle() {
        let field = cone(41, 41, 0.5, Point2::new(10.0, 10.0));
        let rings = field.outlines(75.0);
        assert_eq!(rings.len(), 1);
        // Area of a circle of 5 m; the chords of a 0.5 m grid take off less than 1 percent.
        let a = area(&rings[0]).abs();
        assert!((a / (std::f64::consts::PI * 25.0) - 1.0).abs() < 0.01, "{a}");
    }

    #[test]
    fn a_region_that_reaches_the_border_is_closed_along_it() {
        let field = cone(21, 11, 1.0, Point2::new(0.0, 0.0));
        let rings = field.outlines(40.0);
        assert_eq!(rings.len(), 1);
        assert!((area(&rings[0]).abs() - 200.0).abs() < 1e-6, "{}", area(&rings[0]));
    }

    #[test]
    fn two_peaks_make_two_rings_and_a_saddle_stays_closed() {
        let a = cone(41, 21, 1.0, Point2::new(8.0, 10.0));
        let b = cone(41, 21, 1.0, Point2::new(32.0, 10.0));
        let both = LevelField {
            levels_db: a.levels_db.iter().zip(&b.levels_db).map(|(x, y)| x.max(*y)).collect(),
            ..a
        };
        assert_eq!(both.outlines(75.0).len(), 2);
        assert_eq!(both.outlines(60.0).len(), 1);
        assert_eq!(both.outlines(90.0).len(), 0);
    }
}
