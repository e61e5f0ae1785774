//! What has been computed about a job, as the papers need it. Everything may be missing: a section without its
//! figures is left out.

use crate::drawing::LevelField;
use indexmap::IndexMap;

/// A loudspeaker on its line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoudspeakerResult {
    /// Voltage at it at full drive, volts RMS, at 1 kHz.
    pub voltage_v: f64,
    /// Power it takes, watts.
    pub power_w: f64,
    /// Level lost along the line, dB.
    pub loss_db: f64,
}

/// A line seen from the rack.
#[derive(Debug, Clone, PartialEq)]
pub struct LineResult {
    /// Sum of its taps, watts; 0 on a low-impedance line.
    pub load_w: f64,
    /// Magnitude of the impedance an instrument reads at the rack, ohms, by frequency in hertz.
    pub impedance_ohm: Vec<(f64, f64)>,
    /// Resistance of the loop at direct current, ohms.
    pub dc_ohm: Option<f64>,
}

/// Level in a listening area at the drive the system is meant for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AreaResult {
    /// Mean level, dBA.
    pub mean_dba: f64,
    /// Level exceeded at nine places of ten, dBA.
    pub low_dba: f64,
    /// Level exceeded at one place of ten, dBA.
    pub high_dba: f64,
}

/// Level at a neighbour against its limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NeighbourResult {
    /// Level by day at its loudest point, dBA.
    pub day_dba: f64,
    /// Level by night, dBA.
    pub night_dba: f64,
    /// How far below the tightest limit it stays, dB; negative where it does not.
    pub margin_db: f64,
    /// Standard uncertainty, dB.
    pub uncertainty_db: f64,
}

/// Results of a job.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Results {
    /// By loudspeaker.
    pub loudspeakers: IndexMap<String, LoudspeakerResult>,
    /// By line.
    pub lines: IndexMap<String, LineResult>,
    /// By area.
    pub areas: IndexMap<String, AreaResult>,
    /// By neighbour.
    pub neighbours: IndexMap<String, NeighbourResult>,
    /// Levels over the site at ear height.
    pub field: Option<LevelField>,
}
