//! How long things take.

use std::time::Instant;

/// The shortest of `rounds` runs, ms, and the last answer.
pub fn shortest<T>(rounds: usize, mut run: impl FnMut() -> T) -> (f64, T) {
    let mut timed = || {
        let start = Instant::now();
        let answer = run();
        (start.elapsed().as_secs_f64() * 1e3, answer)
    };
    let mut best = timed();
    for _ in 1..rounds {
        let (ms, answer) = timed();
        best = (best.0.min(ms), answer);
    }
    best
}
