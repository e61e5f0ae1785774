//! Listening areas: points to predict at, and what their levels say about the area.

mod arrivals;
mod sample;
mod statistics;

pub use arrivals::{
    AreaArrivals, Arrival, ArrivalSpread, ECHO_LEVEL_DB, ECHO_TIME_S, area_arrivals, arrival_spread,
};
pub use sample::{SampleError, grid_steps, sample_outline};
pub use statistics::{AreaError, AreaStatistics, area_statistics, percentile};
