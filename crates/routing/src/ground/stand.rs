//! Where runs can end: a named place found on the map and joined straight to the boundaries around it.

use super::GroundMap;
use super::mesh::Barrier;
use loamline_geometry::{Point2, Segment};
use loamline_limits::go_on;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// How many points of the boundaries around it a place is joined to straight. Fewer leave out where a way out of
/// dear ground could meet the next boundary without a kink; each costs one look at the ground along the step.
const STRAIGHT: usize = 200;

/// A named place: an end of a run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunEnd {
    /// The name a person will read in messages, for example "loudspeaker L3".
    pub name: String,
    /// Where, in plan.
    pub at: Point2,
}

/// A place where no run can end.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum RunEndError {
    /// Outside the site.
    #[error("{name} at x {:.2} m, y {:.2} m lies outside the site, {distance_m:.2} m from its edge", at.x, at.y)]
    OutsideSite {
        /// The place's name.
        name: String,
        /// Where it is.
        at: Point2,
        /// How far outside, metres.
        distance_m: f64,
    },
    /// Inside a no-go area.
    #[error(
        "{name} at x {:.2} m, y {:.2} m stands in the no-go area {area}, {inside_m:.2} m from its edge", at.x, at.y
    )]
    InNoGo {
        /// The place's name.
        name: String,
        /// Where it is.
        at: Point2,
        /// The no-go area.
        area: String,
        /// How far inside, metres.
        inside_m: f64,
    },
    /// Inside a wall that nothing passes.
    #[error("{name} at x {:.2} m, y {:.2} m stands inside the wall {wall}; put it on one face", at.x, at.y)]
    InWall {
        /// The place's name.
        name: String,
        /// Where it is.
        at: Point2,
        /// The wall.
        wall: String,
    },
}

/// A place on the map.
#[derive(Debug, Clone)]
pub(crate) struct Stand {
    pub at: Point2,
    pub triangles: Vec<u32>,
    /// Straight steps to points of the boundaries around it.
    pub straight: Vec<Straight>,
    /// The building it is in.
    pub inside: Option<u16>,
}

/// A straight step between a place and a point of the graph.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Straight {
    pub node: u32,
    /// Price without the cable.
    pub laying: f64,
    pub length_m: f64,
}

impl GroundMap {
    /// Finds where a place is on the map.
    pub(crate) fn stand(&self, place: &RunEnd) -> Result<Stand, RunEndError> {
        let (triangles, inside) = self.found(place)?;
        Ok(self.stand_on(place.at, triangles, inside))
    }

    /// The triangles a place lies in, and the building where it is in one.
    fn found(&self, place: &RunEnd) -> Result<(Vec<u32>, Option<u16>), RunEndError> {
        let (name, at) = (place.name.clone(), place.at);
        let triangles = if at.is_finite() { self.mesh.triangles_at(at) } else { Vec::new() };
        if triangles.is_empty() {
            let distance_m = self.plan.boundary.distance_to_outline(at);
            return Err(RunEndError::OutsideSite { name, at, distance_m });
        }
        if triangles.iter().any(|&t| self.passable(t, None)) {
            return Ok((triangles, None));
        }
        match self.mesh.triangles[triangles[0] as usize].barrier {
            Some(Barrier::NoGo(i)) => {
                let area = &self.plan.no_go[i as usize];
                let inside_m = area.outline.distance_to_outline(at);
                Err(RunEndError::InNoGo { name, at, area: area.id.clone(), inside_m })
            }
            Some(Barrier::Wall(i)) => {
                Err(RunEndError::InWall { name, at, wall: self.plan.walls[i as usize].id.clone() })
            }
            Some(Barrier::Building(i) | Barrier::OuterWall(i)) => Ok((triangles, Some(i))),
            None => Ok((triangles, None)),
        }
    }

    /// Checks that a run can end at a place.
    ///
    /// # Errors
    /// [`RunEndError`]: outside the site, in a no-go area, inside a wall.
    pub fn check_place(&self, place: &RunEnd) -> Result<(), RunEndError> {
        self.found(place).map(|_| ())
    }

    /// A place on the map, joined straight to the boundaries around it.
    pub(crate) fn stand_on(&self, at: Point2, triangles: Vec<u32>, inside: Option<u16>) -> Stand {
        let mut around: Vec<(f64, u32)> = (0u32..)
            .zip(&self.graph.nodes)
            .filter(|(_, n)| n.on_line)
            .map(|(i, n)| (n.at.distance(at), i))
            .collect();
        let nearer = |a: &(f64, u32), b: &(f64, u32)| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1));
        if around.len() > STRAIGHT {
            around.select_nth_unstable_by(STRAIGHT, nearer);
            around.truncate(STRAIGHT);
        }
        let straight = around
            .into_iter()
            .filter_map(|(length_m, node)| {
                go_on();
                let s = Segment::new(at, self.graph.nodes[node as usize].at);
                Some(Straight { node, laying: self.laying(s, inside)?, length_m })
            })
            .collect();
        Stand { at, triangles, straight, inside }
    }
}
