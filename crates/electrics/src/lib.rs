#![doc = include_str!("../README.md")]
//!
//! Describe a [`Line`] of named joints, runs and loads and put it on a [`Channel`]: [`solve_line`] says what reaches each
//! loudspeaker and what wants attention, [`channel_use`] what the channel feels with all its lines on. Below them, a
//! checked [`Network`] solves any layout at any frequencies, DC included.

mod bands;
mod bench_formulae;
mod cable;
mod channel;
mod channel_load;
mod channel_use;
mod colours;
mod compare;
mod copper;
mod design;
mod elimination;
mod error;
mod finding;
mod lanes;
mod line;
mod line_findings;
mod line_study;
mod loudspeaker;
mod mains;
mod network;
mod probe;
mod series;
mod solution;
mod solve_line;
mod tapped_transformer;
mod transformer;
mod two_changes;

pub use loamline_terms::{ConductorSize, Severity, Strands};
pub use num_complex::Complex64;

pub use bands::{BAND_1_KHZ, BAND_COUNT, third_octave_centres_hz};
pub use bench_formulae::{CableLoss, cable_loss, longest_run_m, short_distance_m};
pub use cable::{
    Cable, PairConstants, TYPICAL_CAPACITANCE_F_PER_M, TYPICAL_LOOP_INDUCTANCE_H_PER_M, loop_resistance_ohm,
};
pub use channel::{Channel, DEFAULT_SHARE, FullDrive, HighPass, Limit, Rating};
pub use channel_use::{ChannelUse, Headroom, channel_use};
pub use colours::{ColourConvention, JacketColours, PairColours};
pub use compare::{ComparedWay, ComparisonPrices, ServiceComparison, compare_services};
pub use copper::{
    COPPER_COEFFICIENT_PER_K, COPPER_DENSITY_KG_PER_M3, COPPER_RESISTIVITY_OHM_M,
    conductor_resistance_ohm_per_km, temperature_factor,
};
pub use design::{BestTap, CableChoice, TapTrial, best_tap, smallest_cable_for_all, smallest_cables};
pub use error::{InputError, LineError, LineErrors};
pub use finding::ElectricalFinding;
pub use line::{Connection, LaidCable, Line, Load, LoadResponse, Run, Service, Source, Surroundings};
pub use line_study::{DEFAULT_LOSS_LIMIT_DB, ImpedanceMinimum, LineLimits, LineStudy, LoadStudy, RunStudy};
pub use loudspeaker::{CoilWiring, ImpedancePoint, Loudspeaker};
pub use mains::{
    AmplifierPower, CONTINUOUS_SHARE, CircuitPlan, MainsDraw, Supply, airflow_m3_per_h, mains_draw,
    plan_circuits,
};
pub use network::Network;
pub use probe::{Change, Examined, Probe};
pub use solution::Solution;
pub use solve_line::{solve_line, solve_line_beside};
pub use tapped_transformer::{
    PRIMARY_PART_OF_COPPER, TappedTransformer, WindingFactors, Windings, saturation_voltage_v,
    tap_impedance_ohm, tap_power_w, typical_magnetising_inductance_h,
};
pub use transformer::Transformer;
pub use two_changes::{Altered, Stamp, TwoChanges};
