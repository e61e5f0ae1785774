#![doc = include_str!("../README.md")]
//!
//! Shared by the job document and the engines so that none of them needs to know another's types.
//! A [`Polygon`] is checked once, when it is made: at least three corners, finite, simple (its outline
//! neither crosses nor touches itself), with an area; its corners run counter-clockwise.

mod angle;
mod axes;
mod boxes;
mod outline;
mod point;
mod segment;

pub use angle::{bearing_between, direction, wrap_degrees};
pub use axes::OwnAxes;
pub use boxes::Boxes;
pub use outline::{OutlineError, Polygon};
pub use point::{Point2, Point3};
pub use segment::{Crossing, Segment, polyline_length, project_on_segment, segments_cross};
