//! What is asked about a line: readings of it, how far it may be from the drawing, and what a test costs.

use loamline_electrics::Line;
use serde::{Deserialize, Serialize};

use crate::grade::Grade;
use crate::hypotheses::Priors;
use crate::readings::MeterReading;
use crate::tolerances::Tolerances;

/// A question about a line.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// The line as designed.
    pub line: &'a Line,
    /// Lines it may have been swapped with.
    pub others: &'a [&'a Line],
    /// What the meter showed.
    pub readings: &'a [MeterReading],
    /// Joints that were opened and looked good.
    pub opened: &'a [String],
    /// What was measured of its insulation to earth; none where nothing was.
    pub insulation: Option<Grade>,
    /// How far a good line may be from the drawing.
    pub tolerances: &'a Tolerances,
    /// What goes wrong how often.
    pub priors: &'a Priors,
    /// What a test costs.
    pub effort: &'a Effort,
    /// Frequencies the meter reads at, hertz; 0 is direct current. No other reading is asked for.
    pub meter_hz: &'a [f64],
    /// Also weigh two faults at once.
    pub pairs: bool,
}

/// Minutes of work. Defaults are common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Effort {
    /// One more reading at the rack.
    pub rack_min: f64,
    /// Finding, opening, reading and closing a joint.
    pub joint_min: f64,
}

impl Default for Effort {
    fn default() -> Self {
        Self { rack_min: 2.0, joint_min: 25.0 }
    }
}
