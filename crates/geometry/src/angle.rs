//! Bearings (clockwise from plan north) and pitches (up positive), degrees.

use crate::{Point2, Point3};

/// Brings an angle in degrees into 0 (inclusive) to 360 (exclusive).
pub fn wrap_degrees(angle_deg: f64) -> f64 {
    let wrapped = angle_deg.rem_euclid(360.0);
    if wrapped >= 360.0 { 0.0 } else { wrapped }
}

/// Unit vector that points along a bearing (degrees clockwise from +y) and pitch (degrees, up positive).
pub fn direction(bearing_deg: f64, pitch_deg: f64) -> Point3 {
    let (sin_b, cos_b) = bearing_deg.to_radians().sin_cos();
    let (sin_p, cos_p) = pitch_deg.to_radians().sin_cos();
    Point3::new(sin_b * cos_p, cos_b * cos_p, sin_p)
}

/// Bearing from one place in plan to another: degrees clockwise from plan north, 0 to 360; 0 when both are
/// the same place.
pub fn bearing_between(from: Point2, to: Point2) -> f64 {
    let d = to - from;
    if d == Point2::default() { 0.0 } else { wrap_degrees(d.x.atan2(d.y).to_degrees()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn east_is_ninety_and_directions_follow_bearings() {
        assert!((bearing_between(Point2::new(1.0, 1.0), Point2::new(5.0, 1.0)) - 90.0).abs() < 1e-12);
        let d = direction(225.0, 0.0);
        assert!(d.distance(Point3::new(-0.5f64.sqrt(), -0.5f64.sqrt(), 0.0)) < 1e-12);
        assert!(direction(10.0, 90.0).distance(Point3::new(0.0, 0.0, 1.0)) < 1e-12);
        assert_eq!(wrap_degrees(-90.0), 270.0);
        assert_eq!(wrap_degrees(-1e-18), 0.0);
    }
}
