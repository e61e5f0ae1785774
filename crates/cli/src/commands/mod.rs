//! One file per command.

mod bass;
mod calc;
mod check;
mod completions;
mod expect;
mod limits;
mod lines;
mod listen;
mod locate;
mod neighbours;
mod new;
mod open;
#[cfg(feature = "papers")]
mod pack;
mod predict;
mod propose;
mod reading;
mod route;
mod schema;
#[cfg(feature = "serve")]
mod serve;
mod signal;
mod sources;
mod stub_cable;
mod tolerances;
mod tune;
mod years;

use crate::args::{Arguments, Command};
use crate::failure::{Failure, Verdict};
use crate::output::Format;

/// Runs the command that was typed.
pub fn run(arguments: &Arguments) -> Result<Verdict, Failure> {
    let format = Format { json: arguments.json, units: arguments.units.into() };
    match &arguments.command {
        Command::New { folder, name } => new::run(folder, name.as_deref(), format),
        Command::Check { job } => check::run(job, format),
        Command::Predict(predict) => predict::run(predict, format),
        Command::Bass { job } => bass::run(job, format),
        Command::Route { job, starts, dry } => route::run(job, *starts, *dry, format),
        Command::Propose(arguments) => propose::run(arguments, format),
        Command::Expect { job, at, tolerances } => expect::run(job, at.as_deref(), tolerances, format),
        Command::Locate(locate) => locate::run(locate, format),
        Command::Years(arguments) => years::run(arguments, format),
        #[cfg(feature = "papers")]
        Command::Pack(arguments) => pack::run(arguments, format),
        #[cfg(feature = "papers")]
        Command::Language => pack::language(),
        Command::Lines { job, compare } => lines::run(job, *compare, format),
        Command::Sources { job } => sources::run(job, format),
        Command::Tune(tune) => tune::run(tune, format),
        Command::Signal(signal) => signal::run(signal, format),
        Command::Listen(listen) => listen::run(listen, format),
        Command::Schema { kind } => schema::run(*kind),
        Command::Limits { markdown } => limits::run(*markdown, format),
        #[cfg(feature = "serve")]
        Command::Serve(arguments) => serve::run(arguments, format),
        Command::Calc(calc) => calc::run(calc, format),
        Command::Completions { shell } => completions::run(*shell),
    }
}
