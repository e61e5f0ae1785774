//! What can be typed: the commands here, what each asks in a file of its own.

mod calc;
mod measuring;
mod new;
#[cfg(feature = "papers")]
mod pack;
mod part;
#[cfg(feature = "papers")]
mod picture;
mod predict;
mod propose;
mod readings;
#[cfg(feature = "serve")]
mod serve;
mod tune;

pub use calc::CalcArguments;
pub use measuring::{ListenArguments, SignalArguments, SignalKind};
pub use new::NewArguments;
#[cfg(feature = "papers")]
pub use pack::PackArguments;
pub use part::PartArguments;
#[cfg(feature = "papers")]
pub use picture::PictureArguments;
pub use predict::PredictArguments;
pub use propose::{OptionChoice, ProposeArguments};
pub use readings::{LocateArguments, ToleranceArguments, YearsArguments};
#[cfg(feature = "serve")]
pub use serve::{BackupArguments, LogLevel, MoveArguments, RestoreArguments, ServeArguments, WorkArguments};
pub use tune::TuneArguments;

use clap::{Parser, Subcommand, ValueEnum};
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
    /// Units in tables and papers (JSON is always SI); the job's when absent, metric where it says none.
    #[arg(long, global = true, value_enum)]
    pub units: Option<UnitsChoice>,
    /// Language of findings and other sentences in tables, and of papers: en, en-us or es; for `pack` also a file with wording of
    /// your own (`loamline language` prints the English to translate). That of the job when absent, for papers then the firm's,
    /// else English. JSON has every language.
    #[arg(long, global = true, value_name = "LANGUAGE")]
    pub language: Option<PathBuf>,
    /// Time by the clock that the command may take, e.g. 20s; it ends then, whatever is done. As long as it takes when absent.
    #[arg(long, global = true, value_name = "TIME")]
    pub within: Option<String>,
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
    /// Start a job: a folder with a small job.toml that passes `check`.
    New(NewArguments),
    /// Say what is wrong with a job, worst first, and what would mend it.
    Check {
        /// The job's folder.
        job: PathBuf,
        /// Which part of it.
        #[command(flatten)]
        part: PartArguments,
        /// Every finding by itself: findings that are alike are else told together.
        #[arg(long)]
        each: bool,
    },
    /// Predict levels in the areas, at the neighbours and at the loudest place.
    Predict(PredictArguments),
    /// Solve the lines: voltage, power and loss per loudspeaker, load per line, headroom per channel.
    Lines {
        /// The job's folder.
        job: PathBuf,
        /// Also show each line fed at 70.7 V, at 100 V and at low impedance, side by side.
        #[arg(long)]
        compare: bool,
        /// Also show what lies in each sleeve: cables, how full it is, the longest pull.
        #[arg(long)]
        ducts: bool,
        /// Which part of it.
        #[command(flatten)]
        part: PartArguments,
    },
    /// Show the bass: levels and spread per area, where subwoofers cancel, evener settings.
    Bass {
        /// The job's folder.
        job: PathBuf,
    },
    /// Find the way for every cable at least cost and write the runs into the job.
    Route {
        /// The job's folder.
        job: PathBuf,
        /// Also choose where each line starts: its rack, or the end of existing cable with a pair to spare.
        #[arg(long)]
        starts: bool,
        /// Show the schedule, write nothing.
        #[arg(long)]
        dry: bool,
    },
    /// Propose a whole design from the brief: places, lines, amplifiers, routes, processing and price.
    Propose(ProposeArguments),
    /// Say what a meter should read on every line, finished and while it is built.
    Expect {
        /// The job's folder.
        job: PathBuf,
        /// Meter frequencies, comma-separated; `dc` for direct current. Those the job states for its meter when absent.
        #[arg(long, value_name = "FREQUENCIES")]
        at: Option<String>,
        /// Only this line; nothing else is worked out.
        #[arg(long, value_name = "LINE")]
        line: Option<String>,
        /// What a good line may differ by.
        #[command(flatten)]
        tolerances: ToleranceArguments,
    },
    /// Rank what would explain meter readings taken at the rack, and say what to measure next.
    Locate(LocateArguments),
    /// Show how the readings of the job's visits move over the years, and warn before a line fails.
    Years(YearsArguments),
    /// Write the papers: proposal, quotation, crew pack, as-built sheet, sheets for before work starts,
    /// plan of work, electrical notes, handover certificate, client's guide, service sheet, labels, drawings, tables, data.
    #[cfg(feature = "papers")]
    Pack(PackArguments),
    /// Draw the garden in perspective with the sound on the ground, as SVG.
    #[cfg(feature = "papers")]
    Picture(PictureArguments),
    /// Work out the gain structure from the sources to the loudspeakers: levels, gain to set, headroom, noise.
    Sources {
        /// The job's folder.
        job: PathBuf,
    },
    /// Work out filters, gains, delays and limiters for every channel, and the order of work at the rack.
    Tune(TuneArguments),
    /// Write a test signal as a WAV file.
    Signal(SignalArguments),
    /// Analyse a recording of the sweep: arrival, polarity, response, level, noise.
    Listen(ListenArguments),
    /// Bench calculators: wire, taps, levels, filters and more.
    Calc(CalcArguments),
    /// Print the JSON Schema of job and catalogue files, or the OpenAPI of the web interface.
    Schema {
        /// Which files.
        #[arg(value_enum, default_value_t = SchemaKind::Job)]
        kind: SchemaKind,
    },
    /// Show how much of everything the program takes, and why not more.
    Limits {
        /// As the page docs/limits.md.
        #[arg(long)]
        markdown: bool,
    },
    /// Serve the web app and the jobs it works on to this computer's browser.
    #[cfg(feature = "serve")]
    Serve(ServeArguments),
    /// Work off what servers on a database ask for (proposals, and jobs to be looked over), on as many machines as there are.
    #[cfg(feature = "serve")]
    Work(WorkArguments),
    /// Move all of a file into a database that several servers share, or back: jobs, paired devices, the firm's files. Each is
    /// compared when it has arrived.
    #[cfg(feature = "serve")]
    Move(MoveArguments),
    /// Copy the jobs that `serve` keeps into one file, also while it serves them; the copy is read back.
    #[cfg(feature = "serve")]
    Backup(BackupArguments),
    /// Put such a copy in the place of the jobs that `serve` keeps; what stood there is kept beside it.
    #[cfg(feature = "serve")]
    Restore(RestoreArguments),
    /// Print every word on the papers, as the file to translate for `pack --language`.
    #[cfg(feature = "papers")]
    Language {
        /// The language: en, en-us or es.
        #[arg(default_value = "en")]
        name: String,
    },
    /// Print a completion script for your shell.
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
}

/// The files a schema describes.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum SchemaKind {
    /// `job.toml`.
    Job,
    /// Catalogue files.
    Catalogue,
    /// The interface under /api, as OpenAPI.
    #[cfg(feature = "serve")]
    Api,
}
