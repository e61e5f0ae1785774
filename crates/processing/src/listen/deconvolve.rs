//! From a recorded sweep to an impulse response, by division of spectra.
//!
//! H = T Y conj(X) / (|X|^2 + e): Y the recording, X the sweep as generated, both padded so that nothing wraps
//! around. The regularisation e is 80 dB below the sweep's mean power inside its range, which changes the level there
//! by less than 0.001 dB; the taper T falls as a raised cosine over a third of an octave outside either end, so that
//! noise where nothing was played is not blown up and the ends ring for a short time only.

use super::refusal::ListenError;
use crate::filters::SampleRate;
use num_complex::Complex64;
use realfft::RealFftPlanner;
use std::f64::consts::PI;

/// The transfer function of what lies between player and recorder.
pub(super) struct Deconvolved {
    /// Gain per line from 0 Hz to half the sample rate, tapered outside the range of the sweep.
    pub lines: Vec<Complex64>,
    /// Samples of the impulse response (circular: negative times stand at the end).
    pub length: usize,
    pub rate: SampleRate,
}

impl Deconvolved {
    pub(super) fn frequency_hz(&self, line: usize) -> f64 {
        line as f64 * self.rate.hz() / self.length as f64
    }

    pub(super) fn impulse(&self) -> Vec<f64> {
        inverse(&mut self.lines.clone(), self.length)
    }
}

/// Divides the spectrum of `recording` by that of `reference`, whose energy lies between `start_hz` and `end_hz`.
pub(super) fn deconvolve(
    recording: &[f64],
    reference: &[f64],
    rate: SampleRate,
    start_hz: f64,
    end_hz: f64,
) -> Result<Deconvolved, ListenError> {
    let length = fast_length(recording.len() + reference.len());
    let mut planner = RealFftPlanner::<f64>::new();
    let mut spectrum = |samples: &[f64]| {
        let fft = planner.plan_fft_forward(length);
        let mut padded = samples.to_vec();
        padded.resize(length, 0.0);
        let mut lines = fft.make_output_vec();
        // The buffers are the plan's own size, so the transform has nothing to refuse.
        let _ = fft.process(&mut padded, &mut lines);
        lines
    };
    let (y, x) = (spectrum(recording), spectrum(reference));
    let step = rate.hz() / length as f64;
    let inside = |f: f64| f >= start_hz && f <= end_hz;
    let (sum, count) = x
        .iter()
        .enumerate()
        .filter(|(k, _)| inside(*k as f64 * step))
        .fold((0.0, 0_usize), |(sum, n), (_, c)| (sum + c.norm_sqr(), n + 1));
    let mean = sum / count.max(1) as f64;
    let lines = y
        .iter()
        .zip(&x)
        .enumerate()
        .map(|(k, (y, x))| {
            let f = k as f64 * step;
            let octaves_outside = if f <= 0.0 { 9.0 } else { (start_hz / f).max(f / end_hz).log2().max(0.0) };
            let taper = 0.5 + 0.5 * (PI * (3.0 * octaves_outside).min(1.0)).cos();
            y * x.conj() * (taper / (x.norm_sqr() + 1e-8 * mean + f64::MIN_POSITIVE))
        })
        .collect();
    Ok(Deconvolved { lines, length, rate })
}

/// Inverse real transform with the 1/n that the plan leaves out.
pub(super) fn inverse(lines: &mut [Complex64], length: usize) -> Vec<f64> {
    let fft = RealFftPlanner::<f64>::new().plan_fft_inverse(length);
    if let Some(first) = lines.first_mut() {
        first.im = 0.0;
    }
    if length.is_multiple_of(2)
        && let Some(last) = lines.last_mut()
    {
        last.im = 0.0;
    }
    let mut samples = fft.make_output_vec();
    // First and last line are real and the buffers fit, so the transform has nothing to refuse.
    let _ = fft.process(lines, &mut samples);
    let scale = 1.0 / length as f64;
    for x in &mut samples {
        *x *= scale;
    }
    samples
}

/// The smallest even number from `least` on with no prime factor above five: transforms of such lengths are fast.
pub(super) fn fast_length(least: usize) -> usize {
    let mut best = least.max(2).next_power_of_two();
    let mut five = 1;
    while five < best {
        let mut three = five;
        while three < best {
            let mut candidate = 2 * three;
            while candidate < least {
                candidate *= 2;
            }
            best = best.min(candidate);
            three *= 3;
        }
        five *= 5;
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_fast_and_close() {
        for n in [2, 7, 1_000, 96_001, 912_345] {
            let m = fast_length(n);
            assert!(m >= n && m.is_multiple_of(2) && (m as f64) < 1.2 * n as f64 + 2.0, "{n} {m}");
            let mut rest = m;
            for p in [2, 3, 5] {
                while rest.is_multiple_of(p) {
                    rest /= p;
                }
            }
            assert_eq!(rest, 1);
        }
    }
}
