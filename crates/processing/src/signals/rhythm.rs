//! A rhythm for every line, so that a crew can tell which stub-out is which with a small loudspeaker or an ear.
//!
//! Line n sounds n as tally marks: one long tone for every five and one short tone for every one left over, then a
//! pause. Line 3 is three short tones, line 7 one long and two short. Anybody can count that; no two lines are alike.

use super::{SignalError, amplitude, fits, ramp, sample_count};
use crate::filters::{SampleRate, SettingError};
use loamline_terms::{Sentence, say};
use serde::{Deserialize, Serialize};
use std::f64::consts::TAU;

/// Most lines that can be told apart before counting becomes a chore.
const MOST_LINES: f64 = 99.0;

/// The rhythm of one line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct LineRhythm {
    /// Long tones, one for every five.
    pub long: u32,
    /// Short tones, one for every one left over.
    pub short: u32,
}

impl LineRhythm {
    /// The rhythm of line number `line`, counted from one.
    pub const fn of(line: u32) -> Self {
        Self { long: line / 5, short: line % 5 }
    }

    /// The rhythm in words, as on a crew's sheet: "1 long and 2 short tones".
    pub fn in_words(self) -> String {
        self.told().to_string()
    }

    /// The same, to be said in any language.
    pub fn told(self) -> Sentence {
        let (long, short) = (self.long.to_string(), self.short.to_string());
        match (self.long, self.short) {
            (0, 1) => say!("{short} short tone", short = short),
            (0, _) => say!("{short} short tones", short = short),
            (1, 0) => say!("{long} long tone", long = long),
            (_, 0) => say!("{long} long tones", long = long),
            _ => say!("{long} long and {short} short tones", long = long, short = short),
        }
    }
}

/// Tones to make.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RhythmSpec {
    /// Number of the line, counted from one, up to 99.
    pub line: u32,
    /// Pitch of the tones, Hz, 200 to 4000: well above any high-pass.
    pub tone_hz: f64,
    /// How often the rhythm is repeated, 1 to 1000.
    pub repeats: u32,
    /// Level of the tones, dB re full scale: keep it quiet.
    pub level_dbfs: f64,
    /// Sample rate.
    pub sample_rate: SampleRate,
}

/// Lengths in seconds: a short tone, a long tone, the gap after each, the pause after the rhythm, the fades.
const SHORT_S: f64 = 0.15;
const LONG_S: f64 = 0.60;
const GAP_S: f64 = 0.20;
const PAUSE_S: f64 = 1.30;
const FADE_S: f64 = 0.02;

/// Samples of the rhythm, between -1 and 1.
///
/// # Errors
/// A value outside its range, or more samples than are made.
pub fn line_rhythm(spec: &RhythmSpec) -> Result<Vec<f64>, SignalError> {
    SettingError::check("the line number", "", f64::from(spec.line), 1.0, MOST_LINES)?;
    SettingError::check("the tone's frequency", " Hz", spec.tone_hz, 200.0, 4_000.0)?;
    fits("the tone's frequency", spec.tone_hz, spec.sample_rate)?;
    let repeats =
        SettingError::check("the number of repeats", "", f64::from(spec.repeats), 1.0, 1_000.0)? as usize;
    let peak = amplitude(SettingError::check("the level", " dB re full scale", spec.level_dbfs, -80.0, 0.0)?);
    let fs = spec.sample_rate.hz();
    let mut once = Vec::new();
    let rhythm = LineRhythm::of(spec.line);
    let once_s =
        f64::from(rhythm.long) * (LONG_S + GAP_S) + f64::from(rhythm.short) * (SHORT_S + GAP_S) + PAUSE_S;
    sample_count(once_s * repeats as f64, spec.sample_rate)?;
    let tones = (0..rhythm.long).map(|_| LONG_S).chain((0..rhythm.short).map(|_| SHORT_S));
    for length_s in tones {
        let n = (length_s * fs).round() as usize;
        let fade = FADE_S * fs;
        once.extend((0..n).map(|i| {
            let envelope = ramp(i as f64 / fade) * ramp((n - 1 - i) as f64 / fade);
            peak * envelope * (TAU * spec.tone_hz * i as f64 / fs).sin()
        }));
        once.resize(once.len() + (GAP_S * fs).round() as usize, 0.0);
    }
    once.resize(once.len() + (PAUSE_S * fs).round() as usize, 0.0);
    Ok(once.repeat(repeats))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lengths of the tones found in the samples, in tenths of a second.
    fn heard(line: u32) -> Vec<usize> {
        let spec =
            RhythmSpec { line, tone_hz: 800.0, repeats: 1, level_dbfs: -20.0, sample_rate: SampleRate::R48K };
        let x = line_rhythm(&spec).unwrap();
        let loud: Vec<bool> = x.chunks(480).map(|c| c.iter().any(|v| v.abs() > 0.01)).collect();
        let mut tones = vec![];
        let mut run = 0_usize;
        for l in loud.into_iter().chain([false]) {
            if l {
                run += 1;
            } else if run > 0 {
                tones.push((run + 5) / 10);
                run = 0;
            }
        }
        tones
    }

    #[test]
    fn every_line_counts_its_own_number() {
        let mut seen = std::collections::BTreeSet::new();
        for line in 1..=24 {
            let tones = heard(line);
            let counted: usize = tones.iter().map(|t| if *t > 3 { 5 } else { 1 }).sum();
            assert_eq!(counted, line as usize);
            assert!(seen.insert(tones));
        }
        assert_eq!(LineRhythm::of(7).in_words(), "1 long and 2 short tones");
        assert_eq!(LineRhythm::of(1).in_words(), "1 short tone");
        assert_eq!(LineRhythm::of(10).in_words(), "2 long tones");
    }

    #[test]
    fn line_nought_does_not_exist() {
        let spec = RhythmSpec {
            line: 0,
            tone_hz: 800.0,
            repeats: 1,
            level_dbfs: -20.0,
            sample_rate: SampleRate::R48K,
        };
        assert_eq!(
            line_rhythm(&spec).unwrap_err().to_string(),
            "the line number is 0: it must be from 1 to 99"
        );
    }
}
