//! How a loudspeaker's sound differs with direction, relative to straight ahead.
//!
//! A [`Directivity`] is checked when made and answers for one frequency and direction; a [`DirectivityTable`]
//! holds it for all third octaves, for fast look-up. Directions come in the loudspeaker's own frame (x forward,
//! y left, z up; see [`Aim::to_local`]). Behind, every model says what it assumes: see its file.

mod aim;
mod coverage;
mod error;
mod grid;
mod index;
mod lines;
mod piston;
mod table;
#[cfg(test)]
mod tests;

pub use aim::Aim;
pub use coverage::{Coverage, CoveragePoint};
pub use error::DirectivityError;
pub use grid::{MeasuredResponse, SphericalGrid};
pub use piston::{Piston, PistonRear, piston_amplitude, piston_directivity_index_db};
pub use table::{DirectivityTable, LookUp, TABLE_LANES, TableRow};

use crate::level::db_from_amplitude;
use error::check_frequencies;
use loamline_geometry::Point3;
use std::f64::consts::TAU;

/// Floor of a coverage-angle beam when the data sheet gives none: dB below the axis, behind (common practice, no
/// source).
pub const DEFAULT_REAR_FLOOR_DB: f64 = 24.0;

/// A directivity, checked when made.
#[derive(Debug, Clone, PartialEq)]
pub enum Directivity {
    /// The same in every direction: subwoofers, in-ground ones included (the ground path is added apart).
    Omni,
    /// The same in every direction ahead, nothing behind: flush in a wall that no image stands for.
    HalfSpace,
    /// A circular piston.
    Piston(Piston),
    /// A beam with stated coverage angles.
    Coverage(Coverage),
    /// The same all round its upright axis, with a stated vertical coverage: a 360-degree bollard.
    Ring(Coverage),
    /// Measured on a spherical grid.
    Measured(SphericalGrid),
    /// Two alike back to back on one stake, fed alike; their energies add. Relative to straight ahead of one.
    BackToBack(Box<Directivity>),
}

impl Directivity {
    /// A circular piston of a diameter in metres (0.005 to 2).
    ///
    /// # Errors
    /// [`DirectivityError::Diameter`].
    pub fn piston(diameter_m: f64, rear: PistonRear) -> Result<Self, DirectivityError> {
        if !(0.005..=2.0).contains(&diameter_m) {
            return Err(DirectivityError::Diameter { diameter_m });
        }
        Ok(Self::Piston(Piston { radius_m: 0.5 * diameter_m, rear }))
    }

    /// A beam by its coverage angles, frequencies ascending; `floor_db` is how far below the axis the rear may
    /// fall ([`DEFAULT_REAR_FLOOR_DB`] where the data sheet does not say).
    ///
    /// # Errors
    /// [`DirectivityError`] for no or disordered frequencies and for angles or a floor out of range.
    pub fn coverage(points: Vec<CoveragePoint>, floor_db: f64) -> Result<Self, DirectivityError> {
        check_coverage(&points, floor_db)?;
        Ok(Self::Coverage(Coverage { points, floor_db }))
    }

    /// A 360-degree source by its vertical coverage (`horizontal_deg` is not read), as [`Directivity::coverage`].
    ///
    /// # Errors
    /// As [`Directivity::coverage`].
    pub fn ring(points: Vec<CoveragePoint>, floor_db: f64) -> Result<Self, DirectivityError> {
        let round: Vec<_> =
            points.into_iter().map(|p| CoveragePoint { horizontal_deg: 360.0, ..p }).collect();
        check_coverage(&round, floor_db)?;
        Ok(Self::Ring(Coverage { points: round, floor_db }))
    }

    /// Measured data on rings of equal elevation.
    ///
    /// # Errors
    /// [`DirectivityError`] for arrays that do not fit together, directions that leave a hole, or silence ahead.
    pub fn measured(data: MeasuredResponse<'_>) -> Result<Self, DirectivityError> {
        SphericalGrid::new(data).map(Self::Measured)
    }

    /// Two of these back to back.
    pub fn back_to_back(self) -> Self {
        Self::BackToBack(Box::new(self))
    }

    /// Amplitude towards a direction (loudspeaker frame, any length; no length counts as straight ahead), 1
    /// straight ahead. Frequency and speed of sound must be positive.
    pub fn amplitude(&self, frequency_hz: f64, sound_speed_m_per_s: f64, direction: Point3) -> f64 {
        let length = direction.norm();
        let u = if length > 0.0 { direction * length.recip() } else { Point3::new(1.0, 0.0, 0.0) };
        match self {
            Self::Omni => 1.0,
            Self::HalfSpace => f64::from(u8::from(u.x >= 0.0)),
            Self::Piston(p) => p.amplitude(TAU * frequency_hz / sound_speed_m_per_s, u.x, u.y.hypot(u.z)),
            Self::Coverage(c) => c.off_axis(c.curvature(frequency_hz), Coverage::in_beam(u.x, u.y, u.z)),
            Self::Ring(c) => c.off_axis(c.curvature(frequency_hz), Coverage::in_ring(u.x, u.y, u.z)),
            Self::Measured(g) => g.response(frequency_hz, u.x, u.y, u.z).0,
            Self::BackToBack(one) => {
                let at = |v: Point3| one.amplitude(frequency_hz, sound_speed_m_per_s, v).powi(2);
                // The second one is turned half round its upright axis.
                let both = |v: Point3| at(v) + at(Point3::new(-v.x, -v.y, v.z));
                (both(u) / both(Point3::new(1.0, 0.0, 0.0))).sqrt()
            }
        }
    }

    /// Phase towards a direction relative to straight ahead, radians; 0 unless it was measured.
    pub fn phase_rad(&self, frequency_hz: f64, direction: Point3) -> f64 {
        let length = direction.norm();
        match self {
            Self::Measured(g) if length > 0.0 => {
                let u = direction * length.recip();
                g.response(frequency_hz, u.x, u.y, u.z).1
            }
            _ => 0.0,
        }
    }

    /// Level towards a direction, dB re straight ahead.
    pub fn level_db(&self, frequency_hz: f64, sound_speed_m_per_s: f64, direction: Point3) -> f64 {
        db_from_amplitude(self.amplitude(frequency_hz, sound_speed_m_per_s, direction))
    }

    /// Whether the response depends only on the angle off the axis.
    pub(crate) fn is_axial(&self) -> bool {
        match self {
            Self::Omni | Self::HalfSpace | Self::Piston(_) => true,
            Self::Coverage(_) | Self::Ring(_) | Self::Measured(_) => false,
            Self::BackToBack(one) => one.is_axial(),
        }
    }
}

fn check_coverage(points: &[CoveragePoint], floor_db: f64) -> Result<(), DirectivityError> {
    check_frequencies(points.iter().map(|p| p.frequency_hz))?;
    for p in points {
        for angle_deg in [p.horizontal_deg, p.vertical_deg] {
            if !(5.0..=360.0).contains(&angle_deg) {
                return Err(DirectivityError::CoverageAngle { angle_deg, frequency_hz: p.frequency_hz });
            }
        }
    }
    if !(7.0..=80.0).contains(&floor_db) {
        return Err(DirectivityError::Floor { floor_db });
    }
    Ok(())
}
