//! Tells whoever looks at a job how far the work is that was asked for it, whichever server it was asked of and whoever does it;
//! and says for them that it is wanted still.

use crate::jobs::{Event, Jobs};
use crate::proposing::{first_sign, sign, waiting};
use crate::store::{Heard, StoreError, Task, TaskKind};
use serde_json::Value;
use std::collections::HashMap;
use std::sync::Arc;

/// What was told already.
#[derive(Default)]
pub struct TasksTold(HashMap<String, u64>);

impl TasksTold {
    /// Tells what there is to tell of the jobs that somebody looks at here: of those named, or of all where a call may have been
    /// missed.
    ///
    /// # Errors
    /// When the store cannot be read or written; the next call tells it.
    pub fn tell(&mut self, jobs: &Jobs, heard: &Heard) -> Result<(), StoreError> {
        let named = match heard {
            Heard::Said { tasks, .. } if tasks.is_empty() => return Ok(()),
            Heard::Said { tasks, .. } => Some(tasks),
            Heard::Anything => None,
        };
        let Some(tasks) = jobs.store().tasks() else { return Ok(()) };
        let mut looked_at = jobs.looked_at();
        looked_at.retain(|job| named.is_none_or(|named| named.iter().any(|id| id == job.id())));
        if looked_at.is_empty() {
            return Ok(());
        }
        let ids: Vec<String> = looked_at.iter().map(|job| job.id().to_owned()).collect();
        let found = tasks.tasks_of(&ids)?;
        if named.is_none() {
            let wanted = found.iter().filter(|t| t.kind.is_waited_for() && !t.is_over());
            tasks.still_wanted(&wanted.map(|t| t.id.clone()).collect::<Vec<_>>())?;
            self.0.retain(|id, _| found.iter().any(|t| t.id == *id));
        }
        for task in found {
            let Some(message) = self.news(&task) else { continue };
            if let Some(job) = looked_at.iter().find(|job| job.id() == task.job) {
                job.tell(Event::Message(Arc::new(message)));
            }
        }
        Ok(())
    }

    /// What is told of a task; nothing where nothing is new.
    fn news(&mut self, task: &Task) -> Option<Value> {
        let told = self.0.insert(task.id.clone(), task.said);
        // While it waits, its place changes with others.
        let waits = task.turn == 0 && !task.is_over();
        if task.kind != TaskKind::Proposal || (told == Some(task.said) && !waits) {
            return None;
        }
        if waits {
            let before = usize::try_from(task.before).unwrap_or(usize::MAX);
            return Some(waiting(&task.id, before.saturating_add(1)));
        }
        let said = serde_json::from_str::<Value>(&task.progress).ok().filter(Value::is_object);
        let mut message = said.unwrap_or_else(|| sign(&task.id, &first_sign(), false));
        if let Some(message) = message.as_object_mut() {
            message.insert("done".into(), Value::Bool(task.is_over()));
        }
        Some(message)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::Outcome;

    fn proposal(turn: u64, said: u64) -> Task {
        Task {
            id: "run".into(),
            kind: TaskKind::Proposal,
            job: "court".into(),
            wish: String::new(),
            turn,
            said,
            progress: String::new(),
            is_stopped: false,
            revision: 0,
            outcome: None,
            before: 2,
        }
    }

    #[test]
    fn what_is_new_of_a_task_is_told_once_and_its_place_while_it_waits() {
        let mut told = TasksTold::default();
        let place = |v: Option<Value>| v.map(|v| (v["phase"].clone(), v["done"].clone()));
        let third = Some((Value::from("Waiting, place 3"), Value::Bool(false)));
        assert_eq!(place(told.news(&proposal(0, 0))), third);
        assert_eq!(place(told.news(&proposal(0, 0))), third, "others may have gone on");
        let begun = Task { progress: r#"{"kind":"propose","share":0.5}"#.into(), ..proposal(1, 2) };
        let said = told.news(&begun).unwrap();
        assert_eq!((&said["share"], &said["done"]), (&Value::from(0.5), &Value::Bool(false)));
        assert_eq!(told.news(&begun), None);
        let outcome = Some(Outcome { status: 200, body: "{}".into() });
        let done = Task { outcome, ..proposal(1, 3) };
        assert_eq!(told.news(&done).unwrap()["done"], Value::Bool(true));
        assert_eq!(told.news(&done), None, "whoever fetched it does not fetch it again");
        let check = Task { kind: TaskKind::Check, ..proposal(1, 4) };
        assert_eq!(told.news(&check), None);
    }
}
