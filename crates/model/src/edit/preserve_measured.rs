//! What an edit has to keep: measured lines as they were.
//!
//! Readings, ticks and photos stay in their visits for ever, whatever becomes of what they were taken of. So that they can
//! still be shown and judged by the line as it stood when they were taken, the visit keeps the line as it was
//! ([`KeptLine`](crate::document::KeptLine)) when
//!
//! 1. an edit takes the line away as a whole or puts another in its place (it writes `/lines/A` itself or what holds it,
//!    and cable, runs, start, supply or loudspeakers come out different): every reading of it so far is then of the kept
//!    line; ticks and photos are where their thing is gone or another;
//! 2. an edit changes equipment on it (a loudspeaker taken out or hung on, a model, a tap, coils, what is in series, how it is
//!    fed): every reading of it so far;
//! 3. an edit changes its cable (a length, a kind, a way, a place it comes to): readings of visits up to the last handover,
//!    which were signed. Those taken since are judged anew: within one stage of work it is the drawing put right;
//! 4. an edit takes away a joint, loudspeaker or run that something was measured or done at: that reading, tick or photo.
//!
//! The rule of 2 and 3 is `parts_from`. Allowances that hold for all cable of a job, and figures of the catalogue, are no part of
//! a line: readings are judged with those of today.
//!
//! The record is made by the edit itself, at the one place where a job changes, so that no way of editing can forget it;
//! undoing the edit takes it out again, unless the line has become another than the one the record is of. Text of the file
//! that somebody changes by hand passes by here unseen.

use super::patch::{Edit, Operation};
use crate::document::{Done, Visit, VisitKind, Work};
use crate::job::{Job, LineChange, parts_from};
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

/// Operations that keep what `edit` would orphan: `before` and `old` are the job and its document ahead of it, `after` and
/// `new` those behind it.
pub(super) fn operations_preserving_measured(
    before: &Job,
    after: &Job,
    old: &Value,
    new: &Value,
    edit: &Edit,
) -> Vec<Operation> {
    let differs = |section: &str| old.get(section) != new.get(section);
    let of_lines = SECTIONS.iter().any(|section| differs(section));
    let mut kept = if of_lines { records(before, after, old, new, edit) } else { Vec::new() };
    if differs("visits") {
        kept.extend(restored(before, after, old, new));
    }
    let mut operations = placed(kept, new);
    operations.extend(marks(before, old, new, edit));
    operations
}

/// Sections whose change may make a line another.
const SECTIONS: [&str; 9] =
    ["lines", "loudspeakers", "joints", "stubs", "racks", "amplifiers", "channels", "programmes", "brief"];

/// Whether a section of the document is one whose change may make a line another.
pub(super) fn is_of_lines(section: &str) -> bool {
    SECTIONS.contains(&section)
}

/// The lines `edit` takes away or changes under something measured or done, as they were.
pub(super) fn records(before: &Job, after: &Job, old: &Value, new: &Value, edit: &Edit) -> Vec<Record> {
    let d = before.document();
    if d.visits.values().all(|v| v.readings.is_empty() && v.done.is_empty() && v.photos.is_empty()) {
        return Vec::new();
    }
    let handed_over = handed_over(old);
    let mut records = Vec::new();
    for line in d.lines.keys() {
        let changes = match (before.line_to_keep(line), after.line_to_keep(line)) {
            (Some(was), Some(is)) => was.changes_to(&is),
            _ => Vec::new(),
        };
        let whole = replaced(before, old, new, edit, line);
        let change = Change { before, old, new, line, whole, changes, handed_over };
        if !change.whole && change.changes.is_empty() && !change.lost_something() {
            continue;
        }
        for (id, visit) in d.visits.iter().filter(|(id, _)| is_there(new, id)) {
            let kept = change.record(id, visit);
            records.extend(kept.map(|kept| Record { visit: id.clone(), line: line.clone(), kept }));
        }
    }
    records
}

fn is_there(document: &Value, visit: &str) -> bool {
    document.pointer(&format!("/visits/{}", escape(visit))).is_some()
}

/// Day of the last handover in a document; readings up to it were signed.
fn handed_over(document: &Value) -> Option<&str> {
    let visits = document.get("visits").and_then(Value::as_object)?;
    let handovers = visits.values().filter(|v| v["kind"] == VisitKind::Handover.word());
    handovers.filter_map(|v| v["date"].as_str()).max()
}

/// Records that an edit takes out though the line is not, or not again, the one that their readings were taken of: what undoing
/// one of two changes would lose.
fn restored(before: &Job, after: &Job, old: &Value, new: &Value) -> Vec<Record> {
    let handed_over = handed_over(old);
    let mut records = Vec::new();
    for (id, visit) in before.document().visits.iter().filter(|(id, _)| is_there(new, id)) {
        for (key, kept) in &visit.lines {
            let place = format!("/visits/{}/lines/{}", escape(id), escape(key));
            let parted = match after.line_to_keep(&kept.line) {
                Some(now) => parts_from(&kept.changes_to(&now), is_signed(visit, handed_over)),
                None => true,
            };
            if !parted || new.pointer(&place).is_some() {
                continue;
            }
            let stay = |entry: &&String| {
                stays(old, new, id, "readings", entry) && !is_listed(new, id, "readings", entry)
            };
            let readings: Vec<&String> = kept.readings.iter().filter(stay).collect();
            let Some(Value::Object(mut record)) =
                old.pointer(&place).cloned().filter(|_| !readings.is_empty())
            else {
                continue;
            };
            record.insert("readings".into(), json!(readings));
            record.retain(|table, _| table != "done" && table != "photos");
            records.push(Record { visit: id.clone(), line: kept.line.clone(), kept: Value::Object(record) });
        }
    }
    records
}

/// What is kept of a line that was changed and is now replaced says so from then on.
fn marks(before: &Job, old: &Value, new: &Value, edit: &Edit) -> Vec<Operation> {
    let mut operations = Vec::new();
    for line in before.document().lines.keys().filter(|line| replaced(before, old, new, edit, line)) {
        for (id, visit) in &before.document().visits {
            let changed = visit.lines.iter().filter(|(_, k)| k.line == *line && !k.replaced);
            let marked =
                changed.map(|(key, _)| format!("/visits/{}/lines/{}/replaced", escape(id), escape(key)));
            let there = marked.filter(|path| new.pointer(path).is_some());
            operations.extend(there.map(|path| Operation::Remove { path }));
        }
    }
    operations
}

fn is_signed(visit: &Visit, handed_over: Option<&str>) -> bool {
    handed_over.is_some_and(|day| visit.date.as_str() <= day)
}

/// Whether an edit leaves an entry of a visit as it is.
fn stays(old: &Value, new: &Value, visit: &str, table: &str, entry: &str) -> bool {
    let at = format!("/visits/{}/{table}/{}", escape(visit), escape(entry));
    new.pointer(&at).is_some() && new.pointer(&at) == old.pointer(&at)
}

/// Whether a line that a visit keeps in a document has an entry among those taken of it.
fn is_listed(document: &Value, visit: &str, list: &str, entry: &str) -> bool {
    let lines = document.pointer(&format!("/visits/{}/lines", escape(visit))).and_then(Value::as_object);
    let names = |k: &Value| {
        k.get(list).and_then(Value::as_array).is_some_and(|l| l.iter().any(|e| e.as_str() == Some(entry)))
    };
    lines.is_some_and(|all| all.values().any(names))
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
pub(super) fn replaced(before: &Job, old: &Value, new: &Value, edit: &Edit, line: &str) -> bool {
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
    /// What comes out different on the line that stays.
    changes: Vec<LineChange>,
    /// Day of the last handover.
    handed_over: Option<&'a str>,
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
        let same = |table: &str, entry: &str| stays(self.old, self.new, id, table, entry);
        let listed = |list: &str, entry: &str| is_listed(self.new, id, list, entry);
        let gone = |at: &str| self.is_thing(at) && self.left_line(at);
        let parted = self.whole || parts_from(&self.changes, is_signed(visit, self.handed_over));
        let readings = visit.readings.iter().filter(|(entry, r)| {
            r.line == self.line
                && (parted || r.at.as_deref().is_some_and(gone))
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
        if !self.whole {
            record.insert("replaced".into(), false.into());
        }
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
mod tests;
