//! Bass: how subwoofers on one signal add up over an area, and where to put them.
//!
//! Everything here works on a [`BassField`]: the complex pressure each candidate gives at each point and frequency,
//! alone, at the drive it will have (time factor exp(-i w t), so a delay of t seconds multiplies by exp(i w t)).

mod cancel;
mod field;
mod search;
#[cfg(test)]
mod tests;

pub use cancel::{Cancellation, cancellations};
pub use field::{BassBand, BassError, BassField, BassLevels, SubwooferSetting, bass_levels};
pub use search::{
    BassSearch, RankedSetting, SEARCH_COUNTS, SPREAD_CLASS_DB, SearchCoverage, SearchResult,
    search_subwoofers,
};
