//! The frequencies lines are solved at: base-ten third-octave centres (`loamline_terms`), 20 Hz to 20 kHz.

pub use loamline_terms::{BAND_1_KHZ, BAND_COUNT, third_octave_centres_hz};
