//! A stored job put right from its log, where the log proves what it must be; and what is said of what it does not prove.

use super::read::read;
use super::undo::UndoStacks;
use crate::error::ApiError;
use crate::error_code::ErrorCode;
use crate::store::{Entry, Kind, Store, StoredJob};
use axum::http::StatusCode;
use loamline_limits::LOG_DAMAGE_TOLD;
use loamline_model::JobFile;
use loamline_terms::{Sentence, each_of, say};
use std::ops::RangeInclusive;

/// What of a job is damaged where it is kept.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Damage {
    /// A sentence for each thing; none when the job is whole.
    pub told: Vec<Sentence>,
    /// Whether the job is shown as it was earlier than it is kept. It then takes no edits: the store keeps what there is for
    /// whoever can read more of it, and nothing is written over that.
    pub earlier: bool,
}

/// A job as far as the store proves it.
pub struct Mended {
    /// The job.
    pub file: JobFile,
    /// Its revision.
    pub revision: u64,
    /// What is lost of it, in a sentence; none where all of it was proven, and written back.
    pub lost: Option<Sentence>,
}

/// Whether a job as stored needs to be put right.
pub fn is_whole(stored: &StoredJob) -> bool {
    stored.as_written && stored.altered.is_empty() && stored.revision >= stored.logged
}

/// The job put right, in the store too. A revision behind its log is carried on by it; a text that is not what was written is
/// made again from the text the job began with and every edit since. Where the log cannot be followed to its end, the job is
/// as it was at the last revision that is proven, and the store stays as it is.
///
/// # Errors
/// When nothing is proven; when the store cannot be read or written.
pub fn mended(store: &dyn Store, id: &str, stored: &StoredJob) -> Result<Mended, ApiError> {
    if let Some(name) = stored.altered.first() {
        return Err(beyond_repair(say!("its catalogue file {name} is not what was written", name = name)));
    }
    let made = if stored.as_written { None } else { store.made(id)? };
    let (text, from) = match (stored.as_written, &made) {
        (true, _) => (&stored.text, stored.revision),
        (false, Some(made)) => (made, 0),
        (false, None) => return Err(beyond_repair(say!("its log does not reach back to its beginning"))),
    };
    let cannot = |_| beyond_repair(say!("what its log holds cannot be read"));
    let mut file = read(text, &stored.catalogue).map_err(cannot)?;
    let mut revision = from;
    store.since(id, from, &mut |entry| {
        let follows = entry.revision == revision + 1 && entry.kind != Kind::Unreadable;
        if !follows || file.carry_out(&entry.patch).is_err() {
            return false;
        }
        revision = entry.revision;
        true
    })?;
    let newest = stored.revision.max(stored.logged);
    if revision < newest {
        return Ok(Mended { file, revision, lost: Some(lost(revision, newest)) });
    }
    store.mend(id, file.text(), revision)?;
    Ok(Mended { file, revision, lost: None })
}

fn lost(revision: u64, newest: u64) -> Sentence {
    let what = match newest - revision {
        1 => say!("The edit that made revision {newest} cannot be read", newest = newest.to_string()),
        n => say!(
            "The {count} edits that made revisions {first} to {newest} cannot be read",
            count = n.to_string(),
            first = (revision + 1).to_string(),
            newest = newest.to_string()
        ),
    };
    say!(
        "This job is damaged where it is kept. {what}; the job is shown as it was before, at revision {revision}, and takes no edits. Put the folder the jobs are kept in back from the last backup, or export the job and take it in as a new one to go on from here.",
        what = what,
        revision = revision.to_string()
    )
}

fn beyond_repair(why: Sentence) -> ApiError {
    let message = say!(
        "This job is damaged where it is kept, and {why}. Nothing was changed. Copy the folder the jobs are kept in away, then put it back from the last backup; what is left of the job can be exported.",
        why = why
    );
    ApiError::new(StatusCode::INTERNAL_SERVER_ERROR, ErrorCode::Store, message)
}

/// What can be undone of a job whose document is whole, and what of its log is damaged.
///
/// # Errors
/// When the store cannot be read.
pub fn undoable(store: &dyn Store, id: &str, revision: u64) -> Result<(UndoStacks, Damage), ApiError> {
    let mut log = Followed::default();
    store.since(id, 0, &mut |entry| {
        // What another server has added since the document was read is taken in with it.
        let is_of_it = entry.revision <= revision;
        if is_of_it {
            log.take(&entry);
        }
        is_of_it
    })?;
    log.miss_until(revision + 1);
    let told = log.told().into_iter().collect();
    Ok((log.stacks, Damage { told, earlier: false }))
}

/// A log followed from its beginning.
#[derive(Default)]
struct Followed {
    stacks: UndoStacks,
    last: u64,
    unreadable: Vec<RangeInclusive<u64>>,
}

impl Followed {
    fn take(&mut self, entry: &Entry) {
        self.miss_until(entry.revision);
        if entry.kind == Kind::Unreadable {
            self.miss_until(entry.revision + 1);
        } else {
            self.stacks.push(entry.revision, entry.kind, &entry.patch, &entry.who);
            self.last = entry.revision;
        }
    }

    /// What cannot be read, or is not there, up to a revision: it cannot be undone, nor what came before it.
    fn miss_until(&mut self, next: u64) {
        let first = self.last + 1;
        if next <= first {
            return;
        }
        self.last = next - 1;
        self.stacks.forget();
        match self.unreadable.last_mut() {
            Some(before) if *before.end() + 1 == first => *before = *before.start()..=self.last,
            _ => self.unreadable.push(first..=self.last),
        }
    }

    fn told(&self) -> Option<Sentence> {
        let one = |r: &RangeInclusive<u64>| match (r.start(), r.end()) {
            (first, last) if first == last => first.to_string().into(),
            (first, last) => {
                say!("{first} to {last}", first = first.to_string(), last = last.to_string())
            }
        };
        let revisions: Vec<Sentence> = self.unreadable.iter().take(LOG_DAMAGE_TOLD.most()).map(one).collect();
        if revisions.is_empty() {
            return None;
        }
        let is_all = LOG_DAMAGE_TOLD.check(self.unreadable.len()).is_ok();
        let more = if is_all { Sentence::default() } else { say!(", and others") };
        Some(say!(
            "The log of this job's edits is damaged where it is kept: revision {revisions}{more} cannot be read, so that neither it nor what came before it can be undone. The job itself is whole.",
            revisions = each_of(revisions),
            more = more
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{Edit, Operation};

    fn entry(revision: u64, kind: Kind) -> Entry {
        let patch = Edit::new([Operation::Remove { path: "/areas/a".into() }]);
        Entry {
            revision,
            edit_id: String::new(),
            kind,
            who: String::new(),
            at: String::new(),
            made_at: None,
            note: String::new(),
            patch,
            inverse: Edit::default(),
        }
    }

    #[test]
    fn what_is_damaged_or_missing_in_a_log_is_told_and_ends_undoing() {
        let mut log = Followed::default();
        for (revision, kind) in
            [(1, Kind::Edit), (2, Kind::Unreadable), (5, Kind::Edit), (6, Kind::Unreadable), (7, Kind::Edit)]
        {
            log.take(&entry(revision, kind));
        }
        log.miss_until(8);
        let told = log.told().unwrap();
        assert!(told.contains("revision 2 to 4 and 6 cannot be read"), "{told}");
        assert_eq!((log.stacks.next_undo(""), log.last), (Some(7), 7));
        log.miss_until(10);
        assert!(log.told().unwrap().contains("2 to 4, 6 and 8 to 9"), "{:?}", log.told());
        assert_eq!(log.stacks.next_undo(""), None);
    }

    #[test]
    fn of_a_whole_log_nothing_is_told() {
        let mut log = Followed::default();
        (1..=3).for_each(|revision| log.take(&entry(revision, Kind::Edit)));
        log.miss_until(4);
        assert_eq!((log.told(), log.stacks.next_undo("")), (None, Some(3)));
    }

    #[test]
    fn what_is_lost_is_one_sentence_with_its_revisions() {
        assert!(lost(1, 3).contains("The 2 edits that made revisions 2 to 3 cannot be read"));
        assert!(lost(2, 3).contains("The edit that made revision 3 cannot be read"));
    }
}
