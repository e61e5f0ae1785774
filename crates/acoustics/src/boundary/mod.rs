//! Levels at the neighbours: ISO 9613-2:1996, general method.
//!
//! Implemented, in octaves 63 Hz to 8 kHz, downwind: divergence, air absorption (exact centres), the ground of
//! clause 7.3.1 in three regions, screening of clause 7.4 over the top and round both ends, reflections of clause 7.5
//! (first order; what is decided there stands in `reflection.rs`). Questions the standard leaves open are answered as
//! ISO/TR 17534-3:2015 answers them; the rest is stated where it is decided:
//! - Over the top: the shortest path over the edges in the vertical plane through source and receiver, that is the
//!   upper convex hull. Where nothing rises above the line of sight, the one edge with the least detour counts,
//!   its detour negative.
//! - Round each end: the shortest path in plan round everything that rises above the line of sight (where nothing
//!   does: round the obstacle whose edge counts), lengthened by the difference in height; anything else that path
//!   would run through is rounded on the outside too. From or to a place above the roof of such an obstacle there
//!   is no way round.
//! - A step in the ground is an edge like a wall of no thickness where it rises above the line of sight; below it, it
//!   takes nothing. From or to ground as high as the step there is no way round it.
//! - A screen or building that the line from source to receiver does not cross in plan does not screen, however
//!   near; one that only touches a source or receiver (a neighbour's point on the fence line) does not either,
//!   which is the careful side.
//! - Ground regions that overlap: the later one counts.
//! - Heights over the ground, for clause 7.3.1, count from the ground under each end; distances, sight lines and edges
//!   are in elevations.
//!
//! Left out: foliage, sites and housing (annex A), the
//! meteorological correction (clause 8), the rule that an obstacle must be wider than the wavelength (the ways
//! round the ends already let low sound past a narrow one).
//! The 31.5 Hz octave is an extension beyond the standard, marked as such: it uses the 63 Hz ground terms and does
//! not enter the total.
//! Checked against cases T01 to T04, T08 and T11 of ISO/TR 17534-3, 0.05 dB per octave and in total; none of these has
//! a reflection, which is checked by hand and against a second implementation (checks/test_boundary.py).

mod contribution;
mod ground;
mod in_step;
mod levels;
mod octave_levels;
mod problem;
mod propagation;
mod reflection;
#[cfg(test)]
mod reflection_tests;
mod scene;
mod screening;
mod site;
#[cfg(test)]
mod tests;
mod towards;
mod unfolded;
mod verdict;

pub use contribution::{ReceiverLevel, SourceContribution};
pub use in_step::in_step_db;
pub use levels::{boundary_levels, boundary_levels_after};
pub use octave_levels::OctaveLevels;
pub use problem::{BoundaryProblem, BoundarySceneError};
pub use propagation::{ISO_OCTAVES, ISO_OCTAVES_HZ};
pub use reflection::Reflection;
pub use scene::{
    Aimed, BoundaryBuilding, BoundaryGround, BoundaryReceiver, BoundaryScene, BoundaryScreen, BoundarySource,
    BoundaryStep, FaceReflection, GroundRegion, OctavePower, OctavesError,
};
pub use site::FaceOf;
pub use towards::octave_directivity_db;
pub use verdict::{Judgement, LimitQuantity, NeighbourLimit, Verdict, judge, sample_line};
