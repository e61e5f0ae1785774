//! Points where people listen, area by area.

use crate::error::BriefProblem;
use loamline_acoustics::{Points, Scene};
use loamline_model::document::Area;
use std::ops::Range;

/// Points of all areas.
#[derive(Clone)]
pub(crate) struct Grid {
    /// Those of each area.
    pub parts: Vec<Points>,
    /// The same among all.
    pub ranges: Vec<Range<usize>>,
}

impl Grid {
    /// A grid of about one point for so many square metres, between a least and a greatest number for each area. Nobody
    /// listens inside a building: such points are left out.
    pub fn new(
        scene: &Scene,
        areas: &[&Area],
        (m2_per_point, fewest, most): (f64, f64, f64),
    ) -> Result<Self, BriefProblem> {
        let (mut parts, mut ranges) = (Vec::new(), Vec::new());
        let mut start = 0;
        for area in areas {
            let m2 = area.outline.area();
            let spacing = (m2 / (m2 / m2_per_point).clamp(fewest, most)).sqrt().clamp(0.05, 100.0);
            let all = Points::grid(scene, &area.outline, area.ear_m(), spacing)?;
            let heard = (0..all.len()).filter(|p| !all.is_indoors(*p)).map(|p| all.places()[p]);
            let part = Points::new(scene, heard.collect())?;
            ranges.push(start..start + part.len());
            start += part.len();
            parts.push(part);
        }
        Ok(Self { parts, ranges })
    }

    /// How many points.
    pub fn len(&self) -> usize {
        self.ranges.last().map_or(0, |r| r.end)
    }
}
