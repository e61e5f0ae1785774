//! Taking back: each person's own last edit, and the whole job as it was at an earlier revision. What was entered on a visit
//! stays either way.

use super::{Applied, EditRequest, GoBack, OpenJob, Snapshot, UndoRequest, applied, checked};
use crate::error::{ApiError, FieldProblem};
use crate::error_code::ErrorCode;
use crate::jobs::called::called;
use crate::jobs::later::Later;
use crate::jobs::spared::{in_visits, sparing_visits, with_visits};
use crate::jobs::undo::{UndoStacks, own_name};
use crate::random::letters;
use crate::store::{Entry, Kind};
use axum::http::StatusCode;
use loamline_limits::LOG_PAGE_ENTRIES;
use loamline_model::{Edit, Job, Operation};
use loamline_terms::{Sentence, say};
use serde_json::Value;

/// Which way a step goes.
#[derive(Clone, Copy)]
enum Step {
    Undo,
    Redo,
}

impl Step {
    fn word(self) -> Sentence {
        match self {
            Self::Undo => say!("undo"),
            Self::Redo => say!("redo"),
        }
    }

    /// Revision of the entry to take back, and what doing so is.
    fn next(self, stacks: &UndoStacks, who: &str) -> Option<(u64, Kind)> {
        match self {
            Self::Undo => stacks.next_undo(who).map(|of| (of, Kind::Undo(of))),
            Self::Redo => stacks.next_redo(who).map(|undone| (undone.at, Kind::Redo(undone.of))),
        }
    }
}

impl OpenJob {
    /// The entries that undoing would undo and redoing do again for somebody.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn undo_and_redo(&self, who: &str) -> Result<(Option<Entry>, Option<Entry>), ApiError> {
        let (undo, redo) = {
            let stacks = self.write();
            (stacks.next_undo(who), stacks.next_redo(who).map(|undone| undone.of))
        };
        let entry = |revision: Option<u64>| match revision {
            Some(r) => self.store.entry_at(&self.id, r),
            None => Ok(None),
        };
        Ok((entry(undo)?, entry(redo)?))
    }

    /// Undoes somebody's own last edit that has not been undone. What was entered on a visit stays.
    ///
    /// # Errors
    /// When there is none; when something that was done later needs it; when the store cannot be written.
    pub fn undo(&self, request: UndoRequest) -> Result<Applied, ApiError> {
        self.step(request, Step::Undo)
    }

    /// Does again what somebody undid last. What was entered on a visit stays.
    ///
    /// # Errors
    /// When there is nothing; when something that was done since stands in the way; when the store cannot be written.
    pub fn redo(&self, request: UndoRequest) -> Result<Applied, ApiError> {
        self.step(request, Step::Redo)
    }

    fn step(&self, request: UndoRequest, step: Step) -> Result<Applied, ApiError> {
        self.takes_edits()?;
        let edit_id = match request.edit_id {
            Some(id) => id,
            None => letters(26)?,
        };
        // As often as another server was first: what is to be taken back is looked for anew on what that one did.
        self.in_turn(self.newest_there_is(), |stacks| self.step_newest(&edit_id, &request.who, step, stacks))
    }

    /// The same on the job as it is known here; nothing where the store has a newer one.
    fn step_newest(
        &self,
        edit_id: &str,
        who: &str,
        step: Step,
        stacks: &mut UndoStacks,
    ) -> Result<Option<Applied>, ApiError> {
        let now = self.now();
        if let Some(earlier) = self.store.entry(&self.id, edit_id)? {
            return Ok(Some(applied(earlier)));
        }
        let nothing = || nothing_to_do(say!("There is nothing of yours to {word}.", word = step.word()));
        let (at, kind) = step.next(stacks, who).ok_or_else(nothing)?;
        let entry = self.store.entry_at(&self.id, at)?.ok_or_else(nothing)?;
        let named = |note: &str| Sentence::from(format!("\"{note}\""));
        let what = if entry.note.is_empty() { say!("this edit") } else { named(&entry.note) };
        let no_way = || say!("Cannot {word} {what}", word = step.word(), what = what.clone());
        let document = now.file.raw();
        let back = sparing_visits(entry.inverse, document);
        if let Some((theirs, place)) = self.newest_meeting(&back, at, document)? {
            return Err(needed_later(no_way(), &theirs, &called(document, &place)));
        }
        let request = checked(EditRequest {
            edit_id: edit_id.to_owned(),
            base_revision: now.revision,
            measured_revision: None,
            patch: back,
            who: who.to_owned(),
            note: entry.note,
            made_at: None,
        })?;
        self.carry_out(&now, stacks, kind, request).map_err(|refused| {
            // What the pointers of two edits do not say, the check of the job does: something names what would go.
            self.why_not(refused, no_way(), at, &now)
        })
    }

    /// The newest entry behind a revision that still stands and meets an edit, with the place where.
    fn newest_meeting(
        &self,
        back: &Edit,
        after: u64,
        document: &Value,
    ) -> Result<Option<(Entry, String)>, ApiError> {
        let mut later = Later::new(back, document);
        self.store.since(&self.id, after, &mut |entry| {
            later.take(entry);
            true
        })?;
        Ok(later.newest())
    }

    /// A refusal to take something back in plain words: which visit, or which later edit of whom, needs it.
    fn why_not(&self, refused: ApiError, no_way: Sentence, at: u64, now: &Snapshot) -> ApiError {
        if refused.problem.code != ErrorCode::Invalid {
            return refused;
        }
        let problems = &refused.problem.problems;
        if let Some(visit) = problems.iter().find(|p| in_visits(&p.path)).and_then(visit_of) {
            return kept_by_visit(no_way, &visit);
        }
        for problem in problems {
            let place = Edit::new([Operation::Remove { path: problem.path.clone() }]);
            if let Ok(Some((theirs, _))) = self.newest_meeting(&place, at, now.file.raw()) {
                return needed_later(no_way, &theirs, &called(now.file.raw(), &problem.path));
            }
        }
        refused
    }

    /// Puts the job back as it was at a revision, as a new edit that can be undone like any other. What was entered on
    /// visits stays as it is now.
    ///
    /// # Errors
    /// When there is no such revision before this one, or the log cannot be followed back to it; when the job has changed
    /// since the sender saw it; when the store cannot be written.
    pub fn go_back(&self, wish: GoBack) -> Result<Applied, ApiError> {
        self.takes_edits()?;
        let GoBack { edit_id, base_revision, revision, who } = wish;
        if let Some(earlier) = self.store.entry(&self.id, &edit_id)? {
            return Ok(applied(earlier));
        }
        // The sender may have seen, by way of another server, what this one has not heard of yet.
        let now = self.in_turn(base_revision, |_| Ok(Some(self.now())))?;
        if base_revision != now.revision {
            return Err(behind());
        }
        if revision >= now.revision {
            let at = now.revision.to_string();
            return Err(ApiError::field(
                "/revision",
                say!("The job is at revision {revision}: it can go back to an earlier one.", revision = at),
            ));
        }
        let was = self.as_it_was(&now, revision)?;
        let patch = Edit::between(now.file.raw(), &was);
        if patch.operations.is_empty() {
            return Err(nothing_to_do(say!(
                "The job is as it was then, but for what was entered on visits since, and that stays."
            )));
        }
        let note = format!("Go back to revision {revision}");
        let request = checked(EditRequest {
            edit_id,
            base_revision,
            measured_revision: None,
            patch,
            who,
            note,
            made_at: None,
        })?;
        self.in_turn(0, |stacks| {
            if self.now().revision == now.revision {
                return self.carry_out(&now, stacks, Kind::Edit, request.clone());
            }
            // Another was first, unless it was this one: the store had it and could not say so.
            let earlier = self.store.entry(&self.id, &request.edit_id)?;
            earlier.map(|e| Some(applied(e))).ok_or_else(behind)
        })
    }

    /// The job as it was designed at an earlier revision, with the catalogue and the visits of now; none where it cannot be read
    /// with these.
    ///
    /// # Errors
    /// When the log cannot be followed back to it.
    pub fn design_at(&self, now: &Snapshot, revision: u64) -> Result<Option<Job>, ApiError> {
        let was = self.as_it_was(now, revision)?;
        Ok(now.file.preview(&Edit::between(now.file.raw(), &was)).ok())
    }

    /// The document as it was at an earlier revision, with the visits of now: every edit since taken back, the newest first.
    fn as_it_was(&self, now: &Snapshot, revision: u64) -> Result<Value, ApiError> {
        let mut document = now.file.raw().clone();
        let page = u32::try_from(LOG_PAGE_ENTRIES.number).unwrap_or(u32::MAX);
        let mut reached = now.revision;
        while reached > revision {
            let entries = self.store.before(&self.id, reached + 1, page)?;
            if entries.is_empty() {
                return Err(lost(reached));
            }
            for entry in entries.into_iter().take_while(|e| e.revision > revision) {
                let follows = entry.revision == reached && entry.kind != Kind::Unreadable;
                if !follows || entry.inverse.apply(&mut document).is_err() {
                    return Err(lost(reached));
                }
                reached -= 1;
            }
        }
        Ok(with_visits(document, now.file.raw().get("visits").cloned()))
    }
}

/// The id of the visit a problem is in.
fn visit_of(problem: &FieldProblem) -> Option<String> {
    problem.path.strip_prefix("/visits/").and_then(|rest| rest.split('/').next().map(str::to_owned))
}

fn nothing_to_do(message: Sentence) -> ApiError {
    ApiError::new(StatusCode::CONFLICT, ErrorCode::NothingToDo, message)
}

fn behind() -> ApiError {
    let why = say!("The job has changed since you looked at it. Look at the history again, then go back.");
    ApiError::new(StatusCode::CONFLICT, ErrorCode::Behind, why)
}

fn lost(revision: u64) -> ApiError {
    let why = say!(
        "Revision {revision} cannot be read any more, so that nobody can tell what the job was before it. Choose a later one.",
        revision = revision.to_string()
    );
    ApiError::new(StatusCode::CONFLICT, ErrorCode::Store, why)
}

fn kept_by_visit(no_way: Sentence, visit: &str) -> ApiError {
    let why = say!(
        "{no_way}: what was entered on visit {visit} since then needs it, and entries of a visit stay. Take those entries out on the Visits page first.",
        no_way = no_way,
        visit = visit
    );
    ApiError::new(StatusCode::CONFLICT, ErrorCode::KeptByVisit, why)
}

/// Something that was done later needs what would be taken back.
fn needed_later(no_way: Sentence, theirs: &Entry, thing: &Sentence) -> ApiError {
    let done = if theirs.note.is_empty() { String::new() } else { format!(" (\"{}\")", theirs.note) };
    let why = say!(
        "{no_way}: {who} changed {thing} later{done}. Ask {who} to take that back first, or change {thing} by hand.",
        no_way = no_way,
        who = own_name(&theirs.who),
        thing = thing.clone(),
        done = done
    );
    ApiError::new(StatusCode::CONFLICT, ErrorCode::NeededLater, why)
}

#[cfg(test)]
mod tests;
