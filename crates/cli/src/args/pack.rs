//! What `loamline pack` asks.

use super::PartArguments;
use clap::Args;
use std::path::PathBuf;

/// Arguments of `pack`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    loamline pack examples/guesthouse-garden --out pack\n  \
    loamline pack examples/guesthouse-garden --out pack --only crew,tables --units us\n  \
    loamline pack examples/guesthouse-garden --out pack --firm firm.toml --prices prices.csv\n  \
    loamline pack examples/guesthouse-garden --out pack --only labels --labels \"63.5 x 38.1 mm, 3 x 7, gap 2.5 x 0 mm\"\n  \
    loamline pack examples/guesthouse-garden --out pack --crew-language es\n  \
    loamline pack estate --out pack/phase-1 --phase first --only crew,work-plan,certificate\n  \
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
    /// Sheet of paper: A4, A3, Letter or Tabloid; the job's when absent (A4, in US units Letter, where it says none).
    #[arg(long)]
    pub paper: Option<String>,
    /// Language of what the crew reads, as --language: crew pack, plans, labels, what is settled before work starts, plan of work,
    /// electrical notes, as-built and service sheets. That of --language when absent, else the job's, else the firm's.
    #[arg(long, value_name = "LANGUAGE")]
    pub crew_language: Option<PathBuf>,
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
    /// Which part of it.
    #[command(flatten)]
    pub part: PartArguments,
}
