//! Work that takes long on a store that several servers share: asked for by one of them, done by whoever has a hand free, watched
//! from all.
//!
//! Who begins a task is given the number of its turn. A worker that was thought lost and comes back has an earlier one: what it
//! reports and delivers is not taken, so that a task is delivered once.

use super::error::StoreError;
use futures_util::future::BoxFuture;
use std::sync::Arc;
use tokio::sync::watch;

/// A kind of task.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TaskKind {
    /// A proposal, which somebody waits for.
    Proposal,
    /// A job looked over again, for nobody in particular: by night, or whenever nobody waits for anything.
    Check,
}

impl TaskKind {
    /// Every kind.
    pub const ALL: [Self; 2] = [Self::Proposal, Self::Check];

    /// As it is kept.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Proposal => "proposal",
            Self::Check => "check",
        }
    }

    /// The kind that is kept as a word.
    pub fn of(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }

    /// What is begun first: the least. A person who waits goes before whatever is for nobody in particular.
    pub const fn priority(self) -> i64 {
        match self {
            Self::Proposal => 0,
            Self::Check => 100,
        }
    }

    /// Whether it is of use only while somebody wants it.
    pub const fn is_waited_for(self) -> bool {
        matches!(self, Self::Proposal)
    }
}

/// A task to be done.
#[derive(Debug, Clone, Copy)]
pub struct NewTask<'a> {
    /// Its id, which no other has.
    pub id: &'a str,
    /// Its kind.
    pub kind: TaskKind,
    /// Id of the job it is for.
    pub job: &'a str,
    /// What is wanted, as JSON.
    pub wish: &'a str,
}

/// What came of a task, as it is answered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outcome {
    /// HTTP status.
    pub status: u16,
    /// The answer, JSON.
    pub body: String,
}

/// A task as it now is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Task {
    /// Its id.
    pub id: String,
    /// Its kind.
    pub kind: TaskKind,
    /// Id of the job it is for.
    pub job: String,
    /// What is wanted, as JSON.
    pub wish: String,
    /// How many have begun it: 0 while it waits.
    pub turn: u64,
    /// Another number whenever there is something to tell of it.
    pub said: u64,
    /// How far it is, as whoever is at it says; empty before the first word.
    pub progress: String,
    /// Whether somebody stopped it, or nobody wanted it any more.
    pub is_stopped: bool,
    /// Revision of the job that the outcome is of.
    pub revision: u64,
    /// What came of it.
    pub outcome: Option<Outcome>,
    /// How many are before it, while it waits.
    pub before: u64,
}

impl Task {
    /// Whether there is nothing more to come.
    pub const fn is_over(&self) -> bool {
        self.is_stopped || self.outcome.is_some()
    }
}

/// A turn at a task.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Begun {
    /// The task's id.
    pub id: String,
    /// The kind.
    pub kind: TaskKind,
    /// Id of the job it is for.
    pub job: String,
    /// What is wanted, as JSON.
    pub wish: String,
    /// The number of the turn.
    pub turn: u64,
}

/// What a worker does with the id of a task whose turn it is. What fails is tried again later, by whoever then has its turn; with what
/// does not fail nothing more is to be done, whoever says so.
pub type Hand = Arc<dyn Fn(String) -> BoxFuture<'static, Result<(), StoreError>> + Send + Sync>;

/// Work that was asked for. Calls wait as those of [`Store`](super::Store) do.
pub trait Tasks: Send + Sync {
    /// Asks for a task; one of the same kind for the same job that is not done is stopped.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn ask_for(&self, new: &NewTask<'_>) -> Result<(), StoreError>;

    /// Asks for a task of a kind for every job that was not deleted and is no template, but for those for which one waits
    /// already; how many were asked for.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn ask_for_all(&self, kind: TaskKind) -> Result<u64, StoreError>;

    /// Of each job the task of a kind that was done last, of those that are kept.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn last_done(&self, kind: TaskKind) -> Result<Vec<Task>, StoreError>;

    /// How many tasks of a kind nobody has begun.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn waiting(&self, kind: TaskKind) -> Result<usize, StoreError>;

    /// How many tasks of a kind are not done, of those asked for within a day.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn not_done(&self, kind: TaskKind) -> Result<usize, StoreError>;

    /// A task of a job; none where there is none, or no more.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn task(&self, job: &str, id: &str) -> Result<Option<Task>, StoreError>;

    /// Tasks of some jobs that are not done, or were done just now.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn tasks_of(&self, jobs: &[String]) -> Result<Vec<Task>, StoreError>;

    /// Somebody wants these tasks still.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn still_wanted(&self, ids: &[String]) -> Result<(), StoreError>;

    /// Stops a task of a job that is not done; whether there is such a task at all.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn stop(&self, job: &str, id: &str) -> Result<bool, StoreError>;

    /// Begins a task; none where it is done, was stopped, or nobody wants it any more.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn begin(&self, id: &str) -> Result<Option<Begun>, StoreError>;

    /// Says how far it is; whether whoever has this turn is to go on.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn report(&self, turn: &Begun, progress: &str) -> Result<bool, StoreError>;

    /// Delivers what came of it, of a revision of the job; whether it was taken: not from whoever lost the turn, and not twice.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn deliver(&self, turn: &Begun, revision: u64, outcome: &Outcome) -> Result<bool, StoreError>;

    /// Works off tasks, one at a time and the most urgent first, until it is told to stop. Does not wait on its thread.
    fn work(&self, hand: Hand, stop: watch::Receiver<bool>) -> BoxFuture<'_, ()>;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_person_who_waits_goes_before_the_night() {
        assert!(TaskKind::Proposal.priority() < TaskKind::Check.priority());
        assert_eq!(TaskKind::ALL.map(|kind| TaskKind::of(kind.word())), TaskKind::ALL.map(Some));
        assert_eq!(TaskKind::of("neither"), None);
    }
}
