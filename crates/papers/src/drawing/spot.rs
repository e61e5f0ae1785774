//! Positions on paper: millimetres from the top left corner of a drawing, y downwards.

use loamline_geometry::Point2;
use std::ops::{Add, Mul, Sub};

/// A position (or offset) on a drawing, millimetres, y downwards.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Spot {
    pub x: f64,
    pub y: f64,
}

impl Spot {
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    pub fn norm(self) -> f64 {
        self.x.hypot(self.y)
    }

    pub fn distance(self, o: Self) -> f64 {
        (self - o).norm()
    }

    pub fn dot(self, o: Self) -> f64 {
        self.x * o.x + self.y * o.y
    }

    pub fn lerp(self, o: Self, t: f64) -> Self {
        self + (o - self) * t
    }

    /// Unit vector that a plan bearing (degrees clockwise from plan north, north up) has on paper.
    pub fn towards(bearing_deg: f64) -> Self {
        let (sin, cos) = bearing_deg.to_radians().sin_cos();
        Self::new(sin, -cos)
    }

    /// Turned a quarter: to the right hand on paper.
    pub fn right(self) -> Self {
        Self::new(-self.y, self.x)
    }

    /// Same direction, length 1; a zero offset stays zero.
    pub fn unit(self) -> Self {
        let n = self.norm();
        if n > 1e-12 { self * (1.0 / n) } else { Self::default() }
    }
}

impl Add for Spot {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        Self::new(self.x + o.x, self.y + o.y)
    }
}

impl Sub for Spot {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        Self::new(self.x - o.x, self.y - o.y)
    }
}

impl Mul<f64> for Spot {
    type Output = Self;
    fn mul(self, k: f64) -> Self {
        Self::new(self.x * k, self.y * k)
    }
}

/// An upright rectangle on a drawing, millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Frame {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Frame {
    pub const fn new(left: f64, top: f64, right: f64, bottom: f64) -> Self {
        Self { left, top, right, bottom }
    }

    pub fn centred(at: Spot, width: f64, height: f64) -> Self {
        Self::new(at.x - width / 2.0, at.y - height / 2.0, at.x + width / 2.0, at.y + height / 2.0)
    }

    pub fn width(self) -> f64 {
        self.right - self.left
    }

    pub fn height(self) -> f64 {
        self.bottom - self.top
    }

    pub fn centre(self) -> Spot {
        Spot::new((self.left + self.right) / 2.0, (self.top + self.bottom) / 2.0)
    }

    pub fn grown(self, by: f64) -> Self {
        Self::new(self.left - by, self.top - by, self.right + by, self.bottom + by)
    }

    pub fn overlaps(self, o: Self) -> bool {
        self.left < o.right && o.left < self.right && self.top < o.bottom && o.top < self.bottom
    }

    pub fn holds(self, o: Self) -> bool {
        self.left <= o.left && self.right >= o.right && self.top <= o.top && self.bottom >= o.bottom
    }

    pub fn contains(self, p: Spot) -> bool {
        (self.left..=self.right).contains(&p.x) && (self.top..=self.bottom).contains(&p.y)
    }

    /// Nearest point of the rectangle to `p`.
    pub fn nearest(self, p: Spot) -> Spot {
        Spot::new(p.x.clamp(self.left, self.right), p.y.clamp(self.top, self.bottom))
    }

    /// Length of the straight piece from `a` to `b` that lies inside (Liang and Barsky 1984).
    pub fn length_inside(self, a: Spot, b: Spot) -> f64 {
        let d = b - a;
        let (mut enter, mut leave) = (0.0f64, 1.0f64);
        for (p, q) in [
            (-d.x, a.x - self.left),
            (d.x, self.right - a.x),
            (-d.y, a.y - self.top),
            (d.y, self.bottom - a.y),
        ] {
            if p == 0.0 {
                if q < 0.0 {
                    return 0.0;
                }
            } else if p < 0.0 {
                enter = enter.max(q / p);
            } else {
                leave = leave.min(q / p);
            }
        }
        if leave > enter { (leave - enter) * d.norm() } else { 0.0 }
    }
}

/// Where site coordinates fall on a drawing: north up, one scale both ways.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// Site coordinates at the middle of the frame.
    pub centre: Point2,
    /// Millimetres on paper per metre on site.
    pub mm_per_m: f64,
    /// Where the map is drawn.
    pub frame: Frame,
}

impl View {
    pub fn spot(&self, p: Point2) -> Spot {
        let c = self.frame.centre();
        Spot::new(c.x + (p.x - self.centre.x) * self.mm_per_m, c.y - (p.y - self.centre.y) * self.mm_per_m)
    }

    pub fn spots(&self, points: &[Point2]) -> Vec<Spot> {
        points.iter().map(|&p| self.spot(p)).collect()
    }

    /// Site coordinates of a spot.
    pub fn site(&self, s: Spot) -> Point2 {
        let c = self.frame.centre();
        Point2::new(self.centre.x + (s.x - c.x) / self.mm_per_m, self.centre.y - (s.y - c.y) / self.mm_per_m)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn north_is_up_and_the_scale_holds() {
        let view =
            View { centre: Point2::new(10.0, 5.0), mm_per_m: 5.0, frame: Frame::new(0.0, 0.0, 100.0, 60.0) };
        assert_eq!(view.spot(Point2::new(10.0, 5.0)), Spot::new(50.0, 30.0));
        assert_eq!(view.spot(Point2::new(12.0, 9.0)), Spot::new(60.0, 10.0));
        let back = view.site(Spot::new(60.0, 10.0));
        assert!(back.distance(Point2::new(12.0, 9.0)) < 1e-12);
        assert!(Spot::towards(90.0).distance(Spot::new(1.0, 0.0)) < 1e-12);
    }

    #[test]
    fn length_of_a_piece_inside_a_rectangle() {
        let f = Frame::new(0.0, 0.0, 10.0, 10.0);
        assert_eq!(f.length_inside(Spot::new(-5.0, 5.0), Spot::new(15.0, 5.0)), 10.0);
        assert_eq!(f.length_inside(Spot::new(-5.0, 11.0), Spot::new(15.0, 11.0)), 0.0);
        assert_eq!(f.length_inside(Spot::new(2.0, 2.0), Spot::new(5.0, 6.0)), 5.0);
    }
}
