//! Who comes, goes and is told of elsewhere; whoever looks at the job hears of it.

use super::people::People;
use super::{Event, OpenJob};
use std::sync::{Arc, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

impl OpenJob {
    /// Somebody starts looking at the job; `key` is theirs until [`OpenJob::leave`].
    pub fn arrive(&self, key: u64, name: &str) {
        self.change_people(|p| {
            p.here.push((key, name.to_owned()));
            true
        });
    }

    /// Somebody stops looking at the job.
    pub fn leave(&self, key: u64) {
        self.change_people(|p| {
            p.here.retain(|x| x.0 != key);
            true
        });
    }

    /// The names of those who look at it here.
    pub fn people_here(&self) -> Vec<String> {
        self.people().here.iter().map(|(_, name)| name.clone()).collect()
    }

    /// Another server tells who looks at it there.
    pub fn are_elsewhere(&self, server: &str, names: Vec<String>) {
        self.change_people(|p| {
            if names.is_empty() {
                return p.elsewhere.remove(server).is_some();
            }
            let told = p.elsewhere.insert(server.to_owned(), (names, Instant::now()));
            told.map(|(names, _)| names).as_ref() != p.elsewhere.get(server).map(|(names, _)| names)
        });
    }

    /// Forgets those of servers that have told nothing for so long.
    pub fn forget_absent(&self, silent_for: Duration) {
        self.change_people(|p| {
            let before = p.elsewhere.len();
            p.elsewhere.retain(|_, (_, told)| told.elapsed() < silent_for);
            p.elsewhere.len() < before
        });
    }

    /// Changes who looks at it; whoever looks is told where that says that something changed.
    fn change_people(&self, change: impl FnOnce(&mut People) -> bool) {
        let mut people = self.people();
        if change(&mut people) {
            self.tell(Event::People(Arc::new(people.names())));
        }
    }

    fn people(&self) -> MutexGuard<'_, People> {
        // Nothing can give up while it is held.
        self.people.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::Jobs;
    use crate::store::SqliteStore;

    const EMPTY: &str = "format = 1\n[job]\nname = \"Looked at\"\n";

    #[test]
    fn whoever_looks_hears_of_those_elsewhere_when_they_come_and_go() {
        let jobs = Jobs::new(Arc::new(SqliteStore::in_memory().unwrap()));
        let job = jobs.open(&jobs.create(EMPTY, &[], &[]).unwrap()).unwrap();
        let mut events = job.listen();
        let mut heard = || match events.try_recv() {
            Ok(Event::People(names)) => Some(names.join(" ")),
            _ => None,
        };
        job.arrive(1, "Ada");
        assert_eq!(heard().as_deref(), Some("Ada"));
        jobs.present_elsewhere(job.id(), "b", vec!["Ben".into(), "Cy".into()]);
        assert_eq!(heard().as_deref(), Some("Ada Ben Cy"));
        // Told again, nothing is new.
        jobs.present_elsewhere(job.id(), "b", vec!["Ben".into(), "Cy".into()]);
        assert_eq!(heard(), None);
        jobs.present_elsewhere("another", "b", vec!["Ben".into()]);
        assert_eq!(heard(), None);
        jobs.present_elsewhere(job.id(), "c", vec!["Dee".into()]);
        assert_eq!(heard().as_deref(), Some("Ada Ben Cy Dee"));
        // Others are told of those here alone.
        assert_eq!(jobs.present_here().into_values().collect::<Vec<_>>(), [["Ada"]]);
        jobs.present_elsewhere(job.id(), "b", Vec::new());
        assert_eq!(heard().as_deref(), Some("Ada Dee"));
        jobs.forget_absent(Duration::from_secs(60));
        assert_eq!(heard(), None);
        jobs.forget_absent(Duration::ZERO);
        assert_eq!(heard().as_deref(), Some("Ada"));
        job.leave(1);
        assert_eq!(heard().as_deref(), Some(""));
        assert!(jobs.present_here().is_empty());
    }
}
