//! What a channel meets: where all that hangs on it is lowest, and how far it can be driven into that.

use num_complex::Complex64;

use crate::channel::Channel;
use crate::line_study::ImpedanceMinimum;

/// Open-circuit voltage in V RMS at which the channel comes to the first of its limits into the lowest impedance of all that
/// hangs on it.
pub(crate) fn full_drive_v(channel: &Channel, load_s: &[Complex64]) -> f64 {
    let heaviest =
        load_s.iter().fold(Complex64::ZERO, |most, y| if y.norm() > most.norm() { *y } else { most });
    if heaviest.norm() <= 0.0 {
        return channel.max_voltage_v;
    }
    let at_terminals_v = channel.full_drive(heaviest.inv()).voltage_v;
    at_terminals_v * (1.0 + channel.output_impedance_ohm * heaviest).norm()
}

/// Where the impedance of an admittance over frequencies is lowest.
pub(crate) fn lowest_impedance(frequencies_hz: &[f64], admittance_s: &[Complex64]) -> ImpedanceMinimum {
    let nowhere = ImpedanceMinimum { frequency_hz: 1000.0, impedance_ohm: f64::MAX };
    frequencies_hz.iter().zip(admittance_s).fold(nowhere, |lowest, (&frequency_hz, y)| {
        let impedance_ohm = y.norm().max(f64::MIN_POSITIVE).recip();
        if impedance_ohm < lowest.impedance_ohm {
            ImpedanceMinimum { frequency_hz, impedance_ohm }
        } else {
            lowest
        }
    })
}
