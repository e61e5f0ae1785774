//! Vector drawings: plans at true scale and the sketches of the crew's sheets.

mod cables;
mod code;
mod field;
mod furniture;
mod ground_detail;
pub mod joint_sketch;
mod key;
mod labels;
pub mod lead_sketch;
mod legend;
pub mod level_colours;
mod measure;
mod name;
mod palette;
pub mod perspective;
mod plan;
mod scale;
mod sheet;
mod sheets;
mod sketch;
mod spot;
mod svg;
mod symbols;
pub mod taping_sketch;

pub use code::square_code;
pub use field::LevelField;
pub use ground_detail::{GroundDetail, SIZE_MM as GROUND_DETAIL_MM};
pub use palette::{INK, line_style};
pub use perspective::usual_bearing_deg;
pub use plan::{PlanRequest, Reader, draw, filled, filled_with, floor_by_id, height_filled_mm};
pub use scale::Scale;
pub use sheet::{Sheet, Side};
pub use sheets::{MARGIN_X_MM, extent, key_needs_a_sheet, key_sheet, part_sheets, unreadable, whole_sheet};
