//! The whole analysis of a recorded sweep.
//!
//! The recording is divided by the sweep as generated (Farina 2000), which gives the impulse response from the
//! player to the recorder. With a loop-back channel, arrival and polarity are relative to the loop-back, so they are
//! those of the path through the air (plus whatever delay lies between player and loudspeaker); without one, the
//! arrival counts from the start of the recording and tells distance only by comparison. Levels are those of the
//! microphone channel in either case. Player and recorder must run on one clock, or close: 50 parts per million
//! smear the highest octave of an 8 s sweep by 0.4 ms.

use super::arrival::{HeardPolarity, Located, locate};
use super::bands::{BandResponse, Comparison, band_means, centres_hz};
use super::clipping::refuse_clipped;
use super::deconvolve::deconvolve;
use super::refusal::ListenError;
use crate::filters::{SampleRate, SettingError};
use crate::signals::Sweep;
use crate::wav::Recording;
use serde::{Deserialize, Serialize};
use std::f64::consts::LN_2;

/// What is known besides the recording.
#[derive(Debug, Clone, PartialEq)]
pub struct ListenSettings {
    /// Sound pressure level of a full-scale sine at the microphone, dB re 20 uPa: the calibration value.
    pub full_scale_db: Option<f64>,
    /// Predicted level of a steady sine at the sweep's drive, dB re 20 uPa, for the 31 third octaves from 20 Hz to
    /// 20 kHz. Compared when a calibration is given as well.
    pub predicted_db: Option<Vec<f64>>,
    /// How much of the response after the arrival is taken, s, from 0.02 to 5. Short leaves reflections out and
    /// blurs the lowest bands; long lets noise in.
    pub window_s: f64,
}

impl Default for ListenSettings {
    /// No calibration, no prediction, half a second.
    fn default() -> Self {
        Self { full_scale_db: None, predicted_db: None, window_s: 0.5 }
    }
}

/// What the recording says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Listening {
    /// Sample rate, Hz.
    pub sample_rate_hz: f64,
    /// Arrival of the first sound, s: after the loop-back if there is one, else after the start of the recording.
    pub arrival_s: f64,
    /// Whether the arrival is relative to a loop-back.
    pub relative_to_loop_back: bool,
    /// Polarity of the first arrival.
    pub polarity: HeardPolarity,
    /// Energy mean of the levels of all bands, dB re a full-scale sine.
    pub level_dbfs: f64,
    /// The same as a sound pressure level, dB re 20 uPa, when a calibration was given.
    pub level_db: Option<f64>,
    /// Third octaves that lie wholly in the sweep's range.
    pub bands: Vec<BandResponse>,
    /// Measured against predicted.
    pub comparison: Option<Comparison>,
    /// How far the response stands above the rest of the recording, dB.
    pub contrast_db: f64,
    /// Impulse response at the recording's rate (recorded over played).
    pub impulse_response: Vec<f64>,
    /// Index of the arrival in the impulse response.
    pub impulse_arrival: usize,
}

/// Lowest peak of a recording that is taken, dB re full scale: 5 bits of a 16-bit converter.
const NEEDED_DBFS: f64 = -60.0;
/// Contrast a sweep must have, dB. Noise reaches about 15 dB (the highest of a million samples), a wrong sweep less.
const NEEDED_CONTRAST_DB: f64 = 20.0;
/// Most of the response kept ahead of the arrival, s; what is there is the ringing of the lowest bands.
const AHEAD_S: f64 = 0.1;
/// Missing ends up to this are within the sweep's own fade, s.
const FADE_S: f64 = 0.01;

/// Analyses a recording of `sweep`.
///
/// # Errors
/// A recording that proves nothing: clipped, too quiet, too short, cut off, at a wrong rate, without the sweep.
pub fn analyse(
    recording: &Recording,
    sweep: &Sweep,
    settings: &ListenSettings,
) -> Result<Listening, ListenError> {
    let window_s = SettingError::check("the window", " s", settings.window_s, 0.02, 5.0)?;
    if let Some(full_scale) = settings.full_scale_db {
        SettingError::check("the calibration value", " dB", full_scale, 0.0, 250.0)?;
    }
    if let Some(found) = settings.predicted_db.as_ref().map(Vec::len).filter(|n| *n != centres_hz().len()) {
        return Err(ListenError::Prediction { found, expected: centres_hz().len() });
    }
    let rate = recording.sample_rate;
    if !rate.is_common() {
        return Err(ListenError::RateNotTaken { sample_rate_hz: rate.hz() });
    }
    let reference = sweep.samples(rate)?;
    let heard = channel("microphone", &recording.microphone, &reference, sweep, rate)?;
    let (mut arrival, mut polarity) = (heard.first.lag, heard.first.polarity);
    if let Some(loop_back) = &recording.loop_back {
        if loop_back.len() != recording.microphone.len() {
            let microphone = recording.microphone.len();
            return Err(ListenError::UnequalChannels { microphone, loop_back: loop_back.len() });
        }
        let electrical = channel("loop-back", loop_back, &reference, sweep, rate)?;
        arrival -= electrical.first.lag;
        polarity = polarity.relative_to(electrical.first.polarity);
    }
    let response =
        Response::cut(&heard, sweep, rate, (recording.microphone.len(), reference.len()), window_s);
    let bands = response.bands(sweep, settings.full_scale_db);
    let mean =
        bands.iter().map(|b| 10_f64.powf(b.level_dbfs / 10.0)).sum::<f64>() / bands.len().max(1) as f64;
    let level_dbfs = 10.0 * mean.max(1e-30).log10();
    Ok(Listening {
        sample_rate_hz: rate.hz(),
        arrival_s: arrival / rate.hz(),
        relative_to_loop_back: recording.loop_back.is_some(),
        polarity,
        level_dbfs,
        level_db: settings.full_scale_db.map(|c| c + level_dbfs),
        comparison: settings.predicted_db.as_ref().and_then(|p| Comparison::of(&bands, p)),
        bands,
        contrast_db: heard.first.contrast_db,
        impulse_response: response.impulse,
        impulse_arrival: response.arrival,
    })
}

struct FoundSweep {
    /// Impulse response, negative times at its end.
    whole: Vec<f64>,
    first: Located,
}

/// Checks one channel and finds the sweep in it.
fn channel(
    name: &'static str,
    samples: &[f64],
    reference: &[f64],
    sweep: &Sweep,
    rate: SampleRate,
) -> Result<FoundSweep, ListenError> {
    let spec = sweep.spec();
    if samples.len() < reference.len() {
        let (recorded_s, needed_s) = (samples.len() as f64 / rate.hz(), reference.len() as f64 / rate.hz());
        return Err(ListenError::TooShort { recorded_s, needed_s });
    }
    if let Some(index) = samples.iter().position(|x| !x.is_finite()) {
        return Err(ListenError::NotANumber { channel: name, index });
    }
    let peak = samples.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
    let peak_dbfs = 20.0 * peak.max(1e-15).log10();
    if peak_dbfs < NEEDED_DBFS {
        return Err(ListenError::TooQuiet { channel: name, peak_dbfs, needed_dbfs: NEEDED_DBFS });
    }
    refuse_clipped(name, samples, rate, peak)?;
    let find = |reference: &[f64], speed: f64| -> Result<FoundSweep, ListenError> {
        let (start, end) = (spec.start_hz * speed, spec.end_hz * speed);
        let deconvolved = deconvolve(samples, reference, rate, start, end)?;
        let whole = deconvolved.impulse();
        let first = locate(&deconvolved, &whole, (start, end), reference.len() - 1, samples.len() - 1);
        Ok(FoundSweep { whole, first })
    };
    let heard = find(reference, 1.0)?;
    if heard.first.contrast_db < NEEDED_CONTRAST_DB {
        for other in SampleRate::COMMON {
            let speed = rate.hz() / other.hz();
            if (speed - 1.0).abs() < 1e-3 || spec.end_hz * speed > 0.49 * rate.hz() {
                continue;
            }
            let stretched = sweep.samples_stretched(rate, speed);
            if find(&stretched, speed)?.first.contrast_db >= NEEDED_CONTRAST_DB {
                return Err(ListenError::WrongRate { stated_hz: rate.hz(), likely_hz: other.hz(), speed });
            }
        }
        return Err(ListenError::NotTheSweep {
            found_db: heard.first.contrast_db,
            needed_db: NEEDED_CONTRAST_DB,
            start_hz: spec.start_hz,
            end_hz: spec.end_hz,
            length_s: spec.length_s,
        });
    }
    let starts_s = heard.first.lag / rate.hz();
    if starts_s < -FADE_S {
        return Err(ListenError::StartsEarly { missing_s: -starts_s });
    }
    let missing_s = starts_s + (reference.len() as f64 - samples.len() as f64) / rate.hz();
    if missing_s > FADE_S {
        return Err(ListenError::CutOff { starts_s, missing_s });
    }
    Ok(heard)
}

/// The response cut out around its arrival, and a stretch of nothing but noise.
struct Response {
    impulse: Vec<f64>,
    arrival: usize,
    noise: Vec<f64>,
    rate: SampleRate,
}

impl Response {
    fn cut(
        heard: &FoundSweep,
        sweep: &Sweep,
        rate: SampleRate,
        (recorded, swept): (usize, usize),
        window_s: f64,
    ) -> Self {
        let spec = sweep.spec();
        // Half way to the second harmonic, which stands L ln 2 ahead of the response.
        let harmonic_s = spec.length_s / (spec.end_hz / spec.start_hz).ln() * LN_2;
        let count = |seconds: f64| (seconds * rate.hz()).round() as usize;
        let ahead = count(AHEAD_S.min(0.5 * harmonic_s));
        let after = count(window_s);
        let at = heard.first.lag.round() as i64;
        let whole = &heard.whole;
        let take = |from: i64, n: usize| -> Vec<f64> {
            (from..from + n as i64).map(|l| whole[l.rem_euclid(whole.len() as i64) as usize]).collect()
        };
        let mut impulse = take(at - ahead as i64, ahead + after);
        // Ease in over the first half of what stands ahead, out over the last tenth.
        let (rise, fall, n) = (ahead / 2, after / 10, impulse.len());
        for (i, x) in impulse.iter_mut().enumerate() {
            *x *= smooth(i, rise) * smooth(n - 1 - i, fall);
        }
        // Lags up to the last at which the whole sweep still fits carry noise at full strength.
        let last = recorded.saturating_sub(swept) as i64;
        let behind = (at + after as i64, last);
        // Ahead of the arrival, harmonics count as noise.
        let before = (0, at - 2 * ahead as i64);
        let enough = count(0.05) as i64;
        let (from, to) = if behind.1 - behind.0 >= enough { behind } else { before };
        let noise = if to - from >= enough { take(from, (to - from) as usize) } else { Vec::new() };
        Self { impulse, arrival: ahead, noise, rate }
    }

    fn bands(&self, sweep: &Sweep, full_scale_db: Option<f64>) -> Vec<BandResponse> {
        let spec = sweep.spec();
        let means = |samples: &[f64]| band_means(samples, self.rate, spec.start_hz, spec.end_hz);
        let share = self.impulse.len() as f64 / self.noise.len().max(1) as f64;
        let noise: Vec<Option<f64>> = if self.noise.is_empty() {
            vec![None; centres_hz().len()]
        } else {
            means(&self.noise).into_iter().map(|(_, m)| Some(m * share)).collect()
        };
        means(&self.impulse)
            .into_iter()
            .zip(noise)
            .map(|((frequency_hz, mean), noise)| {
                let gain_db = 10.0 * mean.max(1e-30).log10();
                let level_dbfs = gain_db + spec.level_dbfs;
                BandResponse {
                    frequency_hz,
                    gain_db,
                    level_dbfs,
                    level_db: full_scale_db.map(|c| c + level_dbfs),
                    signal_to_noise_db: noise
                        .map(|n| 10.0 * (mean / n.max(1e-30) - 1.0).clamp(0.01, 1e15).log10()),
                }
            })
            .collect()
    }
}

/// A raised-cosine ease of `length` samples.
fn smooth(index: usize, length: usize) -> f64 {
    if index >= length {
        1.0
    } else {
        0.5 - 0.5 * (std::f64::consts::PI * index as f64 / length as f64).cos()
    }
}
