//! Frequency weightings (`loamline_terms`).

pub use loamline_terms::Weighting;
