//! Where cable goes: weighted ground, lines as trees or chains, lengths, cut lists.

mod fill;
mod hole;
mod lengths;
mod spools;

pub use fill::{ConduitType, Fill, FillError, NIPPLE_LENGTH_M, conduit_fill, fill_limit, inside_diameter_mm};
pub use hole::{Digging, GRAVEL_KG_PER_M3, Hole, HoleError};
pub use lengths::{LengthRules, RunLength};
pub use spools::{CutList, EXACT_CUTS, SpoolError, cut_list};
