//! A job that another server on the same store has changed: taken in as the store has it, and told to everybody looking.
//!
//! The store's text is the job, its log what happened to it: nothing is worked out a second time, so that two servers never
//! hold two texts for one revision.

use super::{Event, OpenJob, Snapshot};
use crate::error::ApiError;
use crate::jobs::listing::{no_such_job, unreadable};
use crate::jobs::mending::is_whole;
use crate::jobs::read::read;
use crate::jobs::undo::UndoStacks;
use crate::metrics::EDITS_BEHIND;
use crate::store::Kind;
use loamline_limits::{EDIT_TRIES, EVENTS_KEPT};
use loamline_study::Study;
use serde_json::json;
use std::sync::Arc;

/// Seconds after which an edit that others were always ahead of is worth sending again.
const AGAIN_S: u64 = 1;

impl OpenJob {
    /// Takes in what other servers did to it, if anything.
    ///
    /// # Errors
    /// When it is gone, damaged, or the store cannot be read; the job is then as it was.
    pub fn catch_up(&self) -> Result<(), ApiError> {
        let mut stacks = self.write();
        self.take_in(&mut stacks)
    }

    /// Does something to the job that is at a revision or further, in turn. Where another server was first, what it did is
    /// taken in and the same is tried on that; `what` tells so by giving nothing.
    pub(super) fn in_turn<T>(
        &self,
        at_least: u64,
        what: impl Fn(&mut UndoStacks) -> Result<Option<T>, ApiError>,
    ) -> Result<T, ApiError> {
        let mut turn = self.write();
        let stacks: &mut UndoStacks = &mut turn;
        if self.now().revision < at_least {
            self.take_in(stacks)?;
        }
        let mut tries = 0;
        loop {
            if let Some(done) = what(&mut *stacks)? {
                return Ok(done);
            }
            tries += 1;
            EDITS_BEHIND.add(1);
            EDIT_TRIES.check_u64(tries).map_err(|more| ApiError::busy(&more, AGAIN_S))?;
            self.take_in(stacks)?;
        }
    }

    /// What [`OpenJob::in_turn`] is asked for by whoever judges the job by all that was done to it: where other servers may have
    /// been first, what they did is taken in before anything else.
    pub(super) fn newest_there_is(&self) -> u64 {
        if self.store.others().is_some() { u64::MAX } else { 0 }
    }

    fn take_in(&self, stacks: &mut UndoStacks) -> Result<(), ApiError> {
        let now = self.now();
        // What is shown of a damaged job is not what the store has.
        if self.damage.earlier {
            return Ok(());
        }
        let stored = self.store.job(&self.id)?.ok_or_else(|| no_such_job(&self.id))?;
        if stored.revision <= now.revision {
            return Ok(());
        }
        if !is_whole(&stored) {
            return Err(ApiError::invalid(unreadable(), Vec::new()));
        }
        let file = read(&stored.text, &stored.catalogue).map_err(|r| ApiError::report(unreadable(), &r))?;
        let (mut followed, mut entries, mut last) = (stacks.clone(), Vec::new(), now.revision);
        // Whoever looks on is told of each edit, as long as they are few enough to be told of.
        let mut all_told = true;
        // An entry that changes nothing of the text is of the job's own catalogue files.
        let mut equipped_anew = false;
        self.store.since(&self.id, now.revision, &mut |entry| {
            if entry.revision > stored.revision {
                return false;
            }
            if entry.revision != last + 1 || entry.kind == Kind::Unreadable {
                followed.forget();
                (all_told, equipped_anew) = (false, true);
            }
            last = entry.revision;
            equipped_anew |= entry.patch.operations.is_empty();
            followed.push(entry.revision, entry.kind, &entry.patch, &entry.who);
            all_told &= EVENTS_KEPT.check(entries.len() + 1).is_ok();
            if all_told {
                entries.push(entry);
            }
            true
        })?;
        *stacks = followed;
        self.publish(if equipped_anew || last != stored.revision {
            let study = Study::new(file.job().clone());
            Snapshot { file: Arc::new(file), revision: stored.revision, study }
        } else {
            now.next(file, stored.revision)
        });
        if all_told && last == stored.revision {
            entries.into_iter().for_each(|entry| self.tell(Event::Edited(Arc::new(entry))));
        } else {
            self.tell(Event::Message(Arc::new(json!({ "kind": "behind" }))));
        }
        Ok(())
    }
}
