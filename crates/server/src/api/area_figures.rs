//! The figures of an area that follow a drag.

use serde::Serialize;
use utoipa::ToSchema;

/// The figures of an area that follow a drag.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AreaFigures {
    /// Mean of LAeq over the area, dBA.
    pub mean_dba: f64,
    /// A tenth of the area is below, dBA.
    pub p10_dba: f64,
    /// A tenth of the area is above, dBA.
    pub p90_dba: f64,
    /// Share of the area within the tolerance of the level wanted, 0 to 1.
    pub share_within: f64,
    /// Bass less mid band, dB.
    pub bass_over_mid_db: f64,
}

impl From<&loamline_acoustics::AreaStatistics> for AreaFigures {
    fn from(s: &loamline_acoustics::AreaStatistics) -> Self {
        Self {
            mean_dba: s.mean_dba,
            p10_dba: s.p10_dba,
            p90_dba: s.p90_dba,
            share_within: s.share_within,
            bass_over_mid_db: s.bass_over_mid_db,
        }
    }
}
