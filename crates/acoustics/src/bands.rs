//! Third-octave and octave bands (`loamline_terms`), as every method here counts them.

pub use loamline_terms::{
    BAND_COUNT, Band, BandValues, OCTAVE_COUNT, Octave, OctaveValues, band_values, octave_means_db,
    octave_sums_db,
};
