//! Results kept by what they were worked out from.
//!
//! A memo belongs to a job, not to one of its revisions: every snapshot asks the same one, so what an edit did not touch is
//! found again. Its lock is held while entries are looked up, never while something is worked out; whoever asks for what
//! somebody else is working out waits for that one result and for nothing else. Who leaves off ([`loamline_limits::Leave`])
//! leaves the entry empty, and the next one who asks, or waits, makes it.

use indexmap::IndexMap;
use std::fmt;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

/// Results of one sort, each made once for its input.
pub(crate) struct Memo<I, O> {
    entries: Mutex<Vec<Arc<Entry<I, O>>>>,
    /// Most entries kept. Fewer forget what an undo would ask again; more keep what nobody asks for.
    most: usize,
    made: AtomicU64,
}

/// A result, once it is there, with its input.
#[derive(Debug)]
struct Entry<I, O> {
    input: I,
    output: OnceLock<Arc<O>>,
}

/// An entry, shared by all who asked for it.
type Found<I, O> = Arc<Entry<I, O>>;

impl<I: PartialEq, O> Memo<I, O> {
    /// Keeps the results of the last `most` inputs.
    pub(crate) fn new(most: usize) -> Self {
        Self { entries: Mutex::default(), most: most.max(1), made: AtomicU64::new(0) }
    }

    /// The result for an input: the kept one, else what `make` gives. `make` gets the input and, where there is one, the
    /// result made last with its own input, to take over what is the same in both.
    pub(crate) fn get(&self, input: I, make: impl FnOnce(&I, Option<(&I, &O)>) -> O) -> Arc<O> {
        let (entry, earlier) = self.entry(input);
        let made = entry.output.get_or_init(|| {
            self.made.fetch_add(1, Ordering::Relaxed);
            let earlier = earlier.as_ref().and_then(|e| Some((&e.input, &**e.output.get()?)));
            Arc::new(make(&entry.input, earlier))
        });
        Arc::clone(made)
    }

    /// How many results have been made.
    pub(crate) fn made(&self) -> u64 {
        self.made.load(Ordering::Relaxed)
    }

    /// The entry of an input, new or known, now the one asked for last; and the finished one asked for before it.
    fn entry(&self, input: I) -> (Found<I, O>, Option<Found<I, O>>) {
        let mut entries = self.lock();
        let finished = |e: &&Arc<Entry<I, O>>| e.output.get().is_some();
        let earlier = entries.iter().rev().find(finished).cloned();
        let entry = match entries.iter().position(|e| e.input == input) {
            Some(known) => entries.remove(known),
            None => Arc::new(Entry { input, output: OnceLock::new() }),
        };
        if entries.len() >= self.most {
            entries.remove(0);
        }
        entries.push(Arc::clone(&entry));
        (entry, earlier)
    }

    fn lock(&self) -> MutexGuard<'_, Vec<Arc<Entry<I, O>>>> {
        // Nothing can give up half way through a look-up.
        self.entries.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl<I, O> fmt::Debug for Memo<I, O> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Memo").field("most", &self.most).field("made", &self.made).finish_non_exhaustive()
    }
}

/// Results of many things of one sort, by id.
#[derive(Debug)]
pub(crate) struct MemoById<I, O> {
    each: Mutex<IndexMap<String, Arc<Memo<I, O>>>>,
    /// Inputs kept for each.
    most: usize,
    /// Results made for things that are no longer kept.
    made_before: AtomicU64,
}

impl<I: PartialEq, O> MemoById<I, O> {
    /// Keeps the results of the last `most` inputs of each thing.
    pub(crate) fn new(most: usize) -> Self {
        Self { each: Mutex::default(), most, made_before: AtomicU64::new(0) }
    }

    /// The result of a thing, as [`Memo::get`].
    pub(crate) fn get(&self, id: &str, input: I, make: impl FnOnce(&I, Option<(&I, &O)>) -> O) -> Arc<O> {
        let memo = {
            let mut each = self.lock();
            match each.get(id) {
                Some(known) => Arc::clone(known),
                None => {
                    Arc::clone(each.entry(id.to_owned()).or_insert_with(|| Arc::new(Memo::new(self.most))))
                }
            }
        };
        memo.get(input, make)
    }

    /// Forgets things that are no longer there.
    pub(crate) fn keep_only(&self, there: impl Fn(&str) -> bool) {
        self.lock().retain(|id, memo| {
            let stays = there(id);
            if !stays {
                self.made_before.fetch_add(memo.made(), Ordering::Relaxed);
            }
            stays
        });
    }

    /// How many results have been made.
    pub(crate) fn made(&self) -> u64 {
        let before = self.made_before.load(Ordering::Relaxed);
        before + self.lock().values().map(|m| m.made()).sum::<u64>()
    }

    fn lock(&self) -> MutexGuard<'_, IndexMap<String, Arc<Memo<I, O>>>> {
        // Nothing can give up half way through a look-up.
        self.each.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A value compared by where it lies: the same value, not one alike. It stays where it is while this is held.
#[derive(Debug)]
pub(crate) struct Same<T>(pub(crate) Arc<T>);

impl<T> Clone for Same<T> {
    fn clone(&self) -> Self {
        Self(Arc::clone(&self.0))
    }
}

impl<T> PartialEq for Same<T> {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Barrier;
    use std::thread;

    #[test]
    fn a_result_is_made_once_for_its_input_and_found_again_after_others() {
        let memo = Memo::new(2);
        let first = memo.get(1, |i, earlier| {
            assert!(earlier.is_none());
            i * 10
        });
        assert_eq!(*memo.get(2, |i, earlier| i * 10 + earlier.map_or(0, |(i, o)| i + o)), 31);
        assert!(Arc::ptr_eq(&first, &memo.get(1, |_, _| unreachable!("it is kept"))));
        assert_eq!(memo.made(), 2);
        // A third input drops the one asked for longest ago.
        memo.get(3, |_, _| 0);
        assert_eq!(*memo.get(2, |_, _| 7), 7);
    }

    #[test]
    fn things_are_kept_by_id_until_they_are_gone() {
        let memo = MemoById::new(1);
        let b = memo.get("B", 2, |i, _| i * 10);
        memo.get("A", 1, |i, _| i * 10);
        assert!(Arc::ptr_eq(&b, &memo.get("B", 2, |_, _| unreachable!("it is kept"))));
        memo.keep_only(|id| id == "A");
        memo.get("B", 2, |i, _| i * 10);
        assert_eq!(memo.made(), 3);
    }

    #[test]
    fn one_maker_serves_all_who_ask_meanwhile_and_other_inputs_wait_for_nobody() {
        let (memo, both) = (Memo::new(4), Barrier::new(2));
        thread::scope(|s| {
            // Each maker waits inside for the other: only possible when neither waits for the other's result.
            for input in [1, 2] {
                let (memo, both) = (&memo, &both);
                s.spawn(move || {
                    memo.get(input, |i, _| {
                        both.wait();
                        *i
                    })
                });
            }
        });
        assert_eq!(memo.made(), 2);
        thread::scope(|s| {
            for _ in 0..8 {
                s.spawn(|| assert_eq!(*memo.get(5, |i, _| *i), 5));
            }
        });
        assert_eq!(memo.made(), 3);
    }

    #[test]
    fn a_maker_that_gives_up_leaves_the_next_one_free_to_try() {
        let memo: Memo<i32, i32> = Memo::new(1);
        let tried = thread::scope(|s| {
            s.spawn(|| memo.get(1, |_, _| std::panic::resume_unwind(Box::new("gave up")))).join()
        });
        assert!(tried.is_err());
        assert_eq!(*memo.get(1, |i, _| i + 1), 2);
    }
}
