//! Limiter thresholds and what they cost.
//!
//! The RMS threshold is the voltage at which a loudspeaker takes its rated power, V = sqrt(P |Z|) (Joule's law);
//! behind a transformer it is never more than the transformer's rated voltage. The peak threshold is the peak voltage that
//! goes with the loudspeaker's peak rating: as its maker states it, else 6 dB over the continuous one ([`PEAK_OVER_RMS`]).
//! Behind a transformer it is never more than the peak of a sine at the rated voltage, sqrt(2) times: a core saturates by
//! what the voltage is, not by what it comes to over time. A line takes the lowest threshold
//! of all its loudspeakers, each divided by the share of the amplifier's voltage that reaches it. dBu is relative
//! to sqrt(0.6) V = 0.7746 V (1 mW in 600 ohm), dBV to 1 V. The times are common practice, no source.

use super::{ProtectionError, positive};
use serde::{Deserialize, Serialize};
use std::f64::consts::SQRT_2;

/// Peak voltage of a rating over its RMS voltage where only the continuous one is known: 6 dB, a factor of two (common
/// practice, no source). Less, and the limiter takes strokes the loudspeaker stands; more, and single ones throw the cone
/// further than its maker vouches for.
pub const PEAK_OVER_RMS: f64 = 2.0;

/// A voltage in dBu, that is relative to 0.7746 V.
pub fn dbu(volts: f64) -> f64 {
    20.0 * (volts / 0.6_f64.sqrt()).log10()
}

/// A voltage in dBV, that is relative to 1 V.
pub fn dbv(volts: f64) -> f64 {
    20.0 * volts.log10()
}

/// Limiter thresholds at the amplifier's output terminals.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LimiterThreshold {
    /// RMS threshold, V.
    pub v_rms: f64,
    /// Peak threshold, V.
    pub v_peak: f64,
}

impl LimiterThreshold {
    /// RMS threshold, dBu.
    pub fn rms_dbu(&self) -> f64 {
        dbu(self.v_rms)
    }

    /// RMS threshold, dBV.
    pub fn rms_dbv(&self) -> f64 {
        dbv(self.v_rms)
    }

    /// Peak threshold, dBu (the peak voltage itself, not the RMS value of a sine with that peak).
    pub fn peak_dbu(&self) -> f64 {
        dbu(self.v_peak)
    }

    /// Peak threshold, dBV (the peak voltage itself, not the RMS value of a sine with that peak).
    pub fn peak_dbv(&self) -> f64 {
        dbv(self.v_peak)
    }

    /// The same thresholds for a limiter that sits before an amplifier of `amplifier_gain_db`.
    #[must_use]
    pub fn before_amplifier(&self, amplifier_gain_db: f64) -> Self {
        let gain = 10_f64.powf(amplifier_gain_db / 20.0);
        Self { v_rms: self.v_rms / gain, v_peak: self.v_peak / gain }
    }
}

/// Thresholds for one load of `impedance_ohm` that stands `rated_power_w`.
///
/// # Errors
/// A power or impedance that is not a positive number.
pub fn limiter_threshold(
    rated_power_w: f64,
    impedance_ohm: f64,
) -> Result<LimiterThreshold, ProtectionError> {
    let power = positive("the rated power", " W", "the load", rated_power_w)?;
    let impedance = positive("the impedance", " ohm", "the load", impedance_ohm)?;
    let v_rms = (power * impedance).sqrt();
    Ok(LimiterThreshold { v_rms, v_peak: PEAK_OVER_RMS * v_rms })
}

/// A stated or usual peak as what stands behind a transformer has it: no more than the peak of a sine at its rated voltage.
pub fn peak_behind(transformer_voltage_v: Option<f64>, v_peak: f64) -> f64 {
    transformer_voltage_v.map_or(v_peak, |v| v_peak.min(SQRT_2 * v))
}

/// One loudspeaker on a line, as far as a limiter is concerned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProtectedLoad {
    /// What the crew calls it.
    pub name: String,
    /// Rated continuous power of the loudspeaker, W.
    pub rated_power_w: f64,
    /// What its voltage on the line squared is divided by for the watts at its terminals, transformer and tap included, ohm.
    pub impedance_ohm: f64,
    /// Rated voltage of its transformer, V RMS; none without a transformer.
    #[serde(default)]
    pub transformer_voltage_v: Option<f64>,
    /// Highest peak its maker allows, V on the line, if stated; [`PEAK_OVER_RMS`] counts otherwise.
    #[serde(default)]
    pub peak_voltage_v: Option<f64>,
    /// Voltage at the loudspeaker over voltage at the amplifier, from the line's solution; one without cable loss.
    pub voltage_share: f64,
}

/// Thresholds of a line, and which loudspeaker set each.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LineThreshold {
    /// Thresholds at the amplifier.
    pub threshold: LimiterThreshold,
    /// Index of the loudspeaker that sets the RMS threshold.
    pub weakest_rms: usize,
    /// Index of the loudspeaker that sets the peak threshold.
    pub weakest_peak: usize,
}

/// Thresholds that keep every loudspeaker on a line within its rating; the first of equals is named.
///
/// # Errors
/// No loudspeaker, or a value that is not a positive number.
pub fn line_threshold(loads: &[ProtectedLoad]) -> Result<LineThreshold, ProtectionError> {
    let mut weakest: Option<LineThreshold> = None;
    for (index, load) in loads.iter().enumerate() {
        let own = load_threshold(load)?;
        let line =
            weakest.get_or_insert(LineThreshold { threshold: own, weakest_rms: index, weakest_peak: index });
        if own.v_rms < line.threshold.v_rms {
            (line.threshold.v_rms, line.weakest_rms) = (own.v_rms, index);
        }
        if own.v_peak < line.threshold.v_peak {
            (line.threshold.v_peak, line.weakest_peak) = (own.v_peak, index);
        }
    }
    weakest.ok_or(ProtectionError::NothingToProtect)
}

/// Thresholds at the amplifier for one loudspeaker.
fn load_threshold(load: &ProtectedLoad) -> Result<LimiterThreshold, ProtectionError> {
    let name = &load.name;
    let power = positive("the rated power", " W", name, load.rated_power_w)?;
    let impedance = positive("the impedance", " ohm", name, load.impedance_ohm)?;
    let share = positive("the share of the amplifier's voltage", "", name, load.voltage_share)?;
    let thermal = (power * impedance).sqrt();
    let v_rms = match load.transformer_voltage_v {
        Some(v) => thermal.min(positive("the transformer's rated voltage", " V", name, v)?),
        None => thermal,
    };
    let own_peak = match load.peak_voltage_v {
        Some(v) => positive("the rated peak voltage", " V", name, v)?,
        None => PEAK_OVER_RMS * thermal,
    };
    let v_peak = peak_behind(load.transformer_voltage_v, own_peak);
    Ok(LimiterThreshold { v_rms: v_rms / share, v_peak: v_peak / share })
}

/// Programme at full drive: its peaks reach the amplifier's highest voltage.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FullDrive {
    /// RMS voltage of the largest sine the amplifier delivers into this line, V.
    pub amplifier_v_rms: f64,
    /// Peak over RMS of the programme, dB: sine 3.01, simulated programme about 6, dense music 9 to 12.
    pub crest_factor_db: f64,
}

/// Which threshold rules at full drive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum LimiterRule {
    /// Neither: the amplifier runs out first.
    Neither,
    /// The RMS threshold.
    Rms,
    /// The peak threshold.
    Peak,
}

/// What the limiter takes away at full drive.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LimiterCost {
    /// Level lost, dB, zero or more.
    pub reduction_db: f64,
    /// Which threshold rules.
    pub rule: LimiterRule,
    /// RMS voltage of the programme that is left, V.
    pub programme_v_rms: f64,
}

/// What `threshold` takes from the programme of `drive`.
///
/// # Errors
/// A voltage that is not a positive number, or a crest factor below 0 dB.
pub fn limiter_cost(threshold: &LimiterThreshold, drive: &FullDrive) -> Result<LimiterCost, ProtectionError> {
    let amplifier = positive("the highest voltage", " V", "the amplifier", drive.amplifier_v_rms)?;
    let crest = positive("the crest factor", " dB", "the programme", drive.crest_factor_db + 1e-9)?;
    let peak = SQRT_2 * amplifier;
    let rms = peak / 10_f64.powf(crest / 20.0);
    let over = |v: f64, limit: f64| (20.0 * (v / limit).log10()).max(0.0);
    let (by_rms, by_peak) = (over(rms, threshold.v_rms), over(peak, threshold.v_peak));
    let reduction_db = by_rms.max(by_peak);
    let rule = if reduction_db <= 0.0 {
        LimiterRule::Neither
    } else if by_rms >= by_peak {
        LimiterRule::Rms
    } else {
        LimiterRule::Peak
    };
    Ok(LimiterCost { reduction_db, rule, programme_v_rms: rms / 10_f64.powf(reduction_db / 20.0) })
}

/// Attack and release times to start from. Common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LimiterTimes {
    /// Attack of the peak limiter, s: a quarter of a period of the lowest frequency that passes.
    pub peak_attack_s: f64,
    /// Release of the peak limiter, s: sixteen times its attack.
    pub peak_release_s: f64,
    /// Attack of the RMS limiter, s: the voice coil warms in seconds.
    pub rms_attack_s: f64,
    /// Release of the RMS limiter, s.
    pub rms_release_s: f64,
}

/// Times for a channel whose high-pass stands at `high_pass_hz`. Faster attacks distort the lowest notes, slower
/// ones let single strokes through.
///
/// # Errors
/// A corner that is not a positive number.
pub fn limiter_times(high_pass_hz: f64) -> Result<LimiterTimes, ProtectionError> {
    let corner = positive("the high-pass corner", " Hz", "the channel", high_pass_hz)?;
    let peak_attack_s = 0.25 / corner;
    Ok(LimiterTimes {
        peak_attack_s,
        peak_release_s: 16.0 * peak_attack_s,
        rms_attack_s: 1.0,
        rms_release_s: 3.0,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 100 W in 8 ohm is 28.28 V RMS, 31.25 dBu, and 56.57 V peak, which is 400 W in 8 ohm, 6.02 dB more (worked by hand).
    #[test]
    fn hundred_watts_in_eight_ohms() {
        let t = limiter_threshold(100.0, 8.0).unwrap();
        assert!((t.v_rms - 28.284_271).abs() < 1e-6);
        assert!((t.v_peak - 56.568_542).abs() < 1e-6);
        assert!((t.v_peak.powi(2) / 8.0 - 400.0).abs() < 1e-9);
        assert!((t.rms_dbu() - 31.249_39).abs() < 1e-4);
        assert!((t.rms_dbv() - 29.030_90).abs() < 1e-4);
        let before = t.before_amplifier(32.0);
        assert!((before.rms_dbu() - (31.249_39 - 32.0)).abs() < 1e-4);
    }

    fn stake(name: &str, tap_w: f64, share: f64) -> ProtectedLoad {
        ProtectedLoad {
            name: name.to_owned(),
            rated_power_w: 60.0,
            impedance_ohm: 70.7 * 70.7 / tap_w,
            transformer_voltage_v: Some(70.7),
            peak_voltage_v: None,
            voltage_share: share,
        }
    }

    #[test]
    fn the_weakest_loudspeaker_sets_the_line() {
        // The driver on the 60 W tap meets its rating at 70.7 V; on the 15 W tap the transformer's voltage rules.
        let line = line_threshold(&[stake("L1", 15.0, 0.94), stake("L2", 60.0, 0.97)]).unwrap();
        assert_eq!((line.weakest_rms, line.weakest_peak), (1, 1));
        assert!((line.threshold.v_rms - 70.7 / 0.97).abs() < 1e-9);
        assert!((line.threshold.v_peak - SQRT_2 * 70.7 / 0.97).abs() < 1e-9);
        // A weak driver on a high tap: 20 W rating on a 60 W tap is 70.7 / sqrt(3).
        let mut weak = stake("L3", 60.0, 1.0);
        weak.rated_power_w = 20.0;
        let line = line_threshold(&[stake("L1", 15.0, 1.0), weak]).unwrap();
        // Twice that is less than the peak of a sine at 70.7 V, which is what the other's transformer stands.
        assert_eq!((line.weakest_rms, line.weakest_peak), (1, 1));
        assert!((line.threshold.v_rms - 70.7 / 3.0_f64.sqrt()).abs() < 1e-9);
        assert!((line.threshold.v_peak - 2.0 * 70.7 / 3.0_f64.sqrt()).abs() < 1e-9);
    }

    /// At low impedance the peak follows from the ratings: 60 W into 8 ohm are 21.91 V RMS, 43.82 V peak; a maker who vouches for
    /// 480 W of peak allows sqrt(480 * 8) = 61.97 V (worked by hand). Behind a transformer a sine's peak is the most there is.
    #[test]
    fn a_peak_follows_from_the_peak_rating() {
        let low = |peak_voltage_v| ProtectedLoad {
            impedance_ohm: 8.0,
            transformer_voltage_v: None,
            peak_voltage_v,
            ..stake("L1", 60.0, 1.0)
        };
        let peak = |load| line_threshold(&[load]).unwrap().threshold.v_peak;
        assert!((peak(low(None)) - 43.817_805).abs() < 1e-6);
        assert!((peak(low(Some(3840.0_f64.sqrt()))) - 61.967_734).abs() < 1e-6);
        let behind = ProtectedLoad { peak_voltage_v: Some(500.0), ..stake("L1", 15.0, 1.0) };
        assert!((peak(behind) - SQRT_2 * 70.7).abs() < 1e-9);
    }

    #[test]
    fn refusals_name_the_loudspeaker() {
        assert_eq!(line_threshold(&[]).unwrap_err(), ProtectionError::NothingToProtect);
        let mut bad = stake("L7", 15.0, 1.0);
        bad.rated_power_w = 0.0;
        assert_eq!(
            line_threshold(&[bad]).unwrap_err().to_string(),
            "the rated power of L7 is 0 W: it must be more than zero and finite"
        );
    }

    #[test]
    fn cost_follows_the_crest_factor() {
        let t = limiter_threshold(100.0, 8.0).unwrap();
        let cost =
            |v, crest| limiter_cost(&t, &FullDrive { amplifier_v_rms: v, crest_factor_db: crest }).unwrap();
        assert_eq!(cost(28.0, 3.0103).rule, LimiterRule::Neither);
        // A sine of twice the voltage peaks at 2 sqrt(2) times it, 3.01 dB over, whatever the programme's crest factor above 6 dB.
        let c = cost(2.0 * t.v_rms, 12.0);
        assert_eq!(c.rule, LimiterRule::Peak);
        assert!((c.reduction_db - 3.0103).abs() < 1e-3);
        // With a peak threshold out of the way the RMS threshold rules: 6.02 - (6 - 3.01) = 3.03 dB.
        let t = LimiterThreshold { v_peak: 1e3, ..t };
        let c =
            limiter_cost(&t, &FullDrive { amplifier_v_rms: 2.0 * t.v_rms, crest_factor_db: 6.0 }).unwrap();
        assert_eq!(c.rule, LimiterRule::Rms);
        assert!((c.reduction_db - 3.0309).abs() < 1e-3);
        assert!((c.programme_v_rms - t.v_rms).abs() < 1e-6);
    }
}
