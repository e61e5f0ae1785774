//! Response, level and signal-to-noise ratio per third octave (IEC 61260-1, base ten: 20 Hz to 20 kHz, 31 bands).
//!
//! A band's response is the mean of |H|^2 over its width in logarithmic frequency, which is what pink noise would
//! show. Noise is measured on a stretch of the deconvolved recording in which nothing arrives, scaled to the length
//! of the response's window.

use super::deconvolve::fast_length;
use crate::filters::SampleRate;
use num_complex::Complex64;
use realfft::RealFftPlanner;
use serde::{Deserialize, Serialize};

/// Centres of the 31 bands, Hz: 1000 * 10^(n/10), n = -17 to 13.
pub(super) fn centres_hz() -> [f64; 31] {
    std::array::from_fn(|i| 1_000.0 * 10_f64.powf((i as f64 - 17.0) / 10.0))
}

/// One third octave.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BandResponse {
    /// Centre, Hz.
    pub frequency_hz: f64,
    /// Recorded over played, dB.
    pub gain_db: f64,
    /// Level of the sweep in the recording in this band, dB re a full-scale sine.
    pub level_dbfs: f64,
    /// Sound pressure level, dB re 20 uPa, when a calibration was given.
    pub level_db: Option<f64>,
    /// Signal over noise, dB; none when the recording has no quiet stretch to measure noise in.
    pub signal_to_noise_db: Option<f64>,
}

impl BandResponse {
    /// Whether noise changes this band's level by less than about half a decibel (10 dB of signal over noise). A
    /// band whose noise is unknown is not counted.
    pub fn is_trustworthy(&self) -> bool {
        self.signal_to_noise_db.is_some_and(|s| s >= 10.0)
    }
}

/// How a measured level agrees with a predicted one. The limits are common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Agreement {
    /// Within 3 dB: what weather, ground and a microphone put up by hand leave open.
    AsPredicted,
    /// Within 6 dB: worth measuring again a step aside.
    Near,
    /// Farther off: something is not as in the job.
    Off,
}

impl Agreement {
    /// The agreement for a difference, dB either way.
    pub fn of(difference_db: f64) -> Self {
        match difference_db.abs() {
            d if d <= 3.0 => Self::AsPredicted,
            d if d <= 6.0 => Self::Near,
            _ => Self::Off,
        }
    }

    /// In words, for a table.
    pub const fn words(self) -> &'static str {
        match self {
            Self::AsPredicted => "as predicted",
            Self::Near => "near",
            Self::Off => "OFF",
        }
    }
}

/// A band predicted this far below the loudest is not compared, dB: what is there comes from elsewhere.
const COMPARED_WITHIN_DB: f64 = 30.0;

/// Measured against predicted, over the trustworthy bands in which something is predicted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// Measured less predicted per band of the response, dB; none where the band is not trustworthy or lies far below the
    /// loudest.
    pub difference_db: Vec<Option<f64>>,
    /// Their mean, dB.
    pub mean_db: f64,
    /// Their standard deviation, dB.
    pub spread_db: f64,
    /// How many bands were compared.
    pub bands: usize,
    /// What their mean says.
    pub agreement: Agreement,
}

impl Comparison {
    /// Compares `bands` with `predicted_db`, the 31 predicted levels; none without a single trustworthy band with a
    /// sound pressure level.
    pub(super) fn of(bands: &[BandResponse], predicted_db: &[f64]) -> Option<Self> {
        let centres = centres_hz();
        let floor_db = predicted_db.iter().copied().fold(f64::MIN, f64::max) - COMPARED_WITHIN_DB;
        let difference_db: Vec<Option<f64>> = bands
            .iter()
            .map(|b| {
                let place = centres.iter().position(|c| (c / b.frequency_hz - 1.0).abs() < 1e-6)?;
                let (level, predicted) = (b.level_db?, predicted_db.get(place)?);
                (b.is_trustworthy() && *predicted > floor_db).then_some(level - predicted)
            })
            .collect();
        let known: Vec<f64> = difference_db.iter().flatten().copied().collect();
        if known.is_empty() {
            return None;
        }
        let n = known.len() as f64;
        let mean_db = known.iter().sum::<f64>() / n;
        let spread_db = (known.iter().map(|d| (d - mean_db).powi(2)).sum::<f64>() / n).sqrt();
        Some(Self {
            difference_db,
            mean_db,
            spread_db,
            bands: known.len(),
            agreement: Agreement::of(mean_db),
        })
    }
}

/// Mean of |H|^2 in each band that lies wholly between `start_hz` and `end_hz`: (centre, mean).
pub(super) fn band_means(samples: &[f64], rate: SampleRate, start_hz: f64, end_hz: f64) -> Vec<(f64, f64)> {
    // At least two seconds, so that the narrowest band (4.6 Hz) holds several lines.
    let length = fast_length(samples.len().max((2.0 * rate.hz()) as usize));
    let fft = RealFftPlanner::<f64>::new().plan_fft_forward(length);
    let mut padded = samples.to_vec();
    padded.resize(length, 0.0);
    let mut lines: Vec<Complex64> = fft.make_output_vec();
    // The buffers are the plan's own size, so the transform has nothing to refuse.
    let _ = fft.process(&mut padded, &mut lines);
    let step = rate.hz() / length as f64;
    let half = 10_f64.powf(0.05);
    centres_hz()
        .into_iter()
        .filter(|c| c / half >= start_hz * 0.999 && c * half <= end_hz * 1.001)
        .map(|c| {
            let (from, to) = ((c / half / step).ceil() as usize, (c * half / step).floor() as usize);
            let band = lines.iter().enumerate().take(to + 1).skip(from);
            let (sum, weight) =
                band.fold((0.0, 0.0), |(s, w), (k, h)| (s + h.norm_sqr() / k as f64, w + 1.0 / k as f64));
            (c, sum / weight.max(f64::MIN_POSITIVE))
        })
        .collect()
}
