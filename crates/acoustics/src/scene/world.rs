//! Walls and buildings made ready for the path finder: obstacles that screen and faces that reflect.
//!
//! Steps in the ground are deliberately absent: the bending here gives 5 dB to every edge the sight grazes, however low
//! against the wavelength, so that each tread of a terrace would take bass it does not take. At the neighbours they count.

use super::ground_map::GroundMap;
use super::input::SceneInput;
use super::steps::Terrain;
use crate::bands::BAND_COUNT;
use crate::directivity::TABLE_LANES;
use crate::ground::Ground;
use loamline_geometry::{Boxes, Point2, Point3, Polygon, Segment, project_on_segment};

/// A wall or building: what stands in the way. Elevations in metres.
#[derive(Debug, Clone)]
pub(crate) struct Obstacle {
    pub(crate) corners: Vec<Point2>,
    /// Whether the last corner joins the first.
    pub(crate) closed: bool,
    pub(crate) base_m: f64,
    pub(crate) top_m: f64,
    pub(crate) centre: Point2,
    pub(crate) radius_m: f64,
    pub(crate) low: Point2,
    pub(crate) high: Point2,
}

impl Obstacle {
    fn new(corners: Vec<Point2>, closed: bool, base_m: f64, height_m: f64) -> Self {
        let (mut low, mut high) = (corners[0], corners[0]);
        for p in &corners {
            low = Point2::new(low.x.min(p.x), low.y.min(p.y));
            high = Point2::new(high.x.max(p.x), high.y.max(p.y));
        }
        let centre = low.lerp(high, 0.5);
        let radius_m = corners.iter().map(|p| p.distance(centre)).fold(0.0, f64::max);
        Self { corners, closed, base_m, top_m: base_m + height_m, centre, radius_m, low, high }
    }

    /// Pieces of its outline or line, by number.
    pub(crate) fn pieces(&self) -> usize {
        if self.closed { self.corners.len() } else { self.corners.len() - 1 }
    }

    /// Ends of a piece.
    pub(crate) fn piece(&self, i: usize) -> (Point2, Point2) {
        (self.corners[i], self.corners[if i + 1 == self.corners.len() { 0 } else { i + 1 }])
    }
}

/// A vertical face that reflects.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Face {
    pub(crate) a: Point2,
    pub(crate) b: Point2,
    /// Unit normal in plan; out of a building. A wall has one face per side, with opposite normals.
    pub(crate) normal: Point2,
    pub(crate) obstacle: u32,
    pub(crate) piece: u32,
    pub(crate) base_m: f64,
    pub(crate) top_m: f64,
}

impl Face {
    /// Distance in front of the face's plane, metres; negative behind.
    pub(crate) fn ahead_m(&self, p: Point2) -> f64 {
        (p - self.a).dot(self.normal)
    }
}

/// Ground, obstacles and faces of a scene.
#[derive(Debug, Clone)]
pub(crate) struct World {
    pub(crate) map: GroundMap,
    /// Ground of each surface.
    pub(crate) grounds: Vec<Ground>,
    /// Walls first, then buildings.
    pub(crate) obstacles: Vec<Obstacle>,
    /// Boxes around them.
    pub(crate) boxes: Boxes,
    pub(crate) walls: usize,
    pub(crate) faces: Vec<Face>,
    /// Amplitude each obstacle's faces reflect, per band.
    pub(crate) reflectance: Vec<[f32; TABLE_LANES]>,
    outlines: Vec<Polygon>,
}

/// Nearer than this a face is too close to tell which side one is on, metres.
pub(crate) const ON_FACE_M: f64 = 0.05;
/// Where a source on a face is put in front of it, metres.
pub(crate) const OFF_FACE_M: f64 = 0.01;

impl World {
    /// From checked input.
    pub(crate) fn new(input: &SceneInput) -> Self {
        let map = GroundMap::new(&input.ground, input.default_elevation_m);
        let grounds =
            std::iter::once(input.default_ground).chain(input.ground.iter().map(|g| g.ground)).collect();
        let terrain = Terrain { surfaces: &input.ground, default_elevation_m: input.default_elevation_m };
        let mut obstacles = Vec::new();
        let mut reflectance = Vec::new();
        let row = |absorption: &[f64; BAND_COUNT]| {
            let mut row = [0.0f32; TABLE_LANES];
            for (r, a) in row.iter_mut().zip(absorption) {
                *r = (1.0 - a).max(0.0).sqrt() as f32;
            }
            row
        };
        for w in &input.walls {
            let foot_m = w.foot_m.unwrap_or_else(|| terrain.wall_foot_m(&w.line));
            obstacles.push(Obstacle::new(w.line.clone(), false, foot_m, w.height_m));
            reflectance.push(row(&w.absorption));
        }
        for b in &input.buildings {
            let corners = b.outline.corners().to_vec();
            let base = terrain.building_foot_m(&b.outline);
            obstacles.push(Obstacle::new(corners, true, base, b.height_m));
            reflectance.push(row(&b.absorption));
        }
        let mut faces = Vec::new();
        for (i, o) in obstacles.iter().enumerate() {
            for piece in 0..o.pieces() {
                let (a, b) = o.piece(piece);
                let along = (b - a) * (1.0 / a.distance(b));
                // Corners run counter-clockwise, so the outside lies to the right.
                let right = Point2::new(along.y, -along.x);
                let face = Face {
                    a,
                    b,
                    normal: right,
                    obstacle: i as u32,
                    piece: piece as u32,
                    base_m: o.base_m,
                    top_m: o.top_m,
                };
                faces.push(face);
                if !o.closed {
                    faces.push(Face { normal: right * -1.0, ..face });
                }
            }
        }
        Self {
            map,
            grounds,
            walls: input.walls.len(),
            boxes: Boxes::around(obstacles.iter().map(|o| o.corners.as_slice())),
            obstacles,
            faces,
            reflectance,
            outlines: input.buildings.iter().map(|b| b.outline.clone()).collect(),
        }
    }

    /// Building a place is inside of: farther in than [`ON_FACE_M`] and below the roof.
    pub(crate) fn building_at(&self, p: Point3) -> Option<usize> {
        self.outlines.iter().enumerate().position(|(i, outline)| {
            let o = &self.obstacles[self.walls + i];
            let at = p.plan();
            p.z < o.top_m
                && at.x > o.low.x
                && at.x < o.high.x
                && at.y > o.low.y
                && at.y < o.high.y
                && outline.contains_with_margin(at, ON_FACE_M)
        })
    }

    /// Distance from a place to the outside of a building, metres.
    pub(crate) fn depth_m(&self, building: usize, p: Point2) -> f64 {
        self.outlines[building].distance_to_outline(p)
    }

    /// Nearest face at a height, with its distance; walls count on the side `facing` points to.
    pub(crate) fn nearest_face(&self, p: Point3, facing: Point2) -> Option<(usize, f64)> {
        self.faces
            .iter()
            .enumerate()
            .filter(|(_, f)| p.z >= f.base_m && p.z <= f.top_m)
            .map(|(i, f)| (i, project_on_segment(p.plan(), Segment::new(f.a, f.b)).0.distance(p.plan())))
            .min_by(|(i, a), (j, b)| {
                let against = |k: usize| -self.faces[k].normal.dot(facing);
                a.total_cmp(b).then(against(*i).total_cmp(&against(*j)))
            })
    }
}
