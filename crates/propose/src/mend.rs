//! Of two ways of building the same loudspeakers the one that leaves less to be mended within the brief is taken, whatever it
//! costs.

use crate::api::Figures;
use crate::avoidable::Avoidable;
use crate::build::Built;
use crate::error::BriefProblem;
use crate::make::Maker;
use crate::types::{Pose, SHARE_WITHIN};

impl Maker<'_> {
    /// A built layout, or the same with lines of their own for areas where that leaves less to mend and keeps what the brief
    /// asks: shorter lines lose less, and lead other ways. Also says which.
    pub fn mended(
        &self,
        layout: &[Pose],
        (built, figures, own_gains): (Built, Figures, bool),
    ) -> Result<(Built, Figures, bool), BriefProblem> {
        let left = Avoidable::of(&built.study);
        if left.is_nothing() || own_gains {
            return Ok((built, figures, own_gains));
        }
        match self.finish(layout, true) {
            Ok((other, better)) => {
                let done = built.done.and(other.done);
                let keeps = better.worst_share_within >= SHARE_WITHIN.min(figures.worst_share_within);
                Ok(if keeps && Avoidable::of(&other.study) < left {
                    (Built { done, ..other }, better, true)
                } else {
                    (Built { done, ..built }, figures, own_gains)
                })
            }
            Err(problem) if problem.of_one_design() => Ok((built, figures, own_gains)),
            Err(problem) => Err(problem),
        }
    }
}
