//! Pink noise between two frequencies.
//!
//! Made in the frequency domain: every line inside the band has amplitude 1/sqrt(f) and a random phase, lines
//! outside have none, so the edges are exact and each third octave inside carries the same energy. The noise
//! repeats without a seam and can be looped. Its peaks are not clipped; the level is lowered if they would not fit.

use super::{SignalError, amplitude, fits, sample_count};
use crate::filters::{SampleRate, SettingError};
use loamline_chance::Draws;
use num_complex::Complex64;
use realfft::RealFftPlanner;
use serde::{Deserialize, Serialize};
use std::f64::consts::TAU;

/// Noise to make.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct NoiseSpec {
    /// Low edge, Hz.
    pub lowest_hz: f64,
    /// High edge, Hz.
    pub highest_hz: f64,
    /// Length, s, from 0.1 to 600, and of no more samples than [`loamline_limits::SIGNAL_SAMPLES`].
    pub length_s: f64,
    /// RMS level, dB re full scale (a full-scale sine is -3.01).
    pub level_dbfs: f64,
    /// Sample rate.
    pub sample_rate: SampleRate,
    /// Seed: the same seed gives the same noise.
    pub seed: u64,
}

impl NoiseSpec {
    /// One third octave around `centre_hz` (IEC 61260-1, base ten: a twentieth of a decade either side), 10 s at
    /// -20 dB re full scale.
    pub fn third_octave(centre_hz: f64, sample_rate: SampleRate, seed: u64) -> Self {
        let half = 10_f64.powf(0.05);
        Self {
            lowest_hz: centre_hz / half,
            highest_hz: centre_hz * half,
            length_s: 10.0,
            level_dbfs: -20.0,
            sample_rate,
            seed,
        }
    }
}

/// Samples of the noise, between -1 and 1.
///
/// # Errors
/// An empty or unreachable band, a length outside 0.1 to 600 s or of more samples than are made, a level above 0 dB.
pub fn pink_noise(spec: &NoiseSpec) -> Result<Vec<f64>, SignalError> {
    fits("the high edge", spec.highest_hz, spec.sample_rate)?;
    let (lowest_hz, highest_hz) = (spec.lowest_hz, spec.highest_hz);
    if !(lowest_hz >= 1.0 && lowest_hz < highest_hz) {
        return Err(SignalError::EmptyRange { lowest_hz, highest_hz });
    }
    let length_s = SettingError::check("the length", " s", spec.length_s, 0.1, 600.0)?;
    SettingError::check("the level", " dB re full scale", spec.level_dbfs, -90.0, 0.0)?;
    let n = sample_count(length_s, spec.sample_rate)?;
    let fft = RealFftPlanner::<f64>::new().plan_fft_inverse(n);
    let mut lines = vec![Complex64::new(0.0, 0.0); n / 2 + 1];
    let mut random = Draws::new(spec.seed);
    let mut filled = 0_usize;
    for (k, line) in lines.iter_mut().enumerate().take(n.div_ceil(2)).skip(1) {
        let f = k as f64 * spec.sample_rate.hz() / n as f64;
        if (lowest_hz..highest_hz).contains(&f) {
            *line = Complex64::from_polar(1.0 / f.sqrt(), TAU * random.unit());
            filled += 1;
        }
    }
    if filled < 3 {
        return Err(SignalError::NoLineInBand { length_s, lowest_hz, highest_hz });
    }
    let mut samples = vec![0.0; n];
    // The lengths are the plan's own, and the first and last line are real, so the transform cannot refuse.
    if fft.process(&mut lines, &mut samples).is_err() {
        return Err(SignalError::NoLineInBand { length_s, lowest_hz, highest_hz });
    }
    let rms = (samples.iter().map(|x| x * x).sum::<f64>() / n as f64).sqrt();
    let peak = samples.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
    let scale = (amplitude(spec.level_dbfs) / rms).min(1.0 / peak);
    for x in &mut samples {
        *x *= scale;
    }
    Ok(samples)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn octaves_carry_equal_energy_and_nothing_lies_outside() {
        let spec = NoiseSpec {
            lowest_hz: 100.0,
            highest_hz: 1_600.0,
            length_s: 4.0,
            level_dbfs: -20.0,
            sample_rate: SampleRate::R48K,
            seed: 1,
        };
        let mut x = pink_noise(&spec).unwrap();
        let rms = (x.iter().map(|v| v * v).sum::<f64>() / x.len() as f64).sqrt();
        assert!((20.0 * rms.log10() + 20.0).abs() < 1e-9);
        let n = x.len();
        let fft = RealFftPlanner::<f64>::new().plan_fft_forward(n);
        let mut lines = fft.make_output_vec();
        fft.process(&mut x, &mut lines).unwrap();
        let energy = |from: f64, to: f64| -> f64 {
            lines
                .iter()
                .enumerate()
                .filter(|(k, _)| (from..to).contains(&(*k as f64 / 4.0)))
                .map(|(_, c)| c.norm_sqr())
                .sum()
        };
        let first = energy(100.0, 200.0);
        for octave in [200.0, 400.0, 800.0] {
            assert!((energy(octave, 2.0 * octave) / first - 1.0).abs() < 0.01);
        }
        assert!((energy(0.0, 99.9) + energy(1_600.1, 25_000.0)) < 1e-12 * first);
    }

    #[test]
    fn same_seed_same_noise() {
        let spec = NoiseSpec { length_s: 0.5, ..NoiseSpec::third_octave(1_000.0, SampleRate::R44_1K, 3) };
        assert_eq!(pink_noise(&spec).unwrap(), pink_noise(&spec).unwrap());
        assert_ne!(pink_noise(&spec).unwrap(), pink_noise(&NoiseSpec { seed: 4, ..spec }).unwrap());
    }

    #[test]
    fn refuses_bands_that_cannot_be() {
        let spec = NoiseSpec::third_octave(22_000.0, SampleRate::R48K, 1);
        assert_eq!(
            pink_noise(&spec).unwrap_err().to_string(),
            "the high edge of 24684 Hz does not fit a sample rate of 48000 Hz: go no higher than 22080 Hz or raise \
             the sample rate"
        );
        assert!(pink_noise(&NoiseSpec { lowest_hz: 100.0, highest_hz: 100.0, ..spec }).is_err());
        let short = NoiseSpec { length_s: 0.1, ..NoiseSpec::third_octave(25.0, SampleRate::R48K, 1) };
        assert!(matches!(pink_noise(&short).unwrap_err(), SignalError::NoLineInBand { .. }));
    }
}
