//! What `loamline signal` and `loamline listen` ask.

use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// The test signals.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum SignalKind {
    /// Noise with the same energy in every third octave.
    PinkNoise,
    /// Exponential sweep with silence around it, for `listen`.
    Sweep,
    /// Pulses that push first: a cone that pulls first is wired the wrong way round.
    PolarityPulse,
    /// Tones in a rhythm of their own for every line.
    LineRhythm,
}

/// Arguments of `signal`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline signal sweep --from 60 --out sweep.wav\n  \
    loamline signal line-rhythm --line 3 --out line-3.wav\n  \
    loamline signal pink-noise --from 100 --to 10000 --length 60 --level -26 --out noise.wav")]
pub struct SignalArguments {
    /// Which signal.
    #[arg(value_enum)]
    pub kind: SignalKind,
    /// The WAV file to write.
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// Sample rate, Hz.
    #[arg(long, value_name = "HZ", default_value_t = 48_000.0)]
    pub rate: f64,
    /// Length, s (noise 30, sweep 8, pulses 10 unless given; a rhythm is played 10 times).
    #[arg(long, value_name = "S")]
    pub length: Option<f64>,
    /// Level, dB re full scale (noise -20 RMS, sweep -12, pulses -12, rhythm -30 unless given).
    #[arg(long, value_name = "DB", allow_negative_numbers = true)]
    pub level: Option<f64>,
    /// Lowest frequency, Hz, or the tone of a rhythm (noise 100, sweep 40, rhythm 800 unless given).
    #[arg(long, value_name = "HZ")]
    pub from: Option<f64>,
    /// Highest frequency, Hz (noise 10000, sweep 20000 unless given).
    #[arg(long, value_name = "HZ")]
    pub to: Option<f64>,
    /// Number of the line whose rhythm is wanted.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub line: u32,
}

/// Arguments of `listen`.
#[derive(Debug, Args)]
#[command(after_help = "The sweep's values must be those it was made with.\n\nExamples:\n  \
    loamline listen terrace.wav\n  \
    loamline listen terrace.wav --from 60 --calibration 112.4\n  \
    loamline listen terrace.wav --job examples/guesthouse-garden --at terrace --channel P1-1 --calibration 112.4")]
pub struct ListenArguments {
    /// WAV file: microphone on the first (left) channel, loop-back, if any, on the second.
    #[arg(value_name = "WAV")]
    pub recording: PathBuf,
    /// First frequency of the sweep, Hz.
    #[arg(long, value_name = "HZ", default_value_t = 40.0)]
    pub from: f64,
    /// Last frequency of the sweep, Hz.
    #[arg(long, value_name = "HZ", default_value_t = 20_000.0)]
    pub to: f64,
    /// Length of the sweep itself, s.
    #[arg(long, value_name = "S", default_value_t = 8.0)]
    pub length: f64,
    /// Level of the sweep, dB re full scale.
    #[arg(long, value_name = "DB", default_value_t = -12.0, allow_negative_numbers = true)]
    pub level: f64,
    /// Sound pressure level of a full-scale sine at the microphone, dB.
    #[arg(long, value_name = "DB")]
    pub calibration: Option<f64>,
    /// Predicted levels of a steady sine at the sweep's drive, dB: 31 third octaves from 20 Hz to 20 kHz.
    #[arg(
        long,
        value_name = "DB,...",
        value_delimiter = ',',
        requires = "calibration",
        allow_negative_numbers = true,
        conflicts_with = "job"
    )]
    pub predicted: Vec<f64>,
    /// The job's folder: what is heard is held against what the job predicts at a place.
    #[arg(long, value_name = "DIR", requires = "at")]
    pub job: Option<PathBuf>,
    /// Where the microphone stands: x,y from the datum, an area (its middle) or a mark.
    #[arg(long, value_name = "PLACE", requires = "job", allow_hyphen_values = true)]
    pub at: Option<String>,
    /// Height of the microphone above the ground; ear height of the area, or 1.6 m, when not given.
    #[arg(long, value_name = "HEIGHT", requires = "job")]
    pub height: Option<String>,
    /// Channels that play the sweep; all when neither these nor loudspeakers are given.
    #[arg(long, value_name = "ID,...", value_delimiter = ',', requires = "job")]
    pub channel: Vec<String>,
    /// Loudspeakers that play the sweep.
    #[arg(long, value_name = "TAG,...", value_delimiter = ',', requires = "job")]
    pub loudspeakers: Vec<String>,
}
