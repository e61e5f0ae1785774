#![doc = include_str!("../README.md")]
//!
//! [`Study`] is a job at one revision. Ask it for the runs as they lie, the lines, what is heard, the findings: each is made
//! once. [`Study::next`] is the study of another revision; only what depends on the change is worked out again.

mod against_limit;
mod alike;
mod along_boundary;
mod asked_limits;
mod at_place;
mod bass;
mod beginnings;
mod boundary;
mod boundary_findings;
mod cable_orders;
mod changed_design;
mod channel_findings;
mod channel_supply;
mod colour_findings;
mod compare;
mod drag;
mod ducts;
mod error;
mod even_findings;
mod existing_findings;
mod finding;
mod ground_findings;
mod judged;
mod judged_findings;
mod judged_levels;
mod level_map;
mod levels;
mod lines;
mod link_findings;
mod mains;
mod measured;
mod memo;
mod meter;
mod names;
mod needs;
mod no_way;
mod part;
mod part_findings;
mod plain;
mod played;
mod preview;
mod price_findings;
mod promptly;
mod put_on;
mod routed_job;
mod routes;
mod sampling;
mod series_findings;
mod site_findings;
mod source_findings;
mod sources;
mod spare_findings;
mod speech;
mod spool_findings;
mod spools;
mod starts;
mod stub_length;
mod study;
mod suits;
mod sweep_at;
mod tag_findings;
mod years;

pub use against_limit::{Judged, ReflectedBy};
pub use alike::{Alike, alike};
pub use asked_limits::{AskedLimit, When, asked_limits, neighbour_place};
pub use at_place::{AtPlaceReport, LoudspeakerShare, PathLevel, way_words};
pub use bass::{Alone, AreaBass, BassReport, Null, bass};
pub use boundary::{NeighbourLevels, neighbours};
pub use cable_orders::{CableOrder, CableOrderError, Cut, OrderedSpool, cable_orders};
pub use changed_design::{DesignChange, design_changes};
pub use channel_findings::{channel_findings, channel_plan};
pub use compare::{LineComparison, compare};
pub use drag::{DragFigures, Dragged};
pub use ducts::{DuctUse, ducts};
pub use error::{FieldError, NeighbourError, StudyError, Unknown};
pub use even_findings::{NOTHING_DBA, even_findings};
pub use finding::{Finding, Remedy, Severity, Subject, worst_first};
pub use judged::{Blamed, JudgedReading, SoFar, judged, question_of, so_far, visit_asks};
pub use judged_findings::judged_findings;
pub use judged_levels::{JudgedLevel, judged_levels};
pub use level_map::{Grid, LevelMap, MapPlaces};
pub use levels::{AreaLevels, LevelsReport, Loudest};
pub use lines::{AtLoudspeaker, LinesReport, SolvedLines};
pub use loamline_faults::LEAKAGE_MOHM;
pub use measured::{Measured, measured_words, ohms};
pub use meter::{
    ExpectedLine, ExpectedRun, Located, METER_FREQUENCIES_HZ, Question, ReadingWorking, Spot, expect,
    expect_line, expect_why, explain, fault_tables, meter_frequencies_hz, readings_of,
};
pub use names::{area_within, area_words, named, named_or, neighbour_within, neighbour_words, stub_words};
pub use needs::{
    GroundNeed, JointConductor, JointNeed, Wire, crossings, ground_needs, joint_needs, opens_ground,
    wall_holes,
};
pub use no_way::{NoWay, RouteProblem, RouteProblems};
pub use part::{PartStudy, part_alone};
pub use played::{Played, PlayedAt, played};
pub use preview::Previews;
pub use promptly::{prompt_threads_begin, promptly};
pub use put_on::{PutOn, PutOnError, put_on};
pub use routed_job::RoutedJob;
pub use routes::{InPieces, Routed, in_pieces, route, route_each_alone, route_told};
pub use sampling::{Crowd, Sampling};
pub use sources::SourcesReport;
pub use starts::{route_each_alone_from_best_starts, route_from_best_starts};
pub use stub_length::{StubLength, StubLoop, stub_length, stub_loop};
pub use study::{Expected, Heard, Study, Worked};
pub use sweep_at::{SweepAsked, SweepPlace, SweepPredicted, sweep_at};
pub use years::{DAYS_A_YEAR, Dated, LEAKAGE_DEVIATION, MayPass, Series, a_year, years};
