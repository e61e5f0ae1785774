//! A scene that has passed every check: what stands in the way, and the faces that reflect.

use super::problem::{BoundaryProblem, BoundarySceneError};
use super::scene::{BoundaryScene, FaceReflection};
use loamline_geometry::{Boxes, Point2, Point3, Polygon};
use serde::Serialize;

/// Nearest a receiver may be to a source, m: closer, a loudspeaker is no point any more.
const NEAREST_M: f64 = 0.1;
/// Farthest from the datum anything may be, m.
const FARTHEST_M: f64 = 1e6;

/// Closer than this to a source, a receiver or an outline counts as touching it, m: well above rounding at a
/// kilometre from the datum, well below anything that is built.
pub(super) const TOUCH_M: f64 = 1e-6;

/// A scene that has passed every check.
pub(super) struct Site {
    pub(super) default_g: f64,
    pub(super) regions: Vec<(Polygon, f64)>,
    pub(super) region_boxes: Boxes,
    pub(super) obstacles: Vec<Obstacle>,
    pub(super) obstacle_boxes: Boxes,
    pub(super) faces: Vec<Face>,
}

/// What a face belongs to, by its place in the scene's list, from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FaceOf {
    /// A screen.
    Screen(usize),
    /// A building.
    Building(usize),
    /// A step in the ground.
    Step(usize),
}

/// Something solid that stands on the ground, or an edge of the ground itself.
pub(super) struct Obstacle {
    pub(super) of: FaceOf,
    pub(super) top_m: f64,
    pub(super) foot_m: f64,
    pub(super) shape: Shape,
}

pub(super) enum Shape {
    Line(Vec<Point2>),
    Building(Polygon),
}

/// A vertical face that reflects.
pub(super) struct Face {
    pub(super) of: FaceOf,
    /// Ends in plan.
    pub(super) a: Point2,
    pub(super) b: Point2,
    /// Unit normal in plan, towards the side it reflects to.
    pub(super) normal: Point2,
    pub(super) foot_m: f64,
    pub(super) top_m: f64,
    pub(super) rho: [f64; 9],
}

impl Face {
    /// Distance in front of the face's plane, m; negative behind.
    pub(super) fn ahead_m(&self, p: Point2) -> f64 {
        (p - self.a).dot(self.normal)
    }

    /// The place as seen in the face's plane.
    pub(super) fn mirrored(&self, p: Point2) -> Point2 {
        p - self.normal * (2.0 * self.ahead_m(p))
    }
}

impl Obstacle {
    /// Its corners in plan.
    pub(super) fn points(&self) -> &[Point2] {
        match &self.shape {
            Shape::Line(line) => line,
            Shape::Building(outline) => outline.corners(),
        }
    }

    /// Whether a place in plan is over (or, lower than the top, in) a building, away from its outline.
    pub(super) fn is_under(&self, p: Point2) -> bool {
        match &self.shape {
            Shape::Line(_) => false,
            Shape::Building(outline) => outline.contains_with_margin(p, TOUCH_M),
        }
    }

    /// Its outline or line, pieces that go on straight taken as one: how large a face is hangs on it.
    fn straight_pieces(&self) -> Vec<(Point2, Point2)> {
        let points = self.points();
        let closed = matches!(self.shape, Shape::Building(_));
        let n = points.len();
        let bends = |i: usize| {
            let (before, here, after) = (points[(i + n - 1) % n], points[i], points[(i + 1) % n]);
            let (u, v) = (here - before, after - here);
            u.cross(v).abs() > TOUCH_M * u.norm().max(v.norm()) || u.dot(v) < 0.0
        };
        let mut ends: Vec<Point2> = if closed {
            (0..n).filter(|&i| bends(i)).map(|i| points[i]).collect()
        } else {
            (0..n).filter(|&i| i == 0 || i + 1 == n || bends(i)).map(|i| points[i]).collect()
        };
        if closed {
            ends.extend(ends.first().copied());
        }
        ends.windows(2).map(|w| (w[0], w[1])).collect()
    }

    fn faces(&self, rho: [f64; 9]) -> Vec<Face> {
        let mut faces = Vec::new();
        for (a, b) in self.straight_pieces() {
            let along = (b - a) * (b - a).norm().recip();
            // The outside of a building, whose corners run counter-clockwise, and the low side of a step lie to the right.
            let right = Point2::new(along.y, -along.x);
            let face =
                |normal| Face { of: self.of, a, b, normal, foot_m: self.foot_m, top_m: self.top_m, rho };
            faces.push(face(right));
            if matches!(self.of, FaceOf::Screen(_)) {
                faces.push(face(right * -1.0));
            }
        }
        faces
    }
}

impl Site {
    pub(super) fn new(scene: &BoundaryScene) -> Result<Self, BoundarySceneError> {
        let mut check = Check { scene, problems: Vec::new(), obstacles: Vec::new(), faces: Vec::new() };
        check.points();
        check.factor("ground".to_owned(), scene.ground.default_g);
        let regions = check.regions();
        check.screens();
        check.buildings();
        check.steps();
        let Check { problems, obstacles, faces, .. } = check;
        if problems.is_empty() {
            let region_boxes = Boxes::around(regions.iter().map(|(outline, _)| outline.corners()));
            let obstacle_boxes = Boxes::around(obstacles.iter().map(Obstacle::points));
            let default_g = scene.ground.default_g;
            Ok(Self { default_g, regions, region_boxes, obstacles, obstacle_boxes, faces })
        } else {
            Err(BoundarySceneError { problems })
        }
    }
}

/// Everything wrong with a scene, and what is made of the rest.
struct Check<'s> {
    scene: &'s BoundaryScene,
    problems: Vec<BoundaryProblem>,
    obstacles: Vec<Obstacle>,
    faces: Vec<Face>,
}

/// Source or receiver, its number from 1, where it is, and the ground there.
type Place = (&'static str, usize, Point3, f64);

fn places(scene: &BoundaryScene) -> impl Iterator<Item = Place> + '_ {
    let sources = scene.sources.iter().enumerate();
    let receivers = scene.receivers.iter().enumerate();
    sources
        .map(|(i, s)| ("source", i + 1, s.position, s.ground_m))
        .chain(receivers.map(|(i, r)| ("receiver", i + 1, r.position, r.ground_m)))
}

impl Check<'_> {
    fn factor(&mut self, place: String, g: f64) {
        if !(0.0..=1.0).contains(&g) {
            self.problems.push(BoundaryProblem::GroundFactor { place, g });
        }
    }

    fn regions(&mut self) -> Vec<(Polygon, f64)> {
        let mut regions = Vec::new();
        for (i, r) in self.scene.ground.regions.iter().enumerate() {
            self.factor(format!("ground region {}", i + 1), r.g);
            match Polygon::new(r.outline.iter().copied()) {
                Ok(outline) => regions.push((outline, r.g)),
                Err(source) => {
                    self.problems.push(BoundaryProblem::Outline {
                        what: "ground region",
                        number: i + 1,
                        source,
                    });
                }
            }
        }
        regions
    }

    fn height(&mut self, what: &'static str, number: usize, height_m: f64) {
        if !(height_m > 0.0 && height_m <= 1000.0) {
            self.problems.push(BoundaryProblem::Height { what, number, height_m });
        }
    }

    fn reflection(&mut self, what: &'static str, number: usize, reflection: FaceReflection) {
        if let Some(&rho) = reflection.0.iter().find(|r| !(0.0..=1.0).contains(*r)) {
            self.problems.push(BoundaryProblem::Reflection { what, number, rho });
        }
    }

    fn line(&mut self, what: &'static str, number: usize, line: &[Point2]) -> Option<Shape> {
        let mut line = line.to_vec();
        line.dedup();
        let usable = line.len() > 1 && line.iter().all(|p| p.is_finite());
        if !usable {
            self.problems.push(BoundaryProblem::ScreenLine { what, number });
        }
        usable.then_some(Shape::Line(line))
    }

    fn stand(&mut self, obstacle: Obstacle, reflection: FaceReflection) {
        self.faces.extend(obstacle.faces(reflection.0));
        self.obstacles.push(obstacle);
    }

    fn screens(&mut self) {
        for (i, s) in self.scene.screens.iter().enumerate() {
            self.height("screen", i + 1, s.top_m - s.foot_m);
            self.reflection("screen", i + 1, s.reflection);
            if let Some(shape) = self.line("screen", i + 1, &s.line) {
                let of = FaceOf::Screen(i);
                self.stand(Obstacle { of, top_m: s.top_m, foot_m: s.foot_m, shape }, s.reflection);
            }
        }
    }

    fn buildings(&mut self) {
        for (i, b) in self.scene.buildings.iter().enumerate() {
            self.height("building", i + 1, b.height_m - b.foot_m);
            self.reflection("building", i + 1, b.reflection);
            match Polygon::new(b.outline.iter().copied()) {
                Ok(outline) => {
                    let shape = Shape::Building(outline);
                    let of = FaceOf::Building(i);
                    let obstacle = Obstacle { of, top_m: b.height_m, foot_m: b.foot_m, shape };
                    self.inside(&obstacle, i + 1);
                    self.stand(obstacle, b.reflection);
                }
                Err(source) => {
                    self.problems.push(BoundaryProblem::Outline { what: "building", number: i + 1, source });
                }
            }
        }
    }

    fn steps(&mut self) {
        for (i, s) in self.scene.steps.iter().enumerate() {
            self.height("step", i + 1, s.top_m - s.foot_m);
            if let Some(shape) = self.line("step", i + 1, &s.line) {
                // What holds the ground back is not known; a hard face is the careful side.
                let of = FaceOf::Step(i);
                self.stand(
                    Obstacle { of, top_m: s.top_m, foot_m: s.foot_m, shape },
                    FaceReflection::hard_wall(),
                );
            }
        }
    }

    fn inside(&mut self, obstacle: &Obstacle, building: usize) {
        for (what, number, at, _) in places(self.scene) {
            if at.is_finite() && at.z < obstacle.top_m && obstacle.is_under(at.plan()) {
                let height_m = obstacle.top_m - obstacle.foot_m;
                self.problems.push(BoundaryProblem::Inside { what, number, building, height_m });
            }
        }
    }

    fn points(&mut self) {
        let scene = self.scene;
        if scene.sources.is_empty() {
            self.problems.push(BoundaryProblem::Missing { what: "sources" });
        }
        if scene.receivers.is_empty() {
            self.problems.push(BoundaryProblem::Missing { what: "receivers" });
        }
        for (what, number, at, ground_m) in places(scene) {
            let near = [at.x, at.y, at.z, ground_m].iter().all(|c| c.abs() <= FARTHEST_M);
            if !(near && at.z >= ground_m) {
                self.problems.push(BoundaryProblem::Position { what, number, at, ground_m });
            }
        }
        for i in 0..scene.sources.len() {
            self.source(i);
        }
    }

    fn source(&mut self, i: usize) {
        let (scene, s) = (self.scene, &self.scene.sources[i]);
        let power = s.sound_power_db.bands_db.iter().chain(s.sound_power_db.extension_db.iter());
        if let Some(&value_db) =
            power.chain(s.directivity_db.iter().flatten()).find(|v| !(-300.0..=200.0).contains(*v))
        {
            self.problems.push(BoundaryProblem::Power { number: i + 1, value_db });
        }
        if !s.directivity_db.is_empty() && s.directivity_db.len() != scene.receivers.len() {
            self.problems.push(BoundaryProblem::DirectivityRows {
                number: i + 1,
                rows: s.directivity_db.len(),
                receivers: scene.receivers.len(),
            });
        }
        for (j, r) in scene.receivers.iter().enumerate() {
            let distance_m = s.position.distance(r.position);
            if distance_m < NEAREST_M {
                self.problems.push(BoundaryProblem::TooClose {
                    receiver: j + 1,
                    source_number: i + 1,
                    distance_m,
                });
            }
        }
    }
}
