//! The ground at a place.

use super::Job;
use crate::document::{FlowClass, Laying, Surface, SurfaceKind};
use loamline_geometry::{Point2, Point3};

/// The ground at a place of the site.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroundAt<'j> {
    /// The surface drawn there, with its id; `None` where there is none.
    pub surface: Option<(&'j str, &'j Surface)>,
    /// What it is made of.
    pub kind: SurfaceKind,
    /// Class of flow resistivity.
    pub flow: FlowClass,
    /// Height above the datum, metres; 0 where no surface is drawn.
    pub elevation_m: f64,
    /// Way of laying cable; `None` where cable is not laid.
    pub laying: Option<Laying>,
    /// Whether loudspeakers may stand there.
    pub takes_loudspeakers: bool,
}

impl Job {
    /// The ground at a place: of several surfaces there, the last in the file. Cost: one test for each whose box
    /// holds it.
    pub fn ground(&self, at: Point2) -> GroundAt<'_> {
        let document = self.document();
        match self.surfaces_at(at).find(|(_, s)| s.outline.contains(at)) {
            Some((id, s)) => GroundAt {
                surface: Some((id, s)),
                kind: s.kind,
                flow: s.flow(),
                elevation_m: s.elevation_m,
                laying: s.laying_method(),
                takes_loudspeakers: s.takes_loudspeakers(),
            },
            None => {
                let kind = document.site.ground;
                GroundAt {
                    surface: None,
                    kind,
                    flow: kind.flow_class(),
                    elevation_m: 0.0,
                    laying: kind.laying(),
                    takes_loudspeakers: kind.takes_loudspeakers(),
                }
            }
        }
    }

    /// A place in plan at a height above the ground there, metres, as a place in space.
    pub fn above_ground(&self, at: Point2, height_m: f64) -> Point3 {
        at.at_height(self.ground(at).elevation_m + height_m)
    }
}
