//! Does the work that was asked for by way of the store: whatever its turn is, in the background of this process.

use crate::background::{Background, StopsWhenDropped, Work, blocking};
use crate::error::{ApiError, ErrorBody};
use crate::firm::Firm;
use crate::jobs::Jobs;
use crate::proposing::{ProposalWish, first_sign, made, sign};
use crate::rechecking::checked;
use crate::store::{Begun, Hand, Outcome, StoreError, TaskKind};
use crate::told::Told;
use axum::http::StatusCode;
use loamline_limits::{Exceeded, Leave, TASK_TURNS};
use loamline_propose::ProposeProgress;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;
use tokio::sync::watch;

/// How often it is said how far a task is, and asked whether to go on. More often is more writing, more rarely a stop that is
/// waited for.
const REPORTED_EVERY: Duration = Duration::from_millis(300);

/// How often a store that is away is offered what was made, a second apart.
const DELIVERIES: u32 = 20;

/// What came of a task, and the revision of the job it is of.
type Done = (u64, Result<Told, ApiError>);

/// Whoever does the work of a store.
pub struct Worker {
    jobs: Arc<Jobs>,
    background: Background,
}

impl Worker {
    /// On these jobs, with the turns of this process.
    pub const fn new(jobs: Arc<Jobs>, background: Background) -> Self {
        Self { jobs, background }
    }

    /// Works until it is told to stop; nothing to do on a store whose work is done by whoever is asked.
    pub async fn run(self: Arc<Self>, stop: watch::Receiver<bool>) {
        let jobs = Arc::clone(&self.jobs);
        let Some(tasks) = jobs.store().tasks() else { return };
        let hand: Hand = Arc::new(move |id| {
            let worker = Arc::clone(&self);
            Box::pin(async move { worker.turn(id).await })
        });
        tasks.work(hand, stop).await;
    }

    /// One turn. Dropped in the middle, it stops what it is at and delivers nothing.
    async fn turn(&self, id: String) -> Result<(), StoreError> {
        let begun = on_tasks(&self.jobs, move |jobs| {
            let Some(tasks) = jobs.store().tasks() else { return Ok(None) };
            tasks.begin(&id)
        });
        let Some(turn) = begun.await? else { return Ok(()) };
        let turn = Arc::new(turn);
        let done = match begun_too_often(&turn) {
            Some(refused) => (0, Err(refused)),
            None => self.done(&turn).await,
        };
        match done {
            // The store went away in the middle: begun again when it is back.
            (_, Err(why)) if why.status == StatusCode::SERVICE_UNAVAILABLE => {
                Err(StoreError::Away(why.problem.message.to_string()))
            }
            done => self.deliver(turn, done).await,
        }
    }

    /// In the turn of proposals, whatever it is: one thing at a time, behind whatever browsers ask of this process.
    async fn done(&self, turn: &Arc<Begun>) -> Done {
        let leave = Leave::unbounded();
        let _stops = StopsWhenDropped::new(&leave);
        let (jobs, turn) = (Arc::clone(&self.jobs), Arc::clone(turn));
        let done =
            self.background.run_named(Work::Proposals, None, move || Ok(done(&jobs, &turn, &leave))).await;
        done.unwrap_or_else(|refused| (0, Err(refused)))
    }

    /// Delivers what was made; where the store is away, as soon as it is back.
    async fn deliver(&self, turn: Arc<Begun>, (revision, done): Done) -> Result<(), StoreError> {
        let outcome = Arc::new(outcome_of(done));
        let mut tries = DELIVERIES;
        loop {
            let (given, outcome) = (Arc::clone(&turn), Arc::clone(&outcome));
            let delivered = on_tasks(&self.jobs, move |jobs| match jobs.store().tasks() {
                Some(tasks) => tasks.deliver(&given, revision, &outcome),
                None => Ok(false),
            });
            match delivered.await {
                Err(StoreError::Away(_)) if tries > 0 => {
                    tries -= 1;
                    tokio::time::sleep(Duration::from_secs(1)).await;
                }
                Ok(true) => return Ok(()),
                Ok(false) => return self.lost(&turn).await,
                Err(why) => return Err(why),
            }
        }
    }

    /// What was not taken: it is done, or somebody else is at it, whose entry in the queue must stay.
    async fn lost(&self, turn: &Arc<Begun>) -> Result<(), StoreError> {
        let turn = Arc::clone(turn);
        let found = on_tasks(&self.jobs, move |jobs| match jobs.store().tasks() {
            Some(tasks) => tasks.task(&turn.job, &turn.id),
            None => Ok(None),
        });
        match found.await? {
            Some(task) if !task.is_over() => Err(StoreError::Behind),
            _ => Ok(()),
        }
    }
}

/// Asks the store off the threads that serve.
async fn on_tasks<T: Send + 'static>(
    jobs: &Arc<Jobs>,
    ask: impl FnOnce(&Jobs) -> Result<T, StoreError> + Send + 'static,
) -> Result<T, StoreError> {
    let jobs = Arc::clone(jobs);
    let asked = blocking(move || Ok(ask(&jobs))).await;
    asked.unwrap_or_else(|e| Err(StoreError::Refused(e.problem.message.to_string())))
}

/// The refusal of a task that ends whoever begins it.
fn begun_too_often(turn: &Begun) -> Option<ApiError> {
    let before = turn.turn.saturating_sub(1);
    // As many turns as are allowed may end in the middle.
    TASK_TURNS
        .check_u64(turn.turn)
        .err()
        .map(|more| ApiError::took_too_long(&Exceeded { found: before, ..more }))
}

fn outcome_of(done: Result<Told, ApiError>) -> Outcome {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    match done {
        Ok(told) => Outcome { status: StatusCode::OK.as_u16(), body: text(&told.into_bytes()) },
        Err(refused) => {
            let status = refused.status.as_u16();
            let body = serde_json::to_string(&ErrorBody { error: *refused.problem }).unwrap_or_default();
            Outcome { status, body }
        }
    }
}

/// Does what a turn is about.
fn done(jobs: &Jobs, turn: &Begun, leave: &Leave) -> Done {
    match turn.kind {
        TaskKind::Proposal => match proposal(jobs, turn, leave) {
            Ok(done) => done,
            Err(refused) => (0, Err(refused)),
        },
        TaskKind::Check => match checked(jobs, &turn.job) {
            Ok((revision, found)) => (revision, Told::of(&found)),
            Err(refused) => (0, Err(refused)),
        },
    }
}

fn proposal(jobs: &Jobs, turn: &Begun, leave: &Leave) -> Result<Done, ApiError> {
    let wish: ProposalWish = serde_json::from_str(&turn.wish).map_err(|_| ApiError::gave_up())?;
    let options = wish.at(Firm::of(jobs.store())?.prices()?);
    let job = jobs.open(&turn.job)?;
    let last = Mutex::new(first_sign());
    let watch = |p: &ProposeProgress| {
        last.lock().unwrap_or_else(PoisonError::into_inner).clone_from(p);
        true
    };
    let how_far = || {
        let last = last.lock().unwrap_or_else(PoisonError::into_inner).clone();
        sign(&turn.id, &last, false).to_string()
    };
    Ok(reporting(jobs, turn, leave, how_far, || made(&job, &turn.id, leave, &options, &watch)))
}

/// Works, and meanwhile says how far it is; ends the leave once nobody wants it any more, or somebody else has the turn.
fn reporting<T>(
    jobs: &Jobs,
    turn: &Begun,
    leave: &Leave,
    how_far: impl Fn() -> String + Send,
    work: impl FnOnce() -> T,
) -> T {
    thread::scope(|s| {
        let (end, ended) = channel::<()>();
        s.spawn(move || {
            let Some(tasks) = jobs.store().tasks() else { return };
            while let Err(RecvTimeoutError::Timeout) = ended.recv_timeout(REPORTED_EVERY) {
                match tasks.report(turn, &how_far()) {
                    Ok(true) => {}
                    Ok(false) => leave.stop(),
                    // Told with the next; nobody is the worse for it.
                    Err(why) => tracing::warn!(%why, "how far work is cannot be said"),
                }
            }
        });
        let done = work();
        // Whoever unwinds out of the work drops it too.
        drop(end);
        done
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn turn(n: u64) -> Begun {
        Begun { id: "run".into(), kind: TaskKind::Proposal, job: "court".into(), wish: "{}".into(), turn: n }
    }

    #[test]
    fn what_ended_every_worker_is_not_begun_for_ever() {
        let most = TASK_TURNS.number;
        assert!((1..=most).all(|n| begun_too_often(&turn(n)).is_none()));
        let refused = begun_too_often(&turn(most + 1)).unwrap();
        assert!(
            refused.problem.message.contains(&format!("begun {most} times")),
            "{}",
            refused.problem.message
        );
    }

    #[test]
    fn a_refusal_is_kept_as_it_would_have_been_answered() {
        let refused = ApiError::field("/brief", "No brief.");
        let kept = outcome_of(Err(refused.clone()));
        assert_eq!(kept.status, refused.status.as_u16());
        let told: serde_json::Value = serde_json::from_str(&kept.body).unwrap();
        assert_eq!(told["error"]["message"], "No brief.");
    }
}
