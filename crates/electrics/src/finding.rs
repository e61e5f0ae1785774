//! What a competent installer would stop at, as values with their numbers, a sentence each, and what would mend it.

use std::fmt;

use loamline_terms::{Band, Sentence, Severity, say};
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
    pub fn remedy(&self) -> Sentence {
        match self {
            Self::ChannelOverShare { rated_w, share, counted_w, .. } => say!(
                "Take {over} W of taps off, or use a channel of at least {least} W.",
                over = loamline_terms::fixed(counted_w - share * rated_w, 1),
                least = loamline_terms::fixed((counted_w / share).ceil(), 0)
            ),
            Self::ImpedanceBelowMinimum { .. } | Self::GroupBelowMinimum { .. } => say!(
                "Put fewer loudspeakers on it, wire some in series, lower taps, or set a high-pass if the low point is in the bass."
            ),
            Self::VoltageShort { .. } => {
                say!("Use a channel made for this line voltage, or expect less level.")
            }
            Self::HighPassMissing { required_hz, .. } => say!(
                "Set a high-pass at {required} Hz or above before connecting the line.",
                required = loamline_terms::fixed(required_hz, 0)
            ),
            Self::LossOverLimit { .. } => {
                say!("Use thicker cable, feed the line nearer its middle, or lower the taps before it.")
            }
            Self::TapNotOffered { offered_w, transformer_v, .. } => say!(
                "Set one of {taps} W ({voltage} V).",
                taps = offered_w.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "),
                voltage = transformer_v.to_string()
            ),
            Self::MixedLine { .. } => say!(
                "Give the loudspeakers without transformers a low-impedance line of their own, or fit transformers."
            ),
            Self::TransformerSaturates { rated_low_hz, .. } => say!(
                "Set a high-pass of second order or steeper at {rated} Hz on the channel.",
                rated = loamline_terms::fixed(rated_low_hz, 0)
            ),
            Self::CableNotRated { laying, .. } => match laying {
                Surroundings::Buried => say!("Use a direct-burial cable, or lay it in a conduit."),
                Surroundings::Conduit | Surroundings::Surface => say!("Use a cable made for wet conduits."),
            },
        }
    }

    /// What is the matter, as a sentence.
    #[must_use]
    pub fn told(&self) -> Sentence {
        match self {
            Self::ChannelOverShare { channel, counted_w, rated_w, used_fraction, share } => say!(
                "Channel {channel} carries {counted} W of taps: {used} % of its {rated} W, more than the {share} % allowed.",
                channel = channel,
                counted = loamline_terms::fixed(counted_w, 1),
                used = loamline_terms::fixed(used_fraction * 100.0, 0),
                rated = loamline_terms::fixed(rated_w, 0),
                share = loamline_terms::fixed(share * 100.0, 0)
            ),
            Self::ImpedanceBelowMinimum { channel, impedance_ohm, frequency_hz, minimum_ohm } => say!(
                "Channel {channel} sees {ohm} ohm at {frequency}; it must not go below {minimum} ohm.",
                channel = channel,
                ohm = loamline_terms::fixed(impedance_ohm, 2),
                frequency = hz(*frequency_hz),
                minimum = loamline_terms::fixed(minimum_ohm, 2)
            ),
            Self::VoltageShort { channel, line, needed_v, available_v } => say!(
                "Line {line} is a {needed} V line; channel {channel} gives {available} V, {less} dB less.",
                line = line,
                needed = needed_v.to_string(),
                channel = channel,
                available = loamline_terms::fixed(available_v, 1),
                less = loamline_terms::fixed(20.0 * (needed_v / available_v).log10(), 1)
            ),
            Self::HighPassMissing { channel, required_hz, set_hz } => {
                high_pass_missing(channel, *required_hz, *set_hz)
            }
            Self::LossOverLimit { line, load, loss_db, limit_db } => say!(
                "Loudspeaker {load} on line {line} loses {loss} dB in the cable at 1 kHz; the limit is {limit} dB.",
                load = load,
                line = line,
                loss = loamline_terms::fixed(loss_db, 2),
                limit = loamline_terms::fixed(limit_db, 2)
            ),
            Self::TapNotOffered { load, tap_w, line_v, transformer_v, .. } => {
                if (line_v / transformer_v - 1.0).abs() > 1e-3 {
                    say!(
                        "Loudspeaker {load} has taps for {transformer} V but hangs on a {line} V line.",
                        load = load,
                        transformer = transformer_v.to_string(),
                        line = line_v.to_string()
                    )
                } else {
                    say!(
                        "Loudspeaker {load} has no {tap} W tap at {line} V.",
                        load = load,
                        tap = tap_w.to_string(),
                        line = line_v.to_string()
                    )
                }
            }
            Self::MixedLine { line, direct, tapped } => say!(
                "Line {line} mixes loudspeakers without transformers ({direct}) and with ({tapped}).",
                line = line,
                direct = direct.join(", "),
                tapped = tapped.join(", ")
            ),
            Self::TransformerSaturates {
                load,
                frequency_hz,
                voltage_v,
                greatest_v,
                rated_low_hz,
                high_pass_hz,
            } => say!(
                "The transformer of {load} gets {voltage} V at {frequency} and takes {greatest} V there (rated down to {rated}); \
                 {why}",
                load = load,
                voltage = loamline_terms::fixed(voltage_v, 1),
                frequency = hz(*frequency_hz),
                greatest = loamline_terms::fixed(greatest_v, 1),
                rated = hz(*rated_low_hz),
                why = match high_pass_hz {
                    Some(corner) =>
                        say!("the high-pass at {corner} does not hold that back.", corner = hz(*corner)),
                    None => say!("the channel has no high-pass."),
                }
            ),
            Self::CableNotRated { run, cable, laying } => say!(
                "Run {run} lays {cable} {place}, which it is not rated for.",
                run = run,
                cable = cable,
                place = match laying {
                    Surroundings::Buried => say!("straight in the ground"),
                    Surroundings::Conduit => say!("in a conduit below ground"),
                    Surroundings::Surface => say!("on the surface"),
                }
            ),
            Self::GroupBelowMinimum { load, impedance_ohm, frequency_hz, minimum_ohm } => say!(
                "The group {load} falls to {ohm} ohm at {frequency}; the channel must not go below {minimum} ohm.",
                load = load,
                ohm = loamline_terms::fixed(impedance_ohm, 2),
                frequency = hz(*frequency_hz),
                minimum = loamline_terms::fixed(minimum_ohm, 2)
            ),
        }
    }
}

/// A high-pass that the maker requires and that is not there, or too low.
fn high_pass_missing(channel: &str, required_hz: f64, set_hz: Option<f64>) -> Sentence {
    match set_hz {
        None => say!(
            "Channel {channel} needs a high-pass at {required} or above and has none.",
            channel = channel,
            required = hz(required_hz)
        ),
        Some(set_hz) => say!(
            "Channel {channel} needs a high-pass at {required} or above; it is set to {set}.",
            channel = channel,
            required = hz(required_hz),
            set = hz(set_hz)
        ),
    }
}

impl fmt::Display for ElectricalFinding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.told())
    }
}

fn hz(frequency_hz: f64) -> String {
    if let Some(band) = Band::with_centre(frequency_hz) {
        band.label().to_owned()
    } else if frequency_hz >= 1000.0 {
        format!("{} kHz", loamline_terms::fixed(frequency_hz / 1000.0, 3))
    } else if frequency_hz >= 100.0 {
        format!("{} Hz", loamline_terms::fixed(frequency_hz, 0))
    } else {
        format!("{} Hz", loamline_terms::fixed(frequency_hz, 1))
    }
}
