//! Filters as an installer names them, as second-order sections and as complex responses.

mod chain;
mod equaliser;
mod pass;
mod prototype;
mod rate;
mod section;
mod setting;

pub use chain::Chain;
pub use equaliser::{EqKind, EqSection};
pub use pass::{Alignment, Pass, PassFilter};
pub use rate::SampleRate;
pub use section::{Section, cascade_gain, wrapped_phase_rad};
pub use setting::SettingError;
