#![doc = include_str!("../README.md")]

mod each_alone;
mod error;
mod fed;
mod gains;
mod maker;
mod neighbours;
mod protection;
mod reasons;
mod report;
mod shape;
mod tune;
mod weights;
mod within;
mod write;

pub use error::TuningError;
pub use reasons::SettingReason;
pub use report::{AreaTuned, ChannelTuned, NeighbourTuned, SettingsLoaded, Tuned};
pub use tune::{tune, tuned};
