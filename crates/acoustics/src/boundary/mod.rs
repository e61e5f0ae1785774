//! Levels at the neighbours: ISO 9613-2:1996, general method.
//!
//! Implemented, in octaves 63 Hz to 8 kHz, downwind: divergence, air absorption (exact centres), the ground of
//! clause 7.3.1 in three regions, screening of clause 7.4 over the top and round both ends. Questions the standard
//! leaves open are answered as ISO/TR 17534-3:2015 answers them; the rest is stated where it is decided:
//! - Over the top: the shortest path over the edges in the vertical plane through source and receiver, that is the
//!   upper convex hull. Where nothing rises above the line of sight, the one edge with the least detour counts,
//!   its detour negative.
//! - Round each end: the shortest path in plan round everything that rises above the line of sight (where nothing
//!   does: round the obstacle whose edge counts), lengthened by the difference in height; anything else that path
//!   would run through is rounded on the outside too. From or to a place above the roof of such an obstacle there
//!   is no way round.
//! - A screen or building that the line from source to receiver does not cross in plan does not screen, however
//!   near; one that only touches a source or receiver (a neighbour's point on the fence line) does not either,
//!   which is the careful side.
//! - Ground regions that overlap: the later one counts.
//!
//! Left out: reflections from vertical faces (clause 7.5), foliage, sites and housing (annex A), the
//! meteorological correction (clause 8), the rule that an obstacle must be wider than the wavelength (the ways
//! round the ends already let low sound past a narrow one). The ground is flat at height 0.
//! The 31.5 Hz octave is an extension beyond the standard, marked as such: it uses the 63 Hz ground terms and does
//! not enter the total.
//! Checked against cases T01 to T04, T08 and T11 of ISO/TR 17534-3, 0.05 dB per octave and in total.

mod ground;
mod levels;
mod scene;
mod screening;
#[cfg(test)]
mod tests;
mod verdict;

pub use levels::{
    ISO_OCTAVES, ISO_OCTAVES_HZ, ReceiverLevel, SourceContribution, boundary_levels, boundary_levels_after,
    octave_directivity_db,
};
pub use scene::{
    BoundaryBuilding, BoundaryGround, BoundaryProblem, BoundaryReceiver, BoundaryScene, BoundarySceneError,
    BoundaryScreen, BoundarySource, GroundRegion, OctavePower, OctavesError,
};
pub use verdict::{Judgement, LimitQuantity, NeighbourLimit, Verdict, judge, sample_line};
