//! The processing of one amplifier channel: filters, delay, level and limits, in plain terms.

use crate::filters::{Alignment, Chain, EqKind, Pass, PassFilter};
use crate::protect::{LimiterThreshold, LimiterTimes};
use loamline_terms::{InLanguage, Polarity, Sentence, Severity, Told, hertz, say};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;

/// What a channel drives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ChannelRole {
    /// Full-range loudspeakers, or those above a crossover.
    FullRange,
    /// Subwoofers.
    Subwoofers,
}

/// Everything to set for one amplifier channel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ChannelPlan {
    /// What the crew calls it.
    pub id: String,
    /// What it drives.
    pub role: ChannelRole,
    /// Gain, polarity, delay, filters and equaliser.
    pub chain: Chain,
    /// Limiter thresholds at the amplifier's output, if a limiter is set.
    pub limiter: Option<LimiterThreshold>,
    /// Limiter times, if a limiter is set.
    pub times: Option<LimiterTimes>,
    /// Whether a load is connected to the channel.
    pub drives_load: bool,
}

/// Something missing or odd in a channel's plan.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PlanProblem {
    /// No high-pass on a channel with a load.
    NoHighPass,
    /// No limiter on a channel with a load.
    NoLimiter,
    /// A subwoofer channel without a low-pass.
    NoLowPass,
    /// The filters leave nothing to pass.
    NothingPasses {
        /// Highest high-pass corner, Hz.
        high_pass_hz: f64,
        /// Lowest low-pass corner, Hz.
        low_pass_hz: f64,
    },
    /// An equaliser lifts what the high-pass takes away.
    LiftBelowHighPass {
        /// Frequency of the section, Hz.
        frequency_hz: f64,
        /// Its gain, dB.
        gain_db: f64,
        /// Corner of the high-pass, Hz.
        high_pass_hz: f64,
    },
}

impl fmt::Display for PlanProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.told())
    }
}

impl PlanProblem {
    /// What it is and what to do, to be said in any language.
    pub fn told(&self) -> Sentence {
        match *self {
            Self::NoHighPass => say!(
                "the channel drives a load with no high-pass: transformers saturate and cones overshoot below their range; set \
                 the high-pass before anything is connected"
            ),
            Self::NoLimiter => say!(
                "the channel drives a load with no limiter: set the RMS and peak thresholds before anything is connected"
            ),
            Self::NoLowPass => say!(
                "the subwoofer channel has no low-pass: voices will be heard from it; set the crossover's low-pass"
            ),
            Self::NothingPasses { high_pass_hz, low_pass_hz } => say!(
                "the high-pass at {high} Hz is above the low-pass at {low} Hz: hardly anything passes; swap or correct the two",
                high = high_pass_hz.to_string(),
                low = low_pass_hz.to_string()
            ),
            Self::LiftBelowHighPass { frequency_hz, gain_db, high_pass_hz } => say!(
                "an equaliser section lifts {frequency} Hz by {gain} dB, at or below the high-pass at {high} Hz: it undoes the \
                 protection; remove it",
                frequency = frequency_hz.to_string(),
                gain = gain_db.to_string(),
                high = high_pass_hz.to_string()
            ),
        }
    }

    /// How bad it is.
    pub const fn severity(&self) -> Severity {
        match self {
            Self::NoHighPass | Self::NoLimiter => Severity::Error,
            Self::NoLowPass | Self::NothingPasses { .. } | Self::LiftBelowHighPass { .. } => {
                Severity::Warning
            }
        }
    }
}

impl ChannelPlan {
    /// The highest high-pass corner, Hz.
    pub fn high_pass_hz(&self) -> Option<f64> {
        self.corner(Pass::HighPass, f64::max)
    }

    /// The lowest low-pass corner, Hz.
    pub fn low_pass_hz(&self) -> Option<f64> {
        self.corner(Pass::LowPass, f64::min)
    }

    /// Everything missing or odd; nothing for a channel without a load.
    pub fn problems(&self) -> Vec<PlanProblem> {
        if !self.drives_load {
            return Vec::new();
        }
        let mut problems = Vec::new();
        let (high, low) = (self.high_pass_hz(), self.low_pass_hz());
        if high.is_none() {
            problems.push(PlanProblem::NoHighPass);
        }
        if self.limiter.is_none() {
            problems.push(PlanProblem::NoLimiter);
        }
        if low.is_none() && self.role == ChannelRole::Subwoofers {
            problems.push(PlanProblem::NoLowPass);
        }
        if let (Some(high_pass_hz), Some(low_pass_hz)) = (high, low)
            && high_pass_hz >= low_pass_hz
        {
            problems.push(PlanProblem::NothingPasses { high_pass_hz, low_pass_hz });
        }
        if let Some(high_pass_hz) = high {
            problems.extend(
                self.chain
                    .equaliser
                    .iter()
                    .filter(|s| s.gain_db() > 0.0)
                    .filter(|s| s.frequency_hz() <= high_pass_hz || s.kind() == EqKind::LowShelf)
                    .map(|s| PlanProblem::LiftBelowHighPass {
                        frequency_hz: s.frequency_hz(),
                        gain_db: s.gain_db(),
                        high_pass_hz,
                    }),
            );
        }
        problems
    }

    fn corner(&self, side: Pass, pick: fn(f64, f64) -> f64) -> Option<f64> {
        let corners = self.chain.passes.iter().filter(|p| p.response() == side).map(PassFilter::corner_hz);
        corners.reduce(pick)
    }
}

/// One line of what is typed in: the setting in plain words, its value and unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SettingRow {
    /// Channel.
    pub channel: String,
    /// What to set, e.g. "high-pass, Butterworth, 24 dB per octave".
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub setting: Sentence,
    /// The same in the languages that say it otherwise, by their names; none where none does.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub spoken: BTreeMap<String, InLanguage>,
    /// What to set it to, with units, e.g. "70 Hz".
    pub value: String,
}

/// A channel's gain as it is set: from its input to its output where its sources and leads are known, dB, with the design's
/// own beside it, which is relative to full scale.
pub(super) fn gain_text(gain_db: f64, from_input_db: Option<f64>) -> String {
    match from_input_db {
        Some(from_input) => {
            format!("{from_input:+.1} dB from input to output ({gain_db:+.1} dB re full scale)")
        }
        None => format!("{gain_db:+.1} dB"),
    }
}

/// The settings of a channel in the order a person enters them: filters, equaliser, delay, polarity, gain, limiter.
/// `from_input_db` as for `gain_text`.
pub fn settings_table(plan: &ChannelPlan, from_input_db: Option<f64>) -> Vec<SettingRow> {
    let mut rows = Vec::new();
    let mut row = |setting: Sentence, value: String| {
        let Told { sentence: setting, spoken, .. } = setting.into();
        rows.push(SettingRow { channel: plan.id.clone(), setting, spoken, value });
    };
    for pass in &plan.chain.passes {
        let side = match pass.response() {
            Pass::HighPass => say!("high-pass"),
            Pass::LowPass => say!("low-pass"),
        };
        let family = match pass.kind() {
            Alignment::Butterworth => "Butterworth",
            Alignment::LinkwitzRiley => "Linkwitz-Riley",
            Alignment::Bessel => "Bessel (-3 dB at the corner)",
        };
        row(
            say!(
                "{side}, {family}, {slope} dB per octave",
                side = side,
                family = family,
                slope = pass.slope_db_per_octave().to_string()
            ),
            hertz(pass.corner_hz(), 1),
        );
    }
    for (index, s) in plan.chain.equaliser.iter().enumerate() {
        let shape = match s.kind() {
            EqKind::Peaking => say!("bell"),
            EqKind::LowShelf => say!("low shelf"),
            EqKind::HighShelf => say!("high shelf"),
        };
        row(
            say!("equaliser {number}, {shape}", number = (index + 1).to_string(), shape = shape),
            format!("{}, {:+.1} dB, Q {}", hertz(s.frequency_hz(), 1), s.gain_db(), rounded(s.q(), 2)),
        );
    }
    row(say!("delay"), format!("{} ms", rounded(1e3 * plan.chain.delay_s, 2)));
    let polarity = match plan.chain.polarity {
        Polarity::Normal => "normal",
        Polarity::Reversed => "reversed",
    };
    row(say!("polarity"), polarity.to_owned());
    row(say!("gain"), gain_text(plan.chain.gain_db, from_input_db));
    if let Some(limiter) = &plan.limiter {
        row(
            say!("limiter, RMS threshold at the amplifier's output"),
            format!(
                "{} V = {:+.1} dBu = {:+.1} dBV",
                rounded(limiter.v_rms, 2),
                limiter.rms_dbu(),
                limiter.rms_dbv()
            ),
        );
        row(
            say!("limiter, peak threshold at the amplifier's output"),
            format!(
                "{} V = {:+.1} dBu = {:+.1} dBV",
                rounded(limiter.v_peak, 2),
                limiter.peak_dbu(),
                limiter.peak_dbv()
            ),
        );
    }
    if let Some(times) = &plan.times {
        row(
            say!("limiter, peak attack and release"),
            format!(
                "{} ms, {} ms",
                rounded(1e3 * times.peak_attack_s, 1),
                rounded(1e3 * times.peak_release_s, 0)
            ),
        );
        row(
            say!("limiter, RMS attack and release"),
            format!("{} s, {} s", rounded(times.rms_attack_s, 1), rounded(times.rms_release_s, 1)),
        );
    }
    rows
}

/// At most `digits` decimals, without trailing zeros.
pub(super) fn rounded(value: f64, digits: usize) -> String {
    let text = loamline_terms::fixed(value, digits);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::filters::EqSection;
    use crate::protect::limiter_threshold;

    fn plan() -> ChannelPlan {
        ChannelPlan {
            id: "A1".to_owned(),
            role: ChannelRole::FullRange,
            chain: Chain {
                gain_db: -3.5,
                delay_s: 0.01234,
                passes: vec![PassFilter::new(Alignment::Butterworth, Pass::HighPass, 4, 70.0).unwrap()],
                equaliser: vec![EqSection::new(EqKind::Peaking, 250.0, -4.5, 1.4).unwrap()],
                ..Chain::default()
            },
            limiter: Some(limiter_threshold(100.0, 8.0).unwrap()),
            times: None,
            drives_load: true,
        }
    }

    #[test]
    fn table_reads_as_it_is_typed_in() {
        let rows: Vec<String> =
            settings_table(&plan(), None).iter().map(|r| format!("{}: {}", r.setting, r.value)).collect();
        assert_eq!(
            rows,
            [
                "high-pass, Butterworth, 24 dB per octave: 70 Hz",
                "equaliser 1, bell: 250 Hz, -4.5 dB, Q 1.4",
                "delay: 12.34 ms",
                "polarity: normal",
                "gain: -3.5 dB",
                "limiter, RMS threshold at the amplifier's output: 28.28 V = +31.2 dBu = +29.0 dBV",
                "limiter, peak threshold at the amplifier's output: 56.57 V = +37.3 dBu = +35.1 dBV",
            ]
        );
    }

    #[test]
    fn missing_protection_is_an_error() {
        assert!(plan().problems().is_empty());
        let bare = ChannelPlan { chain: Chain::default(), limiter: None, ..plan() };
        assert_eq!(bare.problems(), [PlanProblem::NoHighPass, PlanProblem::NoLimiter]);
        assert!(bare.problems().iter().all(|p| p.severity() == Severity::Error));
        assert!(ChannelPlan { drives_load: false, ..bare.clone() }.problems().is_empty());
        let subs = ChannelPlan { role: ChannelRole::Subwoofers, ..plan() };
        assert_eq!(subs.problems(), [PlanProblem::NoLowPass]);
    }

    #[test]
    fn lifts_below_the_high_pass_and_crossed_filters_are_told() {
        let mut odd = plan();
        odd.chain.equaliser.push(EqSection::new(EqKind::Peaking, 60.0, 3.0, 1.0).unwrap());
        odd.chain.passes.push(PassFilter::new(Alignment::LinkwitzRiley, Pass::LowPass, 4, 50.0).unwrap());
        assert_eq!(
            odd.problems(),
            [
                PlanProblem::NothingPasses { high_pass_hz: 70.0, low_pass_hz: 50.0 },
                PlanProblem::LiftBelowHighPass { frequency_hz: 60.0, gain_db: 3.0, high_pass_hz: 70.0 },
            ]
        );
    }
}
