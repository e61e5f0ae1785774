//! When the first sound arrives and which way it pushes.
//!
//! The transfer function is weighted with a raised cosine over frequency (side lobes 31 dB down) and turned into an
//! impulse response and, by a Hilbert transform, its envelope. The first top of the envelope within 10 dB of the
//! highest says which sound is the first; the arrival is the peak of the unweighted impulse response there, placed
//! between samples by a parabola. Its polarity is the sign of the weighted response around it.

use super::deconvolve::{Deconvolved, inverse};
use num_complex::Complex64;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// Which way the first arrival pushes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum HeardPolarity {
    /// The same way as the signal (or the loop-back).
    Normal,
    /// The other way.
    Reversed,
    /// Pushes and pulls alike: too few octaves or too many reflections to tell.
    Unclear,
}

impl HeardPolarity {
    /// Polarity relative to a reference that was itself heard as `reference`.
    pub(super) const fn relative_to(self, reference: Self) -> Self {
        match (self, reference) {
            (Self::Unclear, _) | (_, Self::Unclear) => Self::Unclear,
            (Self::Normal, Self::Normal) | (Self::Reversed, Self::Reversed) => Self::Normal,
            _ => Self::Reversed,
        }
    }
}

/// The first arrival in a deconvolved recording.
#[derive(Debug, Clone, Copy)]
pub(super) struct Located {
    /// Lag in samples; negative when the sweep began before the recording.
    pub lag: f64,
    pub polarity: HeardPolarity,
    /// Highest top of the envelope over its RMS value, dB.
    pub contrast_db: f64,
}

/// How far below the highest top the first may be, as a factor: 10 dB. Lower, and distortion or noise may be taken
/// for the arrival; higher, and a reflection louder than the direct sound may be.
const FIRST_WITHIN: f64 = 0.316;
/// Push and pull must differ by this much for a verdict, as a factor: 1.5 dB.
const CLEAR: f64 = 1.19;

/// Finds the first arrival; `whole` is the unweighted impulse response. Lags run from -`earliest` to `latest` samples.
pub(super) fn locate(
    d: &Deconvolved,
    whole: &[f64],
    (start_hz, end_hz): (f64, f64),
    earliest: usize,
    latest: usize,
) -> Located {
    let weight = |f: f64| {
        if f >= end_hz || f <= 0.0 {
            return 0.0;
        }
        let rise = ((f / start_hz).log2() + 0.5).clamp(0.0, 1.0);
        rise * 0.5 * (1.0 + (PI * f / end_hz).cos())
    };
    let mut lines: Vec<Complex64> =
        d.lines.iter().enumerate().map(|(k, h)| h * weight(d.frequency_hz(k))).collect();
    let (moment, energy) = lines
        .iter()
        .enumerate()
        .fold((0.0, 0.0), |(m, e), (k, h)| (m + d.frequency_hz(k) * h.norm_sqr(), e + h.norm_sqr()));
    let centroid_hz = if energy > 0.0 { moment / energy } else { end_hz };
    let mut turned: Vec<Complex64> = lines.iter().map(|h| h * Complex64::new(0.0, -1.0)).collect();
    let h = inverse(&mut lines, d.length);
    let hilbert = inverse(&mut turned, d.length);
    let envelope: Vec<f64> = h.iter().zip(&hilbert).map(|(a, b)| a.hypot(*b)).collect();

    let index = |lag: i64| lag.rem_euclid(d.length as i64) as usize;
    let at = |lag: i64| envelope[index(lag)];
    let lags = || -(earliest as i64)..=(latest as i64);
    let top = lags().map(at).fold(0.0, f64::max);
    let mean_square = lags().map(|l| at(l).powi(2)).sum::<f64>() / (earliest + latest + 1) as f64;
    let contrast_db = if top > 0.0 { 10.0 * (top * top / mean_square).log10() } else { 0.0 };
    let first = lags()
        .find(|l| at(*l) >= FIRST_WITHIN * top && at(*l) >= at(l + 1) && at(*l) >= at(l - 1))
        .unwrap_or(0);
    // The weighted pulse is about two periods of the highest frequency wide.
    let near = (2.0 * d.rate.hz() / end_hz).ceil() as i64;
    let size = |lag: i64| whole[index(lag)].abs();
    let peak =
        (first - near..=first + near).fold(first, |best, l| if size(l) > size(best) { l } else { best });
    let (before, here, after) = (size(peak - 1), size(peak), size(peak + 1));
    let bend = before - 2.0 * here + after;
    let offset = if bend < 0.0 { (0.5 * (before - after) / bend).clamp(-0.5, 0.5) } else { 0.0 };

    let reach = (0.75 * d.rate.hz() / centroid_hz).ceil() as i64;
    let (mut push, mut pull) = (0.0_f64, 0.0_f64);
    for lag in first - reach..=first + reach {
        push = push.max(h[index(lag)]);
        pull = pull.max(-h[index(lag)]);
    }
    let polarity = if push > CLEAR * pull {
        HeardPolarity::Normal
    } else if pull > CLEAR * push {
        HeardPolarity::Reversed
    } else {
        HeardPolarity::Unclear
    };
    Located { lag: peak as f64 + offset, polarity, contrast_db }
}
