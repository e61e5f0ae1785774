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
    /// Open-circuit voltage at a gain of 0 dB in V RMS: the line's rated voltage; at low impedance the greatest of the channel.
    pub full_scale_v: f64,
    /// Open-circuit voltage at full drive, which all below is worked out at, in V RMS: the line's rated voltage; at low
    /// impedance the most at which the channel passes none of its limits into the lowest impedance of all that hangs on it.
    pub drive_v: f64,
    /// One per load, in the line's order.
    pub loads: Vec<LoadStudy>,
    /// One per run, in the line's order.
    pub runs: Vec<RunStudy>,
    /// |Z| at the amplifier in ohm (the line alone).
    pub impedance_ohm: Vec<f64>,
    /// Phase of Z in degrees.
    pub impedance_phase_deg: Vec<f64>,
    /// The band the channel's filters pass, Hz.
    pub passed_hz: [f64; 2],
    /// Where |Z| is lowest within that band.
    pub minimum: ImpedanceMinimum,
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
    /// The same at [`crate::Channel::searched_hz`].
    #[serde(skip)]
    pub searched_s: Vec<Complex64>,
    /// What wants attention, worst loudspeaker first within a kind.
    pub findings: Vec<ElectricalFinding>,
}

impl LineStudy {
    /// Gain at which full drive is reached, dB re full scale: above it the channel gives no more. `None` on a constant-voltage
    /// line, where the taps are counted instead.
    #[must_use]
    pub fn most_gain_db(&self) -> Option<f64> {
        match self.service {
            Service::ConstantVoltage { .. } => None,
            Service::LowImpedance => Some(20.0 * (self.drive_v / self.full_scale_v).log10()),
        }
    }
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
    /// Voltage it stands across in V RMS: that at its joint, or in series its part of it.
    pub joint_v: Vec<f64>,
    /// Voltage at the loudspeaker's terminals in V RMS.
    pub loudspeaker_v: Vec<f64>,
    /// Power into the loudspeaker in W, as ratings, taps and sensitivities count it: the voltage at its terminals squared
    /// over its nominal impedance (the power of IEC 60268-5; from memory).
    pub power_w: Vec<f64>,
    /// The same at 1 kHz.
    pub power_1khz_w: f64,
    /// Level lost in the cable in dB (positive is loss): voltage at the amplifier's terminals, or in series the load's share of
    /// it, over the voltage the load stands across.
    pub loss_db: Vec<f64>,
    /// The same at 1 kHz.
    pub loss_1khz_db: f64,
    /// Voltage it stands across at 1 kHz in V RMS.
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
