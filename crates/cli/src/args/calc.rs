//! What `loamline calc` asks.

use clap::Args;
use std::path::PathBuf;

/// Arguments of `calc`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline calc list\n  \
    loamline calc help air-absorption\n  \
    loamline calc air-absorption temperature=72F humidity=40% frequency=1k,8k\n  \
    loamline calc sound-speed temperature=25C --explain")]
pub struct CalcArguments {
    /// The calculator; `list` shows them all, `help NAME` what one takes.
    #[arg(default_value = "list")]
    pub name: String,
    /// Inputs as key=value. Values may carry units, lists are comma-separated, `12x7.5W` repeats a value.
    #[arg(value_name = "KEY=VALUE")]
    pub inputs: Vec<String>,
    /// Read inputs from a JSON file; `-` reads standard input.
    #[arg(long, value_name = "FILE")]
    pub input: Option<PathBuf>,
    /// Show the formulas with the numbers put in, and the sources.
    #[arg(long)]
    pub explain: bool,
    /// With `list`: write the reference page of all calculators in Markdown.
    #[arg(long)]
    pub markdown: bool,
}
