//! What stands on a site and where the ground steps, as the picture needs it: upright faces with their feet in plan.

use super::plan_tree::Piece;
use loamline_acoustics::Terrain;
use loamline_adapt::drawn_ground;
use loamline_geometry::{Crossing, Point2, Point3, Segment, direction, project_on_segment, segments_cross};
use loamline_limits::go_on;
use loamline_model::document::{Mount, WallKind};
use loamline_model::{Job, PlacedLoudspeaker};

/// Lower steps in the ground are not drawn, metres.
const LEAST_STEP_M: f64 = 0.01;
/// How far beside a line the ground is looked up, metres.
const BESIDE_M: f64 = 0.01;
/// How far before a wall what hangs on it is drawn, metres.
const BEFORE_WALL_M: f64 = 0.06;

/// What a face is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    Building,
    Wall(WallKind),
    /// Ground that steps down.
    Step,
    /// A boundary where quiet is wanted; the number of the neighbour among the marks.
    Boundary(usize),
    /// The edge of the property: parts the ground and is not seen.
    Edge,
}

/// An upright face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Face {
    pub foot_m: f64,
    pub top_m: f64,
    pub look: Look,
    /// Whether it is seen from the right hand of its foot alone: what it encloses lies on the left.
    pub one_sided: bool,
}

/// Faces with the pieces of plan they stand on.
#[derive(Debug, Default)]
pub struct Faces {
    /// Those of buildings first, one for each in the order of the file.
    pub faces: Vec<Face>,
    pub pieces: Vec<Piece>,
}

impl Faces {
    /// Buildings, walls and steps in the ground of a job.
    pub fn of(job: &Job) -> Self {
        let d = job.document();
        let mut all = Self::default();
        for (b, foot_m) in d.buildings.values().zip(building_feet_m(job)) {
            let face = Face { foot_m, top_m: foot_m + b.height_m, look: Look::Building, one_sided: true };
            all.along(face, b.outline.sides());
        }
        let surfaces = drawn_ground(job);
        let terrain = Terrain { surfaces: &surfaces, default_elevation_m: 0.0 };
        for w in d.walls.values() {
            let foot_m = w.stated_foot_m().unwrap_or_else(|| terrain.wall_foot_m(&w.line));
            let look = Look::Wall(w.kind);
            let face = Face { foot_m, top_m: foot_m + w.height_m, look, one_sided: false };
            all.line(face, &w.line);
        }
        all.steps(job);
        all
    }

    /// Adds a face on every piece of a line.
    pub fn line(&mut self, face: Face, line: &[Point2]) {
        self.along(face, line.windows(2).map(|w| Segment::new(w[0], w[1])));
    }

    /// Adds a face on each of some pieces.
    pub fn along(&mut self, face: Face, sides: impl Iterator<Item = Segment>) {
        let of = self.faces.len();
        self.faces.push(face);
        self.pieces.extend(sides.map(|s| Piece { from: s.a, to: s.b, of }));
    }

    fn steps(&mut self, job: &Job) {
        if !has_steps(job) {
            return;
        }
        let sides: Vec<Segment> =
            job.document().surfaces.values().flat_map(|s| s.outline.sides().collect::<Vec<_>>()).collect();
        for &side in &sides {
            go_on();
            for piece in cut(side, &sides) {
                let along = (piece.b - piece.a) * piece.length().recip();
                let left = Point2::new(-along.y, along.x) * BESIDE_M;
                let middle = piece.a.lerp(piece.b, 0.5);
                let (l, r) = (job.ground(middle + left).elevation_m, job.ground(middle - left).elevation_m);
                if (l - r).abs() < LEAST_STEP_M {
                    continue;
                }
                let high_left = if l > r { piece } else { Segment::new(piece.b, piece.a) };
                let face = Face { foot_m: l.min(r), top_m: l.max(r), look: Look::Step, one_sided: true };
                self.along(face, std::iter::once(high_left));
            }
        }
    }
}

/// Whether the ground of a job is of more than one height.
pub fn has_steps(job: &Job) -> bool {
    job.document().surfaces.values().any(|s| s.elevation_m.abs() >= LEAST_STEP_M)
}

/// A side cut wherever another meets it.
fn cut(side: Segment, others: &[Segment]) -> Vec<Segment> {
    let mut cuts = vec![0.0, 1.0];
    for &other in others {
        if let Some(Crossing::Proper(_, t) | Crossing::Touch(_, t)) = segments_cross(side, other) {
            cuts.push(t);
        }
        for end in [other.a, other.b] {
            let (foot, t) = project_on_segment(end, side);
            if foot.distance(end) < BESIDE_M / 10.0 {
                cuts.push(t);
            }
        }
    }
    cuts.sort_by(f64::total_cmp);
    let at = |t: f64| side.a.lerp(side.b, t);
    let pieces = cuts.windows(2).map(|w| Segment::new(at(w[0]), at(w[1])));
    pieces.filter(|p| p.length() > BESIDE_M / 10.0).collect()
}

/// Elevation of what each building stands on, in the order of the file, as its sound is worked out, metres.
pub fn building_feet_m(job: &Job) -> Vec<f64> {
    let surfaces = drawn_ground(job);
    let terrain = Terrain { surfaces: &surfaces, default_elevation_m: 0.0 };
    job.document().buildings.values().map(|b| terrain.building_foot_m(&b.outline)).collect()
}

/// Where a loudspeaker is drawn: where it is, or just before the wall it hangs on.
pub fn loudspeaker_at(job: &Job, l: &PlacedLoudspeaker<'_>) -> Point3 {
    let hangs = matches!(l.mount, Mount::Bracket | Mount::Eaves);
    let mut at = l.position.plan();
    if hangs {
        at = at + direction(l.placed.bearing_deg, 0.0).plan() * BEFORE_WALL_M;
    }
    let around = job.document().buildings.values().find(|b| b.outline.contains(at));
    if let Some(b) = around.filter(|_| hangs) {
        let wall = b.outline.nearest_on_outline(at);
        let about = (0..16).map(|k| wall + direction(22.5 * f64::from(k), 0.0).plan() * BEFORE_WALL_M);
        at = about.into_iter().find(|&p| !b.outline.contains(p)).unwrap_or(wall);
    }
    at.at_height(l.position.z)
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job};

    fn job(text: &str) -> Job {
        let text = format!(
            "format = 1\n[job]\nname = \"Steps\"\n[site]\noutline = [[0, 0], [20, 0], [20, 20], [0, 20]]\n{text}"
        );
        read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap()
    }

    /// A terrace with a pool in it that reaches beyond its southern edge: the terrace's edge is cut where the pool begins.
    #[test]
    fn steps_have_the_heights_on_their_two_sides() {
        let job = job(
            "[surfaces.terrace]\nkind = \"paving\"\noutline = [[4, 4], [16, 4], [16, 12], [4, 12]]\nelevation = \"0.5 m\"\n\
             [surfaces.pool]\nkind = \"water\"\noutline = [[8, 2], [12, 2], [12, 8], [8, 8]]\nelevation = \"-1 m\"\n",
        );
        let all = Faces::of(&job);
        let mut length = std::collections::BTreeMap::new();
        for p in &all.pieces {
            let f = all.faces[p.of];
            let heights = ((f.foot_m * 10.0).round() as i64, (f.top_m * 10.0).round() as i64);
            *length.entry(heights).or_insert(0.0) += p.from.distance(p.to);
            // The high ground lies on the left.
            let left = Point2::new(p.from.y - p.to.y, p.to.x - p.from.x) * (0.05 / p.from.distance(p.to));
            let middle = p.from.lerp(p.to, 0.5);
            assert!((job.ground(middle + left).elevation_m - f.top_m).abs() < 1e-9, "{p:?} {f:?}");
            assert!((job.ground(middle - left).elevation_m - f.foot_m).abs() < 1e-9, "{p:?} {f:?}");
        }
        // By hand. Terrace over lawn: 40 m of outline less 4 m where the pool lies. Pool under terrace: 4 + 4 + 4 m.
        // Pool under lawn: 2 + 4 + 2 m.
        let by_hand = [((-10, 0), 8.0), ((-10, 5), 12.0), ((0, 5), 36.0)];
        for (heights, metres) in by_hand {
            assert!((length[&heights] - metres).abs() < 1e-6, "{heights:?}: {length:?}");
        }
        assert_eq!(length.len(), 3);
    }

    #[test]
    fn level_ground_has_no_steps_and_walls_are_seen_from_both_sides() {
        let job = job("[surfaces.lawn]\nkind = \"lawn\"\noutline = [[4, 4], [16, 4], [16, 12]]\n\
             [walls.w]\nline = [[0, 1], [5, 1], [5, 3]]\nheight = \"2 m\"\n\
             [buildings.b]\noutline = [[10, 14], [18, 14], [18, 19], [10, 19]]\nheight = \"5 m\"\n");
        let all = Faces::of(&job);
        assert_eq!(all.pieces.len(), 6);
        assert!(all.faces.iter().all(|f| f.foot_m == 0.0 && f.one_sided == (f.look == Look::Building)));
    }

    /// A house half on a terrace reaches down to the lawn: no part of it hangs in the air.
    #[test]
    fn a_house_is_drawn_down_to_the_lowest_ground_outside_it() {
        let job = job(
            "[surfaces.terrace]\nkind = \"paving\"\noutline = [[4, 4], [16, 4], [16, 12], [4, 12]]\nelevation = \"0.5 m\"\n\
             [buildings.half]\noutline = [[6, 8], [10, 8], [10, 16], [6, 16]]\nheight = \"5 m\"\n\
             [buildings.whole]\noutline = [[12, 5], [15, 5], [15, 11], [12, 11]]\nheight = \"3 m\"\n",
        );
        let all = Faces::of(&job);
        let heights: Vec<(f64, f64)> = all.faces[..2].iter().map(|f| (f.foot_m, f.top_m)).collect();
        assert_eq!(heights, [(0.0, 5.0), (0.5, 3.5)]);
    }
}
