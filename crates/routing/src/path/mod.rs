//! One way between two places: found, straightened, priced and described.

mod answer;
mod corner;
mod describe;
pub(crate) mod search;
mod shared;
mod straighten;

pub use answer::{NearService, Path, Stretch, Waypoint};
pub(crate) use corner::Corner;
pub(crate) use shared::Shared;
pub use shared::{OpenHole, Opened};

use crate::fill::conduit_fill;
use crate::ground::graph::Step;
use crate::ground::mesh::Barrier;
use crate::ground::{GroundMap, RunEnd, RunEndError, Stand, same_spot};
use loamline_geometry::{Point2, Segment};
use search::{Field, Terms, Until};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use thiserror::Error;

/// The cable to lay.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CableToLay {
    /// Price per metre, 0 or more.
    pub price_per_m: f64,
    /// Outside diameter, millimetres, above 0: decides whether it fits a sleeve.
    pub outside_diameter_mm: f64,
}

/// Why there is no way.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum RouteError {
    /// An end is where no run can end.
    #[error(transparent)]
    RunEnd(#[from] RunEndError),
    /// The cable's price or diameter is not usable.
    #[error("the cable's {what} is {value}; it must be {must}")]
    Cable {
        /// Which quantity.
        what: &'static str,
        /// The value given.
        value: f64,
        /// What it must be.
        must: &'static str,
    },
    /// Nothing but barriers between the ends.
    #[error("there is no way for cable from {from} to {to}: {} in the way. {WAYS_THROUGH}", stand(barriers))]
    NoWay {
        /// Where the run starts.
        from: String,
        /// Where it should end.
        to: String,
        /// The barriers that would have to be passed, in order, fewest metres.
        barriers: Vec<String>,
    },
}

/// What opens a way through barriers.
const WAYS_THROUGH: &str = "Open a gap, add a sleeve or a passage, or allow a crossing";

/// "wall W stands", "walls W and X stand": what is in the way of cable, the edge of the site where nothing is named.
fn stand(barriers: &[String]) -> String {
    match barriers {
        [] => "the edge of the site stands".to_owned(),
        [one] => format!("{one} stands"),
        [first @ .., last] => format!("{} and {last} stand", first.join(", ")),
    }
}

impl CableToLay {
    pub(crate) fn check(&self) -> Result<(), RouteError> {
        if !(self.price_per_m.is_finite() && self.price_per_m >= 0.0) {
            return Err(RouteError::Cable {
                what: "price per metre",
                value: self.price_per_m,
                must: "0 or more",
            });
        }
        if !(self.outside_diameter_mm.is_finite() && self.outside_diameter_mm > 0.0) {
            let value = self.outside_diameter_mm;
            return Err(RouteError::Cable { what: "outside diameter (mm)", value, must: "above 0" });
        }
        Ok(())
    }
}

impl GroundMap {
    /// Which sleeves have room for one more such cable.
    pub(crate) fn roomy_sleeves(&self, cable: &CableToLay) -> Vec<bool> {
        self.plan
            .sleeves
            .iter()
            .map(|s| {
                let mut cables = s.occupants_mm.clone();
                cables.push(cable.outside_diameter_mm);
                let length = loamline_geometry::polyline_length(&s.line);
                conduit_fill(s.inside_diameter_mm, &cables, Some(length)).is_ok_and(|f| f.fits)
            })
            .collect()
    }

    /// The cheapest way for one cable between two places, cable and laying together, straightened to few
    /// bends. Its price is within 2 % of the least possible on the plan as drawn. Sleeves without room for
    /// the cable are not used.
    ///
    /// # Errors
    /// [`RouteError`]: an end outside the site or in a no-go area; no way through, naming what stands in it.
    pub fn path(&self, from: &RunEnd, to: &RunEnd, cable: &CableToLay) -> Result<Path, RouteError> {
        cable.check()?;
        let ground = self.around(&[from.at, to.at]);
        let (a, b) = (ground.stand(from)?, ground.stand(to)?);
        let terms =
            Terms { cable_per_m: cable.price_per_m, sleeves: self.roomy_sleeves(cable), breach_per_m: None };
        ground.find(&a, &b, &terms).ok_or_else(|| ground.no_way(from, to, &a, &b, &terms))
    }

    /// The cheapest way on given terms, searched from the end that is indoors, if one is.
    pub(crate) fn find(&self, a: &Stand, b: &Stand, terms: &Terms) -> Option<Path> {
        if b.inside.is_some() && a.inside.is_none() {
            return self.find(b, a, terms).map(|p| self.reversed(p));
        }
        let field = self.field_with(a, terms, &Shared::default(), Until::Reached(&[b]));
        self.way(&field, a, b, terms, &Shared::default()).map(|corners| self.describe(&corners, a.inside))
    }

    /// The straightened way from a field's start to a place.
    pub(crate) fn way(
        &self,
        field: &Field,
        a: &Stand,
        b: &Stand,
        terms: &Terms,
        shared: &Shared,
    ) -> Option<Vec<Corner>> {
        let (_, last) = self.reach_with(field, b, terms, shared)?;
        let corners = self.corners(&field.nodes_to(last), a, b, shared);
        Some(self.straighten(corners, terms, a.inside))
    }

    /// The points of a way through given nodes.
    pub(crate) fn corners(&self, nodes: &[u32], a: &Stand, b: &Stand, shared: &Shared) -> Vec<Corner> {
        let fixed = |at: Point2, step| Corner { at, slides: Vec::new(), step };
        let mut corners = vec![fixed(a.at, Step::Ground)];
        for (i, &n) in nodes.iter().enumerate() {
            let step = match i.checked_sub(1) {
                Some(before) => self.step_between(nodes[before], n, shared),
                None => Step::Ground,
            };
            let slides = self.graph.nodes.get(n as usize).map_or_else(Vec::new, |node| node.slides.clone());
            corners.push(Corner { at: self.node_at(n, shared), slides, step });
        }
        corners.push(fixed(b.at, Step::Ground));
        let mut kept: Vec<Corner> = Vec::with_capacity(corners.len());
        let count = corners.len();
        for (i, c) in corners.into_iter().enumerate() {
            // Points on a straight of shared ground, and points that coincide with the one before, say nothing.
            if let [.., before, last] = &mut kept[..]
                && (c.step, last.step) == (Step::Shared, Step::Shared)
                && Segment::new(before.at, c.at).distance_to(last.at) < 1e-6
            {
                last.at = c.at;
                continue;
            }
            let ground = matches!(c.step, Step::Ground | Step::Barred(_));
            match kept.last_mut() {
                Some(last) if ground && same_spot(last.at, c.at) => {
                    if i + 1 == count {
                        last.slides.clear();
                    }
                }
                _ => kept.push(c),
            }
        }
        if kept.len() == 1 {
            kept.push(fixed(b.at, Step::Ground));
        }
        kept
    }

    fn step_between(&self, a: u32, b: u32, shared: &Shared) -> Step {
        let n = self.graph.nodes.len();
        let (links, more) = if (a as usize) < n {
            (self.graph.links(a), shared.links_from_node(a))
        } else {
            (shared.links_from_point(a as usize - n), [].as_slice())
        };
        links
            .iter()
            .chain(more)
            .filter(|l| l.to == b)
            .min_by(|x, y| (x.laying + x.cable_m).total_cmp(&(y.laying + y.cable_m)))
            .map_or(Step::Ground, |l| l.step)
    }

    /// Names what stands between two places: the barriers on the way that breaks through fewest metres.
    pub(crate) fn no_way(
        &self,
        from: &RunEnd,
        to: &RunEnd,
        a: &Stand,
        b: &Stand,
        terms: &Terms,
    ) -> RouteError {
        let breach = Terms { breach_per_m: Some(1e6), ..terms.clone() };
        let field = self.field(a, &breach);
        let mut barriers: Vec<String> = Vec::new();
        if let Some((_, last)) = self.reach(&field, b, &breach) {
            let nodes = field.nodes_to(last);
            let mut seen = BTreeSet::new();
            for w in nodes.windows(2) {
                // What an end is inside of is open to the run.
                let open = |barrier: Barrier| {
                    [a, b].iter().any(|end| end.inside.is_some_and(|i| barrier == Barrier::Building(i)))
                };
                if let Step::Barred(barrier) = self.step_between(w[0], w[1], &Shared::default())
                    && !open(barrier)
                {
                    let name = self.barrier_name(barrier);
                    if seen.insert(name.clone()) {
                        barriers.push(name);
                    }
                }
            }
        }
        RouteError::NoWay { from: from.name.clone(), to: to.name.clone(), barriers }
    }
}
