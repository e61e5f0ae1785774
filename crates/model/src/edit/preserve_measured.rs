//! What an edit has to keep: measured lines as they were.
//!
//! Readings, ticks and photos stay in their visits for ever, whatever becomes of what they were taken of. So that they can
//! still be shown and judged, and are never held against another line that has the id by then, the visit keeps the line
//! as it was ([`KeptLine`](crate::document::KeptLine)) when
//!
//! 1. an edit takes the line away as a whole or puts another in its place (it writes `/lines/A` itself or what holds it,
//!    and cable, runs, start, supply or loudspeakers come out different): every reading of it so far is then of the kept
//!    line; ticks and photos are where their thing is gone or another;
//! 2. an edit takes away a joint, loudspeaker or run that something was measured or done at: that reading, tick or photo.
//!
//! Anything less (a tap, a place, a length, a cable of one run) is upkeep or the drawing put right: the line stays the same
//! line, and its readings are compared with what is drawn today, over the years as well.
//!
//! The record is made by the edit itself, at the one place where a job changes, so that no way of editing can forget it;
//! undoing the edit takes it out again.

use super::patch::{Edit, Operation};
use crate::document::{Done, Visit, Work};
use crate::job::Job;
use crate::reading::Choice as _;
use loamline_terms::pointer::escape;
use serde_json::{Map, Value, json};
use std::collections::BTreeSet;

/// What a visit has to keep of a line.
pub(super) struct Record {
    /// The visit.
    pub visit: String,
    /// Id the line had.
    pub line: String,
    /// The line as it was, with what was taken of it, as a visit's table `lines` holds it.
    pub kept: Value,
}

/// Operations that keep what `edit` would orphan: `before` and `old` are the job and its document ahead of it, `new` the
/// document behind it.
pub(super) fn operations_preserving_measured(
    before: &Job,
    old: &Value,
    new: &Value,
    edit: &Edit,
) -> Vec<Operation> {
    placed(records(before, old, new, edit), new)
}

/// The lines `edit` takes away from under something measured or done, as they were.
pub(super) fn records(before: &Job, old: &Value, new: &Value, edit: &Edit) -> Vec<Record> {
    let d = before.document();
    if d.visits.values().all(|v| v.readings.is_empty() && v.done.is_empty() && v.photos.is_empty()) {
        return Vec::new();
    }
    let mut records = Vec::new();
    for line in d.lines.keys() {
        let change = Change { before, old, new, line, whole: replaced(before, old, new, edit, line) };
        if !change.whole && !change.lost_something() {
            continue;
        }
        let still_there = |id: &&String| new.pointer(&format!("/visits/{}", escape(id))).is_some();
        for (id, visit) in d.visits.iter().filter(|(id, _)| still_there(id)) {
            let kept = change.record(id, visit);
            records.extend(kept.map(|kept| Record { visit: id.clone(), line: line.clone(), kept }));
        }
    }
    records
}

/// Operations that put records into their visits in `document`, each under the id of its line or the next free one.
pub(super) fn placed(records: Vec<Record>, document: &Value) -> Vec<Operation> {
    let mut operations = Vec::new();
    let mut named: BTreeSet<(String, String)> = BTreeSet::new();
    for Record { visit, line, kept } in records {
        let section = format!("/visits/{}/lines", escape(&visit));
        let there = document.pointer(&section);
        if there.is_none() && !named.iter().any(|(other, _)| *other == visit) {
            operations.push(Operation::Add { path: section.clone(), value: json!({}), before: None });
        }
        let mut key = line.clone();
        for n in 2.. {
            let taken = there.is_some_and(|lines| lines.get(&key).is_some());
            if !taken && !named.contains(&(visit.clone(), key.clone())) {
                break;
            }
            key = format!("{line}-{n}");
        }
        operations.push(Operation::Add {
            path: format!("{section}/{}", escape(&key)),
            value: kept,
            before: None,
        });
        named.insert((visit, key));
    }
    operations
}

/// Whether an edit puts another line in place of one, or none.
fn replaced(before: &Job, old: &Value, new: &Value, edit: &Edit, line: &str) -> bool {
    let own = format!("/lines/{}", escape(line));
    let writes = |path: &String| *path == own || path == "/lines" || path.is_empty();
    let written = edit.operations.iter().any(|o| match o {
        Operation::Add { path, .. }
        | Operation::Remove { path }
        | Operation::Replace { path, .. }
        | Operation::Copy { path, .. } => writes(path),
        Operation::Move { from, path, .. } => writes(from) || writes(path),
        Operation::Test { .. } => false,
    });
    if !written {
        return false;
    }
    let (Some(was), Some(is)) = (old.pointer(&own), new.pointer(&own)) else { return true };
    let differs = |key: &&str| was.get(key) != is.get(key);
    let hung = |document: &Value| -> Vec<(String, Vec<Option<Value>>)> {
        let all = document.get("loudspeakers").and_then(Value::as_object);
        let parts = |l: &Value| {
            ["model", "position", "height", "tap", "coils"].iter().map(|k| l.get(k).cloned()).collect()
        };
        let on_line = all.into_iter().flatten().filter(|(_, l)| l["line"] == line);
        on_line.map(|(id, l)| (id.clone(), parts(l))).collect()
    };
    let joints = |document: &Value| -> Vec<Option<Value>> {
        let tree = before.line(line).map(|v| v.tree.nodes().map(str::to_owned).collect::<Vec<_>>());
        let place = |id: &String| document.pointer(&format!("/joints/{}/position", escape(id))).cloned();
        tree.unwrap_or_default().iter().map(place).collect()
    };
    ["cable", "pair", "start", "supply", "runs"].iter().any(differs)
        || hung(old) != hung(new)
        || joints(old) != joints(new)
}

/// What an edit does to one line.
struct Change<'a> {
    before: &'a Job,
    old: &'a Value,
    new: &'a Value,
    line: &'a str,
    /// The line goes, or another comes in its place.
    whole: bool,
}

impl Change<'_> {
    /// Joints and loudspeakers of the line ahead of the edit.
    fn things(&self) -> impl Iterator<Item = &str> {
        let d = self.before.document();
        let joins = self.before.line(self.line).into_iter().flat_map(|v| v.tree.nodes());
        let hung = d.loudspeakers.iter().filter(|(_, l)| l.line.as_deref() == Some(self.line));
        let all: BTreeSet<&str> = hung.map(|(id, _)| id.as_str()).chain(joins).collect();
        all.into_iter().filter(|id| !d.racks.contains_key(*id) && !d.stubs.contains_key(*id))
    }

    fn is_thing(&self, id: &str) -> bool {
        self.things().any(|thing| thing == id)
    }

    /// A thing as it stands in a document.
    fn thing<'v>(&self, document: &'v Value, id: &str) -> Option<&'v Value> {
        let at = |section: &str| document.pointer(&format!("/{section}/{}", escape(id)));
        at("loudspeakers").or_else(|| at("joints"))
    }

    /// The thing is gone, or on this line no more.
    fn left_line(&self, id: &str) -> bool {
        let line = |l: &Value| l.get("line").and_then(Value::as_str).map(str::to_owned);
        match self.new.pointer(&format!("/loudspeakers/{}", escape(id))) {
            Some(l) => line(l).as_deref() != Some(self.line),
            None => self.thing(self.new, id).is_none(),
        }
    }

    fn has_run(&self, run: &str) -> bool {
        self.new.pointer(&format!("/lines/{}/runs/{}", escape(self.line), escape(run))).is_some()
    }

    /// Whether a part of the line is gone, or on this line no more.
    fn lost_something(&self) -> bool {
        let runs = self.before.document().lines.get(self.line).into_iter().flat_map(|l| l.runs.keys());
        self.things().any(|id| self.left_line(id)) || runs.into_iter().any(|run| !self.has_run(run))
    }

    /// Whether the thing is not there any more, or is another one under its tag.
    fn is_other(&self, id: &str, key: Option<&str>) -> bool {
        let (Some(was), Some(is)) = (self.thing(self.old, id), self.thing(self.new, id)) else { return true };
        ["model", "position"].iter().chain(key.iter()).any(|k| was.get(k) != is.get(k))
    }

    fn loses_tick(&self, d: &Done) -> bool {
        if let (Some(line), Some(run)) = (&d.line, &d.run) {
            return line == self.line && (self.whole || !self.has_run(run));
        }
        let Some(at) = d.at.as_deref().filter(|at| self.is_thing(at)) else { return false };
        match d.work {
            // What was done to the cable goes with the cable.
            Work::Joint | Work::Opened if self.whole => true,
            Work::Tap if self.whole => self.is_other(at, Some("tap")),
            _ if self.whole => self.is_other(at, None),
            _ => self.thing(self.new, at).is_none(),
        }
    }

    /// What a visit keeps of the line; `None` when the edit takes nothing from it.
    fn record(&self, id: &str, visit: &Visit) -> Option<Value> {
        let same = |table: &str, entry: &str| {
            let at = format!("/visits/{}/{table}/{}", escape(id), escape(entry));
            self.new.pointer(&at).is_some() && self.new.pointer(&at) == self.old.pointer(&at)
        };
        let now = self.new.pointer(&format!("/visits/{}/lines", escape(id))).and_then(Value::as_object);
        let listed = |list: &str, entry: &str| {
            let names = |k: &Value| {
                k.get(list)
                    .and_then(Value::as_array)
                    .is_some_and(|l| l.iter().any(|e| e.as_str() == Some(entry)))
            };
            now.is_some_and(|all| all.values().any(names))
        };
        let gone = |at: &str| self.is_thing(at) && self.left_line(at);
        let readings = visit.readings.iter().filter(|(entry, r)| {
            r.line == self.line
                && (self.whole || r.at.as_deref().is_some_and(gone))
                && visit.kept_of_reading(entry).is_none()
                && !listed("readings", entry)
                && same("readings", entry)
        });
        let done = visit.done.iter().filter(|(entry, d)| {
            self.loses_tick(d)
                && visit.kept_of_done(entry).is_none()
                && !listed("done", entry)
                && same("done", entry)
        });
        let photos = visit.photos.iter().filter(|(entry, p)| {
            let lost = |at: &str| {
                self.is_thing(at)
                    && if self.whole { self.is_other(at, None) } else { self.thing(self.new, at).is_none() }
            };
            p.at.as_deref().is_some_and(lost)
                && visit.kept_of_photo(entry).is_none()
                && !listed("photos", entry)
                && same("photos", entry)
        });
        let ids = |all: Vec<&String>| Value::from(all.into_iter().cloned().collect::<Vec<_>>());
        let lists = [
            ("readings", ids(readings.map(|r| r.0).collect())),
            ("done", ids(done.map(|d| d.0).collect())),
            ("photos", ids(photos.map(|p| p.0).collect())),
        ];
        let any = lists.iter().any(|(_, list)| list.as_array().is_some_and(|l| !l.is_empty()));
        any.then(|| self.line_as_it_was(lists))
    }

    fn line_as_it_was(&self, lists: [(&str, Value); 3]) -> Value {
        let mut record = Map::new();
        record.insert("line".into(), self.line.into());
        let full = lists.into_iter().filter(|(_, list)| list.as_array().is_some_and(|l| !l.is_empty()));
        record.extend(full.map(|(key, list)| (key.to_owned(), list)));
        let mut line =
            self.old.pointer(&format!("/lines/{}", escape(self.line))).cloned().unwrap_or_default();
        let view = self.before.line(self.line);
        if let (Value::Object(l), Some(view)) = (&mut line, &view) {
            l.shift_remove("channel");
            if !view.tree.start.is_empty() {
                l.entry("start").or_insert_with(|| view.tree.start.clone().into());
            }
            l.entry("supply").or_insert_with(|| view.supply.word().into());
        }
        record.insert("as_it_was".into(), line);
        let things: Vec<&str> = self.things().collect();
        let starts: Vec<&str> =
            view.iter().flat_map(|v| v.stub.map(|s| s.0).into_iter().chain(v.rack.map(|r| r.0))).collect();
        for (section, ids) in
            [("loudspeakers", &things), ("joints", &things), ("stubs", &starts), ("racks", &starts)]
        {
            let one = |id: &&str| {
                let value = self.old.pointer(&format!("/{section}/{}", escape(id)))?;
                Some(((*id).to_owned(), value.clone()))
            };
            let found: Map<String, Value> = ids.iter().filter_map(one).collect();
            if !found.is_empty() {
                record.insert(section.into(), Value::Object(found));
            }
        }
        Value::Object(record)
    }
}

#[cfg(test)]
mod tests {
    use crate::edit::JobFile;
    use crate::edit::one_line::{self, edit};
    use serde_json::json;

    fn job() -> JobFile {
        let visits = r#"[visits.V1]
date = "2025-05-01"
[visits.V1.readings]
r1 = { line = "A", dc = "20 ohm" }
r2 = { line = "A", at = "J1", dc = "19 ohm" }
[visits.V1.done]
d1 = { work = "laid", line = "A", run = "a3" }
d2 = { work = "placed", at = "L2" }
[visits.V1.photos]
p1 = { file = "j1.jpg", at = "J1" }
"#;
        one_line::job(visits)
    }

    #[test]
    fn a_line_that_goes_is_kept_as_it_was_and_undoing_brings_it_back() {
        let mut file = job();
        let visits = file.raw()["visits"].clone();
        let remove = edit(json!([
            { "op": "remove", "path": "/loudspeakers/L1" },
            { "op": "remove", "path": "/loudspeakers/L2" },
            { "op": "remove", "path": "/joints/J1" },
            { "op": "remove", "path": "/lines/A" }
        ]));
        let (whole, inverse) = file.carry_out(&remove).unwrap_or_else(|e| panic!("{e}"));
        for table in ["readings", "done", "photos"] {
            assert_eq!(file.raw()["visits"]["V1"][table], visits["V1"][table]);
        }
        let visit = &file.job().document().visits["V1"];
        let kept = &visit.lines["A"];
        assert_eq!(
            (kept.line.as_str(), kept.readings.as_slice()),
            ("A", &["r1".to_owned(), "r2".into()][..])
        );
        assert_eq!(
            (kept.done.as_slice(), kept.photos.as_slice()),
            (&["d1".to_owned(), "d2".into()][..], &["p1".to_owned()][..])
        );
        assert_eq!(kept.as_it_was.start.as_deref(), Some("R1"));
        assert_eq!(kept.as_it_was.channel, None);
        // What it was can be asked of it.
        let was = file.job().as_it_was(kept).unwrap();
        assert_eq!(was.line("A").unwrap().tree.runs.len(), 3);
        assert_eq!(was.loudspeakers_of_line("A").len(), 2);
        // Others who carry out what was carried out have the same job.
        let mut other = job();
        other.apply(&whole).unwrap();
        assert_eq!(other.raw(), file.raw());
        file.apply(&inverse).unwrap();
        assert_eq!(file.raw(), job().raw());
        // Done again, nothing is kept twice.
        file.apply(&whole).unwrap();
        assert_eq!(file.raw(), other.raw());
    }

    #[test]
    fn another_line_under_the_id_takes_no_readings_over() {
        let mut file = job();
        let other = edit(json!([{ "op": "replace", "path": "/lines/A", "value": {
            "channel": "C1", "cable": "burial-2x12awg",
            "runs": { "a1": { "from": "R1", "to": "L1" }, "a2": { "from": "L1", "to": "L2" } }
        } }]));
        file.apply(&other).unwrap_or_else(|e| panic!("{e}"));
        let visit = &file.job().document().visits["V1"];
        assert_eq!(visit.kept_of_reading("r1").unwrap().1.as_it_was.cable, "burial-2x14awg");
        // The loudspeaker stayed where it was: its tick is of it still; the run is another.
        assert_eq!(visit.lines["A"].done, ["d1"]);
        // Measured in the same visit, then replaced again: each reading keeps the line it was taken of.
        let again = edit(
            json!([{ "op": "add", "path": "/visits/V1/readings/r3", "value": { "line": "A", "dc": "20 ohm" } }]),
        );
        file.apply(&again).unwrap();
        file.apply(&edit(json!([
            { "op": "remove", "path": "/loudspeakers/L1" },
            { "op": "remove", "path": "/loudspeakers/L2" },
            { "op": "remove", "path": "/lines/A" }
        ])))
        .unwrap_or_else(|e| panic!("{e}"));
        let visit = &file.job().document().visits["V1"];
        assert_eq!(visit.kept_of_reading("r1").unwrap().0, "A");
        assert_eq!(visit.kept_of_reading("r3").unwrap().0, "A-2");
        assert_eq!(visit.lines["A-2"].as_it_was.cable, "burial-2x12awg");
    }

    #[test]
    fn upkeep_keeps_the_line_and_a_joint_that_goes_keeps_what_was_measured_there() {
        let mut file = job();
        for upkeep in [
            json!([{ "op": "replace", "path": "/loudspeakers/L2/tap", "value": "20 W" }]),
            json!([{ "op": "replace", "path": "/loudspeakers/L2/position", "value": [21, 0] }]),
            json!([{ "op": "add", "path": "/lines/A/runs/a3/length", "value": "9 m" }]),
        ] {
            file.apply(&edit(upkeep)).unwrap();
            assert!(file.job().document().visits["V1"].lines.is_empty());
        }
        file.apply(&edit(json!([
            { "op": "remove", "path": "/lines/A/runs/a1" },
            { "op": "remove", "path": "/joints/J1" },
            { "op": "replace", "path": "/lines/A/runs/a2/from", "value": "R1" }
        ])))
        .unwrap_or_else(|e| panic!("{e}"));
        let visit = &file.job().document().visits["V1"];
        assert_eq!(visit.lines["A"].readings, ["r2"]);
        assert_eq!(visit.lines["A"].photos, ["p1"]);
        assert!(visit.kept_of_reading("r1").is_none() && visit.kept_of_done("d1").is_none());
    }
}
