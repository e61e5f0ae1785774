#![doc = include_str!("../README.md")]

#[macro_use]
mod words;

mod bands;
mod cable;
mod decibel;
mod finding;
mod fixed;
mod frequency;
mod ground;
mod hours;
mod in_languages;
mod ingress;
mod insulation;
mod meter;
mod octaves;
mod phrase;
pub mod pointer;
mod polarity;
mod quantity;
mod sentence;
mod supply;
mod told;
mod weighting;

pub use bands::{BAND_1_KHZ, BAND_COUNT, Band, BandValues, NoSuchBand, band_values, third_octave_centres_hz};
pub use cable::{ConductorSize, Laying, Strands, awg_diameter_mm, gauge_of};
pub use decibel::{
    POWER_OVER_LEVEL_DB, SILENCE_DB, amplitude_from_db, db_from_amplitude, db_from_energy, energy_from_db,
    mean_db, sum_db,
};
pub use finding::{Finding, Severity, Subject, worst_first};
pub use fixed::fixed;
pub use frequency::hertz;
pub use ground::FlowClass;
pub use hours::Hours;
pub use in_languages::{InLanguage, Told, in_languages};
pub use ingress::IpCode;
pub use insulation::{INSULATION_CAUTION, INSULATION_LEAST_MOHM, INSULATION_SOURCE, INSULATION_TEST_V};
pub use meter::{LINE_METER_HZ, METER_FREQUENCIES_HZ, OPEN, Shown, meter_digits};
pub use octaves::{
    BASS, MID, OCTAVE_COUNT, Octave, OctaveRange, OctaveValues, octave_means_db, octave_sums_db,
};
pub use phrase::{Phrases, all_of, any_of, each_of, one_after_another};
pub use polarity::Polarity;
pub use quantity::{Fraction, Pascals, Siemens, Watts};
pub use sentence::{capitalised, listed};
pub use supply::Supply;
pub use told::{Measure, PlacedMeasure, Sentence};
pub use weighting::{A_OCTAVES_DB, Weighting};
