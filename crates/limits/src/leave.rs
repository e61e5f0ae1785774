//! Leave to work: until when, and until who says stop.
//!
//! Whoever asks for something that may take long gives leave for it ([`Leave::scope`]); whatever takes long asks, in its
//! inner loops, whether to [`go_on`]. Once the leave is over, [`go_on`] does not come back: it unwinds to the scope, which
//! answers [`Over`]. Nothing in between has an error of its own for it, and that is the reason: results are kept in cells and
//! memos that several askers share. An error handed up would be kept there as if it were the result, and one person's closed
//! browser would spoil another's answer; a cell whose maker unwinds stays empty, and the next asker makes it. Language
//! servers built on incremental engines leave off in the same way.
//!
//! What is asked of the code in between: no lock is held across a step that may take long, or what it guards is whole at
//! every such step and the lock is taken back with `PoisonError::into_inner`; and nothing that takes long stands in a
//! `LazyLock`, which never tries again.
//!
//! A leave is known to its thread. Work that is spread over other threads carries it along: [`lent`] before, [`Lent::lend`]
//! within every part. A thread that waits for parts of its own takes over others' parts meanwhile, so that a loop without it
//! would end by the leave of a stranger.

use std::cell::RefCell;
use std::fmt;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Why work was left off. Displays as part of a sentence.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Over {
    /// Somebody said stop, or nobody is there any more who wants it.
    #[error("it was stopped before it was done")]
    Stopped,
    /// It took longer than it may.
    #[error("it was not done within {}", Seconds(*after))]
    OutOfTime {
        /// The time it was given.
        after: Duration,
    },
}

/// A length of time as people write it: `0.5 s`, `20 s`.
struct Seconds(Duration);

impl fmt::Display for Seconds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tenths = (self.0.as_secs_f64() * 10.0).round() / 10.0;
        write!(f, "{tenths} s")
    }
}

/// Leave to work. A copy is the same leave: stopping one stops all.
#[derive(Debug, Clone)]
pub struct Leave(Arc<Terms>);

#[derive(Debug)]
struct Terms {
    stopped: AtomicBool,
    until: Option<Until>,
}

#[derive(Debug, Clone, Copy)]
struct Until {
    end: Instant,
    after: Duration,
}

impl Leave {
    /// Leave for as long as it takes, or until somebody says stop.
    pub fn unbounded() -> Self {
        Self::with(None)
    }

    /// Leave for so long from now on. A time beyond what the clock can tell is no bound.
    pub fn within(after: Duration) -> Self {
        Self::with(Instant::now().checked_add(after).map(|end| Until { end, after }))
    }

    /// Leave for a share, 0 to 1, of the time that is left on this thread; unbounded where that is. What is found in it can
    /// then be put in order in what remains.
    pub fn share_of_what_is_left(share: f64) -> Self {
        let mut least: Option<Until> = None;
        each(lent().0.as_ref(), |frame| {
            if let Some(until) = frame.leave.0.until
                && least.is_none_or(|l| until.end < l.end)
            {
                least = Some(until);
            }
        });
        let Some(least) = least else { return Self::unbounded() };
        let left = least.end.saturating_duration_since(Instant::now()).mul_f64(share.clamp(0.0, 1.0));
        Self::with(Instant::now().checked_add(left).map(|end| Until { end, after: least.after }))
    }

    fn with(until: Option<Until>) -> Self {
        Self(Arc::new(Terms { stopped: AtomicBool::new(false), until }))
    }

    /// Ends the leave now, from whatever thread; work under it is left off at its next step.
    pub fn stop(&self) {
        self.0.stopped.store(true, Ordering::Relaxed);
    }

    /// Whether the leave is over, and why. Costs some 25 ns where there is an end, a nanosecond otherwise.
    pub fn is_over(&self) -> Option<Over> {
        if self.0.stopped.load(Ordering::Relaxed) {
            return Some(Over::Stopped);
        }
        let until = self.0.until?;
        (Instant::now() >= until.end).then_some(Over::OutOfTime { after: until.after })
    }

    /// Works under this leave, and under whatever leave there is on this thread already.
    ///
    /// # Errors
    /// [`Over`], when this leave ended before the work. The end of another leave, and every panic, passes on.
    pub fn scope<T>(&self, work: impl FnOnce() -> T) -> Result<T, Over> {
        let frame = Arc::new(Frame { leave: self.clone(), outer: lent().0 });
        let under = Lent(Some(Arc::clone(&frame)));
        // What was under way is dropped on the way here; what outlives it keeps to the rules at the head of this file.
        let worked = catch_unwind(AssertUnwindSafe(|| under.lend(work)));
        worked.or_else(|thrown| match thrown.downcast::<Left>() {
            Ok(left) if Arc::ptr_eq(&left.frame, &frame) => Err(left.over),
            Ok(left) => resume_unwind(left),
            Err(other) => resume_unwind(other),
        })
    }
}

/// A leave on a thread, within others.
#[derive(Debug)]
struct Frame {
    leave: Leave,
    outer: Option<Arc<Self>>,
}

/// What unwinds from [`go_on`] to the scope of the leave that is over.
struct Left {
    over: Over,
    frame: Arc<Frame>,
}

thread_local! {
    static CURRENT: RefCell<Option<Arc<Frame>>> = const { RefCell::new(None) };
}

/// The leave a thread works under, to be handed to other threads.
#[derive(Debug, Clone)]
pub struct Lent(Option<Arc<Frame>>);

/// The leave this thread works under.
pub fn lent() -> Lent {
    Lent(CURRENT.try_with(|c| c.borrow().clone()).unwrap_or_default())
}

impl Lent {
    /// Works under this leave on whatever thread this is, and under no other; the thread's own comes back afterwards. Leaves
    /// off at once where it is over.
    pub fn lend<T>(&self, work: impl FnOnce() -> T) -> T {
        /// Puts the thread's own leave back, however the work ends.
        struct Back(Option<Arc<Frame>>);
        impl Drop for Back {
            fn drop(&mut self) {
                let own = self.0.take();
                // A thread that ends has no work left.
                let _ended = CURRENT.try_with(|c| c.replace(own));
            }
        }
        let _back = Back(CURRENT.try_with(|c| c.replace(self.0.clone())).unwrap_or_default());
        go_on();
        work()
    }
}

/// Looks at every leave of a thread, the innermost first.
fn each(innermost: Option<&Arc<Frame>>, mut look: impl FnMut(&Arc<Frame>)) {
    let mut next = innermost;
    while let Some(frame) = next {
        look(frame);
        next = frame.outer.as_ref();
    }
}

/// Works to the end whatever leave there is on this thread: for the short rest of something that is to be done as a whole, such
/// as showing what has been written.
pub fn to_the_end<T>(work: impl FnOnce() -> T) -> T {
    Lent(None).lend(work)
}

/// Comes back as long as there is leave to go on; else leaves off, see the head of this file. Without a leave on this thread
/// it always comes back. For loops whose steps take from a few hundred nanoseconds to some milliseconds.
#[inline]
pub fn go_on() {
    let left = CURRENT.try_with(|c| c.borrow().as_ref().and_then(over)).unwrap_or_default();
    if let Some(left) = left {
        // No message and no trace: nothing went wrong.
        resume_unwind(Box::new(left));
    }
}

/// The outermost leave that is over: nobody within needs to look again.
fn over(innermost: &Arc<Frame>) -> Option<Left> {
    let mut left = None;
    each(Some(innermost), |frame| {
        if let Some(over) = frame.leave.is_over() {
            left = Some(Left { over, frame: Arc::clone(frame) });
        }
    });
    left
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicUsize;
    use std::sync::{Barrier, Mutex, OnceLock, PoisonError};
    use std::thread;

    /// Work without an end.
    fn for_ever<T>() -> T {
        loop {
            go_on();
            thread::sleep(Duration::from_millis(1));
        }
    }

    #[test]
    fn work_that_ends_in_time_gives_its_result_and_leaves_no_leave_behind() {
        let leave = Leave::within(Duration::from_secs(3600));
        assert_eq!(leave.scope(|| 7), Ok(7));
        leave.stop();
        go_on();
        assert_eq!(leave.scope(|| 7), Err(Over::Stopped));
    }

    #[test]
    fn time_that_is_over_ends_the_work_and_says_how_much_it_was() {
        let started = Instant::now();
        let over = Leave::within(Duration::from_millis(100)).scope(for_ever::<()>).unwrap_err();
        assert_eq!(over.to_string(), "it was not done within 0.1 s");
        let took = started.elapsed();
        assert!((100..300).contains(&took.as_millis()), "{took:?}");
    }

    #[test]
    fn a_stop_from_another_thread_ends_work_that_is_spread_over_threads() {
        let leave = Leave::unbounded();
        let (running, all) = (AtomicUsize::new(0), Barrier::new(4));
        let stopped_at = Mutex::new(None);
        let done = thread::scope(|s| {
            let worker = s.spawn(|| {
                leave.scope(|| {
                    let lent = lent();
                    // Parts within parts, as of a parallel loop within another.
                    let part = |lent: &Lent| {
                        lent.lend(|| {
                            struct Counted<'a>(&'a AtomicUsize);
                            impl Drop for Counted<'_> {
                                fn drop(&mut self) {
                                    self.0.fetch_sub(1, Ordering::Relaxed);
                                }
                            }
                            running.fetch_add(1, Ordering::Relaxed);
                            let _counted = Counted(&running);
                            all.wait();
                            for_ever::<()>();
                        })
                    };
                    thread::scope(|inner| {
                        let parts: Vec<_> = (0..3).map(|_| inner.spawn(|| part(&lent))).collect();
                        let ends: Vec<_> = parts.into_iter().map(|p| p.join()).collect();
                        for end in ends {
                            if let Err(thrown) = end {
                                resume_unwind(thrown);
                            }
                        }
                    });
                })
            });
            all.wait();
            assert_eq!(running.load(Ordering::Relaxed), 3);
            *stopped_at.lock().unwrap() = Some(Instant::now());
            leave.stop();
            worker.join().unwrap()
        });
        let took = stopped_at.lock().unwrap().unwrap().elapsed();
        assert_eq!((done, running.load(Ordering::Relaxed)), (Err(Over::Stopped), 0));
        assert!(took < Duration::from_millis(200), "{took:?}");
    }

    #[test]
    fn a_cell_whose_maker_left_off_is_filled_by_the_next_and_a_waiter_takes_over() {
        let cell = OnceLock::new();
        let leave = Leave::unbounded();
        let inside = Barrier::new(2);
        thread::scope(|s| {
            let left = s.spawn(|| {
                leave.scope(|| {
                    *cell.get_or_init(|| {
                        inside.wait();
                        for_ever()
                    })
                })
            });
            inside.wait();
            // Waits in the cell for the one who is to leave.
            let waiter = s.spawn(|| *cell.get_or_init(|| 5));
            thread::sleep(Duration::from_millis(20));
            leave.stop();
            assert_eq!(left.join().unwrap(), Err(Over::Stopped));
            assert_eq!(waiter.join().unwrap(), 5);
        });
        assert_eq!(cell.get(), Some(&5));
    }

    #[test]
    fn an_end_reaches_the_scope_it_is_the_end_of() {
        let outer = Leave::unbounded();
        let mut inner_answered = false;
        let done = outer.scope(|| {
            let inner = Leave::unbounded().scope(|| {
                outer.stop();
                go_on();
            });
            inner_answered = true;
            inner
        });
        assert_eq!((done, inner_answered), (Err(Over::Stopped), false));
        // The other way round the outer work goes on.
        let done = Leave::unbounded().scope(|| {
            let inner = Leave::unbounded();
            inner.stop();
            let left = inner.scope(|| 1);
            go_on();
            left
        });
        assert_eq!(done, Ok(Err(Over::Stopped)));
    }

    #[test]
    fn a_panic_is_none_of_its_business() {
        let thrown =
            thread::spawn(|| Leave::unbounded().scope::<()>(|| resume_unwind(Box::new("a fault")))).join();
        assert_eq!(thrown.unwrap_err().downcast_ref(), Some(&"a fault"));
    }

    #[test]
    fn a_lent_leave_is_the_only_one_while_it_lasts() {
        let strangers = thread::spawn(lent).join().unwrap();
        let leave = Leave::unbounded();
        let done = leave.scope(|| {
            leave.stop();
            // A part of somebody else's work, taken over while waiting.
            strangers.lend(|| {
                go_on();
                3
            })
        });
        assert_eq!(done, Ok(3));
    }

    #[test]
    fn what_is_to_be_whole_is_done_to_the_end() {
        let leave = Leave::unbounded();
        let mut done = false;
        let ended = leave.scope(|| {
            leave.stop();
            to_the_end(|| {
                go_on();
                done = true;
            });
            go_on();
        });
        assert_eq!((ended, done), (Err(Over::Stopped), true));
    }

    #[test]
    fn a_share_of_the_time_ends_before_the_whole() {
        let (whole, part) = (Duration::from_secs(40), 0.5);
        let done = Leave::within(whole).scope(|| Leave::share_of_what_is_left(part).0.until);
        let until = done.unwrap().unwrap();
        let left = until.end - Instant::now();
        assert!(left > Duration::from_secs(19) && left <= Duration::from_secs(20), "{left:?}");
        assert_eq!(until.after, whole);
        assert!(Leave::share_of_what_is_left(part).0.until.is_none());
    }

    #[test]
    fn a_lock_held_by_who_leaves_is_taken_back() {
        let kept = Mutex::new(1);
        let leave = Leave::unbounded();
        let done = leave.scope(|| {
            let _held = kept.lock().unwrap();
            leave.stop();
            go_on();
        });
        assert_eq!(done, Err(Over::Stopped));
        assert_eq!(*kept.lock().unwrap_or_else(PoisonError::into_inner), 1);
    }
}
