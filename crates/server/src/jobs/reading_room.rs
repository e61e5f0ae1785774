//! Room for texts being read into jobs. Reading takes some hundred times the size of a text in memory; opened one by one
//! under one lock, large jobs never were read two at a time, and slots of their own would let any number of them.

use loamline_limits::{JOB_FILE_BYTES, READ_AT_ONCE_BYTES};
use std::sync::{Condvar, Mutex, PoisonError};

/// Room for texts being read.
#[derive(Debug, Default)]
pub struct ReadingRoom {
    taken: Mutex<u64>,
    freed: Condvar,
}

/// A seat in it, given back when it is dropped.
pub struct Seat<'a> {
    room: &'a ReadingRoom,
    bytes: u64,
}

impl ReadingRoom {
    /// Waits until there is room for a text of so many bytes.
    pub fn seat(&self, bytes: usize) -> Seat<'_> {
        // What an edit made larger than a job file counts as one: some dozens of usual jobs find room beside it.
        let bytes = u64::try_from(bytes).unwrap_or(u64::MAX).min(JOB_FILE_BYTES.number);
        let taken = self.taken.lock().unwrap_or_else(PoisonError::into_inner);
        let full = |taken: &mut u64| READ_AT_ONCE_BYTES.check_u64(*taken + bytes).is_err();
        let mut taken = self.freed.wait_while(taken, full).unwrap_or_else(PoisonError::into_inner);
        *taken += bytes;
        drop(taken);
        Seat { room: self, bytes }
    }
}

impl Drop for Seat<'_> {
    fn drop(&mut self) {
        *self.room.taken.lock().unwrap_or_else(PoisonError::into_inner) -= self.bytes;
        self.room.freed.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc;
    use std::thread;
    use std::time::Duration;

    #[test]
    fn large_texts_are_read_one_by_one_and_usual_ones_beside_them() {
        let room = ReadingRoom::default();
        let large = room.seat(JOB_FILE_BYTES.most() + 1);
        let usual: Vec<Seat<'_>> = (0..30).map(|_| room.seat(30_000)).collect();
        let (took, taken) = mpsc::channel();
        thread::scope(|s| {
            s.spawn(|| {
                let second = room.seat(JOB_FILE_BYTES.most());
                took.send(()).unwrap();
                drop(second);
            });
            assert!(taken.recv_timeout(Duration::from_millis(50)).is_err(), "two large ones at once");
            drop(large);
            taken.recv_timeout(Duration::from_secs(10)).unwrap();
        });
        drop(usual);
        assert_eq!(*room.taken.lock().unwrap(), 0);
    }
}
