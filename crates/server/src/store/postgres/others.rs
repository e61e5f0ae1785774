//! How servers on one database wake each other: NOTIFY, outside of every edit's transaction, since one that holds a notice
//! commits behind a lock over the whole database (PostgreSQL's manual, NOTIFY). What is said is merged by whoever says it.

use super::pool::Pool;
use super::trouble::{Trouble, text};
use crate::store::{Heard, StoreError};
use postgres::Client;
use postgres::fallible_iterator::FallibleIterator as _;
use std::collections::BTreeSet;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Jobs named in one notice: it has room for 8000 bytes, and an id has twelve letters.
const NAMED_AT_ONCE: usize = 400;

/// What stands in a notice in place of a job's id where devices were turned away or given another role: no id has such a sign.
const PEOPLE: &str = "@people";

/// What stands before a job's id where work for it that was asked for went on: no id has such a sign.
const TASK: char = '!';

/// What this server has to say, and its ear.
pub struct Calls {
    /// What it is known by, so that it does not wake itself.
    own: String,
    changed: Mutex<BTreeSet<String>>,
    something: Condvar,
    ear: Mutex<Option<Client>>,
}

impl Calls {
    /// Those of a server known by a word that no other has.
    pub fn of(own: String) -> Self {
        Self { own, changed: Mutex::default(), something: Condvar::new(), ear: Mutex::default() }
    }

    /// A job changed here.
    pub fn changed(&self, id: &str) {
        hold(&self.changed).insert(id.to_owned());
        self.something.notify_one();
    }

    /// A device was turned away here, or given another role.
    pub fn people_changed(&self) {
        self.changed(PEOPLE);
    }

    /// Work that was asked for a job went on here.
    pub fn task_went_on(&self, job: &str) {
        self.changed(&format!("{TASK}{job}"));
    }

    /// Waits until something changed here, at most so long, and tells of all of it; whether anything did.
    pub fn tell(&self, pool: &Pool, at_most: Duration) -> Result<bool, StoreError> {
        let waited = self.something.wait_timeout_while(hold(&self.changed), at_most, |c| c.is_empty());
        let changed = std::mem::take(&mut *waited.unwrap_or_else(PoisonError::into_inner).0);
        let changed: Vec<String> = changed.into_iter().collect();
        for some in changed.chunks(NAMED_AT_ONCE) {
            let said = format!("{} {}", self.own, some.join(" "));
            pool.ask(|c| Ok(c.query_typed("SELECT pg_notify('loamline', $1)", &[text(&said)])?))?;
        }
        Ok(!changed.is_empty())
    }

    /// Waits until another server says something, at most so long.
    pub fn hear(&self, pool: &Pool, at_most: Duration) -> Result<Heard, StoreError> {
        let mut ear = hold(&self.ear);
        let Some(client) = ear.as_mut() else {
            let mut client = pool.connect()?;
            client.batch_execute("LISTEN loamline").map_err(Trouble::from)?;
            *ear = Some(client);
            // What was said before nobody heard.
            return Ok(Heard::Anything);
        };
        let heard = heard_by(client, at_most);
        match heard {
            Ok(said) => Ok(self.of_others(&said)),
            Err(e) => {
                *ear = None;
                Err(StoreError::Away(e.told()))
            }
        }
    }

    /// What others named, and for which jobs work went on, here or elsewhere.
    fn of_others(&self, said: &[String]) -> Heard {
        let mut named = BTreeSet::new();
        for notice in said {
            let mut words = notice.split(' ');
            let is_own = words.next() == Some(self.own.as_str());
            // Whoever looks at a job here is told of work that is done here too.
            named.extend(words.filter(|word| !is_own || word.starts_with(TASK)));
        }
        let people = named.remove(PEOPLE);
        let (mut jobs, mut tasks) = (Vec::new(), Vec::new());
        for word in named {
            match word.strip_prefix(TASK) {
                Some(job) => tasks.push(job.to_owned()),
                None => jobs.push(word.to_owned()),
            }
        }
        Heard::Said { jobs, tasks, people }
    }
}

/// What was said since it was last listened; waits for the first of it.
pub(super) fn heard_by(client: &mut Client, at_most: Duration) -> Result<Vec<String>, Trouble> {
    let mut said = Vec::new();
    let mut notices = client.notifications();
    let first = notices.timeout_iter(at_most).next()?;
    if let Some(first) = first {
        said.push(first.payload().to_owned());
        let mut more = notices.iter();
        while let Some(notice) = more.next()? {
            said.push(notice.payload().to_owned());
        }
    }
    drop(notices);
    // A connection that has ended gives no notice and no error either.
    if said.is_empty() {
        client.batch_execute("")?;
    }
    Ok(said)
}

pub(super) fn hold<T>(held: &Mutex<T>) -> MutexGuard<'_, T> {
    // Nothing can give up while it is held.
    held.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_server_does_not_wake_itself_and_hears_of_each_job_once() {
        let calls = Calls::of("me".into());
        let said = ["me @people a !a", "you b c", "they c d !c"].map(str::to_owned);
        let jobs = ["b", "c", "d"].map(str::to_owned).to_vec();
        let tasks = ["a", "c"].map(str::to_owned).to_vec();
        assert_eq!(calls.of_others(&said), Heard::Said { jobs, tasks, people: false });
        let of_people = ["you @people".to_owned()];
        assert_eq!(
            calls.of_others(&of_people),
            Heard::Said { jobs: Vec::new(), tasks: Vec::new(), people: true }
        );
    }

    #[test]
    fn as_many_ids_as_are_named_at_once_fit_into_a_notice() {
        // PostgreSQL's manual, NOTIFY: less than 8000 bytes.
        const { assert!(NAMED_AT_ONCE * 14 + 27 < 8000) };
    }
}
