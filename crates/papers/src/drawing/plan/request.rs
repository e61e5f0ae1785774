//! What is asked of a plan.

use crate::drawing::field::LevelField;
use crate::drawing::sheet::Sheet;
use crate::words::Words;
use loamline_adapt::LaidCable;
use loamline_geometry::Point2;
use loamline_model::{Job, Units};

/// Who a plan is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reader {
    /// Everything: cables, tags, joints, services, marks, grid.
    Crew,
    /// The place, its areas and where loudspeakers stand.
    Client,
    /// That with tags, the rack, and where cable lies, for whoever keeps the garden.
    Owner,
}

impl Reader {
    /// Whether cable, joints and racks are drawn, and tags stand at what has one.
    pub const fn sees_the_system(self) -> bool {
        matches!(self, Self::Crew | Self::Owner)
    }
}

/// What to draw.
#[derive(Debug, Clone, Copy)]
pub struct PlanRequest<'a> {
    /// The job.
    pub job: &'a Job,
    /// Its cables: what is written on each.
    pub laid: &'a [LaidCable],
    /// Every word on it.
    pub words: &'a Words,
    /// Units of grid and scale bar.
    pub units: Units,
    /// Who it is for.
    pub reader: Reader,
    /// Site coordinates in the middle of the map, metres.
    pub centre: Point2,
    /// Millimetres on paper per metre on site.
    pub mm_per_m: f64,
    /// Width and height of the whole drawing, millimetres.
    pub size_mm: (f64, f64),
    /// Levels to put under it.
    pub field: Option<&'a LevelField>,
    /// Lines to show; all when `None`. The others are left out, with their joints and loudspeakers.
    pub only_line: Option<&'a str>,
    /// Sheets that show parts of it at a finer scale: with any, this one shows where they lie and which way the lines
    /// run, and leaves the tags along the lines to them.
    pub parts: &'a [Sheet],
    /// Places with a number each, on top of what stands there.
    pub numbered: &'a [(Point2, String)],
    /// Whether the key is drawn.
    pub key: bool,
    /// What it is called.
    pub title: &'a str,
}
