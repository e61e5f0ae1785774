//! A picture while it is painted.

use super::camera::Camera;
use super::request::PerspectiveRequest;
use super::standing::Face;
use crate::drawing::labels::{Label, Occupied};
use crate::drawing::level_colours::Painted;
use crate::drawing::svg::Svg;

/// A picture while it is painted.
pub struct Painter<'a, 'r> {
    pub(super) request: &'r PerspectiveRequest<'a>,
    pub(super) camera: Camera,
    pub(super) svg: Svg,
    pub(super) bands: Vec<Painted>,
    pub(super) faces: Vec<Face>,
    pub(super) wanted: Vec<Wanted>,
    pub(super) occupied: Occupied,
}

/// A name asked for.
pub struct Wanted {
    pub(super) label: Label,
    pub(super) text: String,
    pub(super) colour: &'static str,
}
