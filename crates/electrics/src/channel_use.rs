//! What a channel feels with all its lines on.

use num_complex::Complex64;
use serde::Serialize;

use crate::channel::Channel;
use crate::error::InputError;
use crate::finding::ElectricalFinding;
use crate::line::Service;
use crate::line_study::{ImpedanceMinimum, LineLimits, LineStudy};

/// How far below its rated impedance the modulus of a load may fall (IEC 60268-5, rated impedance; from memory). The least load
/// of a low-impedance channel is a rated impedance: what is rated 4 ohm may show 3.2.
const MODULUS_SHARE: f64 = 0.8;

/// Lowest modulus in ohm that a channel may feed: on a constant-voltage line its least load as it is.
pub(crate) fn least_modulus_ohm(channel: &Channel, low_impedance: bool) -> f64 {
    if low_impedance { MODULUS_SHARE * channel.min_load_ohm } else { channel.min_load_ohm }
}

/// A channel with its lines at full drive.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ChannelUse {
    /// Name of the channel.
    pub channel: String,
    /// Taps of all constant-voltage lines together in W; `None` when a low-impedance line is on it.
    pub counted_w: Option<f64>,
    /// Rated power in W.
    pub rated_power_w: f64,
    /// For constant voltage, counted over rated power; for low impedance, the least modulus
    /// allowed (80 % of the minimum load) over lowest impedance.
    pub used_fraction: f64,
    /// What `used_fraction` may be: the share for constant voltage, 1 for low impedance.
    pub allowed_fraction: f64,
    /// True when `used_fraction` is allowed.
    pub fits: bool,
    /// W of taps that may still be added (negative: too much); `None` on low impedance.
    pub spare_w: Option<f64>,
    /// |Z| of all lines together in ohm, per frequency of the lines.
    pub impedance_ohm: Vec<f64>,
    /// Lowest impedance of all lines together from the channel's high-pass up.
    pub minimum: ImpedanceMinimum,
    /// Greatest current at full drive in A RMS, over the frequencies in use.
    pub greatest_current_a: f64,
    /// Current headroom in dB: the channel's greatest over the greatest drawn.
    pub current_headroom_db: f64,
    /// Voltage headroom in dB: the channel's greatest over full drive.
    pub voltage_headroom_db: f64,
    /// Greatest real power at full drive in W, over the frequencies in use.
    pub greatest_power_w: f64,
    /// What wants attention.
    pub findings: Vec<ElectricalFinding>,
}

/// Adds up `lines`, solved on `channel` at the same frequencies.
///
/// # Errors
/// No lines, or lines solved at different frequencies; a channel value outside its range.
pub fn channel_use(
    channel: &Channel,
    lines: &[&LineStudy],
    limits: &LineLimits,
) -> Result<ChannelUse, InputError> {
    channel.check()?;
    let place = format!("channel {}", channel.name);
    let Some(first) = lines.first() else {
        return Err(InputError::Empty { place, quantity: "list of lines" });
    };
    if lines.iter().any(|line| line.frequencies_hz != first.frequencies_hz) {
        let problem = "its lines were solved at different frequencies".to_owned();
        return Err(InputError::NoChoice { place, problem });
    }
    let admittance: Vec<Complex64> = (0..first.frequencies_hz.len())
        .map(|f| lines.iter().map(|line| line.admittance_s[f]).sum())
        .collect();
    let counted_w: Option<f64> = lines.iter().map(|line| line.counted_w).sum();
    let minimum = combined_minimum(channel, lines, &admittance);
    let in_use = |f: &f64| channel.high_pass.is_none_or(|filter| *f >= filter.corner_hz);
    let drive_v = lines.iter().map(|line| line.drive_v).fold(0.0, f64::max);
    let (mut greatest_current_a, mut greatest_power_w) = (drive_v / minimum.impedance_ohm, 0.0f64);
    for (_, y) in first.frequencies_hz.iter().zip(&admittance).filter(|(f, _)| in_use(f)) {
        let volts = drive_v / (1.0 + channel.output_impedance_ohm * y).norm();
        greatest_current_a = greatest_current_a.max(volts * y.norm());
        greatest_power_w = greatest_power_w.max(volts * volts * y.re);
    }
    let (used_fraction, allowed_fraction) = match counted_w {
        Some(watts) => (watts / channel.rated_power_w, limits.share),
        None => (least_modulus_ohm(channel, true) / minimum.impedance_ohm, 1.0),
    };
    let mut result = ChannelUse {
        channel: channel.name.clone(),
        counted_w,
        rated_power_w: channel.rated_power_w,
        used_fraction,
        allowed_fraction,
        fits: used_fraction <= allowed_fraction * (1.0 + 1e-9),
        spare_w: counted_w.map(|watts| limits.share * channel.rated_power_w - watts),
        impedance_ohm: admittance.iter().map(|y| y.norm().max(f64::MIN_POSITIVE).recip()).collect(),
        minimum,
        greatest_current_a,
        current_headroom_db: 20.0 * (channel.max_current_a / greatest_current_a).log10(),
        voltage_headroom_db: 20.0 * (channel.max_voltage_v / drive_v).log10(),
        greatest_power_w,
        findings: Vec::new(),
    };
    result.findings = findings(channel, lines, limits, &result);
    Ok(result)
}

/// Of one line its own fine minimum; of several together the lowest at the frequencies solved.
fn combined_minimum(channel: &Channel, lines: &[&LineStudy], admittance: &[Complex64]) -> ImpedanceMinimum {
    let nothing = ImpedanceMinimum { frequency_hz: 1000.0, impedance_ohm: f64::MAX };
    if let [line] = lines {
        return line.minimum_in_use;
    }
    let Some(first) = lines.first() else { return nothing };
    let in_use = |f: f64| channel.high_pass.is_none_or(|filter| f >= filter.corner_hz);
    first.frequencies_hz.iter().zip(admittance).filter(|(f, _)| in_use(**f)).fold(nothing, |best, (&f, y)| {
        let impedance_ohm = y.norm().max(f64::MIN_POSITIVE).recip();
        if impedance_ohm < best.impedance_ohm {
            ImpedanceMinimum { frequency_hz: f, impedance_ohm }
        } else {
            best
        }
    })
}

fn findings(
    channel: &Channel,
    lines: &[&LineStudy],
    limits: &LineLimits,
    result: &ChannelUse,
) -> Vec<ElectricalFinding> {
    let mut findings = Vec::new();
    if let Some(counted_w) = result.counted_w
        && !result.fits
    {
        findings.push(ElectricalFinding::ChannelOverShare {
            channel: channel.name.clone(),
            counted_w,
            rated_w: channel.rated_power_w,
            used_fraction: result.used_fraction,
            share: limits.share,
        });
    }
    let least_ohm = least_modulus_ohm(channel, result.counted_w.is_none());
    if result.minimum.impedance_ohm < least_ohm * (1.0 - 1e-9) {
        findings.push(ElectricalFinding::ImpedanceBelowMinimum {
            channel: channel.name.clone(),
            impedance_ohm: result.minimum.impedance_ohm,
            frequency_hz: result.minimum.frequency_hz,
            minimum_ohm: channel.min_load_ohm,
        });
    }
    for line in lines {
        if let Service::ConstantVoltage { rated_v } = line.service
            && channel.max_voltage_v < rated_v * (1.0 - 1e-3)
        {
            findings.push(ElectricalFinding::VoltageShort {
                channel: channel.name.clone(),
                line: line.line.clone(),
                needed_v: rated_v,
                available_v: channel.max_voltage_v,
            });
        }
    }
    if let Some(required_hz) = channel.required_high_pass_hz {
        let set_hz = channel.high_pass.map(|filter| filter.corner_hz);
        if set_hz.is_none_or(|set| set < required_hz * (1.0 - 1e-9)) {
            findings.push(ElectricalFinding::HighPassMissing {
                channel: channel.name.clone(),
                required_hz,
                set_hz,
            });
        }
    }
    findings
}
