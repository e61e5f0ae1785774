//! Which way a loudspeaker points, and directions as it sees them.

use loamline_geometry::{Point3, direction};
use serde::{Deserialize, Serialize};

/// The axes of a loudspeaker in the site frame. Serialises as the three angles it was made of.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(from = "Angles", into = "Angles")]
pub struct Aim {
    angles: Angles,
    forward: Point3,
    left: Point3,
    up: Point3,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Angles {
    bearing_deg: f64,
    #[serde(default)]
    pitch_deg: f64,
    #[serde(default)]
    roll_deg: f64,
}

impl Aim {
    /// Bearing (degrees clockwise from plan north), pitch (degrees, up positive), roll (degrees, clockwise seen
    /// from behind the loudspeaker; 0 leaves it upright). An angle that is not finite counts as 0.
    pub fn new(bearing_deg: f64, pitch_deg: f64, roll_deg: f64) -> Self {
        let finite = |a: f64| if a.is_finite() { a } else { 0.0 };
        let angles = Angles {
            bearing_deg: finite(bearing_deg),
            pitch_deg: finite(pitch_deg),
            roll_deg: finite(roll_deg),
        };
        let forward = direction(angles.bearing_deg, angles.pitch_deg);
        let level_left = direction(angles.bearing_deg - 90.0, 0.0);
        let level_up = cross(forward, level_left);
        let (sin_r, cos_r) = angles.roll_deg.to_radians().sin_cos();
        Self {
            angles,
            forward,
            left: level_left * cos_r + level_up * sin_r,
            up: level_up * cos_r - level_left * sin_r,
        }
    }

    /// Unit vector along the axis, site frame.
    pub fn forward(&self) -> Point3 {
        self.forward
    }

    /// An offset in the site frame as the loudspeaker sees it: x forward, y to its left, z to its top.
    pub fn to_local(&self, offset: Point3) -> Point3 {
        Point3::new(self.forward.dot(offset), self.left.dot(offset), self.up.dot(offset))
    }
}

impl Default for Aim {
    /// Due plan north, level, upright.
    fn default() -> Self {
        Self::new(0.0, 0.0, 0.0)
    }
}

impl From<Angles> for Aim {
    fn from(a: Angles) -> Self {
        Self::new(a.bearing_deg, a.pitch_deg, a.roll_deg)
    }
}

impl From<Aim> for Angles {
    fn from(a: Aim) -> Self {
        a.angles
    }
}

fn cross(a: Point3, b: Point3) -> Point3 {
    Point3::new(a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn close(a: Point3, b: Point3) -> bool {
        a.distance(b) < 1e-12
    }

    #[test]
    fn a_loudspeaker_that_faces_east_sees_north_on_its_left() {
        let aim = Aim::new(90.0, 0.0, 0.0);
        assert!(close(aim.to_local(Point3::new(2.0, 0.0, 0.0)), Point3::new(2.0, 0.0, 0.0)));
        assert!(close(aim.to_local(Point3::new(0.0, 1.0, 0.0)), Point3::new(0.0, 1.0, 0.0)));
        assert!(close(aim.to_local(Point3::new(0.0, 0.0, 1.0)), Point3::new(0.0, 0.0, 1.0)));
        // A quarter turn clockwise from behind: its top now points right, to the south; up is on its left.
        let rolled = Aim::new(90.0, 0.0, 90.0);
        assert!(close(rolled.to_local(Point3::new(0.0, -1.0, 0.0)), Point3::new(0.0, 0.0, 1.0)));
        assert!(close(rolled.to_local(Point3::new(0.0, 0.0, 1.0)), Point3::new(0.0, 1.0, 0.0)));
        // Pitched down 30 degrees: a point level ahead is above the axis.
        let down = Aim::new(0.0, -30.0, 0.0).to_local(Point3::new(0.0, 1.0, 0.0));
        assert!(close(down, Point3::new(30f64.to_radians().cos(), 0.0, 0.5)));
    }

    proptest! {
        #[test]
        fn turning_keeps_lengths(b in -720.0f64..720.0, p in -90.0f64..90.0, r in -180.0f64..180.0,
            x in -9.0f64..9.0, y in -9.0f64..9.0, z in -9.0f64..9.0) {
            let v = Point3::new(x, y, z);
            prop_assert!((Aim::new(b, p, r).to_local(v).norm() - v.norm()).abs() < 1e-9);
        }
    }
}
