#![doc = include_str!("../README.md")]
//!
//! `args` declares what can be typed, `commands` has one file per command, `output` writes tables, JSON and progress.
//! Data goes to standard output, everything else to standard error. Exit codes: 0 fine, 1 findings of severity error,
//! 2 bad input.

mod args;
mod commands;
mod failure;
mod interrupt;
mod output;
mod read;

use clap::Parser;
use failure::Failure;
use std::process::ExitCode;

/// Gives memory back soon after the work that took it; how soon is said in `.cargo/config.toml`.
#[cfg(not(target_env = "msvc"))]
#[global_allocator]
static ALLOCATOR: tikv_jemallocator::Jemalloc = tikv_jemallocator::Jemalloc;

fn main() -> ExitCode {
    let arguments = args::Arguments::parse();
    match commands::run(&arguments) {
        Ok(verdict) => verdict.into(),
        Err(failure) => {
            if let (true, Failure::Job(report)) = (arguments.json, &failure) {
                // An editor reads the places from here; people read the same below.
                let _ = output::json(report);
            }
            output::log(&failure.to_string());
            ExitCode::from(2)
        }
    }
}
