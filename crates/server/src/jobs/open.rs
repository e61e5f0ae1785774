//! A job in use.

mod back;
mod follow;
mod own_catalogue;
mod people;
mod present;

pub use own_catalogue::CatalogueFiles;

use super::listing::{as_listed, no_such_job};
use super::mending::Damage;
use super::names;
use super::undo::UndoStacks;
use crate::clock::{is_date, now};
use crate::error::{ApiError, Conflict, FieldProblem};
use crate::error_code::ErrorCode;
use crate::metrics::EDITS;
use crate::store::{Acceptance, Entry, Kind, Store, StoreError};
use axum::http::StatusCode;
use loamline_limits::{EVENTS_KEPT, NOTE_CHARACTERS};
use loamline_model::{Edit, EditError, JobFile, Operation, Past, conflicting_place};
use loamline_study::Study;
use loamline_terms::say;
use people::People;
use serde_json::Value;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::broadcast;

/// An edit as it is sent.
#[derive(Debug, Clone)]
pub struct EditRequest {
    /// Made up by the sender.
    pub edit_id: String,
    /// Revision the sender saw.
    pub base_revision: u64,
    /// Revision of the lines that what it enters on visits was taken of; the base when absent.
    pub measured_revision: Option<u64>,
    /// What to change.
    pub patch: Edit,
    /// Who.
    pub who: String,
    /// What for.
    pub note: String,
    /// When, by the sender's clock.
    pub made_at: Option<String>,
}

/// A wish to undo or redo.
#[derive(Debug, Clone, Default)]
pub struct UndoRequest {
    /// Made up by the sender; a new one when absent.
    pub edit_id: Option<String>,
    /// Who.
    pub who: String,
}

/// A wish to have the job as it was.
#[derive(Debug, Clone, Default)]
pub struct GoBack {
    /// Made up by the sender.
    pub edit_id: String,
    /// Revision the sender saw: nothing is taken back that they have not seen.
    pub base_revision: u64,
    /// The revision to go back to.
    pub revision: u64,
    /// Who.
    pub who: String,
}

/// An edit that has taken effect and is durable.
#[derive(Debug, Clone, PartialEq)]
pub struct Applied {
    /// Revision of the job after it.
    pub revision: u64,
    /// What was changed.
    pub patch: Edit,
    /// What would undo it.
    pub inverse: Edit,
}

/// What everybody looking at a job is told.
#[derive(Debug, Clone)]
pub enum Event {
    /// The job changed.
    Edited(Arc<Entry>),
    /// Who is looking at it changed.
    People(Arc<Vec<String>>),
    /// Something worked out in the background: a message of its own kind.
    Message(Arc<Value>),
    /// The job was taken away.
    Gone,
}

/// A job at one moment: what is written, and all that follows from it. Stays as it is while others edit.
#[derive(Debug, Clone)]
pub struct Snapshot {
    /// The job.
    pub file: Arc<JobFile>,
    /// Its revision.
    pub revision: u64,
    /// Its results, each made when it is first asked for.
    pub study: Study,
}

impl Snapshot {
    /// The snapshot after an edit.
    fn next(&self, file: JobFile, revision: u64) -> Self {
        let study = self.study.next(file.job().clone());
        Self { file: Arc::new(file), revision, study }
    }
}

/// A job in use.
pub struct OpenJob {
    id: String,
    store: Arc<dyn Store>,
    /// The job as it now is. Held for as long as it takes to copy three pointers.
    now: Mutex<Snapshot>,
    /// What can be undone; whoever edits holds it until the edit is on the disk. Readers never ask for it.
    writing: Mutex<UndoStacks>,
    /// What of it is damaged where it is kept.
    damage: Damage,
    events: broadcast::Sender<Event>,
    people: Mutex<People>,
}

impl OpenJob {
    pub(super) fn new(id: &str, store: Arc<dyn Store>, file: JobFile, revision: u64, damage: Damage) -> Self {
        Self {
            id: id.to_owned(),
            store,
            now: Mutex::new(Snapshot {
                study: Study::new(file.job().clone()),
                file: Arc::new(file),
                revision,
            }),
            writing: Mutex::default(),
            damage,
            events: broadcast::channel(EVENTS_KEPT.most()).0,
            people: Mutex::default(),
        }
    }

    /// The same with what can be undone.
    pub(super) fn with_undo(mut self, stacks: UndoStacks) -> Self {
        self.writing = Mutex::new(stacks);
        self
    }

    /// Its id.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// A file kept with it; none where there is no such file.
    ///
    /// # Errors
    /// When what is kept cannot be read.
    pub fn attachment(&self, name: &str) -> Result<Option<Vec<u8>>, ApiError> {
        Ok(self.store.attachment(&self.id, name)?.map(|(_, bytes)| bytes))
    }

    /// Where it is kept.
    pub fn store(&self) -> &dyn Store {
        &*self.store
    }

    /// What was accepted of it last by any of its links, those that have ended among them.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn last_accepted(&self) -> Result<Option<Acceptance>, ApiError> {
        // Of two of one second the newer link's.
        let links = self.store.links(&self.id)?.into_iter().rev();
        let when = |a: &Acceptance| (a.at.clone(), a.revision);
        Ok(links.filter_map(|l| l.accepted).max_by_key(when))
    }

    /// What of it is damaged where it is kept.
    pub fn damage(&self) -> &Damage {
        &self.damage
    }

    /// Whether it may be edited: what is shown of a damaged job must not be written over what is kept.
    fn takes_edits(&self) -> Result<(), ApiError> {
        match self.damage.told.first().filter(|_| self.damage.earlier) {
            None => Ok(()),
            Some(why) => Err(ApiError::new(StatusCode::UNPROCESSABLE_ENTITY, ErrorCode::Store, why.clone())),
        }
    }

    /// The job as it now is. Waits for nobody.
    pub fn now(&self) -> Snapshot {
        // Only ever replaced as a whole.
        self.now.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    fn publish(&self, next: Snapshot) {
        *self.now.lock().unwrap_or_else(PoisonError::into_inner) = next;
    }

    /// The turn to edit, with what can be undone.
    fn write(&self) -> MutexGuard<'_, UndoStacks> {
        // The stacks grow only once an edit is on the disk.
        self.writing.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Carries out an edit and makes it durable. One made on an older revision is merged when nothing it touches has
    /// changed since; one sent before is not carried out again. What it enters on visits stays of the lines as they were
    /// when it was measured.
    ///
    /// # Errors
    /// What is wrong with the edit, or what it met; the job is then as it was.
    pub fn edit(&self, request: EditRequest) -> Result<Applied, ApiError> {
        let request = checked(request)?;
        self.takes_edits()?;
        // Whoever edits may have seen, by way of another server, what this one has not heard of yet.
        let seen = request.base_revision.max(request.measured_revision.unwrap_or_default());
        self.in_turn(seen, |stacks| self.edit_newest(&request, stacks))
    }

    /// The same on the job as it is known here; nothing where the store has a newer one.
    fn edit_newest(
        &self,
        request: &EditRequest,
        stacks: &mut UndoStacks,
    ) -> Result<Option<Applied>, ApiError> {
        let now = self.now();
        if let Some(earlier) = self.sent_before(&request.edit_id, &request.patch)? {
            return Ok(Some(earlier));
        }
        let revision = now.revision;
        let measured = request.measured_revision.unwrap_or(request.base_revision);
        for (place, seen) in [("/base_revision", request.base_revision), ("/measured_revision", measured)] {
            if seen > revision {
                return Err(ApiError::field(
                    place,
                    format!(
                        "The job is at revision {revision}; {seen} does not exist yet. Read the job again."
                    ),
                ));
            }
        }
        let (base, mut meets, mut past, mut unreadable) = (request.base_revision, None, Vec::new(), None);
        let late = request.patch.is_of_visits();
        let from = if late { base.min(measured) } else { base };
        if from < revision {
            let mut next = from + 1;
            self.store.since(&self.id, from, &mut |theirs| {
                let known = theirs.kind != Kind::Unreadable && theirs.revision == next;
                next = theirs.revision + 1;
                if !known && theirs.revision > base {
                    // Whether it met this one is for somebody to say.
                    unreadable = Some(theirs.revision);
                    return false;
                }
                if theirs.revision > base {
                    meets = conflicting_place(&request.patch, &theirs.patch).map(|path| (path, theirs.who));
                }
                if late && theirs.revision > measured {
                    past.push(Past { patch: theirs.patch, inverse: theirs.inverse });
                }
                meets.is_none()
            })?;
        }
        if let Some((path, who)) = meets {
            return Err(ApiError::conflict(met(&path, &request.patch, &now, who)));
        }
        if let Some(revision) = unreadable {
            let first = request.patch.operations.first().map_or("", place_of);
            let mut asked = ApiError::conflict(met(first, &request.patch, &now, "somebody".to_owned()));
            asked.problem.message = say!(
                "What was changed by revision {revision} cannot be read any more, so that nobody can tell whether it met this change; choose which of the two is to stand.",
                revision = revision.to_string()
            );
            return Err(asked);
        }
        let patch = now.file.with_lines_as_measured(&request.patch, &past);
        self.carry_out(&now, stacks, Kind::Edit, EditRequest { patch, ..request.clone() })
    }

    fn sent_before(&self, edit_id: &str, patch: &Edit) -> Result<Option<Applied>, ApiError> {
        match self.store.entry(&self.id, edit_id)? {
            Some(e) if is_of(&e.patch, patch) => Ok(Some(applied(e))),
            // It was carried out then; what the log said of it is lost.
            Some(e) if e.kind == Kind::Unreadable => Ok(Some(Applied { patch: patch.clone(), ..applied(e) })),
            Some(_) => Err(ApiError::new(
                StatusCode::CONFLICT,
                ErrorCode::EditIdTaken,
                "Another edit was sent under this id before; a new edit needs a new id.",
            )),
            None => Ok(None),
        }
    }

    /// Carries out an edit on the job as it was; nothing where it is not that any more in the store.
    fn carry_out(
        &self,
        before: &Snapshot,
        stacks: &mut UndoStacks,
        kind: Kind,
        request: EditRequest,
    ) -> Result<Option<Applied>, ApiError> {
        let mut file = (*before.file).clone();
        let (patch, inverse) = file.carry_out(&request.patch)?;
        let at = now();
        let entry = Entry {
            revision: before.revision + 1,
            edit_id: request.edit_id,
            kind,
            who: request.who,
            at: at.clone(),
            made_at: request.made_at,
            note: request.note,
            patch,
            inverse,
        };
        let listing = as_listed(file.job().document(), &at);
        match self.store.append(&self.id, &entry, file.text(), listing) {
            Err(StoreError::NoJob) => return Err(no_such_job(&self.id)),
            Err(StoreError::Behind) => return Ok(None),
            other => other?,
        }
        EDITS.add(1);
        stacks.push(entry.revision, kind, &entry.patch, &entry.who);
        self.publish(before.next(file, entry.revision));
        let done = applied(entry.clone());
        self.tell(Event::Edited(Arc::new(entry)));
        Ok(Some(done))
    }

    /// Everything that happens from now on.
    pub fn listen(&self) -> broadcast::Receiver<Event> {
        self.events.subscribe()
    }

    /// Whether anybody looks at the job on the live channel.
    pub fn is_looked_at(&self) -> bool {
        self.events.receiver_count() > 0
    }

    /// Tells everybody looking at the job.
    pub fn tell(&self, event: Event) {
        // Nobody looking is no fault.
        let _heard_by = self.events.send(event);
    }
}

/// The place an operation changes or looks at.
fn place_of(operation: &Operation) -> &str {
    match operation {
        Operation::Add { path, .. }
        | Operation::Remove { path }
        | Operation::Replace { path, .. }
        | Operation::Move { path, .. }
        | Operation::Copy { path, .. }
        | Operation::Test { path, .. } => path,
    }
}

/// Whether what was carried out is what was sent: the same, with what it had to keep of measured lines behind it.
fn is_of(carried_out: &Edit, sent: &Edit) -> bool {
    let keeps = |o: &Operation| match o {
        Operation::Add { path, .. } => {
            let mut parts = path.split('/').skip(1);
            parts.next() == Some("visits") && parts.nth(1) == Some("lines")
        }
        _ => false,
    };
    let (all, of) = (&carried_out.operations, &sent.operations);
    all.starts_with(of) && all[of.len()..].iter().all(keeps)
}

fn applied(e: Entry) -> Applied {
    Applied { revision: e.revision, patch: e.patch, inverse: e.inverse }
}

fn checked(mut r: EditRequest) -> Result<EditRequest, ApiError> {
    let mut problems = Vec::new();
    let mut take = |found: Result<String, Box<FieldProblem>>| found.map_err(|p| problems.push(*p)).ok();
    let id = take(names::edit_id("/edit_id", &r.edit_id));
    let who = take(names::person("/who", &r.who));
    let note = take(names::line_of_text("/note", &r.note, &NOTE_CHARACTERS));
    if let Some(at) = r.made_at.as_deref().filter(|at| !is_date(at)) {
        problems.push(FieldProblem {
            expected: Some("date and time as RFC 3339 has it, e.g. 2026-05-04T09:30:00Z".into()),
            ..FieldProblem::new("/at", format!("\"{at}\" is no date and time."))
        });
    }
    if r.patch.operations.is_empty() {
        problems
            .push(FieldProblem::new("/patch", "This edit changes nothing; it needs at least one operation."));
    }
    r.patch.check().map_err(EditError::from)?;
    match (id, who, note, problems.as_slice()) {
        (Some(id), Some(who), Some(note), []) => {
            (r.edit_id, r.who, r.note) = (id, who, note);
            Ok(r)
        }
        _ => Err(ApiError::invalid(say!("The edit cannot be carried out as it was sent."), problems)),
    }
}

/// What stands at a place where an edit met another.
fn met(path: &str, patch: &Edit, now: &Snapshot, theirs_who: String) -> Conflict {
    let written = patch.operations.iter().rev().find_map(|o| match o {
        Operation::Add { path: p, value, .. } | Operation::Replace { path: p, value } if p == path => {
            Some(value.clone())
        }
        _ => None,
    });
    let theirs = now.file.raw().pointer(path).cloned();
    let mine = written.or_else(|| {
        let mut tried = now.file.raw().clone();
        patch.apply(&mut tried).ok().and_then(|_| tried.pointer(path).cloned())
    });
    Conflict { path: path.to_owned(), mine, theirs, theirs_who, revision: now.revision }
}
