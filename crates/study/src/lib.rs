#![doc = include_str!("../README.md")]
//!
//! [`Study`] is a job at one revision. Ask it for the runs as they lie, the lines, what is heard, the findings: each is made
//! once. [`Study::next`] is the study of another revision; only what depends on the change is worked out again. One file
//! turns the document into the input of one engine: `laid` (runs), `existing` (cable that was there already), `cables`
//! (what is cut), `cable_orders` (from which spools), `electrical` (lines), `sound` (the field), `boundary` (neighbours), `ground_plan`
//! (routes).

mod bass;
mod beginnings;
mod boundary;
mod cable_orders;
mod cables;
mod channel_findings;
mod compare;
mod conductors;
mod drag;
mod electrical;
mod existing;
mod finding;
mod ground_plan;
mod judged;
mod judged_findings;
mod laid;
mod level_map;
mod levels;
mod lines;
mod mains;
mod memo;
mod meter;
mod plain;
mod preview;
mod promptly;
mod propose;
mod put_on;
mod routes;
mod sampling;
mod site_findings;
mod sound;
mod stub_length;
mod study;
mod sweep_at;
mod tune;
mod years;

pub use bass::{Alone, AreaBass, BassReport, Null, bass};
pub use boundary::{Judged, NeighbourLevels, neighbours};
pub use cable_orders::{CableOrder, CableOrderError, Cut, OrderedSpool, cable_orders};
pub use cables::{Carried, LaidCable, laid_cables};
pub use compare::{LineComparison, compare};
pub use conductors::{Conductors, pair_conductors, run_conductors, run_pairs};
pub use drag::{DragFigures, Dragged};
pub use electrical::{CONDUCTOR_TEMPERATURE_C, conductor_size, pair, taps_w};
pub use existing::ExistingRun;
pub use finding::{Finding, Remedy, Severity, Subject, worst_first};
pub use ground_plan::ground_plan;
pub use judged::{Blamed, JudgedReading, judged, measured_words, question_of, visit_asks};
pub use judged_findings::judged_findings;
pub use laid::{LaidPiece, LaidRun, laid_runs, length_rules};
pub use level_map::{Grid, LevelMap, MapPlaces};
pub use levels::{AreaLevels, LevelsReport, Loudest};
pub use lines::{AtLoudspeaker, LinesReport, SolvedLines};
pub use loamline_faults::LEAKAGE_MOHM;
pub use meter::{
    ExpectedLine, ExpectedRun, Located, METER_FREQUENCIES_HZ, Question, ReadingWorking, Spot, expect,
    expect_why, explain, fault_tables, readings_of,
};
pub use preview::Previews;
pub use promptly::promptly;
pub use propose::{
    AreaFigures, Constraint, Failure, Figures, OptionKind, Phase, Proposal, ProposeError, ProposeOptions,
    ProposeProgress, Proposed, Reason, Replaced, Watch, covering_problem, propose, rule_of_thumb,
};
pub use put_on::{PutOn, PutOnError, put_on};
pub use routes::{RouteProblems, Routed, route};
pub use sampling::{Crowd, Sampling};
pub use site_findings::run_findings;
pub use sound::{SAMPLE_RATE_HZ, Sound, directivity, filters_of, on_bands};
pub use stub_length::{StubLength, StubLoop, stub_length, stub_loop};
pub use study::{Expected, Heard, Study, Worked};
pub use sweep_at::{Place, SweepAsked, SweepPredicted, sweep_at};
pub use tune::{AreaTuned, ChannelTuned, NeighbourTuned, SettingReason, Tuned, tune, tuned};
pub use years::{DAYS_A_YEAR, Dated, LEAKAGE_DEVIATION, Measured, Series, a_year, ohms, years};
