//! Quantities, prices, drawings and the typeset pack.
//!
//! [`pack`] turns a job and its results into files: PDFs, drawings as SVG, tables as CSV, the data as JSON. It is
//! pure: equal inputs give equal bytes, nothing is read or written.

#[cfg(test)]
mod checks;
mod drawing;
mod error;
mod firm;
mod money;
mod pack;
mod quantities;
mod quotation;
mod results;
mod sections;
mod table;
mod taping;
mod typeset;
mod words;

pub use drawing::{LevelField, Paper, Scale};
pub use error::PapersError;
pub use firm::FirmProfile;
pub use pack::{PackFile, PackOptions, Part, pack};
pub use quantities::{BillItem, CableNeed, Cut, Group, HoleNeed, JointConductor, JointNeed, SpoolCuts, Unit};
pub use quotation::{PriceBook, PricedItem, Quotation};
pub use results::{
    AreaResult, ChannelResult, LimitResult, LineResult, LoudspeakerResult, NeighbourResult, Results,
};
pub use taping::{FixedPoint, Taping};
pub use words::Words;
