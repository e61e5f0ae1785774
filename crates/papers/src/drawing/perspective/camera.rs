//! A camera that looks down at a garden: central projection.
//!
//! With bearing b (clockwise from plan north) and tilt t (how far the way it looks lies below the horizon), it looks along
//! f = (sin b cos t, cos b cos t, -sin t); to its right lies r = (cos b, -sin b, 0), upwards u = r x f. A place at d from the
//! eye comes to (d.r / d.f, d.u / d.f) in the picture. Nothing is drawn behind the eye: it stands [`FAR`] times the
//! radius of what is shown from its middle.

use crate::drawing::spot::{Frame, Spot};
use loamline_geometry::{Point2, Point3};

/// Distance from the eye to the middle of what is shown, in radii of it. Nearer bends the garden, as wide lenses do; farther
/// flattens it to a tilted plan.
const FAR: f64 = 2.6;

/// A camera, set so that what is shown fills a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// Where it stands.
    pub eye: Point3,
    right: Point3,
    up: Point3,
    forward: Point3,
    /// Millimetres in the picture for one of what is projected.
    scale_mm: f64,
    /// Where the middle of the way it looks along comes to.
    origin: Spot,
}

impl Camera {
    /// A camera that sees some places, as large as the frame lets them be. `bearing_deg` is the bearing it looks along,
    /// `tilt_deg` how far it looks down, above 0 to 90.
    pub fn fitting(bearing_deg: f64, tilt_deg: f64, seen: &[Point3], frame: Frame) -> Self {
        let (sin_b, cos_b) = bearing_deg.to_radians().sin_cos();
        let (sin_t, cos_t) = tilt_deg.to_radians().sin_cos();
        let forward = Point3::new(sin_b * cos_t, cos_b * cos_t, -sin_t);
        let (low, high) = bounds(seen);
        let middle = (low + high) * 0.5;
        let radius = seen.iter().map(|p| p.distance(middle)).fold(1.0, f64::max);
        let mut camera = Self {
            eye: middle - forward * (FAR * radius),
            right: Point3::new(cos_b, -sin_b, 0.0),
            up: Point3::new(sin_b * sin_t, cos_b * sin_t, cos_t),
            forward,
            scale_mm: 1.0,
            origin: Spot::default(),
        };
        let flat: Vec<Spot> = seen.iter().map(|&p| camera.spot(p)).collect();
        let fold = |f: fn(f64, f64) -> f64, from: f64| {
            flat.iter().fold(Spot::new(from, from), |a, s| Spot::new(f(a.x, s.x), f(a.y, s.y)))
        };
        let (least, most) = (fold(f64::min, f64::INFINITY), fold(f64::max, f64::NEG_INFINITY));
        let size = most - least;
        if size.x > 0.0 && size.y > 0.0 {
            camera.scale_mm = (frame.width() / size.x).min(frame.height() / size.y);
            camera.origin = frame.centre() - least.lerp(most, 0.5) * camera.scale_mm;
        }
        camera
    }

    /// Where a place comes to in the picture.
    pub fn spot(&self, p: Point3) -> Spot {
        let d = p - self.eye;
        let depth = self.depth_m(p);
        self.origin + Spot::new(d.dot(self.right), -d.dot(self.up)) * (self.scale_mm / depth)
    }

    /// The same of places at one height.
    pub fn spots(&self, at: &[Point2], height_m: f64) -> Vec<Spot> {
        at.iter().map(|p| self.spot(p.at_height(height_m))).collect()
    }

    /// How far ahead of the eye a place lies, metres.
    pub fn depth_m(&self, p: Point3) -> f64 {
        (p - self.eye).dot(self.forward)
    }

    /// Millimetres in the picture for a metre at a place, across the way it looks.
    pub fn mm_per_m(&self, p: Point3) -> f64 {
        self.scale_mm / self.depth_m(p)
    }

    /// Unit vector to its right, in plan.
    pub fn right_in_plan(&self) -> Point2 {
        self.right.plan()
    }
}

fn bounds(points: &[Point3]) -> (Point3, Point3) {
    let fold = |f: fn(f64, f64) -> f64, from: f64| {
        let start = Point3::new(from, from, from);
        points.iter().fold(start, |a, p| Point3::new(f(a.x, p.x), f(a.y, p.y), f(a.z, p.z)))
    };
    if points.is_empty() {
        return (Point3::default(), Point3::default());
    }
    (fold(f64::min, f64::INFINITY), fold(f64::max, f64::NEG_INFINITY))
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: Frame = Frame::new(10.0, 20.0, 110.0, 90.0);

    fn box_of(x: f64, y: f64, z: f64) -> Vec<Point3> {
        let ends = |v: f64| [0.0, v];
        let mut all = Vec::new();
        for east in ends(x) {
            for north in ends(y) {
                all.extend(ends(z).map(|up| Point3::new(east, north, up)));
            }
        }
        all
    }

    #[test]
    fn what_is_shown_fills_the_frame_and_no_more() {
        let seen = box_of(20.0, 12.0, 3.0);
        for bearing in [0.0, 33.0, 180.0, 271.0] {
            let camera = Camera::fitting(bearing, 35.0, &seen, FRAME);
            let spots: Vec<Spot> = seen.iter().map(|&p| camera.spot(p)).collect();
            assert!(spots.iter().all(|&s| FRAME.grown(1e-9).contains(s)), "{bearing}");
            let wide = spots.iter().map(|s| s.x).fold(f64::MIN, f64::max)
                - spots.iter().map(|s| s.x).fold(f64::MAX, f64::min);
            let high = spots.iter().map(|s| s.y).fold(f64::MIN, f64::max)
                - spots.iter().map(|s| s.y).fold(f64::MAX, f64::min);
            let filled = (wide / FRAME.width()).max(high / FRAME.height());
            assert!((filled - 1.0).abs() < 1e-9, "{bearing}: {filled}");
        }
    }

    /// The same by similar triangles: looking north and straight down, the picture is a plan, east to the right and north up.
    #[test]
    fn straight_from_above_it_is_a_plan() {
        let seen = box_of(20.0, 12.0, 0.0);
        let camera = Camera::fitting(0.0, 90.0, &seen, FRAME);
        let (a, b) = (camera.spot(Point3::new(5.0, 3.0, 0.0)), camera.spot(Point3::new(6.0, 3.0, 0.0)));
        let c = camera.spot(Point3::new(5.0, 4.0, 0.0));
        assert!((b.x - a.x - 5.0).abs() < 1e-9 && (b.y - a.y).abs() < 1e-9, "{a:?} {b:?}");
        assert!((a.y - c.y - 5.0).abs() < 1e-9 && (c.x - a.x).abs() < 1e-9, "{a:?} {c:?}");
        // At half the height of the eye everything is twice as large.
        let half = camera.spot(Point3::new(6.0, 3.0, camera.eye.z / 2.0));
        let centre = FRAME.centre();
        assert!(((half.x - centre.x) - 2.0 * (b.x - centre.x)).abs() < 1e-9, "{half:?}");
    }

    #[test]
    fn what_is_nearer_is_larger_and_lower() {
        let seen = box_of(20.0, 20.0, 2.0);
        let camera = Camera::fitting(90.0, 30.0, &seen, FRAME);
        // Looking east: the west is near.
        let (near, far) = (Point3::new(1.0, 10.0, 0.0), Point3::new(19.0, 10.0, 0.0));
        assert!(camera.mm_per_m(near) > camera.mm_per_m(far));
        assert!(camera.spot(near).y > camera.spot(far).y);
        assert!(camera.spot(Point3::new(1.0, 10.0, 1.0)).y < camera.spot(near).y, "up is up");
        // North lies to the left of who looks east.
        assert!(camera.spot(Point3::new(10.0, 15.0, 0.0)).x < camera.spot(Point3::new(10.0, 5.0, 0.0)).x);
    }
}
