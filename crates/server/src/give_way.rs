//! Who goes before whom, on a machine of two cores too.
//!
//! Edits and whatever only reads a job come first, then findings, since somebody who edited waits for them; pictures give way
//! to both, and papers, settings and proposals to everybody. The system's scheduler sees to it: each thread says how far it
//! stands back, and where nothing else is wanted nothing is lost. A thread cannot come forward again, so that none of those
//! that serve ever stands back: what does has threads of its own.
//!
//! Parallel parts run on threads that stand back as far as their work does, a set for each piece of work. Handed to threads
//! that many share, the parts of a small job would wait until a stranger's large site is through with all that it has begun.

use crate::error::ApiError;
use loamline_limits::{STACK_BYTES, lent};
use rayon::{ThreadPool, ThreadPoolBuilder};
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::{Mutex, PoisonError};
use std::thread;
use tokio::sync::oneshot;

/// How far a thread stands back. Of a core that two want, the one behind gets about the share that is named.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Behind {
    /// Findings, levels, readings: two fifths beside an edit.
    Edits,
    /// Maps: a third beside findings, a quarter beside an edit.
    Findings,
    /// Papers, settings, proposals, figures of a drag: a tenth beside findings, a sixth beside a map.
    All,
}

impl Behind {
    /// Steps of the system's scheduler, from 0 to 19; each is worth about a quarter more for who stands before.
    const fn steps(self) -> i32 {
        match self {
            Self::Edits => 2,
            Self::Findings => 5,
            Self::All => 12,
        }
    }

    /// Lets whoever stands before go before the thread that calls, for as long as it lives. Where the system cannot, it stays
    /// as it is.
    pub fn stand(self) {
        // On Linux this is of the thread, not of the process.
        #[cfg(target_os = "linux")]
        let _stood_back = rustix::process::setpriority_process(None, self.steps());
        #[cfg(not(target_os = "linux"))]
        let _nowhere = self.steps();
    }
}

/// Threads for the parallel parts of one kind of work: a set for each turn, kept from one to the next. With one piece of work
/// to a set, a thread that waits for its helpers finds nobody else's work to take up, which might ask for the very result it
/// is inside of.
#[derive(Debug)]
pub struct Pools {
    name: &'static str,
    back: Behind,
    kept: Mutex<Vec<ThreadPool>>,
}

impl Pools {
    /// None yet.
    pub fn new(name: &'static str, back: Behind) -> Self {
        Self { name, back, kept: Mutex::default() }
    }

    /// Runs work on a set of threads nobody else is using.
    pub fn with<T: Send>(&self, work: impl FnOnce() -> T + Send) -> T {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let made = || {
            let (name, back) = (self.name, self.back);
            let threads = ThreadPoolBuilder::new().thread_name(move |n| format!("{name} {n}"));
            threads.stack_size(STACK_BYTES.most()).start_handler(move |_| back.stand()).build().ok()
        };
        // Where no threads can be had: here, then.
        let Some(pool) = kept.or_else(made) else { return work() };
        // One in which something gave up is not kept.
        let done = pool.install(work);
        self.kept.lock().unwrap_or_else(PoisonError::into_inner).push(pool);
        done
    }
}

/// Works on a thread of its own, which may stand back; none where it gave up or no thread can be had.
pub async fn on_a_thread<T: Send + 'static>(
    name: &str,
    work: impl FnOnce() -> T + Send + 'static,
) -> Option<T> {
    let (tell, told) = oneshot::channel();
    let worker = move || {
        // What was under way is dropped with the work; nothing of it is seen again.
        if let Ok(done) = catch_unwind(AssertUnwindSafe(work)) {
            // Nobody waiting any more is no fault.
            let _told = tell.send(done);
        }
    };
    thread::Builder::new().name(name.to_owned()).spawn(worker).ok()?;
    told.await.ok()
}

/// Works beside the thread that calls, behind everybody, and waits for it: what takes long before something that others must
/// not wait for, which the thread then does as it is.
///
/// # Errors
/// Those of the work, and where no thread can be had.
pub fn aside<T: Send>(work: impl FnOnce() -> Result<T, ApiError> + Send) -> Result<T, ApiError> {
    let leave = lent();
    thread::scope(|s| {
        let worker = || {
            Behind::All.stand();
            leave.lend(work)
        };
        match thread::Builder::new().name("aside".into()).spawn_scoped(s, worker) {
            // A leave that is over ends the thread that waits too.
            Ok(beside) => beside.join().unwrap_or_else(|gave_up| resume_unwind(gave_up)),
            Err(_) => Err(ApiError::gave_up()),
        }
    })
}

/// The threads of parallel work that has none of its own stand as findings do, those of maps behind them. Once for a process,
/// before any of them is wanted; a second call changes nothing.
pub fn let_parallel_work_give_way() {
    let behind_edits = |_| Behind::Edits.stand();
    let _already = ThreadPoolBuilder::new().start_handler(behind_edits).build_global();
    loamline_study::prompt_threads_begin(|| Behind::Findings.stand());
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::error_code::ErrorCode;
    use loamline_limits::{Leave, Over, go_on};
    use std::time::Duration;

    #[cfg(target_os = "linux")]
    #[test]
    fn findings_go_before_maps_and_those_before_papers() {
        use rayon::iter::{IntoParallelIterator as _, ParallelIterator as _};
        let stands = || rustix::process::getpriority_process(None).unwrap();
        let own = stands();
        let mut before = own;
        for back in [Behind::Edits, Behind::Findings, Behind::All] {
            // The whole of it, and every part.
            let threads: Vec<i32> =
                Pools::new("test", back).with(|| (0..64).into_par_iter().map(|_| stands()).collect());
            // Started by hand from far back, the tests themselves stand there.
            assert!(threads.iter().all(|t| *t == back.steps().max(own)), "{back:?}: {threads:?}");
            assert!(back.steps() > before || own > 0, "{back:?}");
            before = back.steps();
        }
        assert_eq!(aside(|| Ok(stands())).unwrap(), Behind::All.steps().max(own));
        assert_eq!(stands(), own, "whoever waits stays where it was");
    }

    #[test]
    fn what_is_done_aside_ends_with_the_leave_and_its_errors_come_back() {
        let leave = Leave::within(Duration::from_millis(20));
        let ends = leave.scope(|| {
            aside::<()>(|| {
                loop {
                    go_on();
                    thread::sleep(Duration::from_millis(1));
                }
            })
        });
        assert!(matches!(ends, Err(Over::OutOfTime { .. })), "{ends:?}");
        let refused = aside::<()>(|| Err(ApiError::not_found("such thing"))).unwrap_err();
        assert_eq!(refused.problem.code, ErrorCode::NotFound);
    }

    #[tokio::test]
    async fn what_gives_up_on_its_thread_gives_nothing() {
        assert_eq!(on_a_thread("test", || 7).await, Some(7));
        assert_eq!(on_a_thread::<()>("test", || resume_unwind(Box::new("gave up"))).await, None);
    }
}
