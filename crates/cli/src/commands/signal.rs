//! `loamline signal KIND --out FILE`

use crate::args::{SignalArguments, SignalKind};
use crate::failure::{Failure, Verdict};
use crate::output::{self, Format, whole_file};
use loamline_processing::{
    LineRhythm, NoiseSpec, PulseSpec, RhythmSpec, SampleRate, Sweep, SweepSpec, WavFormat, line_rhythm,
    pink_noise, polarity_pulse, write_wav,
};
use serde_json::json;
use std::io::BufWriter;

/// Silence before and after a sweep, seconds: noise is measured in it, and the last echoes die away.
const SILENCE_S: (f64, f64) = (1.0, 2.0);

pub fn run(arguments: &SignalArguments, format: Format) -> Result<Verdict, Failure> {
    let a = arguments;
    let sample_rate = SampleRate::new(a.rate).map_err(Failure::input)?;
    let (samples, what) = match a.kind {
        SignalKind::PinkNoise => {
            let spec = NoiseSpec {
                lowest_hz: a.from.unwrap_or(100.0),
                highest_hz: a.to.unwrap_or(10_000.0),
                length_s: a.length.unwrap_or(30.0),
                level_dbfs: a.level.unwrap_or(-20.0),
                sample_rate,
                seed: 1,
            };
            let what = format!("pink noise from {} Hz to {} Hz", spec.lowest_hz, spec.highest_hz);
            (pink_noise(&spec), what)
        }
        SignalKind::Sweep => {
            let usual = SweepSpec::default();
            let spec = SweepSpec {
                start_hz: a.from.unwrap_or(usual.start_hz),
                end_hz: a.to.unwrap_or(usual.end_hz),
                length_s: a.length.unwrap_or(usual.length_s),
                level_dbfs: a.level.unwrap_or(usual.level_dbfs),
            };
            let what = format!(
                "a sweep from {} Hz to {} Hz in {} s, with {} s of silence before and {} s after",
                spec.start_hz, spec.end_hz, spec.length_s, SILENCE_S.0, SILENCE_S.1
            );
            (Sweep::new(spec).and_then(|s| s.with_silence(sample_rate, SILENCE_S.0, SILENCE_S.1)), what)
        }
        SignalKind::PolarityPulse => {
            let spec = PulseSpec {
                push_s: 5e-4,
                every_s: 0.5,
                count: (a.length.unwrap_or(10.0) / 0.5).round().max(1.0) as u32,
                level_dbfs: a.level.unwrap_or(-12.0),
                sample_rate,
            };
            (polarity_pulse(&spec), format!("{} pulses that push first, 0.5 s apart", spec.count))
        }
        SignalKind::LineRhythm => {
            let spec = RhythmSpec {
                line: a.line,
                tone_hz: a.from.unwrap_or(800.0),
                repeats: 10,
                level_dbfs: a.level.unwrap_or(-30.0),
                sample_rate,
            };
            let rhythm = LineRhythm::of(a.line).in_words();
            (line_rhythm(&spec), format!("the rhythm of line number {}: {rhythm}, 10 times over", a.line))
        }
    };
    let samples = samples.map_err(Failure::input)?;
    whole_file(&a.out, |file| {
        write_wav(BufWriter::new(file), &samples, sample_rate, WavFormat::Whole24).map_err(Failure::input)
    })?;
    let length_s = samples.len() as f64 / sample_rate.hz();
    if format.json {
        output::json(
            &json!({ "file": a.out, "what": what, "length_s": length_s, "sample_rate_hz": sample_rate.hz() }),
        )?;
    } else {
        output::data(&format!(
            "{}: {what}; {length_s} s at {} Hz, 24 bit.\n",
            a.out.display(),
            sample_rate.hz(),
            length_s = loamline_terms::fixed(length_s, 2)
        ))?;
    }
    Ok(Verdict::Fine)
}
