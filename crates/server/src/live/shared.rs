//! Fields of a job as stored, worked out once for all browsers that look at it.
//!
//! A browser takes a copy, which costs a thousandth of working it out, and moves its own loudspeaker in it.

use super::frame::Grid;
use crate::error::ApiError;
use indexmap::IndexMap;
use loamline_acoustics::{IncrementalField, Points, Scene};
use loamline_geometry::Point2;
use loamline_model::Job;
use loamline_model::document::{Area, Surface};
use loamline_study::{Sound, spacing_m};
use std::sync::{Mutex, MutexGuard};

/// Most places of a map. More take longer than a frame may and show nothing a screen can; fewer would show squares.
pub const MOST_PLACES: f64 = 60_000.0;
/// Maps of different spacing or bounds kept for a job. A map of juniper-court at 0.5 m takes some ten megabytes.
const MAPS_KEPT: usize = 3;

/// What a map's points depend on.
#[derive(Debug, Clone, PartialEq)]
pub struct PointsKey {
    /// West, south, east, north, m.
    pub bounds: [f64; 4],
    /// Between neighbours, m.
    pub spacing_m: f64,
    /// Height of the ears above the ground, m.
    pub ear_m: f64,
    /// Ground elevations change with what is drawn.
    pub surfaces: IndexMap<String, Surface>,
}

/// Fields of one job.
#[derive(Default)]
pub struct SharedFields(Mutex<Kept>);

#[derive(Default)]
struct Kept {
    /// The one asked for last comes last.
    maps: Vec<(PointsKey, Grid, IncrementalField)>,
    /// With what they were worked out for.
    areas: IndexMap<String, (Area, IncrementalField)>,
    /// The ground that gives the areas' points their elevations.
    ground: IndexMap<String, Surface>,
}

impl SharedFields {
    fn lock(&self) -> MutexGuard<'_, Kept> {
        self.0.lock().unwrap_or_else(|poisoned| {
            // Something gave up half way through a change: what is kept may be of no one scene.
            let mut kept = poisoned.into_inner();
            *kept = Kept::default();
            self.0.clear_poison();
            kept
        })
    }

    /// A copy of a map's field in the stored job's scene. Whoever asks while it is being worked out waits for it.
    ///
    /// # Errors
    /// When its points are none.
    pub fn map(&self, key: &PointsKey, stored: &Sound) -> Result<(Grid, IncrementalField), ApiError> {
        let mut kept = self.lock();
        let (key, grid, mut field) = match kept.maps.iter().position(|m| m.0 == *key) {
            Some(i) => kept.maps.remove(i),
            None => {
                let (grid, field) = fresh(key, stored)?;
                (key.clone(), grid, field)
            }
        };
        field.set_scene(&stored.scene);
        if kept.maps.len() >= MAPS_KEPT {
            kept.maps.remove(0);
        }
        let copy = (grid, field.clone());
        kept.maps.push((key, grid, field));
        Ok(copy)
    }

    /// A copy of the field at an area's points, in whatever scene it was asked for last; none for an area that has no
    /// points.
    pub fn area(&self, job: &Job, id: &str, area: &Area, scene: &Scene) -> Option<IncrementalField> {
        let mut kept = self.lock();
        if kept.ground != job.document().surfaces {
            kept.areas.clear();
            kept.ground = job.document().surfaces.clone();
        }
        if let Some((_, field)) = kept.areas.get(id).filter(|k| k.0 == *area) {
            return Some(field.clone());
        }
        let points = Points::grid(scene, &area.outline, area.ear_m(), spacing_m(area)).ok()?;
        let field = IncrementalField::new(scene, points);
        kept.areas.insert(id.to_owned(), (area.clone(), field.clone()));
        Some(field)
    }
}

/// A map's field worked out from nothing.
///
/// # Errors
/// When its points are none.
pub fn fresh(key: &PointsKey, sound: &Sound) -> Result<(Grid, IncrementalField), ApiError> {
    let (grid, points) = lay_out(key, sound)?;
    Ok((grid, IncrementalField::new(&sound.scene, points)))
}

/// Columns and rows of places within bounds.
pub fn counts(&[west, south, east, north]: &[f64; 4], spacing_m: f64) -> (f64, f64) {
    let steps = |length: f64| (length / spacing_m).floor() + 1.0;
    (steps(east - west), steps(north - south))
}

fn lay_out(key: &PointsKey, sound: &Sound) -> Result<(Grid, Points), ApiError> {
    let [west, south, east, north] = key.bounds;
    let (columns, rows) = counts(&key.bounds, key.spacing_m);
    let start = Point2::new(
        0.5 * (west + east - (columns - 1.0) * key.spacing_m),
        0.5 * (south + north - (rows - 1.0) * key.spacing_m),
    );
    // Checked before: at most 60 000 together.
    let (columns, rows) = (columns as u32, rows as u32);
    let places = (0..rows).flat_map(|row| {
        (0..columns).map(move |column| start + Point2::new(f64::from(column), f64::from(row)) * key.spacing_m)
    });
    let up = |p: Point2| p.at_height(sound.scene.ground_elevation_m(p) + key.ear_m);
    let points = Points::new(&sound.scene, places.map(up).collect())
        .map_err(|e| ApiError::field("/bounds", e.to_string()))?;
    Ok((Grid { columns, rows, x0_m: start.x, y0_m: start.y, spacing_m: key.spacing_m }, points))
}
