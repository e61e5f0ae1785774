//! What a channel gives: full scale, and how far it can be driven into all that hangs on it.
//!
//! An amplifier is a voltage behind an output impedance that is small beside any load (IEC 60268-3, output source impedance;
//! from memory): whatever hangs on it takes the current it asks for, and the voltage stays, until a limit is met. So gain
//! counts from the amplifier's own voltage and never from a load: full scale is the rated voltage of a constant-voltage line,
//! at low impedance the greatest voltage of the output, to which an input at its sensitivity drives it. At a gain of g dB the
//! open-circuit voltage is full scale times 10^(g/20), no more than full drive. Full drive at low impedance is where the first
//! limit is met (voltage, current, or rated power as volt-amperes) by the load together, at the frequency within the band the
//! channel's filters pass where its impedance is lowest: hanging one more loudspeaker on an output leaves the level of the
//! others as it was until then.
//!
//! A limit is that of a sine, and the peaks of a programme are held to the peaks of that sine. For voltage and current that is
//! what clips; for power it is on the careful side, as a programme's mean power lies its crest factor less 3 dB below, and
//! ratings do not say how long an amplifier gives more. On a constant-voltage line the taps are counted instead
//! (`channel_use`): the line is taken to hold its voltage, and a channel too small for its taps is a finding.
//!
//! Lines on one output share its output impedance: what each draws lowers the voltage of all at the terminals
//! (`shared_output`). Left out: amplifiers whose limits fall with temperature or mains voltage, and limits that act for
//! milliseconds only. Checked by hand in `crates/electrics/tests/study.rs`, and with the level at 1 m by a nodal analysis
//! of its own in `checks/test_nameplate.py`.

use num_complex::Complex64;

use crate::channel::Channel;
use crate::line::Service;
use crate::line_study::ImpedanceMinimum;

/// Open-circuit voltage in V RMS at a gain of 0 dB.
pub(crate) fn full_scale_v(channel: &Channel, service: Service) -> f64 {
    match service {
        Service::ConstantVoltage { rated_v } => rated_v,
        Service::LowImpedance => channel.max_voltage_v,
    }
}

/// What is left of the voltage at the terminals, per frequency, when other lines (`beside_s`) hang there as well as a line of
/// `own_s`: a ratio, 1 where nothing else hangs.
pub(crate) fn shared_output(channel: &Channel, own_s: &[Complex64], beside_s: &[Complex64]) -> Vec<f64> {
    let ohm = channel.output_impedance_ohm;
    let left = |(own, beside): (&Complex64, &Complex64)| {
        if *beside == Complex64::ZERO {
            return 1.0;
        }
        let alone = 1.0 + ohm * own;
        (alone / (alone + ohm * beside)).norm()
    };
    own_s.iter().zip(beside_s).map(left).collect()
}

/// Open-circuit voltage in V RMS at which the channel comes to the first of its limits into the lowest impedance of all that
/// hangs on it.
pub(crate) fn full_drive_v(channel: &Channel, load_s: &[Complex64]) -> f64 {
    let heaviest = heaviest(load_s);
    if heaviest.norm() <= 0.0 {
        return channel.max_voltage_v;
    }
    let at_terminals_v = channel.full_drive(heaviest.inv()).voltage_v;
    at_terminals_v * (1.0 + channel.output_impedance_ohm * heaviest).norm()
}

/// The admittance where its impedance is lowest.
pub(crate) fn heaviest(load_s: &[Complex64]) -> Complex64 {
    load_s.iter().fold(Complex64::ZERO, |most, y| if y.norm() > most.norm() { *y } else { most })
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
