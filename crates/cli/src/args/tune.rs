//! What `loamline tune` asks.

use clap::Args;
use std::path::PathBuf;

/// Arguments of `tune`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline tune examples/guesthouse-garden --rate 96000\n  \
    loamline tune examples/guesthouse-garden --write --out processing")]
pub struct TuneArguments {
    /// The job's folder.
    pub job: PathBuf,
    /// Write the settings into the job.
    #[arg(long)]
    pub write: bool,
    /// Write impulse responses (WAV at 44.1, 48 and 96 kHz), settings.csv, sections.csv and tune.json into this folder.
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Sample rate of the sections shown, Hz.
    #[arg(long, value_name = "HZ", default_value_t = 48_000.0)]
    pub rate: f64,
}
