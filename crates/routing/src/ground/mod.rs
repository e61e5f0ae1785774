//! The ground map: checked once, then asked for ways.

mod check;
mod crossings;
pub(crate) mod graph;
pub(crate) mod mesh;
mod nearby;
mod plan;
mod segment;
mod split;
mod spots;
mod stand;
mod window;

pub use check::{GroundMapError, GroundProblem};
pub use stand::{RunEnd, RunEndError};
pub(crate) use stand::{Stand, Straight};

pub use plan::{
    Building, Clip, GroundPlan, Lay, Method, NoGo, OuterWall, Passage, Service, Sleeve, Surface, Wall,
};

use graph::Graph;
use loamline_geometry::{Point2, Polygon, Segment};
use mesh::{Barrier, Mesh, TOUCH_M};
use std::sync::Arc;
use window::Window;

/// A checked ground map. Making one costs a few milliseconds for a garden with a hundred outlines.
pub struct GroundMap {
    pub(crate) plan: GroundPlan,
    pub(crate) mesh: Arc<Mesh>,
    pub(crate) graph: Arc<Graph>,
    /// The services' lines, carried on over the edge of the site.
    pub(crate) service_lines: Vec<Vec<Point2>>,
    /// Their straight pieces, each with its service's index.
    pub(crate) service_pieces: Vec<(usize, Segment)>,
    /// The part ways are looked for in, where that is not the whole.
    window: Option<Window>,
}

impl std::fmt::Debug for GroundMap {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("GroundMap")
            .field("triangles", &self.mesh.triangles.len())
            .field("nodes", &self.graph.nodes.len())
            .finish_non_exhaustive()
    }
}

impl GroundMap {
    /// Checks a plan and makes the map.
    ///
    /// # Errors
    /// [`GroundMapError`] with everything that is wrong with the plan.
    pub fn new(plan: GroundPlan) -> Result<Self, GroundMapError> {
        let problems = check::problems(&plan);
        if !problems.is_empty() {
            return Err(GroundMapError(problems));
        }
        let service_lines: Vec<Vec<Point2>> =
            plan.services.iter().map(|s| beyond_the_edge(s, &plan.boundary)).collect();
        let mesh = Mesh::build(&plan, &service_lines).map_err(|p| GroundMapError(vec![p]))?;
        let service_pieces: Vec<(usize, Segment)> = service_lines
            .iter()
            .enumerate()
            .flat_map(|(i, line)| line.windows(2).map(move |w| (i, Segment::new(w[0], w[1]))))
            .collect();
        let no_spots: &[Point2] = &[];
        let graph = Arc::new(Self::graph(&plan, &mesh, &service_pieces, (no_spots, None)));
        Ok(Self { plan, mesh: Arc::new(mesh), graph, service_lines, service_pieces, window: None })
    }

    /// The graph with points for some places, of the triangles of a part only where there is one.
    fn graph(
        plan: &GroundPlan,
        mesh: &Mesh,
        services: &[(usize, Segment)],
        (spots, window): (&[Point2], Option<&Window>),
    ) -> Graph {
        let charge = |a, b| {
            crossings::crossings(services, Segment::new(a, b))
                .map(|(service, _)| plan.services[service].crossing_price)
                .sum()
        };
        Graph::build(plan, mesh, charge, (spots, window.map(Window::triangles)))
    }

    /// The same ground with points for the places runs will end at.
    pub(crate) fn around(&self, spots: &[Point2]) -> Self {
        self.around_in(spots, None)
    }

    fn around_in(&self, spots: &[Point2], window: Option<Window>) -> Self {
        let graph = Self::graph(&self.plan, &self.mesh, &self.service_pieces, (spots, window.as_ref()));
        Self {
            plan: self.plan.clone(),
            mesh: Arc::clone(&self.mesh),
            graph: Arc::new(graph),
            service_lines: self.service_lines.clone(),
            service_pieces: self.service_pieces.clone(),
            window,
        }
    }

    /// The same ground with other cable in its sleeves: what lies in those of `sleeves`, by their names. Costs nothing: no
    /// side of the map hangs on what is drawn through it.
    #[must_use]
    pub fn with_cable_in(&self, sleeves: &[Sleeve]) -> Self {
        let mut plan = self.plan.clone();
        for sleeve in &mut plan.sleeves {
            if let Some(other) = sleeves.iter().find(|s| s.id == sleeve.id) {
                sleeve.occupants_mm.clone_from(&other.occupants_mm);
            }
        }
        Self {
            plan,
            mesh: Arc::clone(&self.mesh),
            graph: Arc::clone(&self.graph),
            service_lines: self.service_lines.clone(),
            service_pieces: self.service_pieces.clone(),
            window: self.window.clone(),
        }
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
            Barrier::OuterWall(i) => {
                format!("the outer wall of building {}", self.plan.buildings[i as usize].id)
            }
            Barrier::Wall(i) => format!("wall {}", self.plan.walls[i as usize].id),
        }
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

/// Whether two points are the same for the purpose of laying cable.
pub(crate) fn same_spot(a: Point2, b: Point2) -> bool {
    a.distance(b) <= TOUCH_M
}
