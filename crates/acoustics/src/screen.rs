//! Sound bent over a thin edge.
//!
//! Kurze and Anderson, Appl. Acoust. 4 (1971): with the Fresnel number N = 2 d / wavelength, d the detour over the
//! edge less the straight line, the loss is 5 + 20 lg(sqrt(2 pi N) / tanh sqrt(2 pi N)) dB, capped at 24 dB. Just
//! clear of the edge (N below 0) tanh becomes tan and the loss falls from 5 dB to nothing at N about -0.19.
//! Left out: thick edges (the detour itself is longer there), sound that leaks through, edges with a treatment.

use crate::air::{Air, AirError};
use thiserror::Error;

/// Most a single thin edge is trusted to take away, dB (Kurze and Anderson: measured losses stop there).
pub const MOST_LOSS_DB: f64 = 24.0;
/// Loss with the edge just touching the straight line, dB.
pub const GRAZING_LOSS_DB: f64 = 5.0;
/// Fresnel number below which an edge is not felt at all.
pub const CLEAR_FRESNEL: f64 = -0.2;

/// Why a screen's loss cannot be computed.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum ScreenError {
    /// Not a usable detour.
    #[error(
        "a path difference of {value} m is not usable; give the way over the edge less the straight line, in metres \
         (negative when the edge lies clear of the line), within 10000 m"
    )]
    PathDifference {
        /// As given, metres.
        value: f64,
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

/// Loss over one edge, dB (0 to 24): `path_difference_m` is the way over the edge less the straight line,
/// negative when the line passes clear of the edge.
///
/// # Errors
/// [`ScreenError`] for values that are not finite or out of range.
pub fn screen_loss_db(
    path_difference_m: f64,
    frequency_hz: f64,
    temperature_c: f64,
) -> Result<f64, ScreenError> {
    if path_difference_m.is_nan() || path_difference_m.abs() > 1e4 {
        return Err(ScreenError::PathDifference { value: path_difference_m });
    }
    if !(10.0..=30_000.0).contains(&frequency_hz) {
        return Err(ScreenError::Frequency { value: frequency_hz });
    }
    let c = Air::at(temperature_c)?.sound_speed_m_per_s();
    Ok(loss_db(fresnel_number(path_difference_m, frequency_hz, c)))
}

/// Fresnel number of a detour.
pub(crate) fn fresnel_number(path_difference_m: f64, frequency_hz: f64, sound_speed_m_per_s: f64) -> f64 {
    2.0 * path_difference_m * frequency_hz / sound_speed_m_per_s
}

/// Loss for a Fresnel number, dB.
pub(crate) fn loss_db(fresnel: f64) -> f64 {
    let x = (std::f64::consts::TAU * fresnel.abs()).sqrt();
    if fresnel <= CLEAR_FRESNEL {
        0.0
    } else if x < 1e-6 {
        GRAZING_LOSS_DB
    } else if fresnel > 0.0 {
        (GRAZING_LOSS_DB + 20.0 * (x / x.tanh()).log10()).min(MOST_LOSS_DB)
    } else {
        (GRAZING_LOSS_DB + 20.0 * (x / x.tan()).log10()).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_points_of_the_curve() {
        // Kurze and Anderson 1971: 5 dB at N = 0; 5 + 20 lg(sqrt(2 pi) / tanh sqrt(2 pi)) = 13.10 dB at N = 1;
        // 5 + 10 lg(2 pi 10) = 22.98 dB at N = 10; then the cap.
        for (n, loss) in [(0.0, 5.0), (1.0, 13.097), (10.0, 22.98), (100.0, 24.0), (-0.2, 0.0), (-3.0, 0.0)] {
            assert!((loss_db(n) - loss).abs() < 0.005, "N = {n}: {}", loss_db(n));
        }
    }

    #[test]
    fn loss_grows_with_depth_without_a_step() {
        let mut last = 0.0;
        for i in 0..20_000 {
            let n = -0.25 + f64::from(i) * 1e-4;
            let loss = loss_db(n);
            assert!(loss >= last - 1e-12 && loss - last < 0.02, "N = {n}: {last} then {loss}");
            last = loss;
        }
    }

    #[test]
    fn bad_values_are_errors() {
        assert!(screen_loss_db(f64::NAN, 100.0, 20.0).is_err());
        assert!(screen_loss_db(1.0, 0.0, 20.0).is_err());
        assert!(screen_loss_db(1.0, 100.0, f64::INFINITY).is_err());
        assert!((screen_loss_db(0.1716, 1000.0, 20.0).unwrap() - 13.097).abs() < 0.001);
    }
}
