//! Taking a thing out with what hangs on it, and taking a loudspeaker off its line, so that the job still makes sense.
//!
//! What names the thing is found by the table of references the document is checked with. What only mentions it loses the
//! mention (a loudspeaker its line), what cannot be without it goes along (an amplifier with its rack), and cable that ran
//! through it stays where it lies: the runs on either side become one.

use super::file::JobFile;
use super::patch::{Edit, Operation, PatchError};
use crate::document::JobDocument;
use crate::job::{LineTree, ReferencePath, job_references};
use indexmap::IndexMap;
use loamline_terms::pointer::child;
use loamline_terms::{Sentence, say};
use serde_json::{Map, Value, json};
use std::collections::VecDeque;

/// An edit that takes something out, with what it means in words.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TakenOut {
    /// The edit.
    pub edit: Edit,
    /// What goes along: "amplifier P1", "3 readings of visit handover".
    pub along: Vec<Sentence>,
    /// What stays and is another thing afterwards, as sentences.
    pub changed: Vec<Sentence>,
    /// What happens to the cable, as sentences: nothing to decide.
    pub cable: Vec<Sentence>,
}

/// Tables whose things runs of cable end at.
const ENDS: [&str; 4] = ["loudspeakers", "joints", "racks", "stubs"];

impl JobFile {
    /// The edit that takes a thing out with what hangs on it; not yet carried out.
    ///
    /// # Errors
    /// When there is no such thing.
    pub fn take_out(&self, table: &str, id: &str) -> Result<TakenOut, PatchError> {
        let mut work = Work::on(self);
        let path = pointer(&[table, id]);
        let no_thing = ["job", "brief", "site"].contains(&table);
        if no_thing || work.raw.pointer(&path).is_none_or(|thing| !thing.is_object()) {
            return Err(PatchError::NothingThere { path });
        }
        let mut waiting = VecDeque::from([(table.to_owned(), id.to_owned())]);
        while let Some((table, id)) = waiting.pop_front() {
            if work.raw.pointer(&pointer(&[&table, &id])).is_some() {
                work.remove_thing(&table, &id, &mut waiting)?;
            }
        }
        let mut out = work.done();
        out.changed.extend(self.readings_kept_told(&out.edit));
        Ok(out)
    }

    /// The edit that takes a loudspeaker off the line it hangs on; empty when it hangs on none.
    ///
    /// # Errors
    /// When there is no such loudspeaker.
    pub fn unhook(&self, loudspeaker: &str) -> Result<TakenOut, PatchError> {
        let mut work = Work::on(self);
        let line = pointer(&["loudspeakers", loudspeaker, "line"]);
        if work.raw.pointer(&line).is_some() {
            work.off_lines(loudspeaker)?;
            work.carry_out(Operation::Remove { path: line })?;
        }
        Ok(work.done())
    }
}

struct Work<'f> {
    document: &'f JobDocument,
    trees: IndexMap<&'f str, &'f LineTree>,
    raw: Value,
    out: TakenOut,
    /// Entries that lose a mention or go along in numbers, by what is said of them.
    gone_of_visits: IndexMap<(String, &'static str), usize>,
    loose: Vec<String>,
}

impl<'f> Work<'f> {
    fn on(file: &'f JobFile) -> Self {
        Self {
            document: file.job().document(),
            trees: file.job().lines().map(|l| (l.id, l.tree)).collect(),
            raw: file.raw().clone(),
            out: TakenOut::default(),
            gone_of_visits: IndexMap::new(),
            loose: Vec::new(),
        }
    }

    fn done(mut self) -> TakenOut {
        for ((visit, what), n) in &self.gone_of_visits {
            self.out.along.push(of_visit(visit, what, *n));
        }
        match self.loose.as_slice() {
            [] => {}
            [one] => self.out.changed.push(say!("Loudspeaker {tag} is then on no line.", tag = one)),
            many => {
                let told = say!("Loudspeakers {tags} are then on no line.", tags = many.join(", "));
                self.out.changed.push(told);
            }
        }
        self.out
    }

    fn carry_out(&mut self, operation: Operation) -> Result<(), PatchError> {
        Edit::new([operation.clone()]).apply(&mut self.raw)?;
        self.out.edit.operations.push(operation);
        Ok(())
    }

    fn remove_thing(
        &mut self,
        table: &str,
        id: &str,
        waiting: &mut VecDeque<(String, String)>,
    ) -> Result<(), PatchError> {
        if ENDS.contains(&table) {
            self.off_lines(id)?;
        }
        self.carry_out(Operation::Remove { path: pointer(&[table, id]) })?;
        for path in job_references(table) {
            let mut found = mentions(&self.raw, path, id);
            if path.last() == Some(&"*") {
                // Taking an item out of a list moves those after it: the last first.
                found.reverse();
            }
            for at in found {
                // An entry that went with another mention of it is not there any more.
                if self.raw.pointer(&at.join_pointer()).is_some() {
                    self.forget(path, &at, id, waiting)?;
                }
            }
        }
        if table == "racks" {
            self.stubs_of_the_only_rack(id, waiting);
        }
        Ok(())
    }

    /// Stubs that name no rack because there is only one hang on that one all the same.
    fn stubs_of_the_only_rack(&mut self, rack: &str, waiting: &mut VecDeque<(String, String)>) {
        let document = self.document;
        for (id, stub) in &document.stubs {
            if stub.rack.is_none() && document.rack_of_stub(stub) == Some(rack) {
                self.out.along.push(thing("stubs", id));
                waiting.push_back(("stubs".to_owned(), id.clone()));
            }
        }
    }

    /// What becomes of one mention of a thing that is gone.
    fn forget(
        &mut self,
        path: ReferencePath,
        at: &[String],
        id: &str,
        waiting: &mut VecDeque<(String, String)>,
    ) -> Result<(), PatchError> {
        let here = at.join_pointer();
        let part = |i: usize| at.get(i).map_or("", String::as_str);
        match path {
            ["loudspeakers", "*", "line"] => {
                self.loose.push(part(1).to_owned());
                self.carry_out(Operation::Remove { path: here })
            }
            ["areas" | "channels", "*", "programme"] => {
                let thing = thing(part(0), part(1)).capitalised();
                let told = say!("{thing} then plays the first programme there is.", thing = thing);
                self.out.changed.push(told);
                self.carry_out(Operation::Remove { path: here })
            }
            [_, "*", what @ ("zone" | "phase")] => {
                let thing = thing(part(0), part(1)).capitalised();
                self.out.changed.push(match *what {
                    "zone" => say!("{thing} is then in no zone of its own.", thing = thing),
                    _ => say!("{thing} is then in no phase of its own.", thing = thing),
                });
                self.carry_out(Operation::Remove { path: here })
            }
            ["leads", "*", "link"] => {
                self.out.changed.push(say!("Lead {tag} then comes through no link.", tag = part(1)));
                self.carry_out(Operation::Remove { path: here })
            }
            ["lines", "*", "channel"] => {
                let line = part(1).to_owned();
                self.out.changed.push(say!("Line {line} is then fed by no channel.", line = &line));
                self.carry_out(Operation::Remove { path: here })?;
                self.keep_start(&line)
            }
            ["visits", "*", "photos", "*", "at"] => self.carry_out(Operation::Remove { path: here }),
            ["visits", "*", kind @ ("readings" | "done"), "*", _] => {
                let what = if *kind == "readings" { "reading" } else { "tick" };
                *self.gone_of_visits.entry((part(1).to_owned(), what)).or_default() += 1;
                self.carry_out(Operation::Remove { path: at[..4].join_pointer() })
            }
            ["lines", "*", "runs", "*", "sleeves", "*"] => {
                let run = part(3);
                self.out.changed.push(say!(
                    "Run {run} then lies beside sleeve {sleeve}'s way.",
                    run = run,
                    sleeve = id
                ));
                self.carry_out(Operation::Remove { path: here })
            }
            // Starts and runs of lines were seen to before the thing was taken.
            ["lines", ..] => Ok(()),
            _ => {
                let told = thing(part(0), part(1));
                // A lead hangs on its source and on its amplifier: it goes once.
                if !self.out.along.contains(&told) {
                    self.out.along.push(told);
                    waiting.push_back((part(0).to_owned(), part(1).to_owned()));
                }
                Ok(())
            }
        }
    }

    /// A line that started where its channel's amplifier stands still starts there.
    fn keep_start(&mut self, line: &str) -> Result<(), PatchError> {
        let own = self.raw.pointer(&pointer(&["lines", line, "start"])).is_some();
        let laid = self.raw.pointer(&pointer(&["lines", line, "runs"])).and_then(Value::as_object);
        let start = self.trees.get(line).map_or("", |t| t.start.as_str());
        if own || laid.is_none_or(Map::is_empty) || start.is_empty() {
            return Ok(());
        }
        let path = pointer(&["lines", line, "start"]);
        self.carry_out(Operation::Add { path, value: json!(start), before: None })
    }

    /// Takes an end of cable off every line it is on.
    fn off_lines(&mut self, end: &str) -> Result<(), PatchError> {
        for (line, tree) in self.trees.clone() {
            if tree.start == end {
                let runs = tree.runs.len();
                if runs > 0 {
                    self.out.changed.push(match runs {
                        1 => say!(
                            "Line {line} then starts nowhere: its 1 run of cable goes along.",
                            line = line
                        ),
                        n => say!(
                            "Line {line} then starts nowhere: its {count} runs of cable go along.",
                            line = line,
                            count = n.to_string()
                        ),
                    });
                    self.carry_out(Operation::Remove { path: pointer(&["lines", line, "runs"]) })?;
                }
                // Pairs are those of the cable that ends at its stub: without the stub they are nothing.
                for key in ["start", "stub_pairs"] {
                    let path = pointer(&["lines", line, key]);
                    if self.raw.pointer(&path).is_some() {
                        self.carry_out(Operation::Remove { path })?;
                    }
                }
            } else if let Some(arriving) = tree.arriving(end) {
                self.bridge(line, tree, arriving, end)?;
            }
        }
        Ok(())
    }

    /// Joins the run that arrives at an end with those that leave it; the cable stays where it lies.
    fn bridge(&mut self, line: &str, tree: &LineTree, arriving: usize, end: &str) -> Result<(), PatchError> {
        let Some(first) = tree.runs.get(arriving) else { return Ok(()) };
        let leaving: Vec<usize> = tree.leaving(end).collect();
        let place = ENDS
            .iter()
            .find_map(|t| self.raw.pointer(&pointer(&[t, end, "position"])).cloned())
            .unwrap_or(Value::Null);
        for next in leaving.iter().filter_map(|i| tree.runs.get(*i)) {
            let run = self.joined(line, first, next, &place);
            self.out.cable.push(say!(
                "Run {run} then leads from {from} to {to}.",
                run = &next.id,
                from = &first.from,
                to = &next.to
            ));
            self.carry_out(Operation::Replace {
                path: pointer(&["lines", line, "runs", &next.id]),
                value: run,
            })?;
        }
        if leaving.is_empty() {
            self.out.cable.push(say!("Run {run} to {end} goes too.", run = &first.id, end = end));
        }
        self.carry_out(Operation::Remove { path: pointer(&["lines", line, "runs", &first.id]) })
    }

    /// Two runs one after the other as one, as typed: the second's own words, from where the first begins.
    fn joined(
        &self,
        line: &str,
        first: &crate::job::TreeRun,
        next: &crate::job::TreeRun,
        place: &Value,
    ) -> Value {
        let typed = |id: &str, key: &str| {
            self.raw.pointer(&pointer(&["lines", line, "runs", id, key])).cloned().unwrap_or(Value::Null)
        };
        let list = |run: &crate::job::TreeRun, key: &str| {
            let mut l = typed(&run.id, key).as_array().cloned().unwrap_or_default();
            if run.reversed {
                l.reverse();
            }
            l
        };
        let path = pointer(&["lines", line, "runs", &next.id]);
        let mut run = self.raw.pointer(&path).and_then(Value::as_object).cloned().unwrap_or_default();
        let via: Vec<Value> = list(first, "via")
            .into_iter()
            .chain(Some(place.clone()).filter(|p| !p.is_null()))
            .chain(list(next, "via"))
            .collect();
        run.insert("from".into(), json!(first.from));
        run.insert("to".into(), json!(next.to));
        // What it was in series with, or was not, is the first's to say.
        match typed(&first.id, "in_series") {
            Value::Null => run.shift_remove("in_series"),
            said => run.insert("in_series".into(), said),
        };
        run.insert("via".into(), Value::Array(via));
        let mut sleeves = list(first, "sleeves");
        sleeves.extend(list(next, "sleeves").into_iter().filter(|s| !list(first, "sleeves").contains(s)));
        if !sleeves.is_empty() {
            run.insert("sleeves".into(), Value::Array(sleeves));
        }
        // A length somebody measured holds for both only when both were measured.
        let runs = self.document.lines.get(line).map(|l| &l.runs);
        let measured = |id: &str| runs.and_then(|r| r.get(id)).and_then(|r| r.length_m);
        match (measured(&first.id), measured(&next.id)) {
            (Some(a), Some(b)) => {
                run.insert("length".into(), json!(a + b));
            }
            _ => {
                run.shift_remove("length");
            }
        }
        Value::Object(run)
    }
}

/// The pointer of these keys.
fn pointer(keys: &[&str]) -> String {
    keys.iter().fold(String::new(), |at, key| child(&at, key))
}

trait JoinPointer {
    fn join_pointer(&self) -> String;
}

impl JoinPointer for [String] {
    fn join_pointer(&self) -> String {
        pointer(&self.iter().map(String::as_str).collect::<Vec<_>>())
    }
}

/// Every place of a document at which a path of references names an id, in order.
fn mentions(raw: &Value, path: ReferencePath, id: &str) -> Vec<Vec<String>> {
    let mut found: Vec<(Vec<String>, &Value)> = vec![(Vec::new(), raw)];
    for key in path {
        found = found
            .into_iter()
            .flat_map(|(at, value)| {
                let step = |k: String, v| ([at.clone(), vec![k]].concat(), v);
                match (value, *key) {
                    (Value::Object(o), "*") => o.iter().map(|(k, v)| step(k.clone(), v)).collect(),
                    (Value::Array(a), "*") => {
                        a.iter().enumerate().map(|(i, v)| step(i.to_string(), v)).collect()
                    }
                    (Value::Object(o), key) => {
                        o.get(key).map(|v| step(key.to_owned(), v)).into_iter().collect::<Vec<_>>()
                    }
                    _ => Vec::new(),
                }
            })
            .collect();
    }
    found.into_iter().filter(|(_, v)| v.as_str() == Some(id)).map(|(at, _)| at).collect()
}

/// What a person calls a thing that may go along with another, or lose its mention of one.
fn thing(table: &str, id: &str) -> Sentence {
    match table {
        "amplifiers" => say!("amplifier {id}", id = id),
        "areas" => say!("listening area {id}", id = id),
        "channels" => say!("channel {id}", id = id),
        "leads" => say!("lead {id}", id = id),
        "lines" => say!("line {id}", id = id),
        "links" => say!("link {id}", id = id),
        "loudspeakers" => say!("loudspeaker {id}", id = id),
        "racks" => say!("rack {id}", id = id),
        "sources" => say!("source {id}", id = id),
        "stubs" => say!("stub-out {id}", id = id),
        "zones" => say!("zone {id}", id = id),
        other => format!("{} {id}", other.strip_suffix('s').unwrap_or(other)).into(),
    }
}

/// So many readings or ticks of a visit.
fn of_visit(visit: &str, what: &str, n: usize) -> Sentence {
    let count = n.to_string();
    match (what, n) {
        ("reading", 1) => say!("1 reading of visit {visit}", visit = visit),
        ("reading", _) => say!("{count} readings of visit {visit}", count = count, visit = visit),
        (_, 1) => say!("1 tick of visit {visit}", visit = visit),
        _ => say!("{count} ticks of visit {visit}", count = count, visit = visit),
    }
}
