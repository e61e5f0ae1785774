//! Boxes around what is drawn on the plan, made when first asked for.

use crate::document::JobDocument;
use loamline_geometry::Boxes;
use std::sync::{Arc, OnceLock};

/// Boxes around what is drawn. They follow from the document, so that two are the same wherever their documents are.
#[derive(Debug, Clone, Default)]
pub(super) struct PlanIndex(Arc<OnceLock<PlanBoxes>>);

impl PartialEq for PlanIndex {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

#[derive(Debug)]
pub(super) struct PlanBoxes {
    pub(super) surfaces: Boxes,
    pub(super) buildings: Boxes,
    pub(super) walls: Boxes,
    pub(super) services: Boxes,
}

impl PlanIndex {
    /// The boxes of a document, always the same one.
    pub(super) fn of(&self, d: &JobDocument) -> &PlanBoxes {
        self.0.get_or_init(|| PlanBoxes {
            surfaces: Boxes::around(d.surfaces.values().map(|s| s.outline.corners())),
            buildings: Boxes::around(d.buildings.values().map(|b| b.outline.corners())),
            walls: Boxes::around(d.walls.values().map(|w| w.line.as_slice())),
            services: Boxes::around(d.services.values().map(|s| s.line.as_slice())),
        })
    }
}
