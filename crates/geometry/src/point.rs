//! Points in plan and in space (inlined: the engines' inner loops are made of them); both serialise as plain arrays of metres.

use serde::{Deserialize, Serialize};
use std::ops::{Add, Mul, Sub};

/// A point (or offset) in plan: x east, y north, metres. Serialises as `[x, y]`.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(from = "[f64; 2]", into = "[f64; 2]")]
pub struct Point2 {
    /// Metres east of the datum.
    pub x: f64,
    /// Metres north of the datum.
    pub y: f64,
}

impl Point2 {
    /// The point `x` metres east and `y` metres north.
    #[inline]
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Straight distance to `other`, metres.
    #[inline]
    pub fn distance(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }

    /// Length of the offset from the datum, metres.
    #[inline]
    pub fn norm(self) -> f64 {
        self.x.hypot(self.y)
    }

    /// Dot product, square metres.
    #[inline]
    pub fn dot(self, other: Self) -> f64 {
        self.x * other.x + self.y * other.y
    }

    /// z component of the cross product, square metres: positive when `other` lies counter-clockwise.
    #[inline]
    pub fn cross(self, other: Self) -> f64 {
        self.x * other.y - self.y * other.x
    }

    /// The point the fraction `t` of the way to `other` (0 here, 1 there; not clamped).
    #[inline]
    pub fn lerp(self, other: Self, t: f64) -> Self {
        self + (other - self) * t
    }

    /// This point at height `z` metres.
    #[inline]
    pub const fn at_height(self, z: f64) -> Point3 {
        Point3 { x: self.x, y: self.y, z }
    }

    /// Whether both coordinates are finite numbers.
    #[inline]
    pub fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite()
    }
}

#[cfg(feature = "schema")]
impl utoipa::PartialSchema for Point2 {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
        let numbers = utoipa::openapi::ArrayBuilder::new().items(f64::schema());
        numbers.min_items(Some(2)).max_items(Some(2)).into()
    }
}

#[cfg(feature = "schema")]
impl utoipa::ToSchema for Point2 {}

impl From<[f64; 2]> for Point2 {
    fn from([x, y]: [f64; 2]) -> Self {
        Self { x, y }
    }
}

impl From<Point2> for [f64; 2] {
    fn from(p: Point2) -> Self {
        [p.x, p.y]
    }
}

impl Add for Point2 {
    type Output = Self;
    #[inline]
    fn add(self, o: Self) -> Self {
        Self::new(self.x + o.x, self.y + o.y)
    }
}

impl Sub for Point2 {
    type Output = Self;
    #[inline]
    fn sub(self, o: Self) -> Self {
        Self::new(self.x - o.x, self.y - o.y)
    }
}

impl Mul<f64> for Point2 {
    type Output = Self;
    #[inline]
    fn mul(self, k: f64) -> Self {
        Self::new(self.x * k, self.y * k)
    }
}

/// A point (or offset) in space: x east, y north, z up, metres. Serialises as `[x, y, z]`.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(from = "[f64; 3]", into = "[f64; 3]")]
pub struct Point3 {
    /// Metres east of the datum.
    pub x: f64,
    /// Metres north of the datum.
    pub y: f64,
    /// Metres above the datum.
    pub z: f64,
}

impl Point3 {
    /// The point with these coordinates, metres.
    #[inline]
    pub const fn new(x: f64, y: f64, z: f64) -> Self {
        Self { x, y, z }
    }

    /// The point's place in plan.
    #[inline]
    pub const fn plan(self) -> Point2 {
        Point2 { x: self.x, y: self.y }
    }

    /// Straight distance to `other`, metres.
    #[inline]
    pub fn distance(self, other: Self) -> f64 {
        (self - other).norm()
    }

    /// Length of the offset, metres.
    #[inline]
    pub fn norm(self) -> f64 {
        self.dot(self).sqrt()
    }

    /// Dot product, square metres.
    #[inline]
    pub fn dot(self, o: Self) -> f64 {
        self.x * o.x + self.y * o.y + self.z * o.z
    }

    /// Whether all coordinates are finite numbers.
    #[inline]
    pub fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite() && self.z.is_finite()
    }
}

#[cfg(feature = "schema")]
impl utoipa::PartialSchema for Point3 {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
        let numbers = utoipa::openapi::ArrayBuilder::new().items(f64::schema());
        numbers.min_items(Some(3)).max_items(Some(3)).into()
    }
}

#[cfg(feature = "schema")]
impl utoipa::ToSchema for Point3 {}

impl From<[f64; 3]> for Point3 {
    fn from([x, y, z]: [f64; 3]) -> Self {
        Self { x, y, z }
    }
}

impl From<Point3> for [f64; 3] {
    fn from(p: Point3) -> Self {
        [p.x, p.y, p.z]
    }
}

impl Add for Point3 {
    type Output = Self;
    #[inline]
    fn add(self, o: Self) -> Self {
        Self::new(self.x + o.x, self.y + o.y, self.z + o.z)
    }
}

impl Sub for Point3 {
    type Output = Self;
    #[inline]
    fn sub(self, o: Self) -> Self {
        Self::new(self.x - o.x, self.y - o.y, self.z - o.z)
    }
}

impl Mul<f64> for Point3 {
    type Output = Self;
    #[inline]
    fn mul(self, k: f64) -> Self {
        Self::new(self.x * k, self.y * k, self.z * k)
    }
}
