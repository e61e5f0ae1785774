//! WAV in and out over any reader or writer.
//!
//! Reads 16-, 24- and 32-bit whole numbers and 32-bit floating point at any rate; the analysis decides which rates
//! it takes. Writes 24-bit whole numbers (test signals; impulse responses up to full scale) or 32-bit floating
//! point (impulse responses of any size).

use crate::filters::SampleRate;
use hound::{SampleFormat, WavReader, WavSpec, WavWriter};
use loamline_limits::{Exceeded, RECORDING_SAMPLES};
use std::io::{Read, Seek, Write};

/// Why a WAV file cannot be read or written.
#[derive(Debug, thiserror::Error)]
pub enum WavError {
    /// The reader met something that is not a complete WAV file.
    #[error("this is not a WAV file that can be read: {0}; export the recording again as uncompressed WAV")]
    Unreadable(String),
    /// A sample format that the analysis does not take.
    #[error(
        "the recording has {bits} bits per sample ({format}): 16, 24 or 32 bits as whole numbers, or 32 bits as \
         floating point, are understood; export it again in one of these"
    )]
    Format {
        /// Bits per sample.
        bits: u16,
        /// "whole numbers" or "floating point".
        format: &'static str,
    },
    /// More channels than one microphone and one loop-back.
    #[error(
        "the recording has {channels} channels: one (the microphone) or two (the microphone left, the loop-back \
         right) are understood"
    )]
    Channels {
        /// Channels in the file.
        channels: u16,
    },
    /// Longer than is looked at.
    #[error(transparent)]
    TooLong(#[from] Exceeded),
    /// A sample rate no recorder uses.
    #[error(transparent)]
    Rate(#[from] crate::filters::SettingError),
    /// The writer failed.
    #[error("the WAV file could not be written: {0}")]
    Unwritable(String),
    /// A sample that does not fit the format.
    #[error(
        "sample number {index} is {value}: 24-bit WAV holds values from -1 to 1; lower the level or write floating \
         point"
    )]
    DoesNotFit {
        /// Index of the sample.
        index: usize,
        /// Its value.
        value: f64,
    },
}

/// What a recording holds, full scale being one.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// Sample rate stated by the file.
    pub sample_rate: SampleRate,
    /// The microphone.
    pub microphone: Vec<f64>,
    /// The loop-back from the player's output, if the recording has a second channel.
    pub loop_back: Option<Vec<f64>>,
}

/// How samples are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WavFormat {
    /// 24-bit whole numbers; values from -1 to 1.
    Whole24,
    /// 32-bit floating point; any finite value.
    Float32,
}

/// Reads a mono or stereo recording: the microphone is the first (left) channel, a loop-back the second (right).
///
/// # Errors
/// Not a WAV file, another sample format, more than two channels, more samples than are looked at.
pub fn read_recording(reader: impl Read) -> Result<Recording, WavError> {
    let unreadable = |e: hound::Error| WavError::Unreadable(e.to_string());
    let mut wav = WavReader::new(reader).map_err(unreadable)?;
    let spec = wav.spec();
    let sample_rate = SampleRate::new(f64::from(spec.sample_rate))?;
    if !(1..=2).contains(&spec.channels) {
        return Err(WavError::Channels { channels: spec.channels });
    }
    RECORDING_SAMPLES.check_u64(wav.len().into())?;
    let samples: Vec<f64> = match (spec.sample_format, spec.bits_per_sample) {
        (SampleFormat::Int, bits @ (16 | 24 | 32)) => {
            let scale = 1.0 / f64::from(2_u32.pow(u32::from(bits) - 1));
            wav.samples::<i32>()
                .map(|s| s.map(|v| f64::from(v) * scale))
                .collect::<Result<_, _>>()
                .map_err(unreadable)?
        }
        (SampleFormat::Float, 32) => {
            wav.samples::<f32>().map(|s| s.map(f64::from)).collect::<Result<_, _>>().map_err(unreadable)?
        }
        (format, bits) => {
            let format = if format == SampleFormat::Int { "whole numbers" } else { "floating point" };
            return Err(WavError::Format { bits, format });
        }
    };
    if spec.channels == 1 {
        return Ok(Recording { sample_rate, microphone: samples, loop_back: None });
    }
    let channel = |offset: usize| samples.iter().skip(offset).step_by(2).copied().collect();
    Ok(Recording { sample_rate, microphone: channel(0), loop_back: Some(channel(1)) })
}

/// Writes one channel of samples.
///
/// # Errors
/// A value that does not fit the format, or a writer that fails.
pub fn write_wav(
    writer: impl Write + Seek,
    samples: &[f64],
    sample_rate: SampleRate,
    format: WavFormat,
) -> Result<(), WavError> {
    let unwritable = |e: hound::Error| WavError::Unwritable(e.to_string());
    let limit = match format {
        WavFormat::Whole24 => 1.0,
        WavFormat::Float32 => f64::from(f32::MAX),
    };
    if let Some(index) = samples.iter().position(|v| !(-limit..=limit).contains(v)) {
        return Err(WavError::DoesNotFit { index, value: samples[index] });
    }
    let (bits_per_sample, sample_format) = match format {
        WavFormat::Whole24 => (24, SampleFormat::Int),
        WavFormat::Float32 => (32, SampleFormat::Float),
    };
    let sample_rate = sample_rate.hz().round() as u32;
    let spec = WavSpec { channels: 1, sample_rate, bits_per_sample, sample_format };
    let mut wav = WavWriter::new(writer, spec).map_err(unwritable)?;
    for sample in samples {
        match format {
            WavFormat::Whole24 => wav.write_sample((sample * 8_388_607.0).round() as i32),
            WavFormat::Float32 => wav.write_sample(*sample as f32),
        }
        .map_err(unwritable)?;
    }
    wav.finalize().map_err(unwritable)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    #[test]
    fn what_is_written_is_read_back() {
        let samples = [0.0, 0.5, -1.0, 1.0, 1e-6];
        for (format, exact) in [(WavFormat::Whole24, 2e-7), (WavFormat::Float32, 1e-7)] {
            let mut bytes = Cursor::new(Vec::new());
            write_wav(&mut bytes, &samples, SampleRate::R44_1K, format).unwrap();
            let back = read_recording(bytes.get_ref().as_slice()).unwrap();
            assert_eq!(back.sample_rate, SampleRate::R44_1K);
            assert!(back.loop_back.is_none());
            assert!(back.microphone.iter().zip(samples).all(|(a, b)| (a - b).abs() < exact));
        }
    }

    #[test]
    fn stereo_is_microphone_and_loop_back() {
        for bits in [16, 24, 32] {
            let spec = WavSpec {
                channels: 2,
                sample_rate: 96_000,
                bits_per_sample: bits,
                sample_format: SampleFormat::Int,
            };
            let mut bytes = Cursor::new(Vec::new());
            let mut wav = WavWriter::new(&mut bytes, spec).unwrap();
            for _ in 0..3 {
                wav.write_sample(1_i32 << (bits - 2)).unwrap();
                wav.write_sample(-(1_i32 << (bits - 3))).unwrap();
            }
            wav.finalize().unwrap();
            let back = read_recording(bytes.get_ref().as_slice()).unwrap();
            assert_eq!(back.microphone, [0.5; 3]);
            assert_eq!(back.loop_back.unwrap(), [-0.25; 3]);
        }
    }

    #[test]
    fn a_recording_of_half_an_hour_is_refused_before_it_is_read() {
        let mut bytes = Cursor::new(Vec::new());
        write_wav(&mut bytes, &[0.0; 4], SampleRate::R48K, WavFormat::Float32).unwrap();
        let mut bytes = bytes.into_inner();
        // The length of the samples stands in front of them: four of four bytes. Half an hour of one channel is stated.
        let at = bytes.len() - 16 - 4;
        bytes[at..at + 4].copy_from_slice(&(4 * 48_000 * 1800_u32).to_le_bytes());
        let error = read_recording(bytes.as_slice()).unwrap_err().to_string();
        assert!(error.contains("86 400 000 samples") && error.contains("8 000 000"), "{error}");
    }

    #[test]
    fn refusals_say_what_to_export() {
        assert!(matches!(read_recording([1_u8, 2, 3].as_slice()), Err(WavError::Unreadable(_))));
        let spec = WavSpec {
            channels: 1,
            sample_rate: 48_000,
            bits_per_sample: 8,
            sample_format: SampleFormat::Int,
        };
        let mut bytes = Cursor::new(Vec::new());
        let mut wav = WavWriter::new(&mut bytes, spec).unwrap();
        wav.write_sample(1_i8).unwrap();
        wav.finalize().unwrap();
        let error = read_recording(bytes.get_ref().as_slice()).unwrap_err().to_string();
        assert!(error.contains("8 bits per sample (whole numbers)"), "{error}");
        let loud = write_wav(Cursor::new(Vec::new()), &[0.0, 1.5], SampleRate::R48K, WavFormat::Whole24);
        assert!(matches!(loud, Err(WavError::DoesNotFit { index: 1, .. })));
    }
}
