//! Work in the background: findings, papers, processing, whatever takes longer than a hand waits.
//!
//! It has threads of its own, which stand back (`give_way`): an edit that comes in meanwhile takes its time as if nothing else
//! were going on.
//!
//! Each kind of work has its own lane with few turns and a queue that ends: figures that take milliseconds never stand behind
//! a proposal that takes minutes. Of many who ask the same of one job at once, one works it out for all, and one job's
//! questions leave turns to others' (`rounds`). What heavy work takes of that which everybody asks for, findings above all,
//! is made for it as light work first ([`Background::lightly`]).
//!
//! Work is done under a [`Leave`] that ends when nobody waits for the answer any more (the browser was closed: the waiting
//! future is dropped) or when the time of its kind is over. What others wait for as well is then made by one of them: whoever
//! leaves stops nothing but his own work.

use crate::error::ApiError;
use crate::give_way::{Behind, Pools};
use crate::queue::Lane;
use loamline_limits::{
    Bound, Exceeded, FOLDERS_AT_ONCE, FOLDERS_S, Leave, Over, PAPERS_AT_ONCE, PAPERS_S, PROPOSALS_AT_ONCE,
    PROPOSALS_S, RESULTS_S, SETTINGS_AT_ONCE, SETTINGS_S, WAITING_FOR_FOLDERS, WAITING_FOR_PAPERS,
    WAITING_FOR_PROPOSALS, WAITING_FOR_RESULTS, WAITING_FOR_SETTINGS, lent,
};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;
use std::time::{Duration, Instant};
use tokio::sync::{OwnedSemaphorePermit, oneshot};

/// Kinds of work, each with a lane of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Work {
    /// Findings, levels, readings: milliseconds to a few seconds.
    Results,
    /// Processing, bass, the ways of cables and what a phone takes along, which try much: seconds to half a minute.
    Settings,
    /// Typeset papers: seconds, and much memory.
    Papers,
    /// Proposals: minutes on every core.
    Proposals,
    /// Whole job folders, packed and unpacked: a second or two, and the folder is held in memory.
    Folders,
}

impl Work {
    /// Every kind.
    pub const ALL: [Self; 5] = [Self::Results, Self::Settings, Self::Papers, Self::Proposals, Self::Folders];

    /// A word for programs.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Results => "results",
            Self::Settings => "settings",
            Self::Papers => "papers",
            Self::Proposals => "proposals",
            Self::Folders => "folders",
        }
    }
}

/// How a kind of work is done.
#[derive(Debug)]
struct Kind {
    lane: Lane,
    /// Seconds a piece of work may take.
    most_s: &'static Bound,
    /// How far it stands back; none for what holds the store's lock for long, which whoever edits waits for.
    back: Option<Behind>,
    /// None for what has no parallel parts.
    pools: Option<Pools>,
}

impl Kind {
    fn new(at_once: usize, most_waiting: &'static Bound, most_s: &'static Bound, usual_s: f64) -> Self {
        let lane = Lane::new(at_once, Some(most_waiting), usual_s);
        let back = Behind::All;
        Self { lane, most_s, back: Some(back), pools: Some(Pools::new("heavy", back)) }
    }

    /// Opens what work is to be done on, as an edit would, then stands back and works.
    fn worked<A: Send, T: Send>(
        &self,
        leave: &Leave,
        open: impl FnOnce() -> Result<A, ApiError>,
        work: impl FnOnce(A) -> Result<T, ApiError> + Send,
    ) -> Result<Result<T, ApiError>, Over> {
        let opened = match leave.scope(open)? {
            Ok(opened) => opened,
            Err(refused) => return Ok(Err(refused)),
        };
        if let Some(back) = self.back {
            back.stand();
        }
        let under = || leave.scope(|| work(opened));
        match &self.pools {
            Some(pools) => pools.with(under),
            None => under(),
        }
    }
}

/// Pieces of work under way, of all kinds.
static UNDER_WAY: AtomicUsize = AtomicUsize::new(0);

/// How many pieces of background work this process is at, of all kinds and for everybody.
pub fn background_work_under_way() -> usize {
    UNDER_WAY.load(Ordering::Relaxed)
}

/// A piece of work under way, until it is dropped.
struct UnderWay;

impl UnderWay {
    fn begin() -> Self {
        UNDER_WAY.fetch_add(1, Ordering::Relaxed);
        Self
    }
}

impl Drop for UnderWay {
    fn drop(&mut self) {
        UNDER_WAY.fetch_sub(1, Ordering::Relaxed);
    }
}

/// Ends a leave when it is dropped: kept by whoever waits for the work done under it.
pub struct StopsWhenDropped(Leave);

impl StopsWhenDropped {
    /// What ends a leave.
    pub fn new(leave: &Leave) -> Self {
        Self(leave.clone())
    }
}

impl Drop for StopsWhenDropped {
    fn drop(&mut self) {
        self.0.stop();
    }
}

/// A kind of work, and who is at it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Queue {
    /// The kind.
    pub kind: &'static str,
    /// Pieces worked at, at once.
    pub turns: usize,
    /// Those under way.
    pub running: usize,
    /// Those that wait.
    pub waiting: usize,
    /// What one usually takes, s.
    pub usual_s: f64,
}

impl Queue {
    /// What a lane is at.
    pub fn of(kind: &'static str, lane: &Lane) -> Self {
        let (turns, waiting, usual_s) = (lane.at_once(), lane.waiting(), lane.usual_s());
        Self { kind, turns, running: turns.saturating_sub(lane.free()), waiting, usual_s }
    }
}

/// Somebody's place in a queue.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place {
    /// The kind of work.
    pub kind: Work,
    /// How many are before.
    pub before: usize,
    /// Whole seconds until the turn, about.
    pub about_s: u64,
}

/// Turns at working in the background.
#[derive(Clone, Debug)]
pub struct Background(Arc<[Kind; 5]>);

impl Default for Background {
    fn default() -> Self {
        let cores = thread::available_parallelism().map_or(2, usize::from);
        // More than there are cores: who asks for what another is making only waits for it.
        let light = Lane::new(2 * cores, Some(&WAITING_FOR_RESULTS), 0.1);
        let settings = Kind::new(SETTINGS_AT_ONCE.most(), &WAITING_FOR_SETTINGS, &SETTINGS_S, 5.0);
        let papers = Kind::new(PAPERS_AT_ONCE.most(), &WAITING_FOR_PAPERS, &PAPERS_S, 3.0);
        let proposals = Kind::new(PROPOSALS_AT_ONCE.most(), &WAITING_FOR_PROPOSALS, &PROPOSALS_S, 30.0);
        let folders = Kind::new(FOLDERS_AT_ONCE.most(), &WAITING_FOR_FOLDERS, &FOLDERS_S, 1.0);
        let back = Behind::Edits;
        let pools = Some(Pools::new("light", back));
        let results = Kind { lane: light, most_s: &RESULTS_S, back: Some(back), pools };
        let folders = Kind { back: None, pools: None, ..folders };
        Self(Arc::new([results, settings, papers, proposals, folders]))
    }
}

impl Background {
    fn kind(&self, work: Work) -> &Kind {
        let [results, settings, papers, proposals, folders] = &*self.0;
        match work {
            Work::Results => results,
            Work::Settings => settings,
            Work::Papers => papers,
            Work::Proposals => proposals,
            Work::Folders => folders,
        }
    }

    /// Whether a kind of work stands behind everything else.
    pub fn is_heavy(&self, work: Work) -> bool {
        self.kind(work).back == Some(Behind::All)
    }

    /// How many turns at a kind of light work one job's questions may have together: half, so that others' find one. None
    /// for other kinds.
    pub fn share_of_a_job(&self, work: Work) -> Option<usize> {
        let light = self.kind(work).back == Some(Behind::Edits);
        light.then(|| self.kind(work).lane.at_once().div_ceil(2))
    }

    /// Makes what others ask for too as they would make it, before whoever calls stands back. Found half made by threads that
    /// stand behind everybody, those who ask for it meanwhile would wait with them.
    pub fn lightly<T: Send>(&self, work: impl FnOnce() -> T + Send) -> T {
        let leave = lent();
        match &self.kind(Work::Results).pools {
            Some(pools) => pools.with(|| leave.lend(work)),
            None => work(),
        }
    }

    /// Every queue as it now is.
    pub fn queues(&self) -> Vec<Queue> {
        Work::ALL.iter().map(|work| Queue::of(work.word(), &self.kind(*work).lane)).collect()
    }

    /// The place of whoever waits under a name.
    pub fn place_of(&self, name: &str) -> Option<Place> {
        Work::ALL.iter().find_map(|kind| {
            let lane = &self.kind(*kind).lane;
            let place = lane.place_of(name)?;
            Some(Place { kind: *kind, before: place - 1, about_s: lane.wait_s(place) })
        })
    }

    /// Runs a piece of work in the background. Whoever goes away (drops what this gives) before its turn gives the turn up,
    /// and later stops the work at its next step. Under a name, the place in the queue can be asked for.
    ///
    /// # Errors
    /// 503 with a time where too many wait; 422 where the work took longer than its kind may; those of the work, and when it
    /// gave up inside.
    pub async fn run_named<T: Send + 'static>(
        &self,
        kind: Work,
        name: Option<String>,
        work: impl FnOnce() -> Result<T, ApiError> + Send + 'static,
    ) -> Result<T, ApiError> {
        self.run_on(kind, name, || Ok(()), |()| work()).await
    }

    /// The same on what is opened first: that waits for nobody who works. Under a name, the place in the queue can be asked
    /// for.
    ///
    /// # Errors
    /// As for [`Background::run_named`], and those of opening.
    pub async fn run_on<A: Send + 'static, T: Send + 'static>(
        &self,
        kind: Work,
        name: Option<String>,
        open: impl FnOnce() -> Result<A, ApiError> + Send + 'static,
        work: impl FnOnce(A) -> Result<T, ApiError> + Send + 'static,
    ) -> Result<T, ApiError> {
        let turn = self.kind(kind).lane.turn(name, |_| true).await?;
        self.at_work(kind, turn, open, work).await
    }

    /// The same, telling now and then at which place of the queue it is; the turn is given up once that answers false.
    ///
    /// # Errors
    /// As for [`Background::run_named`].
    pub async fn run_telling<T: Send + 'static>(
        &self,
        kind: Work,
        tell_place: impl Fn(usize) -> bool + Send,
        work: impl FnOnce() -> Result<T, ApiError> + Send + 'static,
    ) -> Result<T, ApiError> {
        let turn = self.kind(kind).lane.turn(None, tell_place).await?;
        self.at_work(kind, turn, || Ok(()), |()| work()).await
    }

    /// Works while it has its turn.
    async fn at_work<A: Send + 'static, T: Send + 'static>(
        &self,
        kind: Work,
        turn: OwnedSemaphorePermit,
        open: impl FnOnce() -> Result<A, ApiError> + Send + 'static,
        work: impl FnOnce(A) -> Result<T, ApiError> + Send + 'static,
    ) -> Result<T, ApiError> {
        let (tell, told) = oneshot::channel();
        let kinds = self.clone();
        let leave = Leave::within(Duration::from_secs(self.kind(kind).most_s.number));
        let _stops = StopsWhenDropped::new(&leave);
        let worker = move || {
            let (under_way, started, kind) = (UnderWay::begin(), Instant::now(), kinds.kind(kind));
            // What was under way is dropped with the work; nothing of it is seen again.
            let done = catch_unwind(AssertUnwindSafe(|| kind.worked(&leave, open, work)));
            kind.lane.took(started.elapsed().as_secs_f64());
            drop((turn, under_way));
            let done = match done {
                Ok(Ok(done)) => done,
                Ok(Err(Over::OutOfTime { .. })) => {
                    let found = started.elapsed().as_secs();
                    Err(ApiError::took_too_long(&Exceeded { bound: kind.most_s, found }))
                }
                Ok(Err(Over::Stopped)) | Err(_) => Err(ApiError::gave_up()),
            };
            // Nobody waiting any more is no fault.
            let _told = tell.send(done);
        };
        if thread::Builder::new().name("background".into()).spawn(worker).is_err() {
            return Err(ApiError::gave_up());
        }
        told.await.unwrap_or_else(|_| Err(ApiError::gave_up()))
    }
}

/// Runs what takes long, or waits for the disk, off the threads that serve.
///
/// # Errors
/// Those of what is run.
pub async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, ApiError> + Send + 'static,
) -> Result<T, ApiError> {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done,
        Err(_) => Err(ApiError::gave_up()),
    }
}

#[cfg(test)]
mod tests;
