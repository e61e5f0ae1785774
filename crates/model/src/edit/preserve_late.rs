//! What comes in late: a phone measures a line while the office already draws another under its id.
//!
//! What was measured is of the line the phone had before it. So the edits made since then are gone through once more with
//! the late entries in their visits, and what they would have kept for those ([`super::preserve_measured`]) goes into the
//! late edit: whichever of the two arrives first, the visit says the same.

use super::patch::Edit;
use super::preserve_measured::{Record, is_of_lines, placed, records, replaced};
use crate::catalogue::Catalogue;
use crate::document::VisitKind;
use crate::job::check;
use crate::reading::{Choice as _, Node};
use loamline_terms::pointer;
use serde_json::{Map, Value, json};
use std::sync::Arc;

/// Tables of a visit whose entries are of things.
const TABLES: [&str; 3] = ["readings", "done", "photos"];

/// An edit that took effect.
#[derive(Debug, Clone)]
pub struct Past {
    /// What was carried out.
    pub patch: Edit,
    /// What undoes it.
    pub inverse: Edit,
}

impl Edit {
    /// Whether it may enter something on a visit.
    pub fn is_of_visits(&self) -> bool {
        self.operations.iter().any(|o| o.places().any(|path| starts_with(path, |key| key == "visits")))
    }

    /// Whether it may take a line away or make it another.
    fn is_of_lines(&self) -> bool {
        self.operations.iter().any(|o| o.places().any(|path| starts_with(path, is_of_lines)))
    }
}

fn starts_with(path: &str, is: impl Fn(&str) -> bool) -> bool {
    pointer::keys(path).next().is_none_or(|key| is(key.as_ref()))
}

/// The edit, and behind it what it keeps of lines that were replaced or changed by the edits in `past` (oldest
/// first; the document `now` is as the last of them left it), where what it enters on visits was taken before them. As it
/// came when there is nothing to keep.
pub(super) fn with_lines_as_measured(
    now: &Value,
    catalogue: &Arc<Catalogue>,
    edit: &Edit,
    past: &[Past],
) -> Edit {
    let found = || {
        let mut after = now.clone();
        edit.apply(&mut after).ok()?;
        let mut late = entered(now, &after);
        let mut document = now.clone();
        for one in past.iter().rev() {
            one.inverse.apply(&mut document).ok()?;
        }
        let mut kept: Vec<Record> = Vec::new();
        for one in past {
            if late.is_empty() && kept.is_empty() {
                break;
            }
            let old = one.patch.is_of_lines().then(|| with_visits(&document, &late));
            one.patch.apply(&mut document).ok()?;
            let Some(old) = old else { continue };
            let new = with_visits(&document, &late);
            let checked = |document: &Value| check(&Node::from(document), catalogue.clone()).ok();
            let (Some(before), Some(after)) = (checked(&old), checked(&new)) else { continue };
            for record in &mut kept {
                if let Some(of) = record.kept.as_object_mut()
                    && replaced(&before, &old, &new, &one.patch, &record.line)
                {
                    of.shift_remove("replaced");
                }
            }
            for record in records(&before, &after, &old, &new, &one.patch) {
                take_out(&mut late, &record);
                kept.push(record);
            }
        }
        Some(placed(kept, &after))
    };
    // An edit that cannot be carried out is refused where it is carried out.
    Edit::new(edit.operations.iter().cloned().chain(found().unwrap_or_default()))
}

/// What an edit enters on visits, or changes there: the visits with nothing else in them.
fn entered(now: &Value, after: &Value) -> Map<String, Value> {
    let visits =
        |document: &Value| document.get("visits").and_then(Value::as_object).cloned().unwrap_or_default();
    let (was, mut late) = (visits(now), visits(after));
    late.retain(|id, visit| {
        let Some(visit) = visit.as_object_mut() else { return false };
        visit.shift_remove("lines");
        for table in TABLES {
            let before = was.get(id).and_then(|v| v.get(table));
            if let Some(Value::Object(entries)) = visit.get_mut(table) {
                entries.retain(|entry, value| before.and_then(|b| b.get(entry)) != Some(value));
            }
        }
        TABLES.iter().any(|t| visit.get(*t).and_then(Value::as_object).is_some_and(|all| !all.is_empty()))
    });
    late
}

/// The document with those visits, and of its own the handovers with nothing in them: what was signed when is still known.
fn with_visits(document: &Value, visits: &Map<String, Value>) -> Value {
    let own = document.get("visits").and_then(Value::as_object);
    let handovers = own.into_iter().flatten().filter(|(_, v)| v["kind"] == VisitKind::Handover.word());
    let bare = |(id, v): (&String, &Value)| (id.clone(), json!({ "date": v["date"], "kind": v["kind"] }));
    let mut all: Map<String, Value> = handovers.map(bare).collect();
    all.extend(visits.clone());
    let mut document = document.clone();
    if let Value::Object(sections) = &mut document {
        sections.insert("visits".into(), Value::Object(all));
    }
    document
}

/// Takes out what has its line, so that it is kept once.
fn take_out(late: &mut Map<String, Value>, record: &Record) {
    let Some(visit) = late.get_mut(&record.visit) else { return };
    for table in TABLES {
        let listed = record.kept.get(table).and_then(Value::as_array);
        if let Some(Value::Object(entries)) = visit.get_mut(table) {
            entries.retain(|entry, _| !listed.is_some_and(|l| l.iter().any(|id| id == entry)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Past;
    use crate::edit::one_line::{self, edit};
    use crate::edit::{Edit, JobFile};
    use serde_json::{Value, json};

    fn job() -> JobFile {
        one_line::job("")
    }

    fn carried_out(file: &mut JobFile, edit: &Edit) -> Past {
        let (patch, inverse) = file.carry_out(edit).unwrap();
        Past { patch, inverse }
    }

    /// Two edits of a phone: the second knows of the first.
    fn phone() -> [Edit; 2] {
        [
            edit(
                json!([{ "op": "add", "path": "/visits", "value": { "V9": { "date": "2026-06-01", "readings": {
                "r1": { "line": "A", "dc": "20 ohm" }, "r2": { "line": "A", "at": "L2", "dc": "3 ohm" } } } } }]),
            ),
            edit(json!([
                { "op": "add", "path": "/visits/V9/done", "value": { "d1": { "work": "laid", "line": "A", "run": "a3" } } },
            ])),
        ]
    }

    /// Edits of the office: a tap, which parts readings; a run and its loudspeaker; another line; a place, which parts nothing.
    fn office() -> Vec<Edit> {
        vec![
            edit(json!([{ "op": "replace", "path": "/loudspeakers/L1/tap", "value": "5 W" }])),
            edit(
                json!([{ "op": "remove", "path": "/lines/A/runs/a3" }, { "op": "remove", "path": "/loudspeakers/L2" }]),
            ),
            edit(json!([{ "op": "replace", "path": "/lines/A",
                "value": { "channel": "C1", "cable": "burial-2x12awg", "runs": { "b1": { "from": "R1", "to": "L1" } } } }])),
            edit(json!([{ "op": "replace", "path": "/loudspeakers/L1/position", "value": [14, 0] }])),
        ]
    }

    /// What the visit keeps, whatever the ids it is kept under.
    fn kept(file: &JobFile) -> Vec<Value> {
        let all = file.raw().pointer("/visits/V9/lines").and_then(Value::as_object);
        all.into_iter().flat_map(|lines| lines.values().cloned()).collect()
    }

    /// Second way: the phone first, the office after it, each edit keeping what it takes away.
    #[test]
    fn what_comes_in_late_keeps_what_it_would_have_kept_in_time() {
        let mut in_time = job();
        for one in phone().iter().chain(&office()) {
            carried_out(&mut in_time, one);
        }
        let wanted = kept(&in_time);
        let listed = |table: &str| -> Vec<&Value> {
            wanted.iter().flat_map(|k| k[table].as_array().into_iter().flatten()).collect()
        };
        assert_eq!(
            (listed("readings"), listed("done")),
            (vec![&json!("r1"), &json!("r2")], vec![&json!("d1")])
        );
        // The line was changed first, and is replaced by now.
        assert_eq!(wanted.iter().map(|k| k.get("replaced")).collect::<Vec<_>>(), [None, None]);

        let mut late = job();
        let mut past: Vec<Past> = office().iter().map(|one| carried_out(&mut late, one)).collect();
        for one in phone() {
            let whole = late.with_lines_as_measured(&one, &past);
            assert!(whole.operations.starts_with(&one.operations));
            past.push(carried_out(&mut late, &whole));
        }
        let found = kept(&late);
        assert_eq!(found.len(), wanted.len());
        assert!(wanted.iter().all(|k| found.contains(k)), "{found:#?}\n{wanted:#?}");
        assert_eq!(late.job().document().visits["V9"].readings.len(), 2);
        // Undoing takes what was kept out again.
        for one in past.iter().rev() {
            late.apply(&one.inverse).unwrap();
        }
        assert_eq!(late.raw(), job().raw());
    }

    #[test]
    fn what_is_measured_on_the_lines_as_they_are_keeps_nothing() {
        let mut file = job();
        let past: Vec<Past> = office().iter().map(|one| carried_out(&mut file, one)).collect();
        let [first, _] = phone();
        assert_eq!(file.with_lines_as_measured(&first, &[]), first);
        assert_eq!(file.with_lines_as_measured(&first, &past[3..]), first, "only a place was moved since");
        let note = edit(json!([{ "op": "add", "path": "/job/summary", "value": "x" }]));
        assert_eq!(file.with_lines_as_measured(&note, &past), note);
    }
}
