//! What was found in jobs that were looked over again.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use utoipa::ToSchema;

/// What was found in a job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Found {
    /// What must be put right.
    pub errors: u32,
    /// What should be put right, or accepted on purpose.
    pub warnings: u32,
    /// What it costs with tax, with its currency; absent where that cannot be reckoned.
    pub price: Option<String>,
}

/// What was found in the jobs that were looked over here, with the revision it was found in.
#[derive(Clone, Default)]
pub struct Checked(Arc<Mutex<Here>>);

#[derive(Default)]
struct Here {
    found: BTreeMap<String, (u64, Found)>,
    /// Jobs still to be looked over.
    waiting: Vec<String>,
    /// Whether somebody is at it.
    under_way: bool,
    /// Whether it is a job just now.
    at_one: bool,
}

impl Checked {
    fn here(&self) -> MutexGuard<'_, Here> {
        // Nothing can give up while it is held.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Takes in jobs to be looked over; whether somebody has to begin with it.
    pub fn ask_for(&self, jobs: Vec<String>) -> bool {
        let mut here = self.here();
        here.waiting = jobs;
        !std::mem::replace(&mut here.under_way, true)
    }

    /// The next job; none is the end of it.
    pub fn take_next(&self) -> Option<String> {
        let mut here = self.here();
        let next = here.waiting.pop();
        here.under_way = next.is_some();
        here.at_one = next.is_some();
        next
    }

    /// Takes in what was found in a job at a revision.
    pub fn keep(&self, job: String, found: (u64, Found)) {
        self.here().found.insert(job, found);
    }

    /// What was found so far, by the job's id, and how many jobs are still to be looked over.
    pub fn so_far(&self) -> (BTreeMap<String, (u64, Found)>, usize) {
        let here = self.here();
        (here.found.clone(), here.waiting.len() + usize::from(here.at_one))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_goes_on_until_nothing_is_left_and_then_another_may_begin() {
        let checked = Checked::default();
        let two = || vec!["a".to_owned(), "b".to_owned()];
        assert!(checked.ask_for(two()));
        assert_eq!(checked.take_next().as_deref(), Some("b"));
        assert_eq!(checked.so_far().1, 2, "the one that is looked over is not done");
        assert!(!checked.ask_for(two()), "whoever is at it does these too, anew");
        assert_eq!(
            [checked.take_next(), checked.take_next(), checked.take_next()],
            [Some("b".into()), Some("a".into()), None]
        );
        assert_eq!(checked.so_far().1, 0);
        assert!(checked.ask_for(two()));
    }
}
