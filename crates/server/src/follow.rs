//! Hears of what other servers on the same store do, and tells them what is done here.
//!
//! Two threads, and one more for who looks on (`presence`), since the store's calls wait: one listens, and asks the store itself now and then, so that a call that was
//! lost is only a delay; one tells, a few times a second at most and of all jobs at once.

use crate::jobs::Jobs;
use crate::metrics::{CALLS_HEARD, CALLS_MADE, CAUGHT_UP};
use crate::presence::keep_told;
use crate::share::Sharing;
use crate::store::Heard;
use crate::tasks_told::TasksTold;
use loamline_limits::{CALLS_A_SECOND, LOOKED_AFTER_S};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{Builder, JoinHandle, sleep};
use std::time::{Duration, Instant};

/// How long a thread waits at most before it looks whether it is to stop; also between tries at a store that is away.
const STEP: Duration = Duration::from_millis(500);

/// What follows other servers, until it is dropped.
pub struct Following {
    stop: Arc<AtomicBool>,
    threads: Vec<JoinHandle<()>>,
}

impl Following {
    /// Follows the others on the store of some jobs; nothing to do where there can be none. Where devices are let in, whoever
    /// is on one is looked at again when another server turned one away or gave it another role.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn of(jobs: &Arc<Jobs>, sharing: Option<Arc<Sharing>>) -> std::io::Result<Self> {
        let mut following = Self { stop: Arc::new(AtomicBool::new(false)), threads: Vec::new() };
        if jobs.are_shared() {
            let hearing = Arc::clone(jobs);
            following.begin("hears", move |stop| hear(&hearing, sharing.as_deref(), stop))?;
            let telling = Arc::clone(jobs);
            following.begin("tells", move |stop| tell(&telling, stop))?;
            let present = Arc::clone(jobs);
            following.begin("present", move |stop| keep_told(&present, stop))?;
        }
        Ok(following)
    }

    fn begin(&mut self, name: &str, work: impl FnOnce(&AtomicBool) + Send + 'static) -> std::io::Result<()> {
        let stop = Arc::clone(&self.stop);
        self.threads.push(Builder::new().name(name.into()).spawn(move || work(&stop))?);
        Ok(())
    }
}

impl Drop for Following {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        for thread in self.threads.drain(..) {
            // One that gave up has nothing more to do.
            let _ended = thread.join();
        }
    }
}

fn hear(jobs: &Jobs, sharing: Option<&Sharing>, stop: &AtomicBool) {
    let every = Duration::from_secs(LOOKED_AFTER_S.number);
    let mut looked = Instant::now();
    let mut tasks = TasksTold::default();
    while !stop.load(Ordering::Relaxed) {
        let Some(others) = jobs.store().others() else { return };
        let mut heard = others.hear(STEP).unwrap_or_else(|why| {
            tracing::warn!(%why, "other servers cannot be heard");
            sleep(STEP);
            Heard::Anything
        });
        if matches!(&heard, Heard::Said { jobs, people, .. } if *people || !jobs.is_empty()) {
            CALLS_HEARD.add(1);
        }
        if looked.elapsed() >= every {
            looked = Instant::now();
            heard = Heard::Anything;
        }
        if let Some(s) = sharing.filter(|_| !matches!(heard, Heard::Said { people: false, .. })) {
            s.tell_changed();
        }
        match jobs.catch_up(&heard) {
            Ok(brought) => CAUGHT_UP.add(brought),
            Err(why) => tracing::warn!(why = %why.problem.message, "edits of other servers cannot be read"),
        }
        if let Err(why) = tasks.tell(jobs, &heard) {
            tracing::warn!(%why, "how far work is cannot be read");
        }
    }
}

fn tell(jobs: &Jobs, stop: &AtomicBool) {
    let between = Duration::from_secs(1) / u32::try_from(CALLS_A_SECOND.number).unwrap_or(1);
    loop {
        let Some(others) = jobs.store().others() else { return };
        // The last that was done is told before the end.
        let last = stop.load(Ordering::Relaxed);
        match others.tell(if last { Duration::ZERO } else { STEP }) {
            Ok(true) => CALLS_MADE.add(1),
            Ok(false) => {}
            Err(why) => tracing::warn!(%why, "other servers cannot be told; they find it in the log"),
        }
        if last {
            return;
        }
        sleep(between);
    }
}
