//! What a channel feels with all its lines on.

use num_complex::Complex64;
use serde::Serialize;

use crate::channel::{Channel, Limit};
use crate::channel_load::{heaviest, lowest_impedance};
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

/// Room a channel has left at full drive.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Headroom {
    /// In dB; negative where more is asked than there is.
    pub db: f64,
    /// Of what.
    pub of: Limit,
}

/// A channel with its lines at full drive.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ChannelUse {
    /// Name of the channel.
    pub channel: String,
    /// Taps of all constant-voltage lines together in W; `None` when a low-impedance line is on it.
    pub counted_w: Option<f64>,
    /// Rated power in W; at low impedance that into the lowest impedance of what hangs on it.
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
    /// The band its filters pass, Hz.
    pub passed_hz: [f64; 2],
    /// Lowest impedance of all lines together within that band.
    pub minimum: ImpedanceMinimum,
    /// Greatest current at full drive in A RMS within that band.
    pub greatest_current_a: f64,
    /// Greatest real power at full drive in W within that band.
    pub greatest_power_w: f64,
    /// The least of its voltage over full drive, its current over the greatest drawn and its rated power over the greatest
    /// real power: which of them runs out first. At low impedance, where full drive goes as far as the first of them, current
    /// and power (as volt-amperes) are those at the lowest impedance: nothing is left of that one.
    pub headroom: Headroom,
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
    let searched_hz = channel.searched_hz();
    if lines
        .iter()
        .any(|line| line.frequencies_hz != first.frequencies_hz || line.searched_s.len() != searched_hz.len())
    {
        let problem = "its lines were solved at different frequencies".to_owned();
        return Err(InputError::NoChoice { place, problem });
    }
    let together = |of: fn(&LineStudy) -> &[Complex64]| -> Vec<Complex64> {
        (0..of(first).len()).map(|f| lines.iter().map(|line| of(line)[f]).sum()).collect()
    };
    let admittance = together(|line| &line.admittance_s);
    let searched_s = together(|line| &line.searched_s);
    let counted_w: Option<f64> = lines.iter().map(|line| line.counted_w).sum();
    let minimum = lowest_impedance(&searched_hz, &searched_s);
    let drive_v = lines.iter().map(|line| line.drive_v).fold(0.0, f64::max);
    let (mut greatest_current_a, mut greatest_power_w) = (0.0f64, 0.0f64);
    for y in &searched_s {
        let volts = drive_v / (1.0 + channel.output_impedance_ohm * y).norm();
        greatest_current_a = greatest_current_a.max(volts * y.norm());
        greatest_power_w = greatest_power_w.max(volts * volts * y.re);
    }
    let (rated_power_w, drawn_a, drawn_w) = match counted_w {
        Some(_) => (channel.rated_power_w, greatest_current_a, greatest_power_w),
        None => {
            let y = heaviest(&searched_s);
            let volts = drive_v / (1.0 + channel.output_impedance_ohm * y).norm();
            let amperes = volts * y.norm();
            (channel.rated_into_w(minimum.impedance_ohm), amperes, volts * amperes)
        }
    };
    let (used_fraction, allowed_fraction) = match counted_w {
        Some(watts) => (watts / rated_power_w, limits.share),
        None => (least_modulus_ohm(channel, true) / minimum.impedance_ohm, 1.0),
    };
    let mut result = ChannelUse {
        channel: channel.name.clone(),
        counted_w,
        rated_power_w,
        used_fraction,
        allowed_fraction,
        fits: used_fraction <= allowed_fraction * (1.0 + 1e-9),
        spare_w: counted_w.map(|watts| limits.share * rated_power_w - watts),
        impedance_ohm: admittance.iter().map(|y| y.norm().max(f64::MIN_POSITIVE).recip()).collect(),
        passed_hz: channel.passed_hz(),
        minimum,
        greatest_current_a,
        greatest_power_w,
        headroom: headroom([
            channel.max_voltage_v / drive_v,
            channel.max_current_a / drawn_a,
            rated_power_w / drawn_w,
        ]),
        findings: Vec::new(),
    };
    result.findings = findings(channel, lines, limits, &result);
    Ok(result)
}

/// The least of the three: most over drawn for voltage, current and power. Of like ones the first, whatever rounding makes of
/// them.
fn headroom([voltage, current, power]: [f64; 3]) -> Headroom {
    let voltage = Headroom { db: 20.0 * voltage.log10(), of: Limit::Voltage };
    let current = Headroom { db: 20.0 * current.log10(), of: Limit::Current };
    let power = Headroom { db: 10.0 * power.log10(), of: Limit::Power };
    [current, power]
        .into_iter()
        .fold(voltage, |least, one| if one.db < least.db - 1e-9 { one } else { least })
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
