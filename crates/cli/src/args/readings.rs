//! What `loamline locate` and `loamline years` ask, and how far a good line may differ.

use clap::Args;
use std::path::PathBuf;

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
