//! What `loamline predict` asks.

use super::PartArguments;
use clap::Args;
use std::path::PathBuf;

/// Arguments of `predict`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline predict examples/guesthouse-garden\n  \
    loamline predict examples/guesthouse-garden --at 12.5,4\n  \
    loamline predict estate --zone \"Upper terraces\"\n  \
    loamline predict examples/guesthouse-garden --at \"41 ft,13 ft\" --ear \"5 ft 3 in\" --units us")]
pub struct PredictArguments {
    /// The job's folder.
    pub job: PathBuf,
    /// What is heard at one place, x,y from the datum, and what makes it.
    #[arg(long, value_name = "X,Y", allow_hyphen_values = true)]
    pub at: Option<String>,
    /// Height of the ears above the ground at that place.
    #[arg(long, value_name = "HEIGHT", default_value = "1.6 m")]
    pub ear: String,
    /// In JSON, also what each loudspeaker gives at each place of the neighbours: megabytes where there are many.
    #[arg(long, conflicts_with = "at")]
    pub each: bool,
    /// Which part of it.
    #[command(flatten)]
    pub part: PartArguments,
}
