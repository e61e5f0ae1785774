//! The ground as triangles, each of one kind: a constrained Delaunay triangulation of every line of the plan.
//!
//! Because outlines, clearances and walls are sides of triangles, a price holds exactly up to its boundary.
//! Services and walls become bands: one rectangle per piece of line, as wide as the clearance (or thickness) on
//! each side and longer by the same at both ends.

use super::check::GroundProblem;
use super::plan::{Building, GroundPlan, Passage};
use super::split::{Corners, cut};
use loamline_geometry::{Boxes, Point2, Polygon, Segment};
use loamline_limits::{GROUND_LINES, go_on};
use spade::{ConstrainedDelaunayTriangulation, HasPosition, Triangulation};
use std::collections::BTreeMap;

/// Least half-width of a band, metres: a service without clearance is still something to go round.
pub(super) const MIN_BAND_M: f64 = 0.05;

/// Distances below this count as touching, metres.
pub(crate) const TOUCH_M: f64 = 1e-6;

/// What stops cable.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Barrier {
    NoGo(u16),
    Building(u16),
    /// The outer wall of a building, where no hole may be made.
    OuterWall(u16),
    Wall(u16),
}

/// One triangle and what it lies in.
#[derive(Debug, Clone)]
pub(crate) struct Triangle {
    pub corners: [u32; 3],
    /// Index into the surfaces, or the default surface.
    pub surface: Option<u16>,
    /// What makes it impassable.
    pub barrier: Option<Barrier>,
    /// The service with the highest hand-dig factor whose clearance it lies in.
    pub service: Option<u16>,
    /// Price of laying, per metre, everything included but the cable; for a building the indoor price.
    pub price: f64,
}

/// A side of one or two triangles.
#[derive(Debug, Clone)]
pub(crate) struct Side {
    pub ends: [u32; 2],
    pub triangles: [Option<u32>; 2],
    pub constraint: bool,
}

/// A face along which cable may be clipped: wall or building, and the straight pieces of it.
#[derive(Debug, Clone)]
pub(crate) struct Face {
    /// Whether this is a building (else a wall), and which.
    pub building: bool,
    pub index: u16,
    pub pieces: Vec<Segment>,
}

#[derive(Debug, Clone)]
pub(crate) struct Mesh {
    pub vertices: Vec<Point2>,
    pub triangles: Vec<Triangle>,
    pub sides: Vec<Side>,
    /// The straight lines of the plan, along which a bend may slide.
    pub lines: Vec<Segment>,
    pub faces: Vec<Face>,
    /// Box of each triangle: west, south, east, north.
    pub boxes: Vec<[f64; 4]>,
    /// The same boxes in a tree: of thousands of triangles only those along a line are looked at.
    pub index: Boxes,
    /// The lowest price per metre of any triangle.
    pub cheapest: f64,
}

#[derive(Debug, Clone, Copy)]
struct Vertex(Point2);

impl HasPosition for Vertex {
    type Scalar = f64;
    fn position(&self) -> spade::Point2<f64> {
        spade::Point2::new(self.0.x, self.0.y)
    }
}

/// A rectangle around a straight piece: `half_m` to each side and beyond each end. `None` without length.
fn band(piece: Segment, half_m: f64) -> Option<Polygon> {
    let length = piece.length();
    if length <= TOUCH_M {
        return None;
    }
    let along = (piece.b - piece.a) * (half_m / length);
    let across = Point2::new(-along.y, along.x);
    let (a, b) = (piece.a + along * -1.0, piece.b + along);
    Polygon::new([a + across * -1.0, b + across * -1.0, b + across, a + across]).ok()
}

/// The bands of a line.
pub(crate) fn bands(line: &[Point2], half_m: f64) -> Vec<Polygon> {
    line.windows(2).filter_map(|w| band(Segment::new(w[0], w[1]), half_m)).collect()
}

/// Half-width of the band of a service with this clearance, metres.
pub(crate) fn service_half_width(clearance_m: f64) -> f64 {
    clearance_m.max(MIN_BAND_M)
}

struct Shapes {
    services: Vec<Vec<Polygon>>,
    walls: Vec<Vec<Polygon>>,
    /// Of each building, the strips of its outer wall.
    outer_walls: Vec<Vec<Polygon>>,
    /// Of each building, the openings through its outer wall.
    passages: Vec<Vec<Polygon>>,
}

/// Half the width of a passage in the plan, metres: room for a way to bend into it.
const PASSAGE_HALF_M: f64 = 0.1;

/// Least of 1 + the cosine between the normals of two sides that meet, for mitring: corners sharper than 26 degrees are
/// cut off.
const SHARPEST: f64 = 0.1;

/// Thickness of a building's outer wall, metres: thinner than asked where its sides are short.
fn wall_depth_m(building: &Building) -> Option<f64> {
    let shortest = building.outline.sides().map(|s| s.length()).fold(f64::INFINITY, f64::min);
    Some(building.outer_wall?.thickness_m.min(0.25 * shortest))
}

/// The inward normal of each side of an outline, of length 1.
fn inwards(outline: &Polygon) -> Vec<Point2> {
    let turned: f64 = outline.sides().map(|s| s.a.cross(s.b)).sum();
    let normal = |s: Segment| {
        let along = s.b - s.a;
        Point2::new(-along.y, along.x) * (turned.signum() / along.norm().max(TOUCH_M))
    };
    outline.sides().map(normal).collect()
}

/// A building's outer wall, a piece for each side of its outline, mitred at the corners: the pieces neither overlap nor
/// leave gaps.
fn outer_wall(building: &Building) -> Vec<Polygon> {
    let Some(depth_m) = wall_depth_m(building) else { return Vec::new() };
    let (sides, normals): (Vec<Segment>, _) =
        (building.outline.sides().collect(), inwards(&building.outline));
    let n = sides.len();
    // The inner corner at the start of a side.
    let inner = |i: usize| {
        let (u, v) = (normals[(i + n - 1) % n], normals[i]);
        sides[i].a + (u + v) * (depth_m / (1.0 + u.dot(v)).max(SHARPEST))
    };
    (0..n).filter_map(|i| Polygon::new([sides[i].a, sides[i].b, inner((i + 1) % n), inner(i)]).ok()).collect()
}

/// The openings through a building's outer wall: passages whose nearest outline is this building's.
fn openings(plan: &GroundPlan, building: &Building) -> Vec<Polygon> {
    let Some(depth_m) = wall_depth_m(building) else { return Vec::new() };
    let here = |p: &&Passage| {
        let off = |b: &Building| b.outline.distance_to_outline(p.at);
        plan.buildings.iter().all(|b| off(building) <= off(b))
    };
    let sides: Vec<(Segment, Point2)> = building.outline.sides().zip(inwards(&building.outline)).collect();
    let opening = |p: &Passage| {
        let at = building.outline.nearest_on_outline(p.at);
        let nearer = |a: &&(Segment, Point2), b: &&(Segment, Point2)| {
            a.0.distance_to(at).total_cmp(&b.0.distance_to(at))
        };
        let (side, inwards) = sides.iter().min_by(nearer)?;
        // Clear of the corners, where the wall is mitred.
        let length = side.length();
        let half = (PASSAGE_HALF_M / length).min(0.2);
        let margin = half + depth_m / length;
        let t = (side.a.distance(at) / length).clamp(margin.min(0.5), (1.0 - margin).max(0.5));
        let (from, to) = (side.a.lerp(side.b, t - half), side.a.lerp(side.b, t + half));
        Polygon::new([from, to, to + *inwards * depth_m, from + *inwards * depth_m]).ok()
    };
    plan.passages.iter().filter(here).filter_map(opening).collect()
}

impl Mesh {
    pub fn build(plan: &GroundPlan, service_lines: &[Vec<Point2>]) -> Result<Self, GroundProblem> {
        let shapes = Shapes {
            services: plan
                .services
                .iter()
                .zip(service_lines)
                .map(|(s, line)| bands(line, service_half_width(s.clearance_m)))
                .collect(),
            walls: plan.walls.iter().map(|w| bands(&w.line, 0.5 * w.thickness_m)).collect(),
            outer_walls: plan.buildings.iter().map(outer_wall).collect(),
            passages: plan.buildings.iter().map(|b| openings(plan, b)).collect(),
        };
        let outlines = || {
            std::iter::once(&plan.boundary)
                .chain(plan.surfaces.iter().map(|s| &s.outline))
                .chain(plan.no_go.iter().map(|s| &s.outline))
                .chain(plan.buildings.iter().map(|s| &s.outline))
                .chain(shapes.services.iter().flatten())
                .chain(shapes.walls.iter().flatten())
                .chain(shapes.outer_walls.iter().flatten())
                .chain(shapes.passages.iter().flatten())
        };
        let lines: Vec<Segment> = outlines().flat_map(|o| o.sides().collect::<Vec<_>>()).collect();
        GROUND_LINES.check(lines.len())?;
        let mouths = plan.sleeves.iter().flat_map(|s| [s.line.first(), s.line.last()].into_iter().flatten());
        let (vertices, corners, constraint_sides) = triangulate(&lines, mouths.copied())?;
        let triangles: Vec<Triangle> = corners
            .into_iter()
            .filter_map(|c| {
                go_on();
                let p = c.map(|v| vertices[v as usize]);
                let middle = (p[0] + p[1] + p[2]) * (1.0 / 3.0);
                let mut triangle =
                    plan.boundary.contains(middle).then(|| classify(plan, &shapes, c, middle))?;
                // Slivers come from outlines that meet up to rounding; they stop nothing.
                let longest = p[0].distance(p[1]).max(p[1].distance(p[2])).max(p[2].distance(p[0]));
                if (p[1] - p[0]).cross(p[2] - p[0]) <= TOUCH_M * longest {
                    triangle.barrier = None;
                }
                Some(triangle)
            })
            .collect();
        let sides = sides(&triangles, &constraint_sides);
        let boxes = triangles
            .iter()
            .map(|t| {
                let p = t.corners.map(|v| vertices[v as usize]);
                let fold = |f: fn(f64, f64) -> f64, v: [f64; 3]| f(f(v[0], v[1]), v[2]);
                let (xs, ys) = (p.map(|p| p.x), p.map(|p| p.y));
                [fold(f64::min, xs), fold(f64::min, ys), fold(f64::max, xs), fold(f64::max, ys)]
            })
            .collect();
        let outlines: Vec<[Point2; 3]> =
            triangles.iter().map(|t| t.corners.map(|v| vertices[v as usize])).collect();
        let index = Boxes::around(outlines.iter().map(<[Point2; 3]>::as_slice));
        let face =
            |building, index: usize, pieces: Vec<Segment>| Face { building, index: index as u16, pieces };
        let faces = plan
            .buildings
            .iter()
            .enumerate()
            .filter(|(_, b)| b.clip.is_some())
            .map(|(i, b)| face(true, i, b.outline.sides().collect()))
            .chain(plan.walls.iter().enumerate().filter(|(_, w)| w.clip.is_some()).map(|(i, _)| {
                face(false, i, shapes.walls[i].iter().flat_map(|o| o.sides().collect::<Vec<_>>()).collect())
            }))
            .collect();
        let cheapest = triangles.iter().map(|t| t.price).fold(f64::INFINITY, f64::min);
        Ok(Self { vertices, triangles, sides, lines, faces, boxes, index, cheapest })
    }

    pub fn corners(&self, triangle: u32) -> [Point2; 3] {
        self.triangles[triangle as usize].corners.map(|v| self.vertices[v as usize])
    }

    /// Triangles that hold the point, their edges included.
    pub fn triangles_at(&self, p: Point2) -> Vec<u32> {
        let near = |b: &[f64; 4]| {
            p.x >= b[0] - TOUCH_M && p.y >= b[1] - TOUCH_M && p.x <= b[2] + TOUCH_M && p.y <= b[3] + TOUCH_M
        };
        self.index
            .at(p)
            .into_iter()
            .map(|t| t as u32)
            .filter(|&t| near(&self.boxes[t as usize]))
            .filter(|&t| {
                let c = self.corners(t);
                (0..3).all(|i| {
                    let (a, b) = (c[i], c[(i + 1) % 3]);
                    (b - a).cross(p - a) >= -TOUCH_M * a.distance(b)
                })
            })
            .collect()
    }
}

type Triangulated = (Vec<Point2>, Vec<[u32; 3]>, Vec<[u32; 2]>);

fn triangulate(
    lines: &[Segment],
    extra: impl Iterator<Item = Point2>,
) -> Result<Triangulated, GroundProblem> {
    let mut corners = Corners::default();
    let pieces = cut(lines, &mut corners)?;
    let mut cdt = ConstrainedDelaunayTriangulation::<Vertex>::new();
    for ends in pieces {
        go_on();
        let [a, b] = ends.map(|corner| corners.point(corner));
        let from = cdt.insert(Vertex(a)).map_err(|_| GroundProblem::NoMap { at: a })?;
        let to = cdt.insert(Vertex(b)).map_err(|_| GroundProblem::NoMap { at: b })?;
        // Pieces do not cross; where rounding says they do, a map without the line would be a wrong one.
        if !cdt.can_add_constraint(from, to) {
            return Err(GroundProblem::NoMap { at: a });
        }
        cdt.add_constraint(from, to);
    }
    for p in extra {
        let corner = corners.at(p);
        let p = corners.point(corner);
        cdt.insert(Vertex(p)).map_err(|_| GroundProblem::NoMap { at: p })?;
    }
    let vertices = cdt.vertices().map(|v| v.data().0).collect();
    let corners = cdt.inner_faces().map(|f| f.vertices().map(|v| v.fix().index() as u32)).collect();
    let constraints = cdt
        .undirected_edges()
        .filter(|e| e.is_constraint_edge())
        .map(|e| {
            let [a, b] = e.vertices().map(|v| v.fix().index() as u32);
            [a.min(b), a.max(b)]
        })
        .collect();
    Ok((vertices, corners, constraints))
}

fn classify(plan: &GroundPlan, shapes: &Shapes, corners: [u32; 3], middle: Point2) -> Triangle {
    let surface = plan.surfaces.iter().rposition(|s| s.outline.contains(middle)).map(|i| i as u16);
    let lay = surface.map_or(&plan.default_lay, |s| &plan.surfaces[s as usize].lay);
    let within = |outlines: &[Polygon]| outlines.iter().any(|o| o.contains(middle));
    let service = (0..plan.services.len())
        .filter(|&i| within(&shapes.services[i]))
        .max_by(|&a, &b| {
            plan.services[a].hand_dig_factor.total_cmp(&plan.services[b].hand_dig_factor).then(b.cmp(&a))
        })
        .map(|i| i as u16);
    let factor = service.map_or(1.0, |s| plan.services[s as usize].hand_dig_factor);
    let mut price = lay.price_per_m * factor;
    let mut barrier = None;
    for (i, w) in plan.walls.iter().enumerate() {
        if within(&shapes.walls[i]) {
            match w.crossing_price {
                Some(charge) => price += charge / w.thickness_m,
                None => barrier = Some(Barrier::Wall(i as u16)),
            }
        }
    }
    if let Some(i) = plan.no_go.iter().position(|n| n.outline.contains(middle)) {
        barrier = Some(Barrier::NoGo(i as u16));
    }
    if let Some(i) = plan.buildings.iter().position(|b| b.outline.contains(middle)) {
        barrier = Some(Barrier::Building(i as u16));
        price = plan.buildings[i].indoor_price_per_m;
        if let Some(wall) = plan.buildings[i].outer_wall
            && within(&shapes.outer_walls[i])
            && !within(&shapes.passages[i])
        {
            match wall.hole_price {
                Some(hole) => price += hole / wall_depth_m(&plan.buildings[i]).unwrap_or(wall.thickness_m),
                None => barrier = Some(Barrier::OuterWall(i as u16)),
            }
        }
    }
    Triangle { corners, surface, barrier, service, price }
}

fn sides(triangles: &[Triangle], constraints: &[[u32; 2]]) -> Vec<Side> {
    let mut found: BTreeMap<[u32; 2], [Option<u32>; 2]> = BTreeMap::new();
    for (t, triangle) in triangles.iter().enumerate() {
        for i in 0..3 {
            let (a, b) = (triangle.corners[i], triangle.corners[(i + 1) % 3]);
            let owners = found.entry([a.min(b), a.max(b)]).or_default();
            owners[usize::from(owners[0].is_some())] = Some(t as u32);
        }
    }
    let constraints: std::collections::BTreeSet<[u32; 2]> = constraints.iter().copied().collect();
    found
        .into_iter()
        .map(|(ends, triangles)| Side { ends, triangles, constraint: constraints.contains(&ends) })
        .collect()
}
