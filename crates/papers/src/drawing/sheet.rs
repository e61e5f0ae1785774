//! One plan sheet.

use super::scale::Scale;
use loamline_geometry::Point2;

/// One plan sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Whether the paper lies on its long side.
    pub landscape: bool,
    /// Size of the drawing, millimetres.
    pub size_mm: (f64, f64),
    /// Site coordinates of its middle.
    pub centre: Point2,
    /// Its scale.
    pub scale: Scale,
    /// Width and height of the map on it, millimetres.
    pub map_mm: (f64, f64),
    /// Its number among the detail sheets, from 1; `None` for the overview.
    pub detail: Option<usize>,
    /// Name of the zone it is of, where the parts of a plan go by zones.
    pub zone: Option<String>,
}

/// Which side of a sheet another lies on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    North,
    East,
    South,
    West,
}

impl Side {
    /// Every side with its key in the language file.
    pub const ALL: [(Self, &'static str); 4] =
        [(Self::North, "north"), (Self::East, "east"), (Self::South, "south"), (Self::West, "west")];
}

impl Sheet {
    /// Ground it shows east to west and north to south, metres.
    fn ground_m(&self) -> (f64, f64) {
        let metre = self.scale.mm_per_m();
        (self.map_mm.0 / metre, self.map_mm.1 / metre)
    }

    /// The nearest of other sheets that goes on where this one ends on a side: its middle lies beyond a quarter of this one
    /// there, and along the edge less than a sheet away.
    pub fn beside<'s>(&self, side: Side, others: &'s [Self]) -> Option<&'s Self> {
        let (width, height) = self.ground_m();
        let ahead = |other: &Self| {
            let to = other.centre - self.centre;
            match side {
                Side::North => (to.y, to.x.abs() / width, to.y > height / 4.0),
                Side::South => (-to.y, to.x.abs() / width, -to.y > height / 4.0),
                Side::East => (to.x, to.y.abs() / height, to.x > width / 4.0),
                Side::West => (-to.x, to.y.abs() / height, -to.x > width / 4.0),
            }
        };
        let near = |other: &&Self| {
            let (_, along, is_ahead) = ahead(other);
            is_ahead && along < 1.0 && other.detail != self.detail
        };
        let far = |other: &Self| {
            let (ahead, along, _) = ahead(other);
            let edge_m = if matches!(side, Side::North | Side::South) { width } else { height };
            ahead + along * edge_m
        };
        let found = others.iter().filter(near).min_by(|a, b| far(a).total_cmp(&far(b)))?;
        // One that lies more than a sheet beyond the edge does not go on there.
        let (ahead, _, _) = ahead(found);
        let side_m = if matches!(side, Side::North | Side::South) { height } else { width };
        (ahead < 2.0 * side_m).then_some(found)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sheet of 180 mm by 240 mm at 1:200: 36 m by 48 m.
    fn sheet(number: usize, x: f64, y: f64) -> Sheet {
        Sheet {
            landscape: false,
            size_mm: (180.0, 260.0),
            centre: Point2::new(x, y),
            scale: Scale { denominator: 200.0, written: "1:200".to_owned() },
            map_mm: (180.0, 240.0),
            detail: Some(number),
            zone: None,
        }
    }

    #[test]
    fn the_parts_of_a_plan_name_what_goes_on_beside_them() {
        let all = [
            sheet(1, 0.0, 44.0),
            sheet(2, 33.0, 44.0),
            sheet(3, 0.0, 0.0),
            sheet(4, 33.0, 0.0),
            sheet(5, 300.0, 0.0),
        ];
        let of = |at: usize, side| all[at].beside(side, &all).and_then(|s| s.detail);
        assert_eq!(
            [of(0, Side::North), of(0, Side::East), of(0, Side::South), of(0, Side::West)],
            [None, Some(2), Some(3), None]
        );
        assert_eq!([of(3, Side::North), of(3, Side::West)], [Some(2), Some(3)]);
        // What lies far off does not go on here.
        assert_eq!((of(3, Side::East), of(4, Side::West)), (None, None));
    }
}
