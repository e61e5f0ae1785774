//! What can be typed after `picture`.

use clap::{Args, ValueEnum};
use loamline_study::PlayedAt;
use std::path::PathBuf;

/// Arguments of `picture`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline picture examples/guesthouse-garden > garden.svg\n  \
    loamline picture examples/guesthouse-garden --bearing \"200 deg\" --tilt \"50 deg\" --when night > night.svg")]
pub struct PictureArguments {
    /// The job's folder.
    pub job: PathBuf,
    /// Bearing to look along, clockwise from plan north; towards the house when absent.
    #[arg(long, value_name = "ANGLE", allow_hyphen_values = true)]
    pub bearing: Option<String>,
    /// How far down to look: 15 deg to 85 deg; 35 deg when absent, more where walls would hide a small place.
    #[arg(long, value_name = "ANGLE")]
    pub tilt: Option<String>,
    /// How loud it is played.
    #[arg(long, value_enum, default_value_t = WhenChoice::Party)]
    pub when: WhenChoice,
    /// Show the sound of one programme alone.
    #[arg(long, value_name = "PROGRAMME")]
    pub programme: Option<String>,
    /// Width and height, millimetres.
    #[arg(long, value_name = "WIDTHxHEIGHT", default_value = "240x160")]
    pub size: String,
}

/// How loud the system is played.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum WhenChoice {
    /// As it is set.
    Party,
    /// Turned down as the brief says for the evening.
    Evening,
    /// Turned down as the brief says for the night.
    Night,
}

impl From<WhenChoice> for PlayedAt {
    fn from(when: WhenChoice) -> Self {
        match when {
            WhenChoice::Party => Self::Party,
            WhenChoice::Evening => Self::Evening,
            WhenChoice::Night => Self::Night,
        }
    }
}
