//! The registry. A calculator is one file here and one line below, in the section of its subject.

use crate::spec::Calculator;

macro_rules! registry {
    ($($module:ident),* $(,)?) => {
        $(mod $module;)*

        static ALL: &[&Calculator] = &[$(&$module::CALCULATOR),*];
    };
}

registry! {
    // Air and levels.
    air_absorption,
    sound_speed,
    delay,
    weighting,
    level_at_distance,
    level_sum,

    // Sources and paths.
    directivity_piston,
    ground_effect,
    screen,

    // Neighbours.
    boundary_level,

    // Wire, taps and lines.
    wire,
    tap,
    cable_loss,
    longest_run,
    line_load,
    line_network,
    loads_combined,

    // Digging and cable.
    conduit_fill,
    hole,
    spools,

    // Processing.
    filter,
    limiter,

    // Hearing.
    exposure,

    // Faults.
    short_distance,
}

/// Every calculator, in the order of the documentation.
pub fn all() -> &'static [&'static Calculator] {
    ALL
}
