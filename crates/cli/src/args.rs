//! What can be typed.

use clap::{Args, Parser, Subcommand, ValueEnum};
use loamline_model::Units;
use std::path::PathBuf;

/// Designs, checks and documents outdoor loudspeaker systems: gardens, terraces, hotel grounds.
#[derive(Debug, Parser)]
#[command(
    name = "loamline",
    version,
    max_term_width = 80,
    after_help = "Exit codes: 0 fine, 1 findings of severity error, 2 bad input."
)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// Write JSON instead of tables.
    #[arg(long, global = true)]
    pub json: bool,
    /// Units in tables (JSON is always SI).
    #[arg(long, global = true, value_enum, default_value_t = UnitsChoice::Metric)]
    pub units: UnitsChoice,
}

/// The units of tables.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum UnitsChoice {
    /// Metres, degrees Celsius, kilograms.
    Metric,
    /// Feet and inches, degrees Fahrenheit, pounds.
    Us,
}

impl From<UnitsChoice> for Units {
    fn from(choice: UnitsChoice) -> Self {
        match choice {
            UnitsChoice::Metric => Self::Metric,
            UnitsChoice::Us => Self::Us,
        }
    }
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Bench calculators: wire, taps, levels, filters and more.
    Calc(CalcArguments),
    /// Print a completion script for your shell.
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
}

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
