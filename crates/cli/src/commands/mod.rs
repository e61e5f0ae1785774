//! One file per command.

mod bass;
mod calc;
mod check;
mod completions;
mod expect;
#[cfg(feature = "serve")]
mod keep;
mod languages;
mod limits;
mod lines;
mod listen;
mod locate;
mod neighbours;
mod new;
mod open;
#[cfg(feature = "papers")]
mod pack;
#[cfg(feature = "papers")]
mod picture;
mod predict;
mod price_book;
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
#[cfg(feature = "serve")]
mod work;
mod years;

use crate::args::{Arguments, Command};
use crate::failure::{Failure, Verdict};
use crate::output::Format;
use loamline_limits::Leave;
use loamline_model::Quantity;
use loamline_model::document::Language;
use std::time::Duration;

/// Runs the command that was typed, within the time it may take.
pub fn run(arguments: &Arguments) -> Result<Verdict, Failure> {
    let leave = match &arguments.within {
        None => Leave::unbounded(),
        Some(text) => {
            let wrong = |why: String| Failure::input(format!("--within {text}: {why}"));
            let s = Quantity::Duration.parse(text).map_err(|e| wrong(e.to_string()))?;
            let time = Duration::try_from_secs_f64(s).map_err(|_| wrong("give a time from 0 s on".into()))?;
            Leave::within(time)
        }
    };
    leave.scope(|| dispatch(arguments)).unwrap_or_else(|over| Err(Failure::out_of_time(over)))
}

/// Whether a command takes a file of wording for a language.
fn takes_wording(command: &Command) -> bool {
    #[cfg(feature = "papers")]
    let takes = matches!(command, Command::Pack(_));
    #[cfg(not(feature = "papers"))]
    let takes = {
        let _ = command;
        false
    };
    takes
}

fn dispatch(arguments: &Arguments) -> Result<Verdict, Failure> {
    let wording = arguments.language.as_deref();
    let spoken = match wording {
        // A file with wording of one's own: a language of papers alone.
        Some(name) if takes_wording(&arguments.command) => name.to_str().and_then(Language::named),
        Some(name) => Some(languages::named(&name.to_string_lossy())?),
        None => None,
    };
    let format = Format::new(arguments.json, arguments.units.map(Into::into), spoken);
    match &arguments.command {
        Command::New(arguments) => new::run(arguments, format),
        Command::Check { job, part, each } => check::run(job, part, *each, format),
        Command::Predict(predict) => predict::run(predict, format),
        Command::Bass { job } => bass::run(job, format),
        Command::Route { job, starts, dry } => route::run(job, *starts, *dry, format),
        Command::Propose(arguments) => propose::run(arguments, format),
        Command::Expect { job, at, line, tolerances } => {
            expect::run(job, (at.as_deref(), line.as_deref()), tolerances, format)
        }
        Command::Locate(locate) => locate::run(locate, format),
        Command::Years(arguments) => years::run(arguments, format),
        #[cfg(feature = "papers")]
        Command::Pack(arguments) => pack::run(arguments, wording, format),
        #[cfg(feature = "papers")]
        Command::Picture(arguments) => picture::run(arguments, format),
        #[cfg(feature = "papers")]
        Command::Language { name } => pack::language(name),
        Command::Lines { job, compare, ducts, part } => lines::run(job, (*compare, *ducts), part, format),
        Command::Sources { job } => sources::run(job, format),
        Command::Tune(tune) => tune::run(tune, format),
        Command::Signal(signal) => signal::run(signal, format),
        Command::Listen(listen) => listen::run(listen, format),
        Command::Schema { kind } => schema::run(*kind),
        Command::Limits { markdown } => limits::run(*markdown, format),
        #[cfg(feature = "serve")]
        Command::Serve(_) if arguments.within.is_some() => {
            Err(Failure::input("--within: a server answers until it is stopped"))
        }
        #[cfg(feature = "serve")]
        Command::Work(_) if arguments.within.is_some() => {
            Err(Failure::input("--within: a worker works until it is stopped"))
        }
        #[cfg(feature = "serve")]
        Command::Work(arguments) => work::run(arguments, format),
        #[cfg(feature = "serve")]
        Command::Serve(arguments) => serve::run(arguments, format),
        #[cfg(feature = "serve")]
        Command::Move(arguments) => keep::move_over(arguments, format),
        #[cfg(feature = "serve")]
        Command::Backup(arguments) => keep::back_up(arguments, format),
        #[cfg(feature = "serve")]
        Command::Restore(arguments) => keep::put_back(arguments, format),
        Command::Calc(calc) => calc::run(calc, format),
        Command::Completions { shell } => completions::run(*shell),
    }
}
