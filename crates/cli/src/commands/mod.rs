//! One file per command.

mod calc;
mod completions;

use crate::args::{Arguments, Command};
use crate::failure::{Failure, Verdict};
use crate::output::Format;

/// Runs the command that was typed.
pub fn run(arguments: &Arguments) -> Result<Verdict, Failure> {
    let format = Format { json: arguments.json, units: arguments.units.into() };
    match &arguments.command {
        Command::Calc(calc) => calc::run(calc, format),
        Command::Completions { shell } => completions::run(*shell),
    }
}
