//! Threads for what somebody's hand is waiting for.

use loamline_limits::lent;
use rayon::{ThreadPool, ThreadPoolBuilder};
use std::sync::{LazyLock, OnceLock};

/// What each of the threads does first; nothing where nobody said.
static BEGINS: OnceLock<fn()> = OnceLock::new();

/// Apart from the threads of everything else: a map that waits behind a neighbour's levels or a page of the papers waits for
/// the whole of it.
static PROMPT: LazyLock<Option<ThreadPool>> = LazyLock::new(|| {
    let name = |i| format!("prompt {i}");
    let begins = |_| {
        if let Some(begins) = BEGINS.get() {
            begins();
        }
    };
    ThreadPoolBuilder::new().thread_name(name).start_handler(begins).build().ok()
});

/// Makes the threads of [`promptly`] ready, each after it has done something: taken its place among other threads of the
/// program, say. Of no effect once they are there.
pub fn prompt_threads_begin(begins: fn()) {
    let _kept = BEGINS.set(begins);
    LazyLock::force(&PROMPT);
}

/// Runs a field's working on threads of its own, as many as there are cores.
///
/// `work` asks no study for anything: a thread that waits for its helpers takes up other work meanwhile, and work that asks
/// for the very result it is inside of would wait for itself.
pub fn promptly<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    match PROMPT.as_ref() {
        Some(pool) => {
            let leave = lent();
            pool.install(|| leave.lend(work))
        }
        // No thread can be had: here, then.
        None => work(),
    }
}
