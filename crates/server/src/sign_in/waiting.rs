//! What was begun and waits for an answer: each can be taken once, for a while, and nobody can fill the room of others.

use crate::connections::neighbourhood;
use loamline_limits::{SIGN_IN_S, SIGN_INS_OF_ONE, SIGN_INS_WAITING};
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

struct Begun<T> {
    from: IpAddr,
    at: Instant,
    what: T,
}

/// What was begun, by a secret that whoever answers must show.
pub struct Waiting<T>(Mutex<HashMap<String, Begun<T>>>);

impl<T> Default for Waiting<T> {
    fn default() -> Self {
        Self(Mutex::new(HashMap::new()))
    }
}

impl<T> Waiting<T> {
    /// Notes what was begun from an address.
    pub fn put(&self, secret: String, from: IpAddr, what: T) {
        self.put_at(secret, from, what, Instant::now());
    }

    fn put_at(&self, secret: String, from: IpAddr, what: T, now: Instant) {
        let from = neighbourhood(from);
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.retain(|_, begun| is_good_at(begun, now));
        let own = all.values().filter(|begun| begun.from == from).count();
        // Whoever begins too many forgets their own first.
        let full = SIGN_INS_OF_ONE.check(own + 1).is_err();
        if full || SIGN_INS_WAITING.check(all.len() + 1).is_err() {
            let oldest = all.iter().filter(|(_, begun)| !full || begun.from == from);
            let oldest = oldest.min_by_key(|(_, begun)| begun.at).map(|(secret, _)| secret.clone());
            oldest.map(|secret| all.remove(&secret));
        }
        all.insert(secret, Begun { from, at: now, what });
    }

    /// What was begun under a secret, once.
    pub fn take(&self, secret: &str) -> Option<T> {
        self.take_at(secret, Instant::now())
    }

    fn take_at(&self, secret: &str, now: Instant) -> Option<T> {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.remove(secret).filter(|begun| is_good_at(begun, now)).map(|begun| begun.what)
    }
}

fn is_good_at<T>(begun: &Begun<T>, now: Instant) -> bool {
    now.saturating_duration_since(begun.at) < Duration::from_secs(SIGN_IN_S.number)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ANN: [u8; 4] = [192, 168, 1, 2];
    const STRANGER: [u8; 4] = [192, 168, 1, 66];

    #[test]
    fn each_is_taken_once_and_not_after_its_time() {
        let (waiting, start) = (Waiting::default(), Instant::now());
        let after = |s: u64| start + Duration::from_secs(s);
        waiting.put_at("a".into(), ANN.into(), 1, start);
        waiting.put_at("b".into(), ANN.into(), 2, start);
        assert_eq!((waiting.take_at("a", after(599)), waiting.take_at("a", after(599))), (Some(1), None));
        assert_eq!(waiting.take_at("b", after(600)), None);
    }

    #[test]
    fn a_stranger_who_begins_any_number_keeps_nobody_else_out() {
        let (waiting, start) = (Waiting::default(), Instant::now());
        waiting.put_at("ann".into(), ANN.into(), 0, start);
        for n in 1..=1000 {
            waiting.put_at(format!("s{n}"), STRANGER.into(), n, start + Duration::from_millis(n));
        }
        assert_eq!(waiting.0.lock().unwrap().len(), 1 + SIGN_INS_OF_ONE.most());
        let now = start + Duration::from_secs(2);
        assert_eq!((waiting.take_at("ann", now), waiting.take_at("s1000", now)), (Some(0), Some(1000)));
        assert_eq!(waiting.take_at("s1", now), None);
    }
}
