//! What differs between a line as it was and as it is, as far as a reading of it can tell.
//!
//! Two sorts of difference: of equipment, which is work done on the line, and of cable, which within one stage of the work is the
//! drawing put right. `parts_from` is the one rule of which readings stay with the line as it was; `edit/preserve_measured` carries it out.

use super::Job;
use crate::document::{KeptLine, Line, Loudspeaker, Run, Stub};
use loamline_terms::{Sentence, say};
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;

/// One difference.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LineChange {
    /// A loudspeaker hangs on it no more.
    TakenOut(String),
    /// A loudspeaker hangs on it that did not.
    HungOn(String),
    /// A loudspeaker is another model.
    Model(String),
    /// A loudspeaker's tap, or how its coils are connected.
    Tap(String),
    /// How its loudspeakers are fed.
    Supply,
    /// Which of its loudspeakers are in series.
    Wiring,
    /// Its cable: a length, a kind, a way, a place it comes to.
    Cable,
}

impl LineChange {
    /// Whether it is equipment and not cable.
    pub fn is_of_equipment(&self) -> bool {
        *self != Self::Cable
    }

    /// What was done, as a clause: `L3 was taken out since`.
    pub fn told(&self) -> Sentence {
        match self {
            Self::TakenOut(tag) => say!("{tag} was taken out since", tag = tag),
            Self::HungOn(tag) => say!("{tag} was hung on it since", tag = tag),
            Self::Model(tag) => say!("{tag} is another model since", tag = tag),
            Self::Tap(tag) => say!("the tap of {tag} was changed since", tag = tag),
            Self::Supply => say!("its line voltage was changed since"),
            Self::Wiring => say!("what is in series on it was changed since"),
            Self::Cable => say!("its cable was changed since"),
        }
    }
}

/// Whether these changes part readings from the line: those of equipment always do; those of cable where the readings were
/// handed over, since until then, and within a later stage of work, a length mended is the drawing put right.
pub(crate) fn parts_from(changes: &[LineChange], handed_over: bool) -> bool {
    changes.iter().any(|c| c.is_of_equipment() || handed_over)
}

impl Job {
    /// A line as it stands, as a visit would keep it, with nothing taken of it; `None` where there is no such line.
    pub fn line_to_keep(&self, id: &str) -> Option<KeptLine> {
        let (view, d) = (self.line(id)?, self.document());
        let joins = |node: &String| view.tree.nodes().any(|n| n == node);
        let start = Some(view.tree.start.clone()).filter(|start| !start.is_empty());
        Some(KeptLine {
            line: id.to_owned(),
            replaced: true,
            readings: Vec::new(),
            done: Vec::new(),
            photos: Vec::new(),
            as_it_was: Line { channel: None, start, supply: Some(view.supply), ..view.line.clone() },
            loudspeakers: d
                .loudspeakers
                .iter()
                .filter(|(tag, l)| l.line.as_deref() == Some(id) || joins(tag))
                .map(|(tag, l)| (tag.clone(), l.clone()))
                .collect(),
            joints: d
                .joints
                .iter()
                .filter(|(tag, _)| joins(tag))
                .map(|(t, j)| (t.clone(), j.clone()))
                .collect(),
            stubs: view.stub.iter().map(|(tag, s)| ((*tag).to_owned(), (*s).clone())).collect(),
            racks: view.rack.iter().map(|(tag, r)| ((*tag).to_owned(), (*r).clone())).collect(),
        })
    }
}

impl KeptLine {
    /// Whether another is the same line, whatever was taken of either.
    pub fn is_same_line(&self, other: &Self) -> bool {
        let bare = |k: &Self| Self {
            replaced: true,
            readings: Vec::new(),
            done: Vec::new(),
            photos: Vec::new(),
            ..k.clone()
        };
        bare(self) == bare(other)
    }

    /// What differs on a line as it is now, equipment first, each sort of thing once.
    pub fn changes_to(&self, now: &Self) -> Vec<LineChange> {
        let (mut found, mut moved) = (Vec::new(), false);
        for (tag, was) in &self.loudspeakers {
            let Some(is) = now.loudspeakers.get(tag) else {
                found.push(LineChange::TakenOut(tag.clone()));
                continue;
            };
            if was.model != is.model {
                found.push(LineChange::Model(tag.clone()));
            }
            if (was.tap_w, was.coils) != (is.tap_w, is.coils) {
                found.push(LineChange::Tap(tag.clone()));
            }
            moved |= !as_laid(&place(was), &place(is));
        }
        let hung = now.loudspeakers.keys().filter(|tag| !self.loudspeakers.contains_key(*tag));
        found.extend(hung.map(|tag| LineChange::HungOn(tag.clone())));
        // Cable that ran to what is gone, and on from it, goes with it.
        let same_things = !found.iter().any(|c| matches!(c, LineChange::TakenOut(_) | LineChange::HungOn(_)));
        if self.as_it_was.supply != now.as_it_was.supply {
            found.push(LineChange::Supply);
        }
        if same_things && in_series(&self.as_it_was) != in_series(&now.as_it_was) {
            found.push(LineChange::Wiring);
        }
        if same_things && (moved || self.cable_differs(now)) {
            found.push(LineChange::Cable);
        }
        found
    }

    fn cable_differs(&self, now: &Self) -> bool {
        let (was, is) = (&self.as_it_was, &now.as_it_was);
        let line = |l: &Line| (l.start.clone(), l.cable.clone(), l.pair, l.stub_pairs.clone());
        let runs =
            |l: &Line| l.runs.iter().map(|(id, run)| (id.clone(), bare_run(run))).collect::<BTreeMap<_, _>>();
        let joints =
            |k: &Self| k.joints.iter().map(|(id, j)| (id.clone(), j.position)).collect::<BTreeMap<_, _>>();
        let stubs = |k: &Self| k.stubs.values().map(bare_stub).collect::<Vec<_>>();
        let racks = |k: &Self| k.racks.values().map(|r| (r.position, r.height_m)).collect::<Vec<_>>();
        line(was) != line(is)
            || !as_laid(&runs(was), &runs(is))
            || !as_laid(&joints(self), &joints(now))
            || !as_laid(&stubs(self), &stubs(now))
            || !as_laid(&racks(self), &racks(now))
    }
}

/// Lengths that differ by no more, m, are the same length: written in another unit, one comes out a hair longer, and no tape
/// shows less.
const SAME_LENGTH_M: f64 = 0.001;

/// Whether two things lie alike, as far as a tape can tell.
fn as_laid<T: Serialize>(was: &T, is: &T) -> bool {
    match (serde_json::to_value(was), serde_json::to_value(is)) {
        (Ok(was), Ok(is)) => alike(&was, &is),
        _ => false,
    }
}

fn alike(was: &Value, is: &Value) -> bool {
    match (was, is) {
        (Value::Array(a), Value::Array(b)) => a.len() == b.len() && a.iter().zip(b).all(|(a, b)| alike(a, b)),
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len() && a.iter().all(|(key, a)| b.get(key).is_some_and(|b| alike(a, b)))
        }
        (Value::Number(a), Value::Number(b)) => match (a.as_f64(), b.as_f64()) {
            (Some(a), Some(b)) => (a - b).abs() <= SAME_LENGTH_M,
            _ => a == b,
        },
        _ => was == is,
    }
}

fn place(l: &Loudspeaker) -> (loamline_geometry::Point2, Option<f64>) {
    (l.position, l.height_m)
}

/// Ends of the runs that are in series with what comes before.
fn in_series(line: &Line) -> Vec<&str> {
    let mut ends: Vec<&str> = line.runs.values().filter(|r| r.in_series).map(|r| r.to.as_str()).collect();
    ends.sort_unstable();
    ends
}

/// A run without what no reading knows of, and without its wiring, which is equipment.
fn bare_run(run: &Run) -> Run {
    Run { in_series: false, fixed: false, existing: false, ..run.clone() }
}

/// A stub without its name and what is printed on it.
fn bare_stub(stub: &Stub) -> Stub {
    Stub { name: String::new(), marking: String::new(), ..stub.clone() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::read_job;
    use crate::source::SourceFile;

    const TWO: &str = r#"format = 1
[job]
name = "Two"
[racks.R1]
position = [0, 0]
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
[loudspeakers.L1]
model = "stake-110-wide"
position = [12, 0]
tap = "10 W"
line = "A"
[loudspeakers.L2]
model = "stake-110-wide"
position = [20, 0]
tap = "10 W"
line = "A"
[lines.A]
channel = "C1"
cable = "burial-2x14awg"
[lines.A.runs]
a1 = { from = "R1", to = "L1" }
a2 = { from = "L1", to = "L2", length = "9 m" }
"#;

    fn line(text: &str) -> KeptLine {
        let job = read_job(&SourceFile::new("job.toml".to_owned(), text), &[]);
        job.unwrap_or_else(|e| panic!("{e}")).line_to_keep("A").unwrap()
    }

    /// By the rule in words: what a meter would read otherwise is told, what it cannot know of is not.
    #[test]
    fn what_differs_is_told_by_what_was_done() {
        let told = |from: &str, to: &str| -> Vec<String> {
            let now = TWO.replacen(from, to, 1);
            assert_ne!(now, TWO, "{from}");
            line(TWO).changes_to(&line(&now)).iter().map(|c| c.told().to_string()).collect()
        };
        assert_eq!(told("tap = \"10 W\"", "tap = \"5 W\""), ["the tap of L1 was changed since"]);
        assert_eq!(told("length = \"9 m\"", "length = \"10 m\""), ["its cable was changed since"]);
        assert_eq!(told("length = \"9 m\"", "length = \"9 m\", fixed = true"), [""; 0]);
        // The same in feet, of 0.3048 m each by definition: 9 m is 29.5275590551 ft.
        assert_eq!(told("length = \"9 m\"", "length = \"29.52756 ft\""), [""; 0]);
        assert_eq!(told("length = \"9 m\"", "length = \"29.6 ft\""), ["its cable was changed since"]);
        assert_eq!(told("position = [12, 0]", "position = [12, 1]"), ["its cable was changed since"]);
        assert_eq!(
            told("cable = \"burial-2x14awg\"", "cable = \"burial-2x12awg\""),
            ["its cable was changed since"]
        );
        assert_eq!(told("tap = \"10 W\"", "tap = \"10 W\"\nserial = \"77\""), [""; 0]);
    }

    #[test]
    fn equipment_parts_readings_from_the_line_and_cable_only_once_they_were_handed_over() {
        let tap = [LineChange::Tap("L1".into())];
        let cable = [LineChange::Cable];
        assert!(parts_from(&tap, false) && parts_from(&tap, true));
        assert!(!parts_from(&cable, false) && parts_from(&cable, true));
        assert!(!parts_from(&[], true));
    }
}
