//! What a competent installer would stop at, as values with their numbers, a sentence each, and what would mend it.

use std::fmt;

use loamline_terms::{Band, Severity};
use serde::Serialize;

use crate::line::Surroundings;

/// Something about a line or channel that wants attention.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(tag = "kind", rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant's document names its numbers; the fields repeat their units")]
pub enum ElectricalFinding {
    /// The taps on a channel ask for more than its share: W asked, W rated, asked/rated, share allowed.
    ChannelOverShare { channel: String, counted_w: f64, rated_w: f64, used_fraction: f64, share: f64 },
    /// The load on a channel falls below its minimum: ohm at Hz, minimum in ohm.
    ImpedanceBelowMinimum { channel: String, impedance_ohm: f64, frequency_hz: f64, minimum_ohm: f64 },
    /// The line needs more voltage than the channel gives: V RMS.
    VoltageShort { channel: String, line: String, needed_v: f64, available_v: f64 },
    /// The maker requires a high-pass: Hz required and Hz set, if any.
    HighPassMissing { channel: String, required_hz: f64, set_hz: Option<f64> },
    /// A loudspeaker loses more level in cable than allowed: dB at 1 kHz.
    LossOverLimit { line: String, load: String, loss_db: f64, limit_db: f64 },
    /// The tap set is not one of the transformer's at the line's voltage: W, V.
    TapNotOffered { load: String, tap_w: f64, line_v: f64, transformer_v: f64, offered_w: Vec<f64> },
    /// Loudspeakers with and without transformers share a line.
    MixedLine { line: String, direct: Vec<String>, tapped: Vec<String> },
    /// A transformer gets more voltage than it takes at a low frequency: V at Hz; rated down to Hz; high-pass if any.
    TransformerSaturates {
        load: String,
        frequency_hz: f64,
        voltage_v: f64,
        greatest_v: f64,
        rated_low_hz: f64,
        high_pass_hz: Option<f64>,
    },
    /// A cable lies where it may not.
    CableNotRated { run: String, cable: String, laying: Surroundings },
    /// A group of loudspeakers falls below the minimum load on its own: ohm at Hz.
    GroupBelowMinimum { load: String, impedance_ohm: f64, frequency_hz: f64, minimum_ohm: f64 },
}

impl ElectricalFinding {
    /// How bad it is.
    #[must_use]
    pub fn severity(&self) -> Severity {
        match self {
            Self::ChannelOverShare { used_fraction, .. } if *used_fraction <= 1.0 => Severity::Warning,
            Self::LossOverLimit { .. } | Self::VoltageShort { .. } => Severity::Warning,
            _ => Severity::Error,
        }
    }

    /// Id of what the finding is about.
    #[must_use]
    pub fn subject(&self) -> &str {
        match self {
            Self::ChannelOverShare { channel, .. }
            | Self::ImpedanceBelowMinimum { channel, .. }
            | Self::VoltageShort { channel, .. }
            | Self::HighPassMissing { channel, .. } => channel,
            Self::LossOverLimit { load, .. }
            | Self::TapNotOffered { load, .. }
            | Self::TransformerSaturates { load, .. }
            | Self::GroupBelowMinimum { load, .. } => load,
            Self::MixedLine { line, .. } => line,
            Self::CableNotRated { run, .. } => run,
        }
    }

    /// What would mend it, as a sentence.
    #[must_use]
    pub fn remedy(&self) -> String {
        match self {
            Self::ChannelOverShare { rated_w, share, counted_w, .. } => format!(
                "Take {:.1} W of taps off, or use a channel of at least {:.0} W.",
                counted_w - share * rated_w,
                (counted_w / share).ceil()
            ),
            Self::ImpedanceBelowMinimum { .. } | Self::GroupBelowMinimum { .. } => {
                "Put fewer loudspeakers on it, wire some in series, lower taps, or set a high-pass if the low point is in the bass."
                    .to_owned()
            }
            Self::VoltageShort { .. } => "Use a channel made for this line voltage, or expect less level.".to_owned(),
            Self::HighPassMissing { required_hz, .. } => {
                format!("Set a high-pass at {required_hz:.0} Hz or above before connecting the line.")
            }
            Self::LossOverLimit { .. } => {
                "Use thicker cable, feed the line nearer its middle, or lower the taps before it.".to_owned()
            }
            Self::TapNotOffered { offered_w, transformer_v, .. } => format!(
                "Set one of {} W ({transformer_v} V).",
                offered_w.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
            ),
            Self::MixedLine { .. } => {
                "Give the loudspeakers without transformers a low-impedance line of their own, or fit transformers.".to_owned()
            }
            Self::TransformerSaturates { rated_low_hz, .. } => {
                format!("Set a high-pass of second order or steeper at {rated_low_hz:.0} Hz on the channel.")
            }
            Self::CableNotRated { laying, .. } => match laying {
                Surroundings::Buried => "Use a direct-burial cable, or lay it in a conduit.".to_owned(),
                Surroundings::Conduit | Surroundings::Surface => "Use a cable made for wet conduits.".to_owned(),
            },
        }
    }
}

impl fmt::Display for ElectricalFinding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::ChannelOverShare { channel, counted_w, rated_w, used_fraction, share } => write!(
                f,
                "Channel {channel} carries {counted_w:.1} W of taps: {:.0} % of its {rated_w:.0} W, more than the {:.0} % allowed.",
                used_fraction * 100.0,
                share * 100.0
            ),
            Self::ImpedanceBelowMinimum { channel, impedance_ohm, frequency_hz, minimum_ohm } => write!(
                f,
                "Channel {channel} sees {impedance_ohm:.2} ohm at {}; it must not go below {minimum_ohm:.2} ohm.",
                hz(*frequency_hz)
            ),
            Self::VoltageShort { channel, line, needed_v, available_v } => write!(
                f,
                "Line {line} is a {needed_v} V line; channel {channel} gives {available_v:.1} V, {:.1} dB less.",
                20.0 * (needed_v / available_v).log10()
            ),
            Self::HighPassMissing { channel, required_hz, set_hz: None } => {
                write!(
                    f,
                    "Channel {channel} needs a high-pass at {} or above and has none.",
                    hz(*required_hz)
                )
            }
            Self::HighPassMissing { channel, required_hz, set_hz: Some(set) } => write!(
                f,
                "Channel {channel} needs a high-pass at {} or above; it is set to {}.",
                hz(*required_hz),
                hz(*set)
            ),
            Self::LossOverLimit { line, load, loss_db, limit_db } => write!(
                f,
                "Loudspeaker {load} on line {line} loses {loss_db:.2} dB in the cable at 1 kHz; the limit is {limit_db:.2} dB."
            ),
            Self::TapNotOffered { load, tap_w, line_v, transformer_v, .. } => {
                if (line_v / transformer_v - 1.0).abs() > 1e-3 {
                    write!(
                        f,
                        "Loudspeaker {load} has taps for {transformer_v} V but hangs on a {line_v} V line."
                    )
                } else {
                    write!(f, "Loudspeaker {load} has no {tap_w} W tap at {line_v} V.")
                }
            }
            Self::MixedLine { line, direct, tapped } => write!(
                f,
                "Line {line} mixes loudspeakers without transformers ({}) and with ({}).",
                direct.join(", "),
                tapped.join(", ")
            ),
            Self::TransformerSaturates {
                load,
                frequency_hz,
                voltage_v,
                greatest_v,
                rated_low_hz,
                high_pass_hz,
            } => {
                write!(
                    f,
                    "The transformer of {load} gets {voltage_v:.1} V at {} and takes {greatest_v:.1} V there (rated down to {}); ",
                    hz(*frequency_hz),
                    hz(*rated_low_hz)
                )?;
                match high_pass_hz {
                    Some(corner) => write!(f, "the high-pass at {} does not hold that back.", hz(*corner)),
                    None => write!(f, "the channel has no high-pass."),
                }
            }
            Self::CableNotRated { run, cable, laying } => write!(
                f,
                "Run {run} lays {cable} {}, which it is not rated for.",
                match laying {
                    Surroundings::Buried => "straight in the ground",
                    Surroundings::Conduit => "in a conduit below ground",
                    Surroundings::Surface => "on the surface",
                }
            ),
            Self::GroupBelowMinimum { load, impedance_ohm, frequency_hz, minimum_ohm } => write!(
                f,
                "The group {load} falls to {impedance_ohm:.2} ohm at {}; the channel must not go below {minimum_ohm:.2} ohm.",
                hz(*frequency_hz)
            ),
        }
    }
}

fn hz(frequency_hz: f64) -> String {
    if let Some(band) = Band::with_centre(frequency_hz) {
        band.label().to_owned()
    } else if frequency_hz >= 1000.0 {
        format!("{:.3} kHz", frequency_hz / 1000.0)
    } else if frequency_hz >= 100.0 {
        format!("{frequency_hz:.0} Hz")
    } else {
        format!("{frequency_hz:.1} Hz")
    }
}
