//! The exact price of a straight piece of cable over the ground: what it crosses, and with how many metres.

use super::GroundMap;
use super::crossings::crossings;
use super::mesh::{Barrier, TOUCH_M};
use loamline_geometry::{Point2, Segment};

/// A stretch of a straight piece over one triangle's kind of ground.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Piece {
    /// Fractions along the straight piece.
    pub from: f64,
    pub to: f64,
    pub triangle: u32,
}

impl GroundMap {
    /// Whether a triangle may be crossed, given the building whose inside is open to this run.
    pub(crate) fn passable(&self, triangle: u32, open: Option<u16>) -> bool {
        match self.mesh.triangles[triangle as usize].barrier {
            None => true,
            Some(Barrier::Building(b)) => open == Some(b),
            Some(_) => false,
        }
    }

    /// The stretches of a straight piece in order, the cheaper side wherever it runs along a boundary; `None`
    /// where something stops it or it leaves the site.
    pub(crate) fn pieces(&self, s: Segment, open: Option<u16>) -> Option<Vec<Piece>> {
        let length = s.length();
        if length <= TOUCH_M {
            return Some(Vec::new());
        }
        let spans = self.spans(s, length, open);
        let mut cuts: Vec<f64> = spans.iter().flat_map(|p| [p.from, p.to]).collect();
        cuts.extend([0.0, 1.0]);
        cuts.sort_by(f64::total_cmp);
        let least = TOUCH_M / length;
        let mut pieces: Vec<Piece> = Vec::new();
        let mut start = 0.0;
        for &end in &cuts {
            if end - start <= least {
                continue;
            }
            let middle = 0.5 * (start + end);
            let best = spans
                .iter()
                .filter(|p| p.from <= middle && middle <= p.to)
                .min_by(|a, b| self.price(a.triangle).total_cmp(&self.price(b.triangle)))?;
            match pieces.last_mut() {
                Some(last) if last.triangle == best.triangle => last.to = end,
                _ => pieces.push(Piece { from: start, to: end, triangle: best.triangle }),
            }
            start = end;
        }
        Some(pieces)
    }

    fn price(&self, triangle: u32) -> f64 {
        self.mesh.triangles[triangle as usize].price
    }

    /// For every passable triangle the piece meets, the part of it inside.
    fn spans(&self, s: Segment, length: f64, open: Option<u16>) -> Vec<Piece> {
        let d = s.b - s.a;
        let lo = Point2::new(s.a.x.min(s.b.x) - TOUCH_M, s.a.y.min(s.b.y) - TOUCH_M);
        let hi = Point2::new(s.a.x.max(s.b.x) + TOUCH_M, s.a.y.max(s.b.y) + TOUCH_M);
        let mut spans = Vec::new();
        for t in self.mesh.index.along(s) {
            let b = self.mesh.boxes[t];
            if b[0] > hi.x || b[2] < lo.x || b[1] > hi.y || b[3] < lo.y {
                continue;
            }
            let t = t as u32;
            let c = self.mesh.corners(t);
            let (mut from, mut to) = (0.0f64, 1.0f64);
            for i in 0..3 {
                let edge = c[(i + 1) % 3] - c[i];
                // Inside where the distance left of the side is at least minus the tolerance.
                let at_start = edge.cross(s.a - c[i]) + 0.1 * TOUCH_M * edge.norm();
                let rate = edge.cross(d);
                if rate.abs() <= 1e-12 * edge.norm() * length {
                    if at_start < 0.0 {
                        from = 2.0;
                    }
                } else if rate > 0.0 {
                    from = from.max(-at_start / rate);
                } else {
                    to = to.min(-at_start / rate);
                }
                if from >= to {
                    break;
                }
            }
            if to - from > 0.0 && self.passable(t, open) {
                spans.push(Piece { from, to, triangle: t });
            }
        }
        spans
    }

    /// The building through whose outer wall a triangle lies, where a way through it makes a hole.
    pub(crate) fn hole_in(&self, triangle: u32) -> Option<u16> {
        let t = &self.mesh.triangles[triangle as usize];
        let Some(Barrier::Building(b)) = t.barrier else { return None };
        (t.price > self.plan.buildings[b as usize].indoor_price_per_m).then_some(b)
    }

    /// Price of laying a straight piece, crossings of services included, without the cable.
    pub(crate) fn laying(&self, s: Segment, open: Option<u16>) -> Option<f64> {
        let length = s.length();
        let over: f64 =
            self.pieces(s, open)?.iter().map(|p| (p.to - p.from) * length * self.price(p.triangle)).sum();
        Some(over + self.charge(s))
    }

    /// Charges for the services a straight piece crosses.
    pub(crate) fn charge(&self, s: Segment) -> f64 {
        self.crossings(s).map(|(service, _)| self.plan.services[service].crossing_price).sum()
    }

    /// The services a straight piece crosses: index and fraction along the piece.
    pub(crate) fn crossings(&self, s: Segment) -> impl Iterator<Item = (usize, f64)> + '_ {
        crossings(&self.service_pieces, s)
    }
}
