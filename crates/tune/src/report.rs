//! What the tuning of a job gives.

use indexmap::IndexMap;
use loamline_acoustics::{AreaStatistics, LimitQuantity};
use loamline_model::Edit;
use loamline_processing::{
    AreaDelayReport, ChannelPlan, HighPassChoice, LimiterCost, OrderOfWork, SettingRow,
};
use loamline_study::Finding;
use serde::Serialize;

/// Processing for a whole job.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Tuned {
    /// Channels that drive a load, by id.
    pub channels: IndexMap<String, ChannelTuned>,
    /// Areas by id, before and after.
    pub areas: IndexMap<String, AreaTuned>,
    /// Per area: where delays help and where not to bother.
    pub delays: Vec<AreaDelayReport>,
    /// Neighbours with the new settings; empty when the job has none.
    pub neighbours: Vec<NeighbourTuned>,
    /// The order of work at the rack, with these settings.
    pub order: Vec<OrderOfWork>,
    /// The same with the settings that stand in the job, as the rack sheet has them: what a crew loads and reads back.
    #[serde(skip)]
    pub order_as_written: Vec<OrderOfWork>,
    /// What the settings that stand in the job leave unprotected: gone once the new ones are written.
    pub standing: Vec<Finding>,
    /// What the new settings leave open.
    pub findings: Vec<Finding>,
    /// The edit that writes the settings into the job.
    pub edit: Edit,
}

/// Processing for one channel.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ChannelTuned {
    /// Everything to set.
    pub plan: ChannelPlan,
    /// Settings of makers it starts from.
    pub makers: Vec<SettingsLoaded>,
    /// Highest high-pass corner those ask for, Hz.
    pub makers_corner_hz: Option<f64>,
    /// Sections of the equaliser that are the maker's; those behind them are added.
    pub makers_sections: usize,
    /// Loudspeaker whose maker's limiter sets the RMS threshold.
    pub makers_limit: Option<String>,
    /// Why the high-pass stands where it does; absent when nothing behind the channel could be protected.
    pub high_pass: Option<HighPassChoice>,
    /// Corner shared between full-range loudspeakers and subwoofers of one programme, Hz.
    pub crossover_hz: Option<f64>,
    /// Tags of the loudspeakers that set the RMS and the peak threshold.
    pub weakest: Option<(String, String)>,
    /// What the limiter takes away when the programme's peaks reach the largest sine the amplifier gives into what hangs on it.
    pub limiter_cost: Option<LimiterCost>,
    /// Highest gain at which the limiter stays out of the way and the channel within its own limits, dB re full scale.
    #[serde(skip)]
    pub highest_gain_db: f64,
    /// RMS deviation from the wanted response before and after the equaliser, dB; absent when none was fitted.
    pub equalised_rms_db: Option<(f64, f64)>,
    /// What is typed in, in the order it is entered.
    pub settings: Vec<SettingRow>,
}

/// Settings of a maker that a channel starts from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SettingsLoaded {
    /// Catalogue id of the model they are for.
    pub model: String,
    /// Their date, as the maker states it.
    pub date: String,
}

/// An area before and after.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AreaTuned {
    /// Its name.
    pub name: String,
    /// Level wanted, dBA.
    pub target_dba: f64,
    /// With the settings that stand in the job.
    pub before: AreaStatistics,
    /// With the new settings.
    pub after: AreaStatistics,
    /// RMS deviation of the area's mean response from the programme's spectrum, with the bass asked, under the settings
    /// that stand, dB.
    pub uneven_before_db: f64,
    /// The same with the new settings, dB.
    pub uneven_after_db: f64,
}

/// A neighbour with the new settings, at the worst of its places.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct NeighbourTuned {
    /// Id of the neighbour.
    pub neighbour: String,
    /// Its name.
    pub name: String,
    /// The floor, where it has several.
    pub floor: Option<String>,
    /// Whether it is the limit by night, with the system turned down, that is nearest; else that by day.
    pub by_night: bool,
    /// What is limited.
    pub quantity: LimitQuantity,
    /// Level there, dB.
    pub level_db: f64,
    /// Limit, dB.
    pub limit_db: f64,
}

impl NeighbourTuned {
    /// Limit less level, dB; negative above the limit.
    pub fn margin_db(&self) -> f64 {
        self.limit_db - self.level_db
    }
}
