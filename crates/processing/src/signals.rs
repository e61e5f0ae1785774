//! Test signals: noise by band, sweeps, polarity pulses and rhythms that tell lines apart.

mod noise;
mod pulse;
mod rhythm;
mod sweep;

pub use noise::{NoiseSpec, pink_noise};
pub use pulse::{PulseSpec, polarity_pulse};
pub use rhythm::{LineRhythm, RhythmSpec, line_rhythm};
pub use sweep::{Sweep, SweepSpec};

use crate::filters::{SampleRate, SettingError};
use loamline_limits::{Exceeded, SIGNAL_SAMPLES};

/// Why a test signal cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SignalError {
    /// The signal reaches above what the sample rate can carry.
    #[error(
        "{what} of {highest_hz:.0} Hz does not fit a sample rate of {sample_rate_hz:.0} Hz: go no higher than \
         {limit_hz:.0} Hz or raise the sample rate"
    )]
    TooHigh {
        /// Which frequency.
        what: &'static str,
        /// The frequency asked for, Hz.
        highest_hz: f64,
        /// The sample rate, Hz.
        sample_rate_hz: f64,
        /// Highest frequency that fits, Hz.
        limit_hz: f64,
    },
    /// The range is empty.
    #[error(
        "the signal would run from {lowest_hz:.1} Hz to {highest_hz:.1} Hz: the first must be below the second"
    )]
    EmptyRange {
        /// Low end, Hz.
        lowest_hz: f64,
        /// High end, Hz.
        highest_hz: f64,
    },
    /// The band is narrower than the signal is long enough to show.
    #[error(
        "{length_s} s of noise is too short for a band from {lowest_hz:.1} Hz to {highest_hz:.1} Hz: make it longer"
    )]
    NoLineInBand {
        /// Length asked for, s.
        length_s: f64,
        /// Low end, Hz.
        lowest_hz: f64,
        /// High end, Hz.
        highest_hz: f64,
    },
    /// More samples than are made.
    #[error(transparent)]
    TooLong(#[from] Exceeded),
    /// A value lies outside its range.
    #[error(transparent)]
    Setting(#[from] SettingError),
}

/// Highest frequency a signal may reach, as a share of the sample rate: converters fade out above it.
const HIGHEST_SHARE: f64 = 0.46;

fn fits(what: &'static str, highest_hz: f64, rate: SampleRate) -> Result<(), SignalError> {
    let limit_hz = HIGHEST_SHARE * rate.hz();
    if highest_hz <= limit_hz {
        Ok(())
    } else {
        Err(SignalError::TooHigh { what, highest_hz, sample_rate_hz: rate.hz(), limit_hz })
    }
}

/// How many samples so many seconds have, where so many are made.
fn sample_count(length_s: f64, rate: SampleRate) -> Result<usize, SignalError> {
    let samples = (length_s * rate.hz()).round();
    SIGNAL_SAMPLES.check_estimate(samples)?;
    Ok(samples as usize)
}

/// A raised-cosine ramp: 0 at `t` = 0, 1 at `t` = 1 and beyond.
fn ramp(t: f64) -> f64 {
    if t >= 1.0 { 1.0 } else { 0.5 - 0.5 * (std::f64::consts::PI * t.max(0.0)).cos() }
}

/// dB re full scale as a factor.
fn amplitude(level_dbfs: f64) -> f64 {
    10_f64.powf(level_dbfs / 20.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each within the range of every value by itself, and gigabytes together.
    #[test]
    fn what_would_take_gigabytes_is_refused_with_its_samples_and_what_fits_is_made() {
        let high = SampleRate::new(768_000.0).unwrap();
        let noise = NoiseSpec { length_s: 600.0, ..NoiseSpec::third_octave(1_000.0, high, 1) };
        let pulses =
            PulseSpec { push_s: 5e-4, every_s: 10.0, count: 600, level_dbfs: -12.0, sample_rate: high };
        let rhythm =
            RhythmSpec { line: 99, tone_hz: 800.0, repeats: 1_000, level_dbfs: -30.0, sample_rate: high };
        let sweep = Sweep::new(SweepSpec { length_s: 120.0, ..SweepSpec::default() }).unwrap();
        // 19 tones of 0.6 s and 4 of 0.15 s, 0.2 s after each and 1.3 s at the end.
        for (made, seconds) in [
            (pink_noise(&noise), 600.0),
            (polarity_pulse(&pulses), 6_000.0),
            (line_rhythm(&rhythm), 1_000.0 * (19.0 * 0.8 + 4.0 * 0.35 + 1.3)),
            (sweep.samples(high), 120.0),
            (sweep.with_silence(high, 1.0, 2.0), 123.0),
        ] {
            let Err(SignalError::TooLong(more)) = made else { panic!("{seconds} s were made or refused") };
            assert!((more.found as f64 - 768_000.0 * seconds).abs() <= 1.0, "{more}");
            assert!(more.to_string().contains(&SIGNAL_SAMPLES.shown()), "{more}");
        }
        let most_s = SIGNAL_SAMPLES.number as f64 / 96_000.0;
        let of = |length_s: f64| Sweep::new(SweepSpec { length_s, ..SweepSpec::default() }).unwrap();
        let longest = of(most_s).samples(SampleRate::R96K);
        assert_eq!(longest.map(|x| x.len()), Ok(SIGNAL_SAMPLES.most()));
        assert!(of(most_s + 0.001).samples(SampleRate::R96K).is_err());
    }
}
