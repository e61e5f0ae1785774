#![doc = include_str!("../README.md")]
//!
//! A [`GroundPlan`] says what the site is made of; [`GroundMap::new`] checks it and makes the map;
//! [`GroundMap::path`] finds the cheapest way for one cable between two places, [`GroundMap::lines`] joins loudspeakers
//! to feeds at least installed cost, and [`cut_list`] says which lengths to cut from which spool.

mod fill;
mod ground;
mod hole;
mod lengths;
mod lines;
mod path;
mod spools;

pub use fill::{ConduitType, Fill, FillError, NIPPLE_LENGTH_M, conduit_fill, fill_limit, inside_diameter_mm};
pub use ground::{
    Building, Clip, GroundMap, GroundMapError, GroundPlan, GroundProblem, Lay, Method, NoGo, OuterWall,
    Passage, RunEnd, RunEndError, Service, Sleeve, Surface, Wall,
};
pub use hole::{Digging, GRAVEL_KG_PER_M3, Hole, HoleError};
pub use lengths::{LengthRules, RunLength};
pub use lines::{
    BranchBox, Bundle, BundledLine, ConstantVoltage, Feed, FixedRun, LineCable, LineFinding, LineNode,
    LineProblem, LineProblemError, LinesError, LossLimit, LossModel, Mode, Parting, RoutedLine, RoutedLines,
    RoutedRun, SleeveUse, StubOut, Terminal, Totals, Work,
};
pub use path::{CableToLay, NearService, OpenHole, Opened, Path, RouteError, Stretch, Waypoint};
pub use spools::{CutList, SpoolCuts, SpoolError, cut_list};
