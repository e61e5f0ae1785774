//! Beams given by their coverage angles.
//!
//! A data sheet states, by frequency, the angle between the two directions that are 6 dB down, horizontally and
//! vertically. From these (common practice, no source): the loss grows with the square of the angle off the
//! axis, t: x = 6.02 (t / h)^2 dB, h the half coverage angle in that plane; between the planes 1/h^2 follows an
//! ellipse, which fades to a circle from the side to the rear (so the angles hold exactly up to 180 degrees). Past 6.02 dB the loss bends smoothly towards a floor, so that the rear never falls further than
//! stated. 360 degrees means no loss in that plane. Between stated frequencies 1/h^2 is linear in lg f; above
//! the highest it stays; below the lowest the beam widens with the wavelength (1/h^2 falls as f^2), as any
//! loudspeaker's does.

use serde::{Deserialize, Serialize};

/// Loss at half the stated coverage angle, dB: half the pressure.
const EDGE_LOSS_DB: f64 = 6.020_599_913_279_624;

/// Coverage angles at one frequency: full angles between the -6 dB directions.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CoveragePoint {
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Horizontal coverage, degrees, 5 to 360.
    pub horizontal_deg: f64,
    /// Vertical coverage, degrees, 5 to 360.
    pub vertical_deg: f64,
}

/// Where a direction lies in a beam.
#[derive(Debug, Clone, Copy)]
pub(super) struct OffAxis {
    /// Angle off the axis, or above the plane of a ring.
    angle_deg: f64,
    /// Share of the horizontal plane.
    share: f64,
}

/// Checked coverage angles by frequency.
#[derive(Debug, Clone, PartialEq)]
pub struct Coverage {
    pub(super) points: Vec<CoveragePoint>,
    pub(super) floor_db: f64,
}

impl Coverage {
    /// Where a direction lies (unit vector, loudspeaker frame) in the beam.
    pub(super) fn in_beam(x: f64, y: f64, z: f64) -> OffAxis {
        let across = y.hypot(z);
        let angle_deg = across.atan2(x).to_degrees();
        // From the side to straight behind the share fades to an even half, where left and above meet.
        let turn = if across > 0.0 { (y / across).powi(2) - 0.5 } else { 0.0 };
        OffAxis { angle_deg, share: 0.5 + turn * if x < 0.0 { across * across } else { 1.0 } }
    }

    /// The same in a source that is the same all round its own upright axis: only the vertical angle counts.
    pub(super) fn in_ring(x: f64, y: f64, z: f64) -> OffAxis {
        OffAxis { angle_deg: z.atan2(x.hypot(y)).to_degrees(), share: 0.0 }
    }

    /// Amplitude off the axis, where the beam has these 1/h^2.
    pub(super) fn off_axis(&self, (horizontal, vertical): (f64, f64), at: OffAxis) -> f64 {
        let curvature = at.share * horizontal + (1.0 - at.share) * vertical;
        self.amplitude(curvature * at.angle_deg * at.angle_deg)
    }

    /// 1/h^2 in the two planes, per square degree.
    pub(super) fn curvature(&self, frequency_hz: f64) -> (f64, f64) {
        let at = |p: &CoveragePoint| (inverse_square(p.horizontal_deg), inverse_square(p.vertical_deg));
        let upper = self.points.partition_point(|p| p.frequency_hz <= frequency_hz);
        match (upper.checked_sub(1).and_then(|i| self.points.get(i)), self.points.get(upper)) {
            (Some(a), Some(b)) => {
                let t = (frequency_hz / a.frequency_hz).ln() / (b.frequency_hz / a.frequency_hz).ln();
                let ((ha, va), (hb, vb)) = (at(a), at(b));
                (ha + t * (hb - ha), va + t * (vb - va))
            }
            (Some(a), None) => at(a),
            (None, Some(b)) => {
                let widening = (frequency_hz / b.frequency_hz).powi(2);
                let (h, v) = at(b);
                (h * widening, v * widening)
            }
            (None, None) => (0.0, 0.0),
        }
    }

    /// Amplitude from the square of the angle over the half coverage angle.
    fn amplitude(&self, square: f64) -> f64 {
        let x = EDGE_LOSS_DB * square;
        let loss = if x <= EDGE_LOSS_DB {
            x
        } else {
            let room = self.floor_db - EDGE_LOSS_DB;
            EDGE_LOSS_DB + room * (1.0 - (-(x - EDGE_LOSS_DB) / room).exp())
        };
        10f64.powf(-loss / 20.0)
    }
}

fn inverse_square(coverage_deg: f64) -> f64 {
    if coverage_deg >= 360.0 { 0.0 } else { (2.0 / coverage_deg).powi(2) }
}
