//! The best whole design made so far, kept where it outlives a search that is left before it is done.

use crate::api::{Proposal, ProposeOptions, Proposed};
use crate::written::as_written;
use loamline_model::JobFile;
use loamline_terms::say;
use std::sync::{Mutex, PoisonError};

/// What a design misses of the brief and what it costs: one that misses less is better, then the cheaper.
pub(crate) type Rank = (f64, f64);

/// Keeps the best whole design of a search. Whoever may have to leave the search hands one in and asks it afterwards.
#[derive(Debug, Default)]
pub struct SoFar(Mutex<Option<Kept>>);

#[derive(Debug, Clone)]
struct Kept {
    rank: Rank,
    design: Proposed,
    /// Places and ways of using them that were looked at.
    looked_at: (usize, usize),
}

impl SoFar {
    /// Keeps a design where it is better than the one that is kept.
    pub(crate) fn keep(&self, rank: Rank, made: impl FnOnce() -> (Proposed, (usize, usize))) {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.as_ref().is_none_or(|k| rank < k.rank) {
            let (design, looked_at) = made();
            *kept = Some(Kept { rank, design, looked_at });
        }
    }

    /// The best design of a search that was left, as an unfinished proposal for the same job and options; none where no design
    /// was whole by then, or where the job does not bear it.
    pub fn proposal(&self, file: &JobFile, options: &ProposeOptions) -> Option<Proposal> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner).clone()?;
        let mut design = kept.design;
        as_written(file, &mut design, &options.prices).ok()?;
        let left =
            say!("The search was left before it was done: this is the best whole design made by then.");
        let (places, candidates) = kept.looked_at;
        Some(Proposal {
            currency: file.job().document().about.currency.clone(),
            options: vec![design],
            failure: None,
            notes: vec![left.into()],
            places,
            candidates,
            bound: None,
            unfinished: true,
        })
    }
}
