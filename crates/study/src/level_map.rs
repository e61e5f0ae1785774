//! Level maps: the field on a grid of places, kept while loudspeakers change.

use loamline_acoustics::{IncrementalField, Points, SceneErrors};
use loamline_adapt::Sound;
use loamline_geometry::Point2;

/// Which places a map shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapPlaces {
    /// West, south, east, north, m; each below its opposite.
    pub bounds: [f64; 4],
    /// Between neighbours, m.
    pub spacing_m: f64,
    /// Height of the ears above the ground, m.
    pub ear_m: f64,
}

/// A grid of places, row by row from the south-west.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// Places from west to east.
    pub columns: u32,
    /// Places from south to north.
    pub rows: u32,
    /// The south-west place, m.
    pub x0_m: f64,
    /// The same.
    pub y0_m: f64,
    /// Between neighbours, m.
    pub spacing_m: f64,
}

impl MapPlaces {
    /// Columns and rows, as numbers that cannot overflow: whoever asks checks how many places that is.
    pub fn counts(&self) -> (f64, f64) {
        let [west, south, east, north] = self.bounds;
        let steps = |length: f64| (length / self.spacing_m).floor() + 1.0;
        (steps(east - west), steps(north - south))
    }

    /// The grid, in the middle of the bounds.
    pub fn grid(&self) -> Grid {
        let [west, south, east, north] = self.bounds;
        let (columns, rows) = self.counts();
        let first = |low: f64, high: f64, count: f64| 0.5 * (low + high - (count - 1.0) * self.spacing_m);
        Grid {
            // A number too large for an integer becomes the largest one.
            columns: columns as u32,
            rows: rows as u32,
            x0_m: first(west, east, columns),
            y0_m: first(south, north, rows),
            spacing_m: self.spacing_m,
        }
    }
}

/// A map of a scene. A copy costs a thousandth of working it out.
#[derive(Debug, Clone)]
pub struct LevelMap {
    /// Where its places are.
    pub grid: Grid,
    /// The field there.
    pub field: IncrementalField,
}

impl LevelMap {
    /// Works a map out from nothing.
    ///
    /// # Errors
    /// When its places are none.
    pub fn new(places: &MapPlaces, sound: &Sound) -> Result<Self, SceneErrors> {
        let grid = places.grid();
        let start = Point2::new(grid.x0_m, grid.y0_m);
        let at = |column: u32, row: u32| {
            let plan = start + Point2::new(f64::from(column), f64::from(row)) * grid.spacing_m;
            plan.at_height(sound.scene.ground_elevation_m(plan) + places.ear_m)
        };
        let all = (0..grid.rows).flat_map(|row| (0..grid.columns).map(move |column| (column, row)));
        let points = Points::new(&sound.scene, all.map(|(c, r)| at(c, r)).collect())?;
        Ok(Self { grid, field: IncrementalField::new(&sound.scene, points) })
    }
}
