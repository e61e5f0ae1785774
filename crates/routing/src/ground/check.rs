//! Everything that is wrong with a ground plan, in one go.

use super::plan::{Clip, GroundPlan, Lay};
use loamline_geometry::Point2;
use loamline_limits::Exceeded;
use std::collections::BTreeSet;
use thiserror::Error;

/// One thing wrong with a ground plan.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum GroundProblem {
    /// A number out of range.
    #[error("{kind} {id}: {what} is {value}; it must be {must}")]
    OutOfRange {
        /// Kind of thing: "surface", "service"...
        kind: &'static str,
        /// Its name.
        id: String,
        /// The quantity, with its unit.
        what: &'static str,
        /// The value given.
        value: f64,
        /// What is allowed.
        must: &'static str,
    },
    /// The same name twice.
    #[error("there are two {kind}s called {id}; give each its own name")]
    Duplicate {
        /// Kind of thing.
        kind: &'static str,
        /// The name.
        id: String,
    },
    /// A line without length or with a coordinate that is not a number.
    #[error("{kind} {id}: its line needs at least two different points, all of them numbers")]
    NoLine {
        /// Kind of thing.
        kind: &'static str,
        /// Its name.
        id: String,
    },
    /// A mouth of a sleeve outside the site.
    #[error("sleeve {id}: its mouth at x {:.2} m, y {:.2} m lies outside the site", at.x, at.y)]
    MouthOutside {
        /// The sleeve.
        id: String,
        /// The mouth.
        at: Point2,
    },
    /// The lines of the plan could not be made into a map.
    #[error("the lines of the plan could not be joined into a map near x {:.2} m, y {:.2} m", at.x, at.y)]
    NoMap {
        /// Where.
        at: Point2,
    },
    /// More than a map is made of.
    #[error(transparent)]
    TooLarge(#[from] Exceeded),
}

/// All problems of a ground plan.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{}", self.0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
pub struct GroundMapError(pub Vec<GroundProblem>);

struct Checker {
    problems: Vec<GroundProblem>,
}

impl Checker {
    fn at_least(&mut self, (kind, id): (&'static str, &str), what: &'static str, value: f64, least: f64) {
        if !(value.is_finite() && value >= least) {
            let must = if least > 0.0 { "1 or more" } else { "0 or more" };
            self.problems.push(GroundProblem::OutOfRange { kind, id: id.to_owned(), what, value, must });
        }
    }

    fn above_zero(&mut self, (kind, id): (&'static str, &str), what: &'static str, value: f64) {
        if !(value.is_finite() && value > 0.0) {
            let must = "above 0";
            self.problems.push(GroundProblem::OutOfRange { kind, id: id.to_owned(), what, value, must });
        }
    }

    fn names<'a>(&mut self, kind: &'static str, ids: impl Iterator<Item = &'a String>) {
        let mut seen = BTreeSet::new();
        for id in ids {
            if !seen.insert(id) {
                self.problems.push(GroundProblem::Duplicate { kind, id: id.clone() });
            }
        }
    }

    fn line(&mut self, (kind, id): (&'static str, &str), line: &[Point2]) {
        let usable = line.len() >= 2
            && line.iter().all(|p| p.is_finite())
            && line.windows(2).any(|w| w[0].distance(w[1]) > 1e-6);
        if !usable {
            self.problems.push(GroundProblem::NoLine { kind, id: id.to_owned() });
        }
    }

    fn lay(&mut self, who: (&'static str, &str), lay: &Lay) {
        self.at_least(who, "price per metre", lay.price_per_m, 0.0);
        self.at_least(who, "depth (m)", lay.depth_m, 0.0);
    }

    fn clip(&mut self, who: (&'static str, &str), clip: Option<&Clip>) {
        let Some(clip) = clip else { return };
        self.at_least(who, "clipping price per metre", clip.price_per_m, 0.0);
        self.at_least(who, "clipping height (m)", clip.height_m, 0.0);
        self.at_least(who, "price of getting on and off", clip.transition_price, 0.0);
    }
}

/// Finds every problem of a plan; empty when there is none.
pub(super) fn problems(plan: &GroundPlan) -> Vec<GroundProblem> {
    let mut c = Checker { problems: Vec::new() };
    c.names("surface", plan.surfaces.iter().map(|s| &s.id));
    c.names("no-go area", plan.no_go.iter().map(|s| &s.id));
    c.names("building", plan.buildings.iter().map(|s| &s.id));
    c.names("wall", plan.walls.iter().map(|s| &s.id));
    c.names("service", plan.services.iter().map(|s| &s.id));
    c.names("sleeve", plan.sleeves.iter().map(|s| &s.id));
    c.names("passage", plan.passages.iter().map(|p| &p.id));
    c.lay(("surface", "(everywhere else)"), &plan.default_lay);
    for s in &plan.surfaces {
        c.lay(("surface", &s.id), &s.lay);
    }
    for b in &plan.buildings {
        c.at_least(("building", &b.id), "indoor price per metre", b.indoor_price_per_m, 0.0);
        c.clip(("building", &b.id), b.clip.as_ref());
        if let Some(wall) = &b.outer_wall {
            c.above_zero(("building", &b.id), "thickness of the outer wall (m)", wall.thickness_m);
            c.at_least(("building", &b.id), "price of a hole", wall.hole_price.unwrap_or(0.0), 0.0);
        }
    }
    for w in &plan.walls {
        let who = ("wall", w.id.as_str());
        c.line(who, &w.line);
        c.above_zero(who, "thickness (m)", w.thickness_m);
        c.at_least(who, "price of crossing", w.crossing_price.unwrap_or(0.0), 0.0);
        c.clip(who, w.clip.as_ref());
    }
    for s in &plan.services {
        let who = ("service", s.id.as_str());
        c.line(who, &s.line);
        c.at_least(who, "clearance (m)", s.clearance_m, 0.0);
        c.at_least(who, "price of crossing", s.crossing_price, 0.0);
        c.at_least(who, "hand-dig factor", s.hand_dig_factor, 1.0);
    }
    for s in &plan.sleeves {
        let who = ("sleeve", s.id.as_str());
        c.line(who, &s.line);
        c.above_zero(who, "inside diameter (mm)", s.inside_diameter_mm);
        for &d in &s.occupants_mm {
            c.above_zero(who, "diameter (mm) of a cable in it", d);
        }
        c.at_least(who, "price per metre", s.price_per_m, 0.0);
        for at in [s.line.first(), s.line.last()].into_iter().flatten() {
            if at.is_finite() && !plan.boundary.contains(*at) && plan.boundary.distance_to_outline(*at) > 1e-6
            {
                c.problems.push(GroundProblem::MouthOutside { id: s.id.clone(), at: *at });
            }
        }
    }
    c.problems
}
