//! Ctrl-C while something is made that can be left before it is done.

use loamline_limits::Leave;
use std::thread;

/// How a process ends that was interrupted: 128 and the number of the signal, as shells have it.
const INTERRUPTED: i32 = 130;

/// From now on the first Ctrl-C ends this leave, so that what was made by then can be told; the second ends the program. Where
/// signals cannot be heard, Ctrl-C ends the program as ever.
pub fn ends(leave: &Leave) {
    let Ok(runtime) = tokio::runtime::Builder::new_current_thread().enable_all().build() else { return };
    let leave = leave.clone();
    thread::spawn(move || {
        runtime.block_on(async {
            if tokio::signal::ctrl_c().await.is_err() {
                return;
            }
            leave.stop();
            if tokio::signal::ctrl_c().await.is_ok() {
                std::process::exit(INTERRUPTED);
            }
        });
    });
}
