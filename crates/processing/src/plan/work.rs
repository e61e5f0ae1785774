//! What the order of work is written for, and its steps.

use super::channel::ChannelPlan;
use loamline_terms::{Phrases, Sentence};
use serde::{Deserialize, Serialize};

/// A line as the crew meets it at the rack.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LineInWork {
    /// What the crew calls it.
    pub id: String,
    /// Its place among all lines of the document, from 1: the number of its rhythm, and its turn.
    pub number: u32,
    /// Impedance the meter should show before the amplifier is connected, ohm.
    pub expected_impedance_ohm: f64,
    /// Frequency of that reading, Hz.
    pub meter_frequency_hz: f64,
    /// Lowest and highest reading that is still right, ohm.
    pub accepted_ohm: (f64, f64),
    /// Areas in which it is heard.
    pub areas: Vec<String>,
}

/// A channel and what hangs on it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WorkChannel {
    /// Its processing.
    pub plan: ChannelPlan,
    /// Amplifier it belongs to.
    pub amplifier: String,
    /// Gain from its input to its output with the sources and leads it has, dB; none where they are not known.
    pub from_input_db: Option<f64>,
    /// Lowest impedance the amplifier may drive on this channel, ohm.
    pub lowest_load_ohm: f64,
    /// Voltage at which line voltage can shock: stated in the safety words when 50 V or more.
    pub line_voltage_v: f64,
    /// Lines on the channel.
    pub lines: Vec<LineInWork>,
    /// Areas it plays in, alone or with others.
    pub plays_in: Vec<PlaysIn>,
}

/// A channel in an area.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlaysIn {
    /// The area.
    pub area: String,
    /// Level wanted there, dBA.
    pub wanted_dba: f64,
    /// Level there of the channel alone, dBA.
    pub alone_dba: f64,
}

/// A limit at a neighbour, as it is measured when everything plays.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LimitInWork {
    /// The neighbour, and the floor where it has several.
    pub place: String,
    /// When it holds: "by day".
    pub when: String,
    /// Highest level allowed, dBA or dB.
    pub limit_db: f64,
    /// Whether it limits the 63 Hz octave, unweighted; else LAeq.
    pub octave_63_hz: bool,
    /// How far the system is turned down when it holds, dB.
    pub turned_down_db: f64,
}

/// One box to tick.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WorkStep {
    /// Channel, line or area it is about; none when it is about the whole rack.
    pub about: Option<String>,
    /// What to do, one sentence.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub action: Sentence,
    /// What to see or read before the box is ticked, with units; none when doing it is enough.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>))]
    pub confirm: Option<Sentence>,
    /// Whether a figure is written down beside the box.
    pub write_down: bool,
}

/// The steps of one stage; the next stage starts when all its boxes are ticked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OrderOfWork {
    /// Number of the stage in the order of work of the whole job, whose first three stages are laying and joining: as the crew
    /// pack has it.
    pub number: u32,
    /// Name of the stage.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub stage: Sentence,
    /// Why it comes here.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub reason: Sentence,
    /// Its steps in order.
    pub steps: Vec<WorkStep>,
}

impl OrderOfWork {
    /// The stage in another language.
    #[must_use]
    pub fn spoken(&self, phrases: &Phrases) -> Self {
        let step = |s: &WorkStep| WorkStep {
            about: s.about.clone(),
            action: s.action.spoken(phrases),
            confirm: s.confirm.as_ref().map(|c| c.spoken(phrases)),
            write_down: s.write_down,
        };
        Self {
            number: self.number,
            stage: self.stage.spoken(phrases),
            reason: self.reason.spoken(phrases),
            steps: self.steps.iter().map(step).collect(),
        }
    }
}

pub(super) fn step(about: Option<&str>, action: impl Into<Sentence>, confirm: Option<Sentence>) -> WorkStep {
    WorkStep { about: about.map(str::to_owned), action: action.into(), confirm, write_down: false }
}
