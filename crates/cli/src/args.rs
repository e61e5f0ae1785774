//! What can be typed.

mod new;
#[cfg(feature = "papers")]
mod picture;

pub use new::NewArguments;
#[cfg(feature = "papers")]
pub use picture::PictureArguments;

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
    /// Units in tables and papers (JSON is always SI); the job's when absent, metric where it says none.
    #[arg(long, global = true, value_enum)]
    pub units: Option<UnitsChoice>,
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
    /// Move the jobs of a file into a database that several servers share, or back; each is compared when it has arrived.
    #[cfg(feature = "serve")]
    Move(MoveArguments),
    /// Copy the jobs that `serve` keeps into one file, also while it serves them; the copy is read back.
    #[cfg(feature = "serve")]
    Backup(BackupArguments),
    /// Put such a copy in the place of the jobs that `serve` keeps; what stood there is kept beside it.
    #[cfg(feature = "serve")]
    Restore(RestoreArguments),
    /// Print every word on the papers, in English, as the file to translate for `pack --language`.
    #[cfg(feature = "papers")]
    Language,
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

/// Arguments of `serve`.
#[cfg(feature = "serve")]
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline serve\n  \
    loamline serve --data jobs --port 9000\n  \
    loamline serve --share\n  \
    loamline serve --devices\n  \
    loamline serve --database postgres://loamline@db.example/jobs --metrics-listen 127.0.0.1:9437 --log info")]
pub struct ServeArguments {
    /// Folder to keep the jobs in; the usual place for application data when absent.
    #[arg(long, value_name = "DIR")]
    pub data: Option<PathBuf>,
    /// Port on this computer; 0 takes a free one.
    #[arg(long, value_name = "PORT", default_value_t = 8437)]
    pub port: u16,
    /// Keep the jobs in this PostgreSQL database (15 or newer), which several servers may share, in place of a file.
    /// LOAMLINE_DATABASE says the same and shows a password to nobody.
    #[arg(long, value_name = "URL")]
    pub database: Option<String>,
    /// Answer /health and /metrics on this address and port.
    #[arg(long, value_name = "ADDRESS:PORT")]
    pub metrics_listen: Option<std::net::SocketAddr>,
    /// What is told on standard error, a line each: error, warn, info (every answer) or debug.
    #[arg(long, value_enum, value_name = "LEVEL", default_value_t = LogLevel::Warn)]
    pub log: LogLevel,
    /// Also let phones on the same network in, by HTTPS on the next port, once they know the code shown.
    #[arg(long)]
    pub share: bool,
    /// List the devices that have been let in, and serve nothing.
    #[arg(long, conflicts_with = "share")]
    pub devices: bool,
    /// Turn a device away by its id: it has to pair again. Serves nothing.
    #[arg(long, value_name = "ID", conflicts_with_all = ["share", "devices"])]
    pub forget: Option<String>,
}

/// How much is told on standard error.
#[cfg(feature = "serve")]
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum LogLevel {
    /// What failed.
    Error,
    /// What went wrong and was got over, too.
    Warn,
    /// Every answer, too.
    Info,
    /// Everything.
    Debug,
}

/// Arguments of `move`.
#[cfg(feature = "serve")]
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline move --from jobs/jobs.sqlite --to postgres://loamline@db.example/jobs\n  \
    loamline move --from postgres://loamline@db.example/jobs --to jobs.sqlite")]
pub struct MoveArguments {
    /// File or folder the jobs are in, or the address of a database. Nothing is taken away there.
    #[arg(long, value_name = "FILE or URL")]
    pub from: String,
    /// Where they go: the address of a database, or a file or folder.
    #[arg(long, value_name = "URL or FILE")]
    pub to: String,
}

/// Arguments of `backup`.
#[cfg(feature = "serve")]
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline backup --to backup/jobs.sqlite\n  \
    loamline backup --data jobs --to jobs-monday.sqlite")]
pub struct BackupArguments {
    /// Folder the jobs are kept in; the usual place for application data when absent.
    #[arg(long, value_name = "DIR")]
    pub data: Option<PathBuf>,
    /// The file to write; there must be none of this name.
    #[arg(long, value_name = "FILE")]
    pub to: PathBuf,
    /// For whoever keeps jobs in a database: how that is copied.
    #[arg(long, value_name = "URL", conflicts_with = "data")]
    pub database: Option<String>,
}

/// Arguments of `restore`.
#[cfg(feature = "serve")]
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline restore --from jobs-monday.sqlite\n  \
    loamline restore --from jobs-monday.sqlite --data jobs")]
pub struct RestoreArguments {
    /// The copy.
    #[arg(long, value_name = "FILE")]
    pub from: PathBuf,
    /// Folder the jobs are kept in; the usual place for application data when absent. No server may use it meanwhile.
    #[arg(long, value_name = "DIR")]
    pub data: Option<PathBuf>,
    /// For whoever keeps jobs in a database: how such a copy is put back.
    #[arg(long, value_name = "URL", conflicts_with = "data")]
    pub database: Option<String>,
}

/// Arguments of `predict`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline predict examples/guesthouse-garden\n  \
    loamline predict examples/guesthouse-garden --at 12.5,4\n  \
    loamline predict examples/guesthouse-garden --at \"41 ft,13 ft\" --ear \"5 ft 3 in\" --units us")]
pub struct PredictArguments {
    /// The job's folder.
    pub job: PathBuf,
    /// What is heard at one place, x,y from the datum, and what makes it.
    #[arg(long, value_name = "X,Y", allow_hyphen_values = true)]
    pub at: Option<String>,
    /// Height of the ears above the ground at that place.
    #[arg(long, value_name = "HEIGHT", default_value = "1.6 m")]
    pub ear: String,
    /// In JSON, also what each loudspeaker gives at each place of the neighbours: megabytes where there are many.
    #[arg(long, conflicts_with = "at")]
    pub each: bool,
}

/// Arguments of `pack`.
#[cfg(feature = "papers")]
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline pack examples/guesthouse-garden --out pack\n  \
    loamline pack examples/guesthouse-garden --out pack --only crew,tables --units us\n  \
    loamline pack examples/guesthouse-garden --out pack --firm firm.toml --prices prices.csv\n  \
    loamline pack examples/guesthouse-garden --out pack --only labels --labels \"63.5 x 38.1 mm, 3 x 7, gap 2.5 x 0 mm\"\n  \
    loamline propose examples/guesthouse-garden --json > proposal.json\n  \
    loamline pack examples/guesthouse-garden --out pack --only proposal --options proposal.json")]
pub struct PackArguments {
    /// The job's folder.
    pub job: PathBuf,
    /// The folder to write into; made when it is not there.
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// Parts to write, comma-separated: proposal, quotation, crew, as-built, before-work, work-plan,
    /// electrical, certificate, guide, service, labels, drawings, tables, data. All when absent.
    #[arg(long, value_name = "PARTS")]
    pub only: Vec<String>,
    /// Sheet of paper: A4, A3, Letter or Tabloid; A4 when absent, Letter in US units.
    #[arg(long)]
    pub paper: Option<String>,
    /// Wording in another language; `loamline language` prints the English to translate.
    #[arg(long, value_name = "FILE")]
    pub language: Option<PathBuf>,
    /// The firm's profile: letterhead, logo (a PNG or SVG file beside it) and wording.
    #[arg(long, value_name = "FILE")]
    pub firm: Option<PathBuf>,
    /// The sheets labels are printed on, "70 mm x 36 mm, 3 x 8" (a label, columns x rows), with "gap 1/8 in x 0 in" and
    /// "margin 7 mm x 15 mm" behind it where they are wanted; the firm's when absent, else the usual ones of the paper.
    #[arg(long, value_name = "STOCK")]
    pub labels: Option<String>,
    /// Own prices, as CSV.
    #[arg(long, value_name = "FILE")]
    pub prices: Option<PathBuf>,
    /// Options to put side by side in the proposal: what `loamline propose --json` prints, or JSON of your own.
    #[arg(long, value_name = "FILE")]
    pub options: Option<PathBuf>,
}

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
    /// By the clock it ends after 5 min and 60 times as much, or --within.
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

/// Arguments of `locate`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline locate examples/guesthouse-garden --line A --reading z@1kHz=61ohm --reading dc=2.9ohm\n  \
    loamline locate examples/guesthouse-garden --line B --reading dc=open\n  \
    loamline locate examples/guesthouse-garden --line A --visit V1 --pairs")]
pub struct LocateArguments {
    /// The job's folder.
    pub job: PathBuf,
    /// The line measured.
    #[arg(long, required_unless_present = "stub")]
    pub line: Option<String>,
    /// A stub whose existing cable was measured: the length of the cable from --reading dc=OHM, taken at the rack on one
    /// pair whose two conductors are joined at the stub.
    #[arg(long, conflicts_with_all = ["line", "opened", "pairs", "visit"])]
    pub stub: Option<String>,
    /// Store that length in the job.
    #[arg(long, requires = "stub")]
    pub write: bool,
    /// A reading: dc=OHM, z@FREQUENCY=OHM, with a phase z@FREQUENCY=OHM,DEGREES; `open` for more than the meter shows. At
    /// the rack, or at a joint looking away from the rack: JOINT:z@FREQUENCY=OHM. May be given several times.
    #[arg(long)]
    pub reading: Vec<String>,
    /// A joint that was opened and looked good. May be given several times.
    #[arg(long, value_name = "JOINT")]
    pub opened: Vec<String>,
    /// Also weigh two faults at once, at the cost of up to two seconds.
    #[arg(long)]
    pub pairs: bool,
    /// Also take the readings of this visit recorded in the job.
    #[arg(long)]
    pub visit: Option<String>,
    /// Temperature of the ground, which the conductors have; that of the visit, else 20 C.
    #[arg(long, value_name = "TEMPERATURE")]
    pub ground_temperature: Option<String>,
    /// What a good line may differ by.
    #[command(flatten)]
    pub tolerances: ToleranceArguments,
}

/// Arguments of `years`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  loamline years examples/guesthouse-garden")]
pub struct YearsArguments {
    /// The job's folder.
    pub job: PathBuf,
    /// What a good line may differ by.
    #[command(flatten)]
    pub tolerances: ToleranceArguments,
}

/// What a good line may differ from the drawing by: two in three are within these.
#[derive(Debug, Args)]
#[command(next_help_heading = "Tolerances")]
pub struct ToleranceArguments {
    /// Error of the meter, of the reading.
    #[arg(long, value_name = "SHARE", default_value = "1%")]
    pub meter_error: String,
    /// Error of the meter and its leads.
    #[arg(long, value_name = "OHM", default_value = "0.05ohm")]
    pub meter_floor: String,
    /// Length of a run against the drawing.
    #[arg(long, value_name = "SHARE", default_value = "4%")]
    pub length_tolerance: String,
    /// Voice coils and windings; inductances, resonances and Qs vary by more in proportion.
    #[arg(long, value_name = "SHARE", default_value = "5%")]
    pub component_tolerance: String,
    /// Temperature of the copper against the one expected, kelvin.
    #[arg(long, value_name = "KELVIN", default_value_t = 8.0)]
    pub temperature_spread: f64,
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

/// The test signals.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum SignalKind {
    /// Noise with the same energy in every third octave.
    PinkNoise,
    /// Exponential sweep with silence around it, for `listen`.
    Sweep,
    /// Pulses that push first: a cone that pulls first is wired the wrong way round.
    PolarityPulse,
    /// Tones in a rhythm of their own for every line.
    LineRhythm,
}

/// Arguments of `signal`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline signal sweep --from 60 --out sweep.wav\n  \
    loamline signal line-rhythm --line 3 --out line-3.wav\n  \
    loamline signal pink-noise --from 100 --to 10000 --length 60 --level -26 --out noise.wav")]
pub struct SignalArguments {
    /// Which signal.
    #[arg(value_enum)]
    pub kind: SignalKind,
    /// The WAV file to write.
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// Sample rate, Hz.
    #[arg(long, value_name = "HZ", default_value_t = 48_000.0)]
    pub rate: f64,
    /// Length, s (noise 30, sweep 8, pulses 10 unless given; a rhythm is played 10 times).
    #[arg(long, value_name = "S")]
    pub length: Option<f64>,
    /// Level, dB re full scale (noise -20 RMS, sweep -12, pulses -12, rhythm -30 unless given).
    #[arg(long, value_name = "DB", allow_negative_numbers = true)]
    pub level: Option<f64>,
    /// Lowest frequency, Hz, or the tone of a rhythm (noise 100, sweep 40, rhythm 800 unless given).
    #[arg(long, value_name = "HZ")]
    pub from: Option<f64>,
    /// Highest frequency, Hz (noise 10000, sweep 20000 unless given).
    #[arg(long, value_name = "HZ")]
    pub to: Option<f64>,
    /// Number of the line whose rhythm is wanted.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub line: u32,
}

/// Arguments of `listen`.
#[derive(Debug, Args)]
#[command(after_help = "The sweep's values must be those it was made with.\n\nExamples:\n  \
    loamline listen terrace.wav\n  \
    loamline listen terrace.wav --from 60 --calibration 112.4\n  \
    loamline listen terrace.wav --job examples/guesthouse-garden --at terrace --channel C1 --calibration 112.4")]
pub struct ListenArguments {
    /// WAV file: microphone on the first (left) channel, loop-back, if any, on the second.
    #[arg(value_name = "WAV")]
    pub recording: PathBuf,
    /// First frequency of the sweep, Hz.
    #[arg(long, value_name = "HZ", default_value_t = 40.0)]
    pub from: f64,
    /// Last frequency of the sweep, Hz.
    #[arg(long, value_name = "HZ", default_value_t = 20_000.0)]
    pub to: f64,
    /// Length of the sweep itself, s.
    #[arg(long, value_name = "S", default_value_t = 8.0)]
    pub length: f64,
    /// Level of the sweep, dB re full scale.
    #[arg(long, value_name = "DB", default_value_t = -12.0, allow_negative_numbers = true)]
    pub level: f64,
    /// Sound pressure level of a full-scale sine at the microphone, dB.
    #[arg(long, value_name = "DB")]
    pub calibration: Option<f64>,
    /// Predicted levels of a steady sine at the sweep's drive, dB: 31 third octaves from 20 Hz to 20 kHz.
    #[arg(
        long,
        value_name = "DB,...",
        value_delimiter = ',',
        requires = "calibration",
        allow_negative_numbers = true,
        conflicts_with = "job"
    )]
    pub predicted: Vec<f64>,
    /// The job's folder: what is heard is held against what the job predicts at a place.
    #[arg(long, value_name = "DIR", requires = "at")]
    pub job: Option<PathBuf>,
    /// Where the microphone stands: x,y from the datum, an area (its middle) or a mark.
    #[arg(long, value_name = "PLACE", requires = "job", allow_hyphen_values = true)]
    pub at: Option<String>,
    /// Height of the microphone above the ground; ear height of the area, or 1.6 m, when not given.
    #[arg(long, value_name = "HEIGHT", requires = "job")]
    pub height: Option<String>,
    /// Channels that play the sweep; all when neither these nor loudspeakers are given.
    #[arg(long, value_name = "ID,...", value_delimiter = ',', requires = "job")]
    pub channel: Vec<String>,
    /// Loudspeakers that play the sweep.
    #[arg(long, value_name = "TAG,...", value_delimiter = ',', requires = "job")]
    pub loudspeakers: Vec<String>,
}
