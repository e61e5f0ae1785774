//! What `loamline propose` asks.

use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// The options of a proposal.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum OptionChoice {
    /// Meets the brief at least cost.
    LeastCost,
    /// As even as half of the way in money from the least to the most even buys.
    Balanced,
    /// As even as the budget allows.
    MostEven,
    /// As loud as budget, neighbours, evenness and equipment allow.
    Loudest,
    /// Meets the brief at least cost with any models side by side: what matching costs is the difference.
    LeastCostMixed,
}

/// Arguments of `propose`.
#[derive(Debug, Args)]
#[command(
    after_help = "Loudspeakers marked pinned = true stay; everything else is proposed anew. What may be used is said\n\
    under [brief.wishes]: models, not_models, at_most, matching, apart, edge_setback, path_setback, water_setback.\n\nExamples:\n  \
    loamline propose examples/guesthouse-garden\n  \
    loamline propose examples/guesthouse-garden --option most-even --time 20s --write"
)]
pub struct ProposeArguments {
    /// The job's folder.
    pub job: PathBuf,
    /// Options wanted; may be given several times. All when absent (with --write: the least cost).
    #[arg(long, value_enum)]
    pub option: Vec<OptionChoice>,
    /// Work allowed for all options together, as the time two usual cores take for it; counted in steps, so that the answer
    /// is the same on any machine. Absent, what suits the site: 20 s for a garden, up to two minutes for a park.
    /// A first design is made however little is allowed. By the clock it ends after 5 min and 60 times as much, or --within;
    /// then, and on Ctrl-C, the best whole design made so far is told.
    #[arg(long, value_name = "TIME")]
    pub time: Option<String>,
    /// Seed of the search.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Own prices, as CSV: those that `pack --prices` takes.
    #[arg(long, value_name = "FILE")]
    pub prices: Option<PathBuf>,
    /// Write the design into the job.
    #[arg(long)]
    pub write: bool,
    /// Where the brief cannot be met: take over this one of the changes told, by its number, and propose anew.
    #[arg(long, value_name = "N")]
    pub accept: Option<usize>,
    /// Also show the plan a rule of thumb gives: one loudspeaker every 5 m round each area, all at one tap.
    #[arg(long)]
    pub compare: bool,
}
