//! What came of trying to make a design.

use crate::attempt::{Made, Outcome, Wish};
use crate::error::{BriefProblem, ProposeError};
use crate::make::Maker;
use crate::reporter::Reporter;

/// A design as wished, or that it was stopped.
pub(crate) fn attempt(
    maker: &Maker<'_>,
    wish: &Wish<'_>,
    reporter: &Reporter<'_>,
) -> Result<Outcome, ProposeError> {
    let made = maker.attempt(wish, reporter)?;
    if reporter.stopped() { Err(ProposeError::Cancelled) } else { Ok(made) }
}

/// The design that an attempt came to beside others that there are: one that cannot be built is none.
pub(crate) fn one_of_several(attempted: Result<Outcome, ProposeError>) -> Result<Option<Made>, ProposeError> {
    match attempted {
        Ok(Outcome::Met(made)) => Ok(Some(*made)),
        Ok(Outcome::Unmet { .. }) => Ok(None),
        Err(ProposeError::Brief(why)) if why.iter().all(BriefProblem::of_one_design) => Ok(None),
        Err(e) => Err(e),
    }
}
