//! The sound field: levels at points from all loudspeakers of a scene, by all paths.

mod bundle;
mod compute;
mod cut_off;
#[cfg(test)]
mod dense;
mod detour;
mod far;
mod ground_table;
mod hull;
mod kept;
mod line_sum;
mod ops;
mod others;
mod over_patch;
mod pair_energy;
mod paths;
mod plain;
mod points;
mod probe;
mod result;
mod rows;
mod solo;
mod sums;
mod wave;

pub use compute::field;
pub use kept::KeptField;
pub use paths::NEAREST_M;
pub use points::Points;
pub use probe::{GroundMet, PathShare, Probe, Reason, Reflector, SourceShare, Way, probe};
pub use result::Field;
pub use solo::{
    BASS_FIRST_BAND, BASS_LAST_BAND, BassLine, EnergyMatrix, Waves, arrivals, arrivals_of, energy_matrix,
    waves,
};

#[cfg(test)]
mod tests;
