//! The bench formulae of a single run to a single load: a tap as the resistance V^2/P at the far end.
//!
//! Inductance and capacitance are left out here (they change a mid-band loss by less than 0.01 dB on ordinary runs);
//! [`crate::solve_line`] has them. Checked by hand-worked examples in `checks/test_lines.py`.

use serde::Serialize;

use crate::error::InputError;
use crate::tapped_transformer::tap_impedance_ohm;

/// What a single load at the end of a run gets.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CableLoss {
    /// Resistance of both conductors in ohm.
    pub loop_resistance_ohm: f64,
    /// The load as a resistance in ohm, V^2/P.
    pub load_ohm: f64,
    /// Voltage at the load in V.
    pub load_voltage_v: f64,
    /// Power in the load in W.
    pub load_power_w: f64,
    /// Level lost in dB, positive: 20 lg(volts / load voltage).
    pub loss_db: f64,
}

/// Loss to a load of `watts` at `volts` at the end of `length_m` (one way) of conductors of
/// `one_conductor_ohm_per_km`.
///
/// # Errors
/// A value that is not above zero.
pub fn cable_loss(
    one_conductor_ohm_per_km: f64,
    length_m: f64,
    volts: f64,
    watts: f64,
) -> Result<CableLoss, InputError> {
    InputError::check_positive("run", "conductor resistance", "ohm/km", one_conductor_ohm_per_km)?;
    InputError::check_positive("run", "length", "m", length_m)?;
    InputError::check_positive("load", "line voltage", "V", volts)?;
    InputError::check_positive("load", "power", "W", watts)?;
    let loop_resistance_ohm = crate::cable::loop_resistance_ohm(one_conductor_ohm_per_km, length_m);
    let load_ohm = tap_impedance_ohm(volts, watts);
    let load_voltage_v = volts * load_ohm / (load_ohm + loop_resistance_ohm);
    Ok(CableLoss {
        loop_resistance_ohm,
        load_ohm,
        load_voltage_v,
        load_power_w: load_voltage_v * load_voltage_v / load_ohm,
        loss_db: 20.0 * (volts / load_voltage_v).log10(),
    })
}

/// Longest run in m (one way) to a load of `watts` at `volts` that loses no more than `loss_db` dB (above zero).
///
/// # Errors
/// A value that is not above zero.
pub fn longest_run_m(
    one_conductor_ohm_per_km: f64,
    volts: f64,
    watts: f64,
    loss_db: f64,
) -> Result<f64, InputError> {
    InputError::check_positive("run", "conductor resistance", "ohm/km", one_conductor_ohm_per_km)?;
    InputError::check_positive("load", "line voltage", "V", volts)?;
    InputError::check_positive("load", "power", "W", watts)?;
    InputError::check_positive("run", "loss limit", "dB", loss_db)?;
    let loop_ohm = tap_impedance_ohm(volts, watts) * (10f64.powf(loss_db / 20.0) - 1.0);
    Ok(loop_ohm / (2.0 * one_conductor_ohm_per_km / 1000.0))
}

/// Distance in m to a short, from a DC loop resistance in ohm: R/(2 r).
///
/// # Errors
/// A negative loop resistance, or a conductor resistance not above zero.
pub fn short_distance_m(loop_resistance_ohm: f64, one_conductor_ohm_per_km: f64) -> Result<f64, InputError> {
    InputError::check_not_negative("reading", "loop resistance", "ohm", loop_resistance_ohm)?;
    InputError::check_positive("run", "conductor resistance", "ohm/km", one_conductor_ohm_per_km)?;
    Ok(loop_resistance_ohm / (2.0 * one_conductor_ohm_per_km / 1000.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_longest_run_loses_exactly_its_limit() {
        let length = longest_run_m(8.286, 70.7, 60.0, 0.5).unwrap();
        let loss = cable_loss(8.286, length, 70.7, 60.0).unwrap();
        assert!((loss.loss_db - 0.5).abs() < 1e-12);
        assert!((short_distance_m(loss.loop_resistance_ohm, 8.286).unwrap() - length).abs() < 1e-9);
    }

    #[test]
    fn a_worked_example() {
        // By hand: 100 V, 100 W is 100 ohm; 100 m of 10 ohm/km is 2 ohm; 100 * 100/102 = 98.04 V, 96.12 W, 0.172 dB.
        let loss = cable_loss(10.0, 100.0, 100.0, 100.0).unwrap();
        assert!((loss.load_voltage_v - 98.039).abs() < 1e-3);
        assert!((loss.load_power_w - 96.117).abs() < 1e-3);
        assert!((loss.loss_db - 0.1720).abs() < 1e-4);
    }
}
