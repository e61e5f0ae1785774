//! A plan while it is drawn: what is on it so far, and the labels still to be placed.

use super::request::PlanRequest;
use crate::drawing::labels::{Label, Occupied};
use crate::drawing::spot::View;
use crate::drawing::svg::Svg;

/// A plan while it is drawn.
pub(super) struct Pen<'a, 'r> {
    pub(super) request: &'r PlanRequest<'a>,
    pub(super) view: View,
    pub(super) svg: Svg,
    pub(super) wanted: Vec<Wanted>,
    pub(super) occupied: Occupied,
}

/// A label asked for.
pub(super) struct Wanted {
    pub(super) label: Label,
    pub(super) text: String,
    pub(super) look: Look,
}

/// How a label looks.
pub(super) enum Look {
    Tag(&'static str),
    /// The tag of a line, which is not the tag of a thing.
    Line(&'static str),
    /// A name in lines, with its colour.
    Name(&'static str),
}
