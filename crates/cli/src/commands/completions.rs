//! `loamline completions SHELL`

use crate::args::Arguments;
use crate::failure::{Failure, Verdict};
use crate::output;
use clap::CommandFactory;

pub fn run(shell: clap_complete::Shell) -> Result<Verdict, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Arguments::command(), "loamline", &mut script);
    output::data(&String::from_utf8_lossy(&script))?;
    Ok(Verdict::Fine)
}
