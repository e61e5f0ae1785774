//! The ground map: checked once, then asked for ways.

mod check;
pub(crate) mod graph;
pub(crate) mod mesh;
mod plan;
mod segment;
mod spots;

pub use check::{GroundError, GroundProblem};
pub(crate) use spots::Straight;

pub use plan::{Building, Clip, GroundPlan, Lay, Method, NoGo, Service, Sleeve, Surface, Wall};

use graph::Graph;
use loamline_geometry::{Point2, Polygon, Segment};
use mesh::{Barrier, Mesh, TOUCH_M};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// A named place: an end of a run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// The name a person will read in messages, for example "loudspeaker L3".
    pub name: String,
    /// Where, in plan.
    pub at: Point2,
}

/// A place where no run can end.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PlaceError {
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

/// A checked ground map. Making one costs a few milliseconds for a garden with a hundred outlines.
pub struct Ground {
    pub(crate) plan: GroundPlan,
    pub(crate) mesh: Mesh,
    pub(crate) graph: Graph,
    /// The services' lines, carried on over the edge of the site.
    pub(crate) service_lines: Vec<Vec<Point2>>,
    /// Their straight pieces, each with its service's index.
    pub(crate) service_pieces: Vec<(usize, Segment)>,
}

impl std::fmt::Debug for Ground {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Ground")
            .field("triangles", &self.mesh.triangles.len())
            .field("nodes", &self.graph.nodes.len())
            .finish_non_exhaustive()
    }
}

impl Ground {
    /// Checks a plan and makes the map.
    ///
    /// # Errors
    /// [`GroundError`] with everything that is wrong with the plan.
    pub fn new(plan: GroundPlan) -> Result<Self, GroundError> {
        let problems = check::problems(&plan);
        if !problems.is_empty() {
            return Err(GroundError(problems));
        }
        let service_lines: Vec<Vec<Point2>> =
            plan.services.iter().map(|s| beyond_the_edge(s, &plan.boundary)).collect();
        let mesh = Mesh::build(&plan, &service_lines).map_err(|p| GroundError(vec![p]))?;
        let service_pieces: Vec<(usize, Segment)> = service_lines
            .iter()
            .enumerate()
            .flat_map(|(i, line)| line.windows(2).map(move |w| (i, Segment::new(w[0], w[1]))))
            .collect();
        let graph = Self::graph(&plan, &mesh, &service_pieces, &[]);
        Ok(Self { plan, mesh, graph, service_pieces, service_lines })
    }

    fn graph(plan: &GroundPlan, mesh: &Mesh, services: &[(usize, Segment)], spots: &[Point2]) -> Graph {
        let charge = |a, b| {
            segment::crossings(services, Segment::new(a, b))
                .map(|(service, _)| plan.services[service].crossing_price)
                .sum()
        };
        Graph::build(plan, mesh, charge, spots)
    }

    /// The plan the map was made of.
    pub fn plan(&self) -> &GroundPlan {
        &self.plan
    }

    /// How the ground at a point is crossed; `None` outside the site or where a barrier stands.
    pub fn lay_at(&self, p: Point2) -> Option<&Lay> {
        let inside = self.mesh.triangles_at(p);
        let t = inside.iter().find(|&&t| self.passable(t, None))?;
        Some(self.lay_of(*t))
    }

    pub(crate) fn lay_of(&self, triangle: u32) -> &Lay {
        let surface = self.mesh.triangles[triangle as usize].surface;
        surface.map_or(&self.plan.default_lay, |s| &self.plan.surfaces[s as usize].lay)
    }

    pub(crate) fn barrier_name(&self, barrier: Barrier) -> String {
        match barrier {
            Barrier::NoGo(i) => format!("no-go area {}", self.plan.no_go[i as usize].id),
            Barrier::Building(i) => format!("building {}", self.plan.buildings[i as usize].id),
            Barrier::Wall(i) => format!("wall {}", self.plan.walls[i as usize].id),
        }
    }

    /// Finds where a place is on the map.
    pub(crate) fn stand(&self, place: &Place) -> Result<Stand, PlaceError> {
        let (name, at) = (place.name.clone(), place.at);
        let triangles = if at.is_finite() { self.mesh.triangles_at(at) } else { Vec::new() };
        if triangles.is_empty() {
            let distance_m = self.plan.boundary.distance_to_outline(at);
            return Err(PlaceError::OutsideSite { name, at, distance_m });
        }
        if triangles.iter().any(|&t| self.passable(t, None)) {
            return Ok(self.stand_on(at, triangles, None));
        }
        match self.mesh.triangles[triangles[0] as usize].barrier {
            Some(Barrier::NoGo(i)) => {
                let area = &self.plan.no_go[i as usize];
                let inside_m = area.outline.distance_to_outline(at);
                Err(PlaceError::InNoGo { name, at, area: area.id.clone(), inside_m })
            }
            Some(Barrier::Wall(i)) => {
                Err(PlaceError::InWall { name, at, wall: self.plan.walls[i as usize].id.clone() })
            }
            Some(Barrier::Building(i)) => Ok(self.stand_on(at, triangles, Some(i))),
            None => Ok(self.stand_on(at, triangles, None)),
        }
    }

    /// Checks that a run can end at a place.
    ///
    /// # Errors
    /// [`PlaceError`]: outside the site, in a no-go area, inside a wall.
    pub fn check_place(&self, place: &Place) -> Result<(), PlaceError> {
        self.stand(place).map(|_| ())
    }
}

/// A service's line. Where it is drawn up to the edge of the site it goes on beyond: there is no way round its
/// end.
fn beyond_the_edge(service: &Service, boundary: &Polygon) -> Vec<Point2> {
    let half_m = mesh::service_half_width(service.clearance_m);
    let mut line: Vec<Point2> = Vec::with_capacity(service.line.len());
    for &p in &service.line {
        if line.last().is_none_or(|l| !same_spot(*l, p)) {
            line.push(p);
        }
    }
    for _ in 0..2 {
        line.reverse();
        if let [.., before, end] = line[..]
            && boundary.distance_to_outline(end) <= half_m
        {
            line.push(end + (end - before) * ((2.0 * half_m + 1.0) / before.distance(end)));
        }
    }
    line
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

/// Whether two points are the same for the purpose of laying cable.
pub(crate) fn same_spot(a: Point2, b: Point2) -> bool {
    a.distance(b) <= TOUCH_M
}
