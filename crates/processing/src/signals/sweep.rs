//! Exponential sine sweep.
//!
//! A. Farina, "Simultaneous measurement of impulse response and distortion with a swept-sine technique", AES 108th
//! Convention, 2000: x(t) = sin(2 pi f1 L (exp(t/L) - 1)), L = T / ln(f2/f1). Harmonics that a loudspeaker adds come
//! out of the deconvolution ahead of the response (the k-th by L ln k) and can be cut away. Raised-cosine fades at
//! both ends keep the spectrum free of steps.

use super::{SignalError, amplitude, fits, ramp, sample_count};
use crate::filters::{SampleRate, SettingError};
use serde::{Deserialize, Serialize};
use std::f64::consts::TAU;

/// A sweep that can be played and recognised again: the same values must be used for both.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SweepSpec {
    /// First frequency, Hz. Not below the high-pass of what it is played through.
    pub start_hz: f64,
    /// Last frequency, Hz.
    pub end_hz: f64,
    /// Length of the sweep itself, s, from 0.5 to 120.
    pub length_s: f64,
    /// Level of the sine, dB re full scale: 0 is the largest sine that fits.
    pub level_dbfs: f64,
}

impl Default for SweepSpec {
    /// 40 Hz to 20 kHz in 8 s at -12 dB re full scale.
    fn default() -> Self {
        Self { start_hz: 40.0, end_hz: 20_000.0, length_s: 8.0, level_dbfs: -12.0 }
    }
}

/// Fade at the start, s, and at the end, s; shorter for sweeps below two seconds.
const FADES_S: (f64, f64) = (0.050, 0.010);

/// A checked sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sweep {
    spec: SweepSpec,
}

impl Sweep {
    /// Checks `spec`.
    ///
    /// # Errors
    /// A start below 5 Hz or not an octave below the end, a length outside 0.5 to 120 s, a level above 0 dB.
    pub fn new(spec: SweepSpec) -> Result<Self, SignalError> {
        let (lowest_hz, highest_hz) = (spec.start_hz, spec.end_hz);
        SettingError::check("the start of the sweep", " Hz", lowest_hz, 5.0, 20_000.0)?;
        SettingError::check("the end of the sweep", " Hz", highest_hz, 10.0, 44_000.0)?;
        if highest_hz < 2.0 * lowest_hz {
            return Err(SignalError::EmptyRange { lowest_hz, highest_hz });
        }
        SettingError::check("the length of the sweep", " s", spec.length_s, 0.5, 120.0)?;
        SettingError::check("the level of the sweep", " dB re full scale", spec.level_dbfs, -80.0, 0.0)?;
        Ok(Self { spec })
    }

    /// What the sweep was made from.
    pub const fn spec(&self) -> &SweepSpec {
        &self.spec
    }

    /// Amplitude of the sine, full scale being one.
    pub fn amplitude(&self) -> f64 {
        amplitude(self.spec.level_dbfs)
    }

    /// The sweep's samples at `rate`, without silence around it.
    ///
    /// # Errors
    /// An end frequency above 0.46 of the sample rate; more samples than are made.
    pub fn samples(&self, rate: SampleRate) -> Result<Vec<f64>, SignalError> {
        fits("the end of the sweep", self.spec.end_hz, rate)?;
        sample_count(self.spec.length_s, rate)?;
        Ok(self.samples_stretched(rate, 1.0))
    }

    /// The sweep as it comes out of a player that runs `speed` times too fast.
    pub(crate) fn samples_stretched(&self, rate: SampleRate, speed: f64) -> Vec<f64> {
        let s = &self.spec;
        let length_s = s.length_s / speed;
        let n = (length_s * rate.hz()).round() as usize;
        let l = length_s / (s.end_hz / s.start_hz).ln();
        let amplitude = self.amplitude();
        let shorten = (length_s / 2.0).min(1.0);
        let (fade_in, fade_out) = (FADES_S.0 * shorten * rate.hz(), FADES_S.1 * shorten * rate.hz());
        (0..n)
            .map(|i| {
                let t = i as f64 / rate.hz();
                let phase = TAU * s.start_hz * speed * l * (t / l).exp_m1();
                let envelope = ramp(i as f64 / fade_in) * ramp((n - 1 - i) as f64 / fade_out);
                amplitude * envelope * phase.sin()
            })
            .collect()
    }

    /// The sweep between `before_s` of silence and `after_s` of silence: what to play and record.
    ///
    /// # Errors
    /// As for [`Sweep::samples`]; silences outside 0 to 60 s.
    pub fn with_silence(
        &self,
        rate: SampleRate,
        before_s: f64,
        after_s: f64,
    ) -> Result<Vec<f64>, SignalError> {
        let before = SettingError::check("the silence before", " s", before_s, 0.0, 60.0)?;
        let after = SettingError::check("the silence after", " s", after_s, 0.0, 60.0)?;
        sample_count(before + self.spec.length_s + after, rate)?;
        let count = |seconds: f64| (seconds * rate.hz()).round() as usize;
        let mut samples = vec![0.0; count(before)];
        samples.extend(self.samples(rate)?);
        samples.resize(samples.len() + count(after), 0.0);
        Ok(samples)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Farina 2000: the instantaneous frequency at time t is f1 exp(t/L); counted here by zero crossings.
    #[test]
    fn frequency_rises_exponentially() {
        let sweep = Sweep::new(SweepSpec { start_hz: 50.0, end_hz: 5_000.0, length_s: 4.0, level_dbfs: 0.0 })
            .unwrap();
        let x = sweep.samples(SampleRate::R48K).unwrap();
        assert_eq!(x.len(), 192_000);
        for at in [1.0, 2.0, 3.0_f64] {
            let (from, to) = (((at - 0.05) * 48e3) as usize, ((at + 0.05) * 48e3) as usize);
            let crossings = x[from..to].windows(2).filter(|w| w[0] <= 0.0 && w[1] > 0.0).count() as f64;
            let expected = 50.0 * 100_f64.powf(at / 4.0);
            assert!((crossings / 0.1 / expected - 1.0).abs() < 0.08, "{at} s: {crossings}");
        }
        assert!(x.iter().all(|v| v.abs() <= 1.0) && x[0].abs() < 1e-12 && x[191_999].abs() < 1e-12);
    }

    #[test]
    fn refuses_what_cannot_be_swept() {
        assert!(Sweep::new(SweepSpec { start_hz: 100.0, end_hz: 150.0, ..SweepSpec::default() }).is_err());
        assert!(Sweep::new(SweepSpec { length_s: f64::NAN, ..SweepSpec::default() }).is_err());
        let high = Sweep::new(SweepSpec { end_hz: 21_000.0, ..SweepSpec::default() }).unwrap();
        assert!(high.samples(SampleRate::R44_1K).is_err() && high.samples(SampleRate::R48K).is_ok());
    }
}
