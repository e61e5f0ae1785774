//! Where cable goes: weighted ground, lines as trees or chains, lengths, cut lists.
//!
//! A [`GroundPlan`] says what the site is made of; [`Ground::new`] checks it and makes the map;
//! [`Ground::path`] finds the cheapest way for one cable between two places.

mod fill;
mod ground;
mod hole;
mod lengths;
mod path;
mod spools;

pub use fill::{ConduitType, Fill, FillError, NIPPLE_LENGTH_M, conduit_fill, fill_limit, inside_diameter_mm};
pub use ground::{
    Building, Clip, Ground, GroundError, GroundPlan, GroundProblem, Lay, Method, NoGo, Place, PlaceError,
    Service, Sleeve, Surface, Wall,
};
pub use hole::{Digging, GRAVEL_KG_PER_M3, Hole, HoleError};
pub use lengths::{LengthRules, RunLength};
pub use path::{Cable, NearService, Path, RouteError, Stretch, Waypoint};
pub use spools::{CutList, EXACT_CUTS, SpoolError, cut_list};
