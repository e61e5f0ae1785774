//! The sound field: levels at points from all loudspeakers of a scene, by all paths.

mod all_but_one;
mod area_shares;
mod bundle;
#[cfg(test)]
mod closed_form;
mod compute;
#[cfg(test)]
mod dense;
mod detour;
mod distant;
mod each_alone;
#[cfg(test)]
mod gardens;
mod ground_table;
mod incremental;
mod line_sum;
mod local_expansion;
#[cfg(test)]
mod lumped;
mod ops;
mod over_patch;
mod pair_energy;
mod paths;
mod plain;
mod points;
mod probe;
mod result;
mod rows;
mod superposition;
mod taut_string;
mod wave;

pub use area_shares::{AreaHeard, AreaShares, area_heard, area_shares};
pub use compute::{field, field_within};
pub use each_alone::{
    BassLine, EnergyMatrix, Waves, WavesError, arrivals, arrivals_of, energy_matrix, waves,
};
pub use incremental::IncrementalField;
pub use paths::NEAREST_M;
pub use points::Points;
pub use probe::{GroundMet, PathShare, Probe, Reason, Reflector, SourceShare, Way, probe};
pub use result::Field;

#[cfg(test)]
mod tests;
