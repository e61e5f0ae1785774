//! Ways round what stands between two places: over the top and past either end.
//!
//! The three ways are each treated as a thin edge ([`crate::screen_loss_db`]) and add in energy. The way over the top
//! is the shortest line over all tops that are crossed, in the vertical plane; a way past an end is the shortest line
//! in plan round everything that blocks, lengthened by the difference in height. A line that passes clear of the
//! nearest edge keeps a loss that falls from 5 dB to nothing (Fresnel number 0 down to -0.2); the other two ways fade
//! with it, so that nothing jumps at the edge of a shadow. Left out: obstacles beside the line that a way past an end
//! would itself meet, ground reflections on the far side counted apart, thick tops beyond their length.
//!
//! A ground-reflected path is unfolded: the source is put as far below the ground as it is above, and obstacles reach
//! as far below as above.

use super::taut_string::{apart, length, way_over, way_round};
use crate::scene::{Obstacle, World};
use crate::screen::CLEAR_FRESNEL;
use loamline_geometry::Point2;

/// The longest wavelength asked about is that of 20 Hz in warm air: 1.77 m per tenth of it.
const CLEAR_M: f64 = CLEAR_FRESNEL * 0.5 * 17.7;

/// Detours less the straight line, metres. `near_m` is negative when the line passes clear of that edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Detours {
    pub(crate) near_m: f64,
    pub(crate) other_m: [f64; 2],
}

impl Detours {
    /// What the quickest way round is longer than the straight line, metres, at least 0.
    pub(crate) fn extra_m(&self) -> f64 {
        self.near_m.min(self.other_m[0]).min(self.other_m[1]).max(0.0)
    }
}

/// A straight line with heights, either real elevations or unfolded heights above the ground.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SightLine {
    pub(crate) a: Point2,
    pub(crate) b: Point2,
    pub(crate) za: f64,
    pub(crate) zb: f64,
    /// Elevations of the ground under both ends.
    pub(crate) ground: (f64, f64),
    /// Whether heights are above the ground and the source lies mirrored below it.
    pub(crate) unfolded: bool,
}

impl SightLine {
    pub(crate) fn length_m(&self) -> f64 {
        length(apart(self.a, self.b), self.zb - self.za)
    }

    fn height_m(&self, t: f64) -> f64 {
        self.za + (self.zb - self.za) * t
    }

    /// Height of an edge where the line passes it; unfolded, over ground that rises evenly from one end to the other.
    fn top_m(&self, o: &Obstacle, t: f64) -> f64 {
        if !self.unfolded {
            return o.top_m;
        }
        (o.top_m - (self.ground.0 + (self.ground.1 - self.ground.0) * t)).max(0.0)
    }

    /// How far the line passes above the top (or, unfolded, outside the band top to mirrored top); negative: blocked.
    fn above_m(&self, t: f64, top_m: f64) -> f64 {
        let z = self.height_m(t);
        if self.unfolded { z.abs() - top_m } else { z - top_m }
    }
}

/// Where a line meets an obstacle in plan, as fractions of the line: first and last.
fn crossed(line: &SightLine, o: &Obstacle, skip_piece: Option<usize>) -> Option<(f64, f64)> {
    let d = line.b - line.a;
    let mut span: Option<(f64, f64)> = None;
    for i in 0..o.pieces() {
        if skip_piece == Some(i) {
            continue;
        }
        let (p, q) = o.piece(i);
        let (sp, sq) = (d.cross(p - line.a), d.cross(q - line.a));
        if (sp > 0.0) == (sq > 0.0) && sp != 0.0 && sq != 0.0 {
            continue;
        }
        let along = q - p;
        let across = d.cross(along);
        if across == 0.0 {
            continue;
        }
        let t = (p - line.a).cross(along) / across;
        if t > 1e-9 && t < 1.0 - 1e-9 {
            span = Some(span.map_or((t, t), |(lo, hi)| (lo.min(t), hi.max(t))));
        }
    }
    span
}

/// Whether a leg of a reflected path is blocked by any of the obstacles; `skip` names the reflecting piece.
pub(crate) fn blocked(world: &World, among: &[u32], line: &SightLine, skip: &[(u32, u32)]) -> bool {
    let (lo, hi) = bounds(line);
    among.iter().any(|&i| {
        let o = &world.obstacles[i as usize];
        if o.low.x > hi.x || o.high.x < lo.x || o.low.y > hi.y || o.high.y < lo.y {
            return false;
        }
        let skip_piece = skip.iter().find(|s| s.0 == i).map(|s| s.1 as usize);
        let below = |t: f64| line.above_m(t, line.top_m(o, t)) < 0.0;
        crossed(line, o, skip_piece).is_some_and(|(t0, t1)| below(t0) || below(t1))
    })
}

fn bounds(line: &SightLine) -> (Point2, Point2) {
    (
        Point2::new(line.a.x.min(line.b.x), line.a.y.min(line.b.y)),
        Point2::new(line.a.x.max(line.b.x), line.a.y.max(line.b.y)),
    )
}

/// Scratch space that is kept between calls.
#[derive(Debug, Default)]
pub(crate) struct Scratch {
    /// Obstacles close enough to matter, with the first and last crossing in plan of those that are crossed.
    near: Vec<(u32, Option<(f64, f64)>)>,
    /// Obstacles met: number, first and last crossing, whether they block.
    met: Vec<(u32, f64, f64, bool)>,
    section: Vec<Point2>,
    hull: Vec<Point2>,
}

/// Half the width of the ellipse round a line of some length within which an edge is felt, metres.
pub(crate) fn reach_m(straight_m: f64) -> f64 {
    0.5 * ((straight_m - CLEAR_M).powi(2) - straight_m * straight_m).sqrt()
}

/// Finds the obstacles that matter to lines that are the same in plan: in the way, or close enough beside to be felt.
pub(crate) fn find_crossings(world: &World, among: &[u32], lines: &[SightLine], scratch: &mut Scratch) {
    scratch.near.clear();
    let (Some(line), false) = (lines.first(), among.is_empty()) else { return };
    let plan_m2 = (line.b - line.a).dot(line.b - line.a);
    if plan_m2 < 1e-12 {
        return;
    }
    let reach_m = reach_m(lines.iter().map(SightLine::length_m).fold(0.0, f64::max));
    for &i in among {
        let o = &world.obstacles[i as usize];
        let t = ((o.centre - line.a).dot(line.b - line.a) / plan_m2).clamp(0.0, 1.0);
        if apart(line.a.lerp(line.b, t), o.centre) <= o.radius_m + reach_m {
            scratch.near.push((i, crossed(line, o, None)));
        }
    }
}

/// What stands in the way of a line, or close enough beside it to be felt; `scratch` must hold the crossings of a line
/// that is the same in plan and no shorter.
pub(crate) fn detours(world: &World, line: &SightLine, scratch: &mut Scratch) -> Option<Detours> {
    if scratch.near.is_empty() {
        return None;
    }
    let plan_m = apart(line.a, line.b);
    let straight_m = line.length_m();
    let reach_m = reach_m(straight_m);
    scratch.met.clear();
    let mut any_blocks = false;
    let mut clear: Option<(f64, u32, Option<Point2>)> = None;
    for &(i, crossing) in &scratch.near {
        let o = &world.obstacles[i as usize];
        let top = |t: f64| line.top_m(o, t);
        if let Some((t0, t1)) = crossing {
            let above = line.above_m(t0, top(t0)).min(line.above_m(t1, top(t1)));
            let blocks = above < 0.0;
            any_blocks |= blocks;
            scratch.met.push((i, t0, t1, blocks));
            if !blocks && !any_blocks {
                let over =
                    |t: f64| -bend_m(line, straight_m, line.a.lerp(line.b, t), edge_height(line, t, top(t)));
                nearer(&mut clear, over(t0).max(over(t1)), i, None);
            }
        } else if !any_blocks {
            for &corner in &o.corners {
                let t = (corner - line.a).dot(line.b - line.a) / (plan_m * plan_m);
                if t > 0.0 && t < 1.0 {
                    let beside_m = (line.b - line.a).cross(corner - line.a).abs() / plan_m;
                    if beside_m < reach_m {
                        let z = clamp_height(line, t, top(t));
                        nearer(&mut clear, -bend_m(line, straight_m, corner, z), i, Some(corner));
                    }
                }
            }
        }
    }
    if any_blocks {
        return Some(shadow(world, line, straight_m, scratch));
    }
    let (near_m, obstacle, corner) = clear?;
    (near_m > CLEAR_M).then(|| beside(world, line, straight_m, (near_m, obstacle, corner), scratch))
}

fn nearer(best: &mut Option<(f64, u32, Option<Point2>)>, near_m: f64, i: u32, corner: Option<Point2>) {
    if best.is_none_or(|b| near_m > b.0) {
        *best = Some((near_m, i, corner));
    }
}

/// The edge the line passes: the top, or unfolded the one on the line's side of the ground.
fn edge_height(line: &SightLine, t: f64, top_m: f64) -> f64 {
    if line.unfolded { top_m.copysign(line.height_m(t)) } else { top_m }
}

/// The point of a vertical edge nearest to the line.
fn clamp_height(line: &SightLine, t: f64, top_m: f64) -> f64 {
    let z = line.height_m(t);
    if line.unfolded { z.clamp(-top_m, top_m) } else { z.min(top_m) }
}

/// Extra length of a line bent through a point.
fn bend_m(line: &SightLine, straight_m: f64, at: Point2, z: f64) -> f64 {
    length(apart(line.a, at), z - line.za) + length(apart(at, line.b), line.zb - z) - straight_m
}

/// Extra lengths past the ends of all blocking obstacles: on the left and on the right of the line.
fn past_ends(
    world: &World,
    line: &SightLine,
    straight_m: f64,
    obstacles: impl Iterator<Item = u32> + Clone,
    hull: &mut Vec<Point2>,
) -> [f64; 2] {
    let rise = line.zb - line.za;
    [(line.a, line.b), (line.b, line.a)].map(|(from, to)| {
        hull.clear();
        for i in obstacles.clone() {
            for &corner in &world.obstacles[i as usize].corners {
                if (to - from).cross(corner - from) > 0.0 {
                    hull.push(corner);
                }
            }
        }
        (length(way_round(from, to, hull), rise) - straight_m).max(0.0)
    })
}

fn shadow(world: &World, line: &SightLine, straight_m: f64, scratch: &mut Scratch) -> Detours {
    let plan_m = apart(line.a, line.b);
    scratch.section.clear();
    let mut sides = (false, false);
    for &(i, t0, t1, _) in &scratch.met {
        let o = &world.obstacles[i as usize];
        for t in [t0, t1] {
            let z = edge_height(line, t, line.top_m(o, t));
            sides = (sides.0 || z >= 0.0 || !line.unfolded, sides.1 || (line.unfolded && z < 0.0));
            scratch.section.push(Point2::new(t * plan_m, z));
        }
    }
    let near_m = if sides.0 && sides.1 {
        // Edges above and below the unfolded ground: each bend on its own.
        scratch
            .met
            .iter()
            .filter(|m| m.3)
            .map(|&(i, t0, t1, _)| {
                let top = |t: f64| line.top_m(&world.obstacles[i as usize], t);
                let bend =
                    |t: f64| bend_m(line, straight_m, line.a.lerp(line.b, t), edge_height(line, t, top(t)));
                bend(t0).max(bend(t1))
            })
            .sum()
    } else {
        let sign = if sides.1 { -1.0 } else { 1.0 };
        for p in &mut scratch.section {
            p.y *= sign;
        }
        way_over(Point2::new(0.0, sign * line.za), Point2::new(plan_m, sign * line.zb), &mut scratch.section)
            - straight_m
    };
    let blocking = scratch.met.iter().filter(|m| m.3).map(|m| m.0);
    let other_m = past_ends(world, line, straight_m, blocking, &mut scratch.hull);
    Detours { near_m: near_m.max(0.0), other_m }
}

fn beside(
    world: &World,
    line: &SightLine,
    straight_m: f64,
    (near_m, obstacle, corner): (f64, u32, Option<Point2>),
    scratch: &mut Scratch,
) -> Detours {
    let ends = past_ends(world, line, straight_m, std::iter::once(obstacle), &mut scratch.hull);
    let other_m = match corner {
        // Over the top: the other two ways are past the ends.
        None => ends,
        // Past an end: the far end, and over the top there.
        Some(corner) => {
            let o = &world.obstacles[obstacle as usize];
            let plan_m = apart(line.a, line.b);
            let t = (corner - line.a).dot(line.b - line.a) / (plan_m * plan_m);
            let z = edge_height(line, t, line.top_m(o, t));
            [ends[0].max(ends[1]), bend_m(line, straight_m, corner, z).max(0.0)]
        }
    };
    Detours { near_m, other_m }
}
