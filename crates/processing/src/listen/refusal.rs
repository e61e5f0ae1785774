//! Why a recording proves nothing, and what to do about it.

use crate::filters::SettingError;
use crate::signals::SignalError;

/// A recording that is refused. Every message says how to record it again.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ListenError {
    /// The input of the recorder was overdriven.
    #[error(
        "the {channel} is clipped: {samples} samples are flat at {level_dbfs:.1} dB re full scale, first at \
         {first_s:.3} s; lower the recording gain by 6 dB and record again"
    )]
    Clipped {
        /// "microphone" or "loop-back".
        channel: &'static str,
        /// Samples in flat tops.
        samples: usize,
        /// Level of the flat tops, dB re full scale.
        level_dbfs: f64,
        /// Time of the first, s.
        first_s: f64,
    },
    /// Hardly anything was recorded.
    #[error(
        "the {channel} is too quiet: its peak is {peak_dbfs:.1} dB re full scale and {needed_dbfs:.0} is needed; \
         raise the recording gain, or check that the right input is recorded"
    )]
    TooQuiet {
        /// "microphone" or "loop-back".
        channel: &'static str,
        /// Highest sample, dB re full scale.
        peak_dbfs: f64,
        /// Lowest peak that is taken, dB re full scale.
        needed_dbfs: f64,
    },
    /// The sweep is not in the recording.
    #[error(
        "the sweep was not found: its response stands {found_db:.1} dB above the rest and {needed_db:.0} dB is needed; \
         check that the sweep played has the same start, end and length as the one given here ({start_hz:.0} Hz to \
         {end_hz:.0} Hz in {length_s} s), then play it louder or wait for quiet"
    )]
    NotTheSweep {
        /// Peak of the response over its RMS value, dB.
        found_db: f64,
        /// What is needed, dB.
        needed_db: f64,
        /// First frequency of the sweep given, Hz.
        start_hz: f64,
        /// Last frequency, Hz.
        end_hz: f64,
        /// Length, s.
        length_s: f64,
    },
    /// The recording ends before the sweep could.
    #[error(
        "the recording is {recorded_s:.2} s long and the sweep needs {needed_s:.2} s: record from before the sweep until \
         at least a second after it"
    )]
    TooShort {
        /// Length recorded, s.
        recorded_s: f64,
        /// Shortest length that could hold it, s.
        needed_s: f64,
    },
    /// The sweep starts too late in the recording to be complete.
    #[error(
        "the sweep begins at {starts_s:.2} s and the recording stops {missing_s:.2} s before it ends: keep recording \
         until at least a second after the sweep"
    )]
    CutOff {
        /// Where the sweep starts, s.
        starts_s: f64,
        /// How much is missing, s.
        missing_s: f64,
    },
    /// The sweep began before the recording did.
    #[error(
        "the sweep began {missing_s:.2} s before the recording: start the recorder first, wait a second, then play the \
         sweep"
    )]
    StartsEarly {
        /// How much is missing, s.
        missing_s: f64,
    },
    /// A rate that is not 44.1, 48 or 96 kHz.
    #[error(
        "the recording is at {sample_rate_hz:.0} Hz: 44100, 48000 and 96000 Hz are understood; record again at one of \
         these rather than converting"
    )]
    RateNotTaken {
        /// The rate of the recording, Hz.
        sample_rate_hz: f64,
    },
    /// The sweep is there, but runs at another speed: the rate of the file or of the player is wrong.
    #[error(
        "the sweep in the recording runs {speed:.4} times as fast as it should: the file says {stated_hz:.0} Hz but was \
         made at {likely_hz:.0} Hz, or the player changed the rate; set player and recorder to the same rate and record \
         again"
    )]
    WrongRate {
        /// Rate stated by the recording, Hz.
        stated_hz: f64,
        /// Rate at which the sweep fits, Hz.
        likely_hz: f64,
        /// Speed found over speed expected.
        speed: f64,
    },
    /// A sample is not a number.
    #[error("sample number {index} of the {channel} is not a number: the file is damaged; export it again")]
    NotANumber {
        /// "microphone" or "loop-back".
        channel: &'static str,
        /// Index of the sample.
        index: usize,
    },
    /// The two channels differ in length.
    #[error(
        "the microphone has {microphone} samples and the loop-back {loop_back}: export both from the same recording"
    )]
    UnequalChannels {
        /// Samples of the microphone.
        microphone: usize,
        /// Samples of the loop-back.
        loop_back: usize,
    },
    /// The prediction does not fit the bands.
    #[error(
        "the prediction has {found} bands: {expected} are needed, one per third octave from 20 Hz to 20 kHz"
    )]
    Prediction {
        /// Bands given.
        found: usize,
        /// Bands needed.
        expected: usize,
    },
    /// The sweep cannot be made at the recording's rate.
    #[error(transparent)]
    Signal(#[from] SignalError),
    /// A setting is out of range.
    #[error(transparent)]
    Setting(#[from] SettingError),
}
