//! A job under study: the document turned into engine inputs, engines run, results kept by what they depend on.
//!
//! [`Study`] holds a job. Ask it for the runs as they lie, the lines, what is heard, the findings; change the job with
//! [`Study::set_job`] and only what depends on the change is worked out again. One file turns the document into the
//! input of one engine: `laid` (runs), `cables` (what is cut), `cable_orders` (from which spools), `electrical` (lines), `sound` (the field), `boundary` (neighbours), `ground_plan`
//! (routes).

mod bass;
mod boundary;
mod cable_orders;
mod cables;
mod channel_findings;
mod compare;
mod electrical;
mod finding;
mod ground_plan;
mod judged;
mod judged_findings;
mod kept;
mod laid;
mod levels;
mod lines;
mod mains;
mod meter;
mod preview;
mod propose;
mod routes;
mod site_findings;
mod sound;
mod study;
mod sweep_at;
mod tune;
mod years;

pub use bass::{Alone, AreaBass, BassReport, Null, bass};
pub use boundary::{Judged, NeighbourLevels, neighbours};
pub use cable_orders::{CableOrder, CableOrderError, Cut, OrderedSpool, cable_orders};
pub use cables::{Carried, LaidCable, laid_cables};
pub use compare::{LineComparison, compare};
pub use electrical::{CONDUCTOR_TEMPERATURE_C, conductor_size, pair, taps_w};
pub use finding::{Finding, Remedy, Severity, Subject, worst_first};
pub use ground_plan::ground_plan;
pub use judged::{Blamed, JudgedReading, judged, measured_words, question_of, visit_asks};
pub use judged_findings::judged_findings;
pub use kept::{Kept, KeptById};
pub use laid::{LaidPiece, LaidRun, laid_runs, length_rules};
pub use levels::{AreaLevels, LevelsReport, Loudest, spacing_m};
pub use lines::{AtLoudspeaker, LineKeeper, LinesReport};
pub use loamline_faults::LEAKAGE_MOHM;
pub use meter::{
    ExpectedLine, ExpectedRun, Located, METER_FREQUENCIES_HZ, Question, ReadingWorking, Spot, expect,
    expect_why, explain, fault_tables, readings_of,
};
pub use preview::preview;
pub use propose::{
    AreaFigures, Constraint, Failure, Figures, OptionKind, Phase, Proposal, ProposeError, ProposeOptions,
    ProposeProgress, Proposed, Reason, Replaced, Watch, covering_problem, propose, rule_of_thumb,
};
pub use routes::{RouteProblems, Routed, route};
pub use site_findings::run_findings;
pub use sound::{SAMPLE_RATE_HZ, Sound, directivity, filters_of, on_bands};
pub use study::{Heard, Study};
pub use sweep_at::{Place, SweepAsked, SweepPredicted, sweep_at};
pub use tune::{AreaTuned, ChannelTuned, NeighbourTuned, SettingReason, Tuned, tune};
pub use years::{Dated, Measured, Series, a_year, ohms, years};
