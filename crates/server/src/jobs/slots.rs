//! Jobs in memory, each in a slot of its own: opening one waits for nobody who opens another.
//!
//! The lock of the list is held for looking up alone, never while something is read. A job is opened under the lock of its
//! slot, so that two who ask at once have it opened once. What is taken out of the list is marked as gone under its own lock:
//! whoever waited for it looks again and finds the slot that stands there now, never two of one job.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Things by id, of which so many are kept before those nobody uses are let go.
pub struct Slots<T> {
    each: Mutex<HashMap<String, Slot<T>>>,
    most: usize,
}

type Slot<T> = Arc<Mutex<Held<T>>>;

/// What a slot holds.
enum Held<T> {
    /// Nothing yet: whoever has its lock opens it.
    Nothing,
    /// What was opened, and when somebody last asked for it.
    Open(Arc<T>, Instant),
    /// Nothing any more: the slot is not in the list.
    Gone,
}

fn held<T>(slot: &Slot<T>) -> MutexGuard<'_, Held<T>> {
    // Who gives up while opening leaves nothing in it.
    slot.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Whether somebody uses what a slot holds, opens it or waits for that.
fn is_used<T>(slot: &Slot<T>) -> bool {
    // Without another hold on the slot nobody has its lock.
    Arc::strong_count(slot) > 1
        || matches!(&*held(slot), Held::Open(opened, _) if Arc::strong_count(opened) > 1)
}

impl<T> Slots<T> {
    /// None yet, of which so many are kept.
    pub fn new(most: usize) -> Self {
        Self { each: Mutex::default(), most }
    }

    /// The thing with this id, opened when this is the first to ask for it.
    ///
    /// # Errors
    /// Those of opening; nothing is kept then.
    pub fn open<E>(&self, id: &str, open: impl Fn() -> Result<T, E>) -> Result<Arc<T>, E> {
        loop {
            let slot = self.slot(id);
            let mut held = held(&slot);
            match &mut *held {
                Held::Open(opened, asked) => {
                    *asked = Instant::now();
                    return Ok(Arc::clone(opened));
                }
                Held::Gone => continue,
                Held::Nothing => {}
            }
            return match open() {
                Ok(opened) => {
                    let opened = Arc::new(opened);
                    *held = Held::Open(Arc::clone(&opened), Instant::now());
                    Ok(opened)
                }
                Err(why) => {
                    self.take_out(id, &slot, &mut held);
                    Err(why)
                }
            };
        }
    }

    /// Takes a thing away once `take` has; what was open of it. Whoever opens it meanwhile waits.
    ///
    /// # Errors
    /// Those of `take`; what is open then stays.
    pub fn take_away<E>(&self, id: &str, take: impl Fn() -> Result<(), E>) -> Result<Option<Arc<T>>, E> {
        loop {
            let slot = self.slot(id);
            let mut held = held(&slot);
            if matches!(*held, Held::Gone) {
                continue;
            }
            if let Err(why) = take() {
                if matches!(*held, Held::Nothing) {
                    self.take_out(id, &slot, &mut held);
                }
                return Err(why);
            }
            return Ok(self.take_out(id, &slot, &mut held));
        }
    }

    /// Takes a slot out of the list; what was open in it.
    fn take_out(&self, id: &str, slot: &Slot<T>, held: &mut Held<T>) -> Option<Arc<T>> {
        let was = std::mem::replace(held, Held::Gone);
        let mut each = self.list();
        if each.get(id).is_some_and(|there| Arc::ptr_eq(there, slot)) {
            each.remove(id);
        }
        drop(each);
        match was {
            Held::Open(opened, _) => Some(opened),
            Held::Nothing | Held::Gone => None,
        }
    }

    /// The slot of an id, a new one where there is none.
    fn slot(&self, id: &str) -> Slot<T> {
        let mut each = self.list();
        if let Some(slot) = each.get(id) {
            return Arc::clone(slot);
        }
        let mut unused = Vec::new();
        if each.len() >= self.most {
            unused.extend(each.extract_if(|_, slot| !is_used(slot)));
        }
        let slot: Slot<T> = Arc::new(Mutex::new(Held::Nothing));
        each.insert(id.to_owned(), Arc::clone(&slot));
        // What it holds takes its time to go; nobody waits for that.
        drop(each);
        drop(unused);
        slot
    }

    /// Everything that is open, and what is being opened once it is: nothing that is asked for meanwhile is missed.
    pub fn opened(&self) -> Vec<Arc<T>> {
        let slots: Vec<Slot<T>> = self.list().values().map(Arc::clone).collect();
        let open = |slot: &Slot<T>| match &*held(slot) {
            Held::Open(opened, _) => Some(Arc::clone(opened)),
            Held::Nothing | Held::Gone => None,
        };
        slots.iter().filter_map(open).collect()
    }

    /// Lets go what nobody uses and nobody has asked for so long.
    pub fn let_go(&self, unused_for: Duration) {
        let long_ago = |slot: &Slot<T>| match &*held(slot) {
            Held::Open(_, asked) => asked.elapsed() >= unused_for,
            Held::Nothing | Held::Gone => false,
        };
        let mut each = self.list();
        let gone: Vec<_> = each.extract_if(|_, slot| !is_used(slot) && long_ago(slot)).collect();
        // As above.
        drop(each);
        drop(gone);
    }

    fn list(&self) -> MutexGuard<'_, HashMap<String, Slot<T>>> {
        // Nothing can give up half way through a look-up.
        self.each.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::sync::mpsc;
    use std::thread;
    use std::time::Duration;

    fn all(slots: &Slots<u32>) -> usize {
        slots.each.lock().unwrap().len()
    }

    /// With one lock for all it waited until the first was read.
    #[test]
    fn opening_one_holds_up_nobody_who_opens_another() {
        let slots = Arc::new(Slots::new(8));
        let ((began, begun), (go_on, gate)) = (mpsc::channel(), mpsc::channel::<()>());
        let slow = Arc::clone(&slots);
        let large = thread::spawn(move || {
            let gate = Mutex::new(gate);
            slow.open("large", || {
                began.send(()).unwrap();
                gate.lock().unwrap().recv().unwrap();
                Ok::<u32, ()>(1)
            })
        });
        begun.recv().unwrap();
        let (done, told) = mpsc::channel();
        let quick = Arc::clone(&slots);
        thread::spawn(move || done.send(quick.open("small", || Ok::<u32, ()>(2))).unwrap());
        let small = told.recv_timeout(Duration::from_secs(10));
        go_on.send(()).unwrap();
        assert_eq!(*small.unwrap().unwrap(), 2);
        assert_eq!(*large.join().unwrap().unwrap(), 1);
    }

    #[test]
    fn those_who_ask_at_once_have_it_opened_once() {
        let (slots, opened) = (Slots::new(8), AtomicUsize::new(0));
        let asked: Vec<Arc<u32>> = thread::scope(|s| {
            let ask = || {
                let open = || {
                    opened.fetch_add(1, Ordering::Relaxed);
                    thread::sleep(Duration::from_millis(20));
                    Ok::<u32, ()>(7)
                };
                slots.open("one", open).unwrap()
            };
            let threads: Vec<_> = (0..8).map(|_| s.spawn(ask)).collect();
            threads.into_iter().map(|t| t.join().unwrap()).collect()
        });
        assert_eq!(opened.load(Ordering::Relaxed), 1);
        assert!(asked.iter().all(|a| Arc::ptr_eq(a, &asked[0])));
    }

    #[test]
    fn those_nobody_uses_are_let_go_where_there_are_many_and_no_others() {
        let slots = Slots::new(4);
        let used = slots.open("used", || Ok::<u32, ()>(0)).unwrap();
        for n in 1..40 {
            slots.open(&n.to_string(), || Ok::<u32, ()>(n)).unwrap();
            assert!(all(&slots) <= 4);
        }
        let again = slots.open("used", || Err("it is open")).unwrap();
        assert!(Arc::ptr_eq(&used, &again));
    }

    #[test]
    fn those_nobody_has_asked_for_long_are_let_go_and_no_others() {
        let slots = Slots::new(4);
        let used = slots.open("used", || Ok::<u32, ()>(0)).unwrap();
        slots.open("done with", || Ok::<u32, ()>(1)).unwrap();
        slots.let_go(Duration::from_secs(60));
        assert_eq!(all(&slots), 2);
        slots.let_go(Duration::ZERO);
        assert_eq!(all(&slots), 1);
        assert!(Arc::ptr_eq(&used, &slots.open("used", || Err("it is open")).unwrap()));
    }

    #[test]
    fn what_is_open_is_told_and_what_was_taken_away_is_not() {
        let slots = Slots::new(4);
        for n in 0..3 {
            slots.open(&n.to_string(), || Ok::<u32, ()>(n)).unwrap();
        }
        slots.take_away("1", || Ok::<(), ()>(())).unwrap();
        let mut open: Vec<u32> = slots.opened().iter().map(|n| **n).collect();
        open.sort_unstable();
        assert_eq!(open, [0, 2]);
    }

    #[test]
    fn what_cannot_be_opened_leaves_nothing_and_who_waited_tries_again() {
        let (slots, tries) = (Slots::<u32>::new(8), AtomicUsize::new(0));
        let open = || {
            thread::sleep(Duration::from_millis(10));
            match tries.fetch_add(1, Ordering::Relaxed) {
                0..3 => Err("not yet"),
                n => Ok(u32::try_from(n).unwrap()),
            }
        };
        let got: Vec<_> = thread::scope(|s| {
            let threads: Vec<_> = (0..6).map(|_| s.spawn(|| slots.open("one", open))).collect();
            threads.into_iter().map(|t| t.join().unwrap()).collect()
        });
        assert_eq!(got.iter().filter(|g| g.is_err()).count(), 3);
        // The others have one and the same.
        assert_eq!(tries.load(Ordering::Relaxed), 4);
        assert!(slots.open("none", || Err::<u32, _>("never")).is_err());
        assert_eq!(all(&slots), 1);
    }

    #[test]
    fn what_is_taken_away_is_opened_anew_or_not_at_all() {
        let slots = Slots::new(8);
        slots.open("one", || Ok::<u32, ()>(1)).unwrap();
        assert_eq!(slots.take_away("one", || Err("not mine")), Err("not mine"));
        assert_eq!(slots.take_away("one", || Ok::<(), ()>(())).unwrap().as_deref(), Some(&1));
        assert_eq!(slots.take_away("other", || Err("there is none")), Err("there is none"));
        assert_eq!(all(&slots), 0);
        assert_eq!(*slots.open("one", || Ok::<u32, ()>(2)).unwrap(), 2);
    }
}
