//! How a load's impedance moves with its parts, and with what is not known of its transformer's windings.
//!
//! Central differences of ln Z over one standard deviation: the logarithm of a load that is a plain product of its parts is
//! carried exactly.

use loamline_electrics::{Complex64, Connection, Load, Loudspeaker, WindingFactors};

use crate::tolerances::{LoadTolerances, Tolerances, WindingTolerances};

/// Places of two parts in the order of [`LoadTolerances`].
pub(crate) const COIL: usize = 0;
pub(crate) const WINDING: usize = 5;

/// How ln Z of a load moves at one frequency.
pub(crate) struct LoadSensitivity {
    /// Per unit relative change of each of its parts, in the order of [`LoadTolerances`].
    pub(crate) parts: [Complex64; LoadTolerances::PARTS],
    /// By one standard deviation of what is not known of its transformer's windings, in the order of
    /// [`WindingTolerances::parts`].
    pub(crate) windings: [Complex64; WindingTolerances::PARTS],
}

/// The sensitivity of a load at one frequency.
pub(crate) fn load_sensitivity(load: &Load, tolerances: &Tolerances, frequency_hz: f64) -> LoadSensitivity {
    let mut parts = [Complex64::default(); LoadTolerances::PARTS];
    for (part, (cell, tolerance)) in parts.iter_mut().zip(tolerances.load.parts()).enumerate() {
        // A secant over one standard deviation; at least a hundredth, so that no tolerance means no rounding noise.
        let step = tolerance.max(0.01);
        let scaled = |sign: f64| with_part_scaled(load, part, 1.0 + sign * step);
        *cell = secant(&scaled(1.0), &scaled(-1.0), frequency_hz) / step;
    }
    let mut windings = [Complex64::default(); WindingTolerances::PARTS];
    if let Connection::Tapped { transformer, tap_w } = &load.connection {
        let deviations = tolerances.windings.parts(transformer, *tap_w);
        for (unknown, (cell, deviation)) in windings.iter_mut().zip(deviations).enumerate() {
            let varied = |sign: f64| {
                let mut factors = [1.0; WindingTolerances::PARTS];
                factors[unknown] = (sign * deviation).exp();
                let [primary, core, leakage] = factors;
                let factors = WindingFactors { primary, core, leakage };
                Load {
                    connection: Connection::Circuit(transformer.at_tap_with(*tap_w, &factors)),
                    ..load.clone()
                }
            };
            *cell = secant(&varied(1.0), &varied(-1.0), frequency_hz);
        }
    }
    LoadSensitivity { parts, windings }
}

/// Half the difference of ln Z between two loads; nothing where one of them conducts nothing.
fn secant(above: &Load, below: &Load, frequency_hz: f64) -> Complex64 {
    let ln = |load: &Load| load.response(frequency_hz).admittance_s.inv().ln();
    let difference = ln(above) - ln(below);
    if difference.is_finite() { 0.5 * difference } else { Complex64::default() }
}

/// The load with one part (in the order of [`LoadTolerances`]) multiplied by `factor`.
fn with_part_scaled(load: &Load, part: usize, factor: f64) -> Load {
    let mut varied = load.clone();
    if let Some(mut circuit) = load.circuit() {
        match part {
            WINDING => {
                circuit.primary_resistance_ohm *= factor;
                circuit.secondary_resistance_ohm *= factor;
            }
            6 => circuit.magnetising_inductance_h = circuit.magnetising_inductance_h.map(|l| l * factor),
            7 => circuit.turns_ratio *= factor,
            _ => {}
        }
        varied.connection = Connection::Circuit(circuit);
    }
    scale_loudspeaker_part(&mut varied.loudspeaker, part, factor);
    varied
}

fn scale_loudspeaker_part(loudspeaker: &mut Loudspeaker, part: usize, factor: f64) {
    match loudspeaker {
        Loudspeaker::Resistance { resistance_ohm } => {
            if part == 0 {
                *resistance_ohm *= factor;
            }
        }
        Loudspeaker::Table { points, dc_resistance_ohm } => match part {
            0 => {
                *dc_resistance_ohm *= factor;
                points.iter_mut().for_each(|p| p.magnitude_ohm *= factor);
            }
            2 => points.iter_mut().for_each(|p| p.frequency_hz *= factor),
            _ => {}
        },
        Loudspeaker::ThieleSmall { re_ohm: re, le_h: le, fs_hz: fs, qms, qes }
        | Loudspeaker::DualCoil { coil_re_ohm: re, coil_le_h: le, fs_hz: fs, qms, qes, .. } => {
            if let Some(value) = [re, le, fs, qms, qes].into_iter().nth(part) {
                *value *= factor;
            }
        }
        Loudspeaker::Series(all) | Loudspeaker::Parallel(all) => {
            all.iter_mut().for_each(|one| scale_loudspeaker_part(one, part, factor));
        }
    }
}
