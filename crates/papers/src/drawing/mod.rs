//! Vector drawings: plans at true scale and the sketches of the crew's sheets.

mod cables;
mod field;
mod furniture;
mod key;
mod labels;
mod measure;
mod palette;
mod paper;
mod plan;
mod sheets;
mod spot;
mod svg;
mod symbols;

pub use field::LevelField;
pub use palette::line_style;
pub use paper::{Paper, Scale};
pub use plan::{PlanRequest, Reader, draw};
pub use sheets::{Sheet, sheets};
