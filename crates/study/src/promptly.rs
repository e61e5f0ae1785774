//! Threads for what somebody's hand is waiting for.

use loamline_limits::lent;
use rayon::{ThreadPool, ThreadPoolBuilder};
use std::sync::LazyLock;

/// Apart from the threads of everything else: a map that waits behind a neighbour's levels or a page of the papers waits for
/// the whole of it.
static PROMPT: LazyLock<Option<ThreadPool>> = LazyLock::new(|| {
    let name = |i| format!("prompt {i}");
    ThreadPoolBuilder::new().thread_name(name).build().ok()
});

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
