//! Acoustic proof: what a recorded sweep says about a system.

mod analyse;
mod arrival;
mod bands;
mod clipping;
mod deconvolve;
mod refusal;

pub use analyse::{ListenSettings, Listening, analyse};
pub use arrival::HeardPolarity;
pub use bands::{Agreement, BandResponse, Comparison};
pub use refusal::ListenError;
