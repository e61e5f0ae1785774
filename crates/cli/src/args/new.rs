//! What `loamline new` asks.

use clap::Args;
use std::path::PathBuf;

/// Where a job is to lie and what holds where it is built.
#[derive(Debug, Args)]
#[command(
    after_help = "With --units us the job is in feet, amounts are in USD without tax and racks are on 120 V, 20 A circuits; \
    else it is in metres, in EUR with the price book's tax, on 230 V, 16 A. The options change each, and so do the keys \
    `units`, `currency` and `tax` under [job], `mains` and `circuit` of a rack."
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
    /// Mains voltage at the racks, such as "120 V".
    #[arg(long)]
    pub mains: Option<String>,
    /// Rated current of one mains circuit, such as "20 A".
    #[arg(long)]
    pub circuit: Option<String>,
}
