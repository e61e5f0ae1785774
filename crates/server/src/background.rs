//! Work that gives way: findings, papers, processing, whatever takes longer than a hand waits.
//!
//! It has threads of its own, which the system runs after all others: an edit or a map that comes in meanwhile takes its time
//! as if nothing else were going on, and where nothing else is, nothing is lost.
//!
//! Each kind of work has its own lane with few turns and a queue that ends: figures that take milliseconds never stand behind
//! a proposal that takes minutes, and of many who ask about one job at once the first few work it out for all.
//!
//! Work is done under a [`Leave`] that ends when nobody waits for the answer any more (the browser was closed: the waiting
//! future is dropped) or when the time of its kind is over. What others wait for as well is then made by one of them: whoever
//! leaves stops nothing but his own work.

use crate::error::ApiError;
use loamline_limits::{
    Bound, Exceeded, FOLDERS_S, Leave, Over, PAPERS_S, PROPOSALS_S, RESULTS_S, SETTINGS_S,
    WAITING_FOR_FOLDERS, WAITING_FOR_PAPERS, WAITING_FOR_PROPOSALS, WAITING_FOR_RESULTS,
    WAITING_FOR_SETTINGS,
};
use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};
use tokio::sync::{Semaphore, oneshot};

/// How far background work stands back, in steps of the system's scheduler from 0 to 19: at 10 it gets about a tenth of a core
/// that something else wants as well.
const GIVES_WAY: i32 = 10;
/// How often whoever waits is told their place.
const TOLD_EVERY: Duration = Duration::from_millis(500);
/// Weight of the newest piece of work in what one usually takes.
const NEWEST: f64 = 0.2;

/// Kinds of work, each with a lane of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Work {
    /// Findings, levels, readings: milliseconds to a few seconds.
    Results,
    /// Processing, bass and the ways of cables, which try much: seconds to half a minute.
    Settings,
    /// Typeset papers: seconds, and much memory.
    Papers,
    /// Proposals: minutes on every core.
    Proposals,
    /// Whole job folders, packed and unpacked: a second or two, and the folder is held in memory.
    Folders,
}

#[derive(Debug)]
struct Lane {
    turns: Arc<Semaphore>,
    at_once: usize,
    most_waiting: &'static Bound,
    /// Seconds a piece of work may take.
    most_s: &'static Bound,
    /// Numbers of those waiting, the next one first.
    waiting: Mutex<BTreeSet<u64>>,
    /// What a piece of work usually takes, s.
    usual_s: Mutex<f64>,
}

impl Lane {
    fn new(at_once: usize, most_waiting: &'static Bound, most_s: &'static Bound, usual_s: f64) -> Self {
        let (turns, usual_s) = (Arc::new(Semaphore::new(at_once)), Mutex::new(usual_s));
        Self { turns, at_once, most_waiting, most_s, waiting: Mutex::default(), usual_s }
    }

    /// Whole seconds until somebody at this place may have a turn.
    fn wait_s(&self, place: usize) -> u64 {
        let usual = *self.usual_s.lock().unwrap_or_else(PoisonError::into_inner);
        (usual * place as f64 / self.at_once as f64).ceil().clamp(1.0, 3600.0) as u64
    }

    fn took(&self, s: f64) {
        let mut usual = self.usual_s.lock().unwrap_or_else(PoisonError::into_inner);
        *usual += NEWEST * (s - *usual);
    }
}

/// A place in a queue, given up when it is dropped.
struct Ticket<'a> {
    lane: &'a Lane,
    number: u64,
}

impl<'a> Ticket<'a> {
    fn draw(lane: &'a Lane) -> Result<Self, ApiError> {
        let mut waiting = lane.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        if let Err(more) = lane.most_waiting.check(waiting.len() + 1) {
            let length = waiting.len();
            drop(waiting);
            return Err(ApiError::busy(&more, lane.wait_s(length)));
        }
        let number = waiting.last().map_or(0, |n| n + 1);
        waiting.insert(number);
        drop(waiting);
        Ok(Self { lane, number })
    }

    /// How many are before, and this one.
    fn place(&self) -> usize {
        let waiting = self.lane.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        waiting.range(..=self.number).count()
    }
}

impl Drop for Ticket<'_> {
    fn drop(&mut self) {
        self.lane.waiting.lock().unwrap_or_else(PoisonError::into_inner).remove(&self.number);
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

/// Turns at working in the background.
#[derive(Clone, Debug)]
pub struct Background(Arc<[Lane; 5]>);

impl Default for Background {
    fn default() -> Self {
        let cores = thread::available_parallelism().map_or(2, usize::from);
        Self(Arc::new([
            // More than there are cores: who asks for what another is making only waits for it.
            Lane::new(2 * cores, &WAITING_FOR_RESULTS, &RESULTS_S, 0.1),
            Lane::new(2, &WAITING_FOR_SETTINGS, &SETTINGS_S, 5.0),
            Lane::new(2, &WAITING_FOR_PAPERS, &PAPERS_S, 3.0),
            Lane::new(1, &WAITING_FOR_PROPOSALS, &PROPOSALS_S, 30.0),
            Lane::new(1, &WAITING_FOR_FOLDERS, &FOLDERS_S, 1.0),
        ]))
    }
}

impl Background {
    fn lane(&self, work: Work) -> &Lane {
        let [results, settings, papers, proposals, folders] = &*self.0;
        match work {
            Work::Results => results,
            Work::Settings => settings,
            Work::Papers => papers,
            Work::Proposals => proposals,
            Work::Folders => folders,
        }
    }

    /// Runs a piece of work in the background. Whoever goes away (drops what this gives) before its turn gives the turn up,
    /// and later stops the work at its next step.
    ///
    /// # Errors
    /// 503 with a time where too many wait; 422 where the work took longer than its kind may; those of the work, and when it
    /// gave up inside.
    pub async fn run<T: Send + 'static>(
        &self,
        kind: Work,
        work: impl FnOnce() -> Result<T, ApiError> + Send + 'static,
    ) -> Result<T, ApiError> {
        self.run_telling(kind, |_| true, work).await
    }

    /// The same, telling now and then at which place of the queue it is; the turn is given up once that answers false.
    ///
    /// # Errors
    /// As for [`Background::run`].
    pub async fn run_telling<T: Send + 'static>(
        &self,
        kind: Work,
        tell_place: impl Fn(usize) -> bool + Send,
        work: impl FnOnce() -> Result<T, ApiError> + Send + 'static,
    ) -> Result<T, ApiError> {
        let lane = self.lane(kind);
        let ticket = Ticket::draw(lane)?;
        let asked = Arc::clone(&lane.turns).acquire_owned();
        tokio::pin!(asked);
        let turn = loop {
            match tokio::time::timeout(TOLD_EVERY, &mut asked).await {
                Ok(Ok(turn)) => break turn,
                Ok(Err(_)) => return Err(ApiError::gave_up()),
                Err(_) if tell_place(ticket.place()) => {}
                Err(_) => return Err(ApiError::gave_up()),
            }
        };
        drop(ticket);
        let (tell, told) = oneshot::channel();
        let lanes = self.clone();
        let leave = Leave::within(Duration::from_secs(lane.most_s.most));
        let _stops = StopsWhenDropped::new(&leave);
        let worker = move || {
            let under_way = UnderWay::begin();
            // What holds the store's lock for long must not: whoever edits meanwhile waits for it.
            if kind != Work::Folders {
                give_way();
            }
            let started = Instant::now();
            // What was under way is dropped with the work; nothing of it is seen again.
            let done = catch_unwind(AssertUnwindSafe(|| leave.scope(work)));
            let lane = lanes.lane(kind);
            lane.took(started.elapsed().as_secs_f64());
            drop((turn, under_way));
            let done = match done {
                Ok(Ok(done)) => done,
                Ok(Err(Over::OutOfTime { .. })) => {
                    let found = started.elapsed().as_secs();
                    Err(ApiError::took_too_long(&Exceeded { bound: lane.most_s, found }))
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

/// Lets everything else on this machine go before the thread that calls. Where the system cannot, it stays as it is.
pub fn give_way() {
    #[cfg(target_os = "linux")]
    {
        // On Linux this is of the thread, not of the process.
        let _stood_back = rustix::process::setpriority_process(None, GIVES_WAY);
    }
}

/// The threads of all parallel work but maps stand back as well. Once for a process; a second call changes nothing.
pub fn let_parallel_work_give_way() {
    let _already = rayon::ThreadPoolBuilder::new().start_handler(|_| give_way()).build_global();
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::StatusCode;
    use std::sync::mpsc;

    #[tokio::test(flavor = "multi_thread")]
    async fn who_goes_away_stops_his_own_work_and_nobody_elses() {
        use loamline_limits::go_on;
        let background = Background::default();
        let (began, begun) = mpsc::channel::<()>();
        let gone = background.clone();
        let asked = tokio::spawn(async move {
            gone.run::<()>(Work::Settings, move || {
                began.send(()).ok();
                loop {
                    go_on();
                    thread::sleep(Duration::from_millis(1));
                }
            })
            .await
        });
        begun.recv().unwrap();
        let stays = background.clone();
        let other = tokio::spawn(async move {
            let work = || {
                for _ in 0..300 {
                    go_on();
                    thread::sleep(Duration::from_millis(1));
                }
                Ok(7)
            };
            stays.run(Work::Settings, work).await
        });
        let free = || background.lane(Work::Settings).turns.available_permits();
        while free() > 0 {
            tokio::task::yield_now().await;
        }
        asked.abort();
        let stopped = Instant::now();
        while free() == 0 {
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
        let took = stopped.elapsed();
        assert!(took < Duration::from_millis(200), "{took:?}");
        assert!(!other.is_finished(), "the turn that became free is the other one's");
        assert_eq!(other.await.unwrap(), Ok(7));
    }

    #[tokio::test(flavor = "multi_thread")]
    async fn a_full_queue_says_when_to_come_again_and_other_kinds_go_on() {
        let background = Background::default();
        let (open, gate) = mpsc::channel::<()>();
        let held = background.clone();
        let first = tokio::spawn(async move {
            held.run(Work::Proposals, move || {
                gate.recv().ok();
                Ok(())
            })
            .await
        });
        let places = Arc::new(Mutex::new(Vec::new()));
        let mut queue = Vec::new();
        for _ in 0..WAITING_FOR_PROPOSALS.most {
            let (b, told) = (background.clone(), Arc::clone(&places));
            // One after the other, so that the places are known.
            while background.lane(Work::Proposals).turns.available_permits() > 0 {
                tokio::task::yield_now().await;
            }
            let before = background.lane(Work::Proposals).waiting.lock().unwrap().len();
            queue.push(tokio::spawn(async move {
                let tell = |place| {
                    told.lock().unwrap().push(place);
                    true
                };
                b.run_telling(Work::Proposals, tell, || Ok(())).await
            }));
            while background.lane(Work::Proposals).waiting.lock().unwrap().len() == before {
                tokio::task::yield_now().await;
            }
        }
        let late = background.run(Work::Proposals, || Ok(())).await.unwrap_err();
        assert_eq!(late.status, StatusCode::SERVICE_UNAVAILABLE);
        assert!(late.problem.retry_after_s.is_some_and(|s| s >= 1), "{late:?}");
        assert_eq!(background.run(Work::Results, || Ok(7)).await.unwrap(), 7);
        tokio::time::sleep(2 * TOLD_EVERY).await;
        // One who goes away makes room, and those behind move up.
        queue.remove(0).abort();
        tokio::time::sleep(2 * TOLD_EVERY).await;
        let most = WAITING_FOR_PROPOSALS.most();
        let told = places.lock().unwrap().clone();
        assert!(told.contains(&most) && told.iter().all(|p| (1..=most).contains(p)), "{told:?}");
        assert!(!told[told.len() - (most - 1)..].contains(&most), "{told:?}");
        open.send(()).unwrap();
        assert_eq!(first.await.unwrap(), Ok(()));
        for one in queue {
            assert_eq!(one.await.unwrap(), Ok(()));
        }
    }

    #[tokio::test(flavor = "multi_thread")]
    async fn who_does_not_want_it_any_more_gives_the_place_up() {
        let background = Background::default();
        let (open, gate) = mpsc::channel::<()>();
        let held = background.clone();
        let first = tokio::spawn(async move {
            held.run(Work::Proposals, move || {
                gate.recv().ok();
                Ok(())
            })
            .await
        });
        while background.lane(Work::Proposals).turns.available_permits() > 0 {
            tokio::task::yield_now().await;
        }
        let given_up = background.run_telling(Work::Proposals, |_| false, || Ok(())).await;
        assert!(given_up.is_err());
        assert!(background.lane(Work::Proposals).waiting.lock().unwrap().is_empty());
        open.send(()).unwrap();
        assert_eq!(first.await.unwrap(), Ok(()));
    }
}
