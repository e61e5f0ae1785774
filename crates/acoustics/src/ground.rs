//! Sound reflected by the ground.
//!
//! A spherical wave over a locally reacting plane, time factor exp(-i w t): the reflected path carries
//! Q = Rp + (1 - Rp) F(w), with the plane-wave coefficient Rp = (cos t - b)/(cos t + b), t the angle of incidence
//! from the normal, b = 1/Z, F(w) = 1 + i sqrt(pi) w W(w), W the Faddeeva function and
//! w = (1 + i)/2 sqrt(k R2) (cos t + b) (Chien and Soroka, J. Sound Vib. 43 (1975); Attenborough, J. Acoust. Soc.
//! Am. 92 (1992)). The impedance is the one-parameter fit of Delany and Bazley, Appl. Acoust. 3 (1970):
//! Z = 1 + 9.08 (f/s)^-0.75 + i 11.9 (f/s)^-0.73, f in Hz, s the effective flow resistivity in kPa s/m2.
//!
//! Left out: layered ground, roughness, refraction by wind and temperature, turbulence. The fit was made for f/s
//! between about 10 and 1000 in these units; outside it is the usual extrapolation, which stays passive here.
//! Checked against scipy.special.wofz over random geometries.

use crate::air::{Air, AirError};
use errorfunctions::ComplexErrorFunctions;
use loamline_terms::FlowClass;
use num_complex::Complex64;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Lowest height a source or a listener has above the ground, metres; lower ones are raised to it. At height
/// zero a ray along the ground has no angle, and no loudspeaker is that flat.
pub const LOWEST_HEIGHT_M: f64 = 0.01;

/// Why the ground effect cannot be computed.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum GroundError {
    /// Flow resistivity outside what grounds have.
    #[error(
        "a flow resistivity of {value} kPa s/m2 is not a ground: moss is about 12.5, lawn 500, concrete 200000; \
         give 1 to 1000000"
    )]
    FlowResistivity {
        /// As given, kPa s/m2.
        value: f64,
    },
    /// A height or distance is negative, not finite or absurdly large.
    #[error("the {what} is {value} m; give a number from 0 to 100000 m")]
    Length {
        /// Which one, in words.
        what: &'static str,
        /// As given, metres.
        value: f64,
    },
    /// Source and receiver at the same place.
    #[error("source and receiver are {distance_m} m apart; the effect of the ground needs at least 0.01 m")]
    SamePlace {
        /// Straight distance, metres.
        distance_m: f64,
    },
    /// Frequency outside the range of the method.
    #[error("a frequency of {value} Hz is outside 10 Hz to 30000 Hz")]
    Frequency {
        /// As given, Hz.
        value: f64,
    },
    /// Air out of range.
    #[error(transparent)]
    Air(#[from] AirError),
}

/// Ground by its effective flow resistivity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Ground {
    flow_resistivity: f64,
}

impl Ground {
    /// Ground of an effective flow resistivity, kPa s/m2 (1 to 1000000).
    ///
    /// # Errors
    /// [`GroundError::FlowResistivity`] outside that range.
    pub fn new(flow_resistivity: f64) -> Result<Self, GroundError> {
        if (1.0..=1e6).contains(&flow_resistivity) {
            Ok(Self { flow_resistivity })
        } else {
            Err(GroundError::FlowResistivity { value: flow_resistivity })
        }
    }

    /// Ground of a class.
    pub const fn of_class(class: FlowClass) -> Self {
        Self { flow_resistivity: class.flow_resistivity_kpa_s_per_m2() }
    }

    /// Effective flow resistivity, kPa s/m2.
    pub fn flow_resistivity(self) -> f64 {
        self.flow_resistivity
    }

    /// Surface impedance over that of air at a frequency in Hz, time factor exp(-i w t).
    pub fn impedance(self, frequency_hz: f64) -> Complex64 {
        let x = frequency_hz / self.flow_resistivity;
        Complex64::new(1.0 + 9.08 * x.powf(-0.75), 11.9 * x.powf(-0.73))
    }

    /// Spherical-wave reflection coefficient for a reflected path of length `reflected_m` that meets the ground
    /// at the cosine `cos_incidence` from the normal, time factor exp(-i w t).
    pub fn reflection(
        self,
        frequency_hz: f64,
        reflected_m: f64,
        cos_incidence: f64,
        sound_speed_m_per_s: f64,
    ) -> Complex64 {
        let b = self.impedance(frequency_hz).inv();
        let plane = (cos_incidence - b) / (cos_incidence + b);
        let k = std::f64::consts::TAU * frequency_hz / sound_speed_m_per_s;
        let w = Complex64::new(0.5, 0.5) * (k * reflected_m).sqrt() * (cos_incidence + b);
        plane + (1.0 - plane) * boundary_loss(w)
    }
}

impl TryFrom<f64> for Ground {
    type Error = GroundError;
    fn try_from(flow_resistivity: f64) -> Result<Self, GroundError> {
        Self::new(flow_resistivity)
    }
}

impl From<Ground> for f64 {
    fn from(g: Ground) -> f64 {
        g.flow_resistivity
    }
}

/// F(w) = 1 + i sqrt(pi) w W(w). For large |w| the two terms cancel; the series -1/(2 w^2) - 3/(4 w^4) - 15/(8 w^6)
/// (Abramowitz and Stegun 7.1.23) takes over where its next term is below 1e-12 of it.
pub(crate) fn boundary_loss(w: Complex64) -> Complex64 {
    if w.norm_sqr() > 1.0e4 {
        let u = (w * w).inv();
        return -0.5 * u * (1.0 + u * (1.5 + u * (3.75 + u * 13.125)));
    }
    1.0 + Complex64::i() * std::f64::consts::PI.sqrt() * w * w.w()
}

/// A source and a listener over one ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroundGeometry {
    /// Source height above the ground, metres; raised to [`LOWEST_HEIGHT_M`].
    pub source_height_m: f64,
    /// Receiver height above the ground, metres; raised to [`LOWEST_HEIGHT_M`].
    pub receiver_height_m: f64,
    /// Distance in plan, metres.
    pub distance_m: f64,
}

/// What the ground does to a level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroundEffect {
    /// Level re the direct sound alone, dB; positive is louder.
    pub excess_db: f64,
    /// Spherical-wave reflection coefficient Q, time factor exp(-i w t).
    pub reflection: Complex64,
    /// Direct length, metres.
    pub direct_m: f64,
    /// Length by way of the ground, metres.
    pub reflected_m: f64,
}

/// Level of direct and ground-reflected sound re the direct sound, at one frequency (Hz, 10 to 30000) and air
/// temperature (C, -50 to 60).
///
/// # Errors
/// [`GroundError`] for values outside the stated ranges.
pub fn ground_effect(
    ground: Ground,
    geometry: GroundGeometry,
    frequency_hz: f64,
    temperature_c: f64,
) -> Result<GroundEffect, GroundError> {
    let GroundGeometry { source_height_m, receiver_height_m, distance_m } = geometry;
    for (what, value) in
        [("source height", source_height_m), ("receiver height", receiver_height_m), ("distance", distance_m)]
    {
        if !(0.0..=1e5).contains(&value) {
            return Err(GroundError::Length { what, value });
        }
    }
    if !(10.0..=30_000.0).contains(&frequency_hz) {
        return Err(GroundError::Frequency { value: frequency_hz });
    }
    let c = Air::at(temperature_c)?.sound_speed_m_per_s();
    let (hs, hr) = (source_height_m.max(LOWEST_HEIGHT_M), receiver_height_m.max(LOWEST_HEIGHT_M));
    let direct_m = distance_m.hypot(hs - hr);
    if direct_m < 0.01 {
        return Err(GroundError::SamePlace { distance_m: direct_m });
    }
    let reflected_m = distance_m.hypot(hs + hr);
    let reflection = ground.reflection(frequency_hz, reflected_m, (hs + hr) / reflected_m, c);
    // The difference of the two lengths, without the loss of figures of subtracting them.
    let longer_m = 4.0 * hs * hr / (direct_m + reflected_m);
    let phase = std::f64::consts::TAU * frequency_hz / c * longer_m;
    let total = 1.0 + reflection * Complex64::from_polar(direct_m / reflected_m, phase);
    Ok(GroundEffect {
        excess_db: crate::level::db_from_amplitude(total.norm()),
        reflection,
        direct_m,
        reflected_m,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn excess(flow: f64, hs: f64, hr: f64, d: f64, f: f64) -> f64 {
        let g = GroundGeometry { source_height_m: hs, receiver_height_m: hr, distance_m: d };
        ground_effect(Ground::new(flow).unwrap(), g, f, 20.0).unwrap().excess_db
    }

    #[test]
    fn concrete_at_low_frequency_doubles_the_pressure() {
        // Rigid plane, path difference far below the wavelength: 20 lg 2.
        assert!((excess(200_000.0, 0.05, 0.05, 10.0, 50.0) - 6.02).abs() < 0.05);
    }

    #[test]
    fn a_hard_plane_interferes_in_closed_form() {
        // Source over a rigid plane: |1 + (R1/R2) exp(i k (R2 - R1))|.
        let (hs, hr, d) = (1.0f64, 1.6f64, 6.0f64);
        let (r1, r2) = (d.hypot(hs - hr), d.hypot(hs + hr));
        for f in [100.0, 200.0, 400.0, 800.0] {
            let k = std::f64::consts::TAU * f / 343.2;
            let rigid = 1.0 + Complex64::from_polar(r1 / r2, k * (r2 - r1));
            let expected = 20.0 * rigid.norm().log10();
            let got = excess(1e6, hs, hr, d, f);
            assert!((got - expected).abs() < 0.2, "{f} Hz: {got} against {expected}");
        }
    }

    #[test]
    fn far_series_meets_the_function() {
        for arg in [0.0f64, 0.3, 0.7] {
            for size in [100.5, 300.0] {
                let w = Complex64::from_polar(size, arg);
                let direct = 1.0 + Complex64::i() * std::f64::consts::PI.sqrt() * w * w.w();
                assert!((boundary_loss(w) - direct).norm() < 1e-9);
            }
        }
    }

    #[test]
    fn bad_values_are_told_apart() {
        let g = Ground::of_class(FlowClass::E);
        let at = |hs, hr, d| GroundGeometry { source_height_m: hs, receiver_height_m: hr, distance_m: d };
        assert!(matches!(Ground::new(f64::NAN), Err(GroundError::FlowResistivity { .. })));
        assert!(matches!(
            ground_effect(g, at(-1.0, 1.0, 1.0), 100.0, 20.0),
            Err(GroundError::Length { what: "source height", .. })
        ));
        assert!(matches!(
            ground_effect(g, at(1.0, 1.0, 0.0), 100.0, 20.0),
            Err(GroundError::SamePlace { .. })
        ));
        assert!(matches!(
            ground_effect(g, at(1.0, 1.0, 2.0), f64::NAN, 20.0),
            Err(GroundError::Frequency { .. })
        ));
        assert!(ground_effect(g, at(0.0, 0.0, 30.0), 1000.0, 20.0).unwrap().excess_db.is_finite());
    }
}
