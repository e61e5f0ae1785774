#![doc = include_str!("../README.md")]

mod beside;
mod cables;
mod conductors;
mod electrical;
mod error;
mod existing;
mod ground_plan;
mod inputs;
mod laid;
mod neighbours;
mod on_axis;
mod openings;
mod over_frequency;
mod processing;
mod run;
mod sound;

pub use cables::{Carried, LaidCable, laid_cables};
pub use conductors::{Conductors, pair_conductors, run_conductors, run_pairs};
pub use electrical::{
    CONDUCTOR_TEMPERATURE_C, LineInput, cable_surroundings, channel, conductor_size, driver, engine_cable,
    limits, line_input, load, load_on, pair, rated_for, service, source_joint, taps_w,
};
pub use error::{FilterError, SilentBecause, SoundErrors, SoundProblem};
pub use existing::{existing_run, in_parallel, not_known};
pub use ground_plan::{LAWN_EDGE_M, NIPPLE_M, Pricing, ground_plan, on_lawn_edge, wall_thickness_m};
pub use inputs::{AddedLead, feeding_sources, leads, leads_of_channel};
pub use laid::{laid_runs, laid_runs_of, length_rules};
pub use neighbours::{
    NEIGHBOUR_SPACING_M, floor_of_receiver, neighbour_receivers, neighbour_scene, neighbour_spacing_m,
    neighbour_surroundings, octave_power,
};
pub use on_axis::{OnAxis, on_a_tap_v, on_axis};
pub use openings::inside_a_building;
pub use processing::{SAMPLE_RATE_HZ, filters, filters_of, loudspeakers_of_channel, role, table_of};
pub use run::{ExistingRun, LaidPiece, LaidRun, WallOpening};
pub use sound::{
    DirectivityOf, Reaching, SceneParts, Sound, directivity, drawn_ground, scene_parts, sound,
    sounding_walls, surroundings,
};
