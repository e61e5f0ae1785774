//! Places in plan: points, outlines, lines.

use super::list::list;
use super::measured::{Measured, quantity};
use super::refused::{fail, wrong_kind};
use crate::reading::contract::{Codec, Definitions};
use crate::reading::node::{DocumentPlace, Node, NodeValue};
use crate::reading::problem::{Problem, ProblemKind};
use crate::units::{Quantity, Units};
use loamline_geometry::{OutlineError, Point2, Polygon};
use loamline_limits::CORNERS;
use loamline_terms::say;
use serde_json::{Value, json};

/// A point in plan, `[x, y]`.
pub struct PlanPoint;

/// A point in plan: `[x, y]`, each a length, within 100 km of the datum.
pub fn point() -> PlanPoint {
    PlanPoint
}

fn coordinate() -> Measured {
    quantity(Quantity::Length, -1.0e5..=1.0e5)
}

impl Codec for PlanPoint {
    type Out = Point2;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<Point2> {
        let NodeValue::List(l) = &node.value else { return wrong_kind(self, node, at, problems) };
        let [x, y] = l.as_slice() else {
            return fail(at, ProblemKind::WrongCount { expected: self.expected(), found: l.len() }, problems);
        };
        let x = coordinate().decode(x, &at.index(0), problems);
        let y = coordinate().decode(y, &at.index(1), problems);
        Some(Point2::new(x?, y?))
    }
    fn expected(&self) -> String {
        "a point in plan, [metres east, metres north]".into()
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        let c = coordinate().schema(defs);
        json!({ "type": "array", "prefixItems": [c.clone(), c], "items": false, "minItems": 2, "maxItems": 2 })
    }
}

/// An outline in plan.
pub struct Outline;

/// An outline in plan: a list of at least three corners in either direction, neither crossing nor touching itself.
pub fn outline() -> Outline {
    Outline
}

impl Codec for Outline {
    type Out = Polygon;
    fn decode(&self, node: &Node, at: &DocumentPlace<'_>, problems: &mut Vec<Problem>) -> Option<Polygon> {
        let corners = points(0, self, node, at, problems)?;
        match Polygon::new(corners) {
            Ok(p) => Some(p),
            Err(e @ OutlineError::CrossesItself { first, second, at: meet }) => {
                let kind = match typed_in(node) {
                    Units::Metric => ProblemKind::Outline(e),
                    us => ProblemKind::Rule(say!(
                        "the outline meets itself: the side after corner {first} and the side after corner {second} meet near x {x}, y {y}",
                        first = first.to_string(),
                        second = second.to_string(),
                        x = us.length(meet.x),
                        y = us.length(meet.y)
                    )),
                };
                fail(&at.index(first - 1), kind, problems)
            }
            Err(e) => fail(at, ProblemKind::Outline(e), problems),
        }
    }
    fn expected(&self) -> String {
        "an outline, a list of at least 3 corners [x, y]".into()
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        json!({ "type": "array", "items": point().schema(defs), "minItems": 3 })
    }
}

/// The units the corners of an outline were typed in: those of the first that is typed with a unit.
fn typed_in(outline: &Node) -> Units {
    let NodeValue::List(corners) = &outline.value else { return Units::Metric };
    let coordinates = corners.iter().filter_map(|c| match &c.value {
        NodeValue::List(xy) => Some(xy),
        _ => None,
    });
    let text = coordinates.flatten().find_map(|x| match &x.value {
        NodeValue::Text(text) => Some(text),
        _ => None,
    });
    text.map_or(Units::Metric, |text| Units::of_a_length(text))
}

/// A line in plan.
pub struct PlanLine;

/// A line in plan through at least two points that are not all the same.
pub fn line() -> PlanLine {
    PlanLine
}

impl Codec for PlanLine {
    type Out = Vec<Point2>;
    fn decode(
        &self,
        node: &Node,
        at: &DocumentPlace<'_>,
        problems: &mut Vec<Problem>,
    ) -> Option<Vec<Point2>> {
        let points = points(2, self, node, at, problems)?;
        if points.iter().all(|p| *p == points[0]) {
            let rule = say!("all points of this line are the same; give it a second place to go to");
            return fail(at, ProblemKind::Rule(rule), problems);
        }
        Some(points)
    }
    fn expected(&self) -> String {
        "a line, a list of at least 2 points [x, y]".into()
    }
    fn schema(&self, defs: &mut Definitions) -> Value {
        json!({ "type": "array", "items": point().schema(defs), "minItems": 2 })
    }
}

/// Points of an outline or line: no more of them than can be held against each other.
fn points(
    least: usize,
    of: &impl Codec,
    node: &Node,
    at: &DocumentPlace<'_>,
    problems: &mut Vec<Problem>,
) -> Option<Vec<Point2>> {
    match &node.value {
        NodeValue::List(l) => match CORNERS.check(l.len()) {
            Ok(()) => list(point(), least..=CORNERS.most()).decode(node, at, problems),
            Err(more) => fail(at, more.into(), problems),
        },
        _ => wrong_kind(of, node, at, problems),
    }
}
