//! One line on one channel: what reaches each loudspeaker, what each run carries, what the channel feels.

use num_complex::Complex64;
use serde::{Deserialize, Serialize};

use crate::channel::DEFAULT_SHARE;
use crate::finding::ElectricalFinding;
use crate::line::Service;

/// Greatest level loss in dB at 1 kHz at the worst loudspeaker (common practice, no source).
pub const DEFAULT_LOSS_LIMIT_DB: f64 = 0.5;

/// What a design may spend.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LineLimits {
    /// Greatest level loss in dB at 1 kHz at any loudspeaker.
    pub loss_db: f64,
    /// Share of a constant-voltage channel's rated power its taps may fill, 0..=1.
    pub share: f64,
}

impl Default for LineLimits {
    fn default() -> Self {
        Self { loss_db: DEFAULT_LOSS_LIMIT_DB, share: DEFAULT_SHARE }
    }
}

/// A line solved at full drive. Vectors run over [`LineStudy::frequencies_hz`].
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LineStudy {
    /// Name of the line.
    pub line: String,
    /// What it is driven at.
    pub service: Service,
    /// Frequencies in Hz.
    pub frequencies_hz: Vec<f64>,
    /// Open-circuit voltage of the drive in V RMS: the line's rated voltage, or the channel's greatest for low impedance.
    pub drive_v: f64,
    /// One per load, in the line's order.
    pub loads: Vec<LoadStudy>,
    /// One per run, in the line's order.
    pub runs: Vec<RunStudy>,
    /// |Z| at the amplifier in ohm (the line alone).
    pub impedance_ohm: Vec<f64>,
    /// Phase of Z in degrees.
    pub impedance_phase_deg: Vec<f64>,
    /// Where |Z| is lowest from 20 Hz to 20 kHz.
    pub minimum: ImpedanceMinimum,
    /// Where |Z| is lowest from the channel's high-pass (20 Hz if it has none) to 20 kHz.
    pub minimum_in_use: ImpedanceMinimum,
    /// Current from the channel in A RMS.
    pub source_current_a: Vec<f64>,
    /// Power from the channel in W (loads and cable).
    pub source_power_w: Vec<f64>,
    /// Power lost in all runs in W.
    pub cable_loss_w: Vec<f64>,
    /// Taps and other counted loads together in W; `None` on a low-impedance line.
    pub counted_w: Option<f64>,
    /// Admittance at the amplifier in S, for adding lines on one channel.
    #[serde(skip)]
    pub admittance_s: Vec<Complex64>,
    /// What wants attention, worst loudspeaker first within a kind.
    pub findings: Vec<ElectricalFinding>,
}

/// Where an impedance is lowest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ImpedanceMinimum {
    /// Frequency in Hz.
    pub frequency_hz: f64,
    /// |Z| there in ohm.
    pub impedance_ohm: f64,
}

/// One load at full drive.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LoadStudy {
    /// Name of the load.
    pub load: String,
    /// Its joint.
    pub at: String,
    /// Voltage at the joint in V RMS.
    pub joint_v: Vec<f64>,
    /// Voltage at the loudspeaker's terminals in V RMS.
    pub loudspeaker_v: Vec<f64>,
    /// Power in the loudspeaker in W (real power into its terminals).
    pub power_w: Vec<f64>,
    /// Power in W as sensitivities count it: loudspeaker voltage squared over nominal impedance.
    pub nominal_power_w: Vec<f64>,
    /// Level lost in cable and source in dB (positive is loss): full drive over voltage at the joint.
    pub loss_db: Vec<f64>,
    /// The same at 1 kHz.
    pub loss_1khz_db: f64,
    /// Power in the loudspeaker at 1 kHz in W.
    pub power_1khz_w: f64,
    /// Voltage at the joint at 1 kHz in V RMS.
    pub joint_1khz_v: f64,
    /// Power the load is counted with in W; `None` on a low-impedance line.
    pub counted_w: Option<f64>,
}

/// One run at full drive.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RunStudy {
    /// Name of the run.
    pub run: String,
    /// One end.
    pub from: String,
    /// The other end.
    pub to: String,
    /// Current in A RMS.
    pub current_a: Vec<f64>,
    /// Power lost in W.
    pub loss_w: Vec<f64>,
    /// Current at 1 kHz in A RMS.
    pub current_1khz_a: f64,
    /// Power lost at 1 kHz in W.
    pub loss_1khz_w: f64,
    /// DC loop resistance in ohm.
    pub loop_resistance_ohm: f64,
}
