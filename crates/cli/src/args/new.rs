//! What `loamline new` asks.

use clap::Args;
use std::path::PathBuf;

/// Where a job is to lie and what holds where it is built.
#[derive(Debug, Args)]
#[command(
    after_help = "With --units us the job is in feet, amounts are in USD without tax, racks are on 120 V, 20 A circuits and \
    papers are Letter; else it is in metres, in EUR with the price book's tax, on 230 V, 16 A, on A4. The options change \
    each, and so do the keys `units`, `currency`, `tax`, `mains`, `circuit` and `paper` under [job]."
)]
pub struct NewArguments {
    /// The folder to make.
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// The job's name.
    #[arg(long)]
    pub name: Option<String>,
    /// Currency of every amount: a three-letter code, such as USD.
    #[arg(long, value_name = "CODE")]
    pub currency: Option<String>,
    /// Tax on the whole, such as "8 %".
    #[arg(long)]
    pub tax: Option<String>,
    /// Mains voltage of the place, such as "120 V".
    #[arg(long)]
    pub mains: Option<String>,
    /// Rated current of one mains circuit, such as "20 A".
    #[arg(long)]
    pub circuit: Option<String>,
    /// Sheet of paper it is printed on: A4, A3, Letter or Tabloid.
    #[arg(long)]
    pub paper: Option<String>,
}
