//! Tells other servers on the same store who looks at which job here, and hears it from them.
//!
//! Nothing of it is kept and nothing waits for it: a word goes out when somebody came or went, some at a time in one, and every
//! few seconds besides, so that a server that is ended without a word is forgotten and one that starts anew learns of all.

use crate::jobs::Jobs;
use loamline_limits::{PRESENT_BYTES, PRESENT_GONE_S, PRESENT_TOLD_S};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// How long whoever came or went waits to be told of; what happens meanwhile is told with it.
const STEP: Duration = Duration::from_millis(250);

/// Who looks at a job by way of one server.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Word {
    job: String,
    names: Vec<String>,
    /// Whether the others are asked for theirs.
    #[serde(default)]
    asks: bool,
}

impl Word {
    /// As it goes out: names that find no room are left out.
    fn said(mut self) -> String {
        loop {
            // Plain data: always has a JSON form.
            let said = serde_json::to_string(&self).unwrap_or_default();
            if PRESENT_BYTES.check(said.len()).is_ok() || self.names.pop().is_none() {
                return said;
            }
        }
    }
}

/// What the others were told last, and when; nothing of the time where they are to be told anew.
#[derive(Debug, Default)]
struct Told(BTreeMap<String, (Vec<String>, Option<Instant>)>);

impl Told {
    /// What they are to be told now.
    fn due(&mut self, here: &BTreeMap<String, Vec<String>>, now: Instant) -> Vec<Word> {
        let every = Duration::from_secs(PRESENT_TOLD_S.number);
        let mut due = Vec::new();
        for (job, names) in here {
            let before = self.0.get(job);
            let is_old = |at: &Option<Instant>| at.is_none_or(|at| now.duration_since(at) >= every);
            if before.is_none_or(|(told, at)| told != names || is_old(at)) {
                // Of a job that nobody looked at nothing was heard either.
                due.push(Word { job: job.clone(), names: names.clone(), asks: before.is_none() });
                self.0.insert(job.clone(), (names.clone(), Some(now)));
            }
        }
        let left: Vec<String> = self.0.keys().filter(|job| !here.contains_key(*job)).cloned().collect();
        for job in left {
            self.0.remove(&job);
            due.push(Word { job, names: Vec::new(), asks: false });
        }
        due
    }

    /// Somebody asks, or did not hear.
    fn again(&mut self, job: &str) {
        if let Some((_, at)) = self.0.get_mut(job) {
            *at = None;
        }
    }
}

/// Keeps the others told, and hears from them, until it is to stop.
pub fn keep_told(jobs: &Jobs, stop: &AtomicBool) {
    let mut told = Told::default();
    while !stop.load(Ordering::Relaxed) {
        let Some(others) = jobs.store().others() else { return };
        let heard = others.hear_present(STEP).unwrap_or_else(|why| {
            tracing::debug!(%why, "who looks on elsewhere is not heard");
            sleep(STEP);
            Vec::new()
        });
        for (server, said) in heard {
            // Another version may say what is not understood here.
            let Ok(word) = serde_json::from_str::<Word>(&said) else { continue };
            if word.asks {
                told.again(&word.job);
            }
            jobs.present_elsewhere(&word.job, &server, word.names);
        }
        for word in told.due(&jobs.present_here(), Instant::now()) {
            let job = word.job.clone();
            if others.tell_present(&word.said()).is_err() {
                told.again(&job);
            }
        }
        jobs.forget_absent(Duration::from_secs(PRESENT_GONE_S.number));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn here(each: &[(&str, &[&str])]) -> BTreeMap<String, Vec<String>> {
        each.iter()
            .map(|(job, names)| ((*job).to_owned(), names.iter().map(|n| (*n).to_owned()).collect()))
            .collect()
    }

    fn word(job: &str, names: &[&str], asks: bool) -> Word {
        Word { job: job.into(), names: names.iter().map(|n| (*n).to_owned()).collect(), asks }
    }

    #[test]
    fn who_comes_and_goes_is_told_once_and_everybody_now_and_then() {
        let (mut told, began) = (Told::default(), Instant::now());
        let at = |s: u64| began + Duration::from_secs(s);
        assert_eq!(told.due(&here(&[("a", &["Ada"])]), at(0)), [word("a", &["Ada"], true)]);
        assert!(told.due(&here(&[("a", &["Ada"])]), at(1)).is_empty());
        assert_eq!(told.due(&here(&[("a", &["Ada", "Ben"])]), at(2)), [word("a", &["Ada", "Ben"], false)]);
        assert!(told.due(&here(&[("a", &["Ada", "Ben"])]), at(11)).is_empty());
        assert_eq!(told.due(&here(&[("a", &["Ada", "Ben"])]), at(12)), [word("a", &["Ada", "Ben"], false)]);
        assert_eq!(told.due(&here(&[]), at(13)), [word("a", &[], false)]);
        assert!(told.due(&here(&[]), at(60)).is_empty());
    }

    #[test]
    fn whoever_asks_is_told_and_not_asked_back() {
        let (mut told, now) = (Told::default(), Instant::now());
        told.due(&here(&[("a", &["Ada"])]), now);
        told.again("a");
        told.again("b");
        assert_eq!(told.due(&here(&[("a", &["Ada"])]), now), [word("a", &["Ada"], false)]);
    }

    #[test]
    fn a_word_has_room_in_a_notice_however_many_look() {
        let many: Vec<String> =
            (0..400).map(|n| format!("Somebody with a rather long name, number {n}")).collect();
        let said = Word { job: "a".into(), names: many.clone(), asks: false }.said();
        assert!(said.len() <= PRESENT_BYTES.most(), "{}", said.len());
        let read: Word = serde_json::from_str(&said).unwrap();
        assert!(read.names.len() > 50 && many.starts_with(&read.names));
    }
}
