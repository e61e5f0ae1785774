#![doc = include_str!("../README.md")]
//!
//! [`pack`] turns a job and its results into files: PDFs, drawings as SVG, tables as CSV, the data as JSON;
//! [`pages`] gives the pages of one of them for a screen. Both are
//! pure: equal inputs give equal bytes, nothing is read or written.

mod cables_in_use;
#[cfg(test)]
mod checks;
mod depths;
mod design_options;
mod drawing;
mod error;
mod firm;
mod label_stock;
mod material;
mod measures;
mod offer;
mod options;
mod pack;
mod picture;
mod pins;
mod results;
mod sections;
mod site_photo;
mod stages;
mod table;
mod tags;
mod taping;
mod typeset;
mod wording;
mod words;

pub use design_options::{DesignOption, OPTION_PICTURE_MM};
pub use drawing::{LevelField, Scale, usual_bearing_deg};
pub use error::{LanguageError, PapersError};
pub use firm::{FirmProfile, Logo};
pub use label_stock::LabelStock;
pub use offer::{
    Offer, OfferAmount, OfferArea, OfferDesign, OfferItem, OfferNeighbour, OfferOptions, OfferPlan, OfferRow,
};
pub use options::{Accepted, PackOptions, Part};
pub use pack::{PackFile, offer, pack, pages};
pub use picture::{PictureError, PictureView, perspective, scale_top_db};
pub use results::{
    AreaResult, ChannelResult, DrawResult, LimitResult, LineResult, LoudspeakerResult, MeterResult,
    NeighbourResult, RackResult, Results, StageResult,
};
pub use site_photo::SitePhoto;
pub use taping::{FixedPoint, Taping};
pub use typeset::let_go_of_typesetting;
pub use words::Words;
