//! What a job needs, counted once for bill, papers and proposals.

use crate::error::QuotationError;
use crate::holes::{HoleNeed, hole_needs};
use loamline_adapt::{LaidCable, LaidRun, laid_cables};
use loamline_model::Job;
use loamline_study::{
    CableOrder, GroundNeed, JointNeed, cable_orders, crossings, ground_needs, joint_needs, opens_ground,
    wall_holes,
};

/// What the ground and the cables of a job ask for.
#[derive(Debug, Clone)]
pub struct Counted {
    /// Cables as they are cut; one that several lines share stands once.
    pub laid: Vec<LaidCable>,
    /// Joints.
    pub joints: Vec<JointNeed>,
    /// Cable by type and spool.
    pub cables: Vec<CableOrder>,
    /// Metres by way of laying.
    pub ground: Vec<GroundNeed>,
    /// Crossings of buried services to dig by hand, each by the service it crosses.
    pub crossings: Vec<String>,
    /// New holes through outer walls.
    pub wall_holes: usize,
    /// Holes.
    pub holes: Vec<HoleNeed>,
}

impl Counted {
    /// Counts a job with its runs as they lie.
    ///
    /// # Errors
    /// [`QuotationError::CutList`] when a cable is longer than the longest spool it is sold in.
    pub fn of(job: &Job, runs: &[LaidRun]) -> Result<Self, QuotationError> {
        let laid = laid_cables(job, runs);
        Ok(Self {
            joints: joint_needs(job, &laid),
            cables: cable_orders(job, &laid)?,
            ground: ground_needs(job, runs, &laid),
            crossings: crossings(runs, &laid).into_iter().map(str::to_owned).collect(),
            wall_holes: wall_holes(runs, &laid),
            holes: hole_needs(job),
            laid,
        })
    }

    /// Cable to cut, metres.
    pub fn cable_m(&self) -> f64 {
        self.cables.iter().map(|c| c.cut_m).sum()
    }

    /// Ground opened, metres: a stretch that cables share counts once.
    pub fn opened_m(&self) -> f64 {
        // The sum of nothing is -0.0.
        self.ground.iter().filter(|g| opens_ground(g.laying)).map(|g| g.length_m).sum::<f64>() + 0.0
    }
}
