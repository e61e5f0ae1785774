//! Work that gives way: findings, papers, processing, whatever takes longer than a hand waits.
//!
//! It has threads of its own, which the system runs after all others: an edit or a map that comes in meanwhile takes its time
//! as if nothing else were going on, and where nothing else is, nothing is lost.

use crate::error::ApiError;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::thread;
use tokio::sync::{Semaphore, oneshot};

/// Most pieces of work at once. Each has a thread; more of them only make each slower.
const MOST_AT_ONCE: usize = 64;
/// How far background work stands back, in steps of the system's scheduler from 0 to 19: at 10 it gets about a tenth of a core
/// that something else wants as well.
const GIVES_WAY: i32 = 10;

/// Turns at working in the background.
#[derive(Clone, Debug)]
pub struct Background(Arc<Semaphore>);

impl Default for Background {
    fn default() -> Self {
        Self(Arc::new(Semaphore::new(MOST_AT_ONCE)))
    }
}

impl Background {
    /// Runs a piece of work in the background.
    ///
    /// # Errors
    /// Those of the work, and when it gave up inside.
    pub async fn run<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> Result<T, ApiError> + Send + 'static,
    ) -> Result<T, ApiError> {
        let Ok(turn) = Arc::clone(&self.0).acquire_owned().await else { return Err(ApiError::gave_up()) };
        let (tell, told) = oneshot::channel();
        let worker = move || {
            give_way();
            // What was under way is dropped with the work; nothing of it is seen again.
            let done = catch_unwind(AssertUnwindSafe(work));
            drop(turn);
            // Nobody waiting any more is no fault.
            let _told = tell.send(done.unwrap_or_else(|_| Err(ApiError::gave_up())));
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
