use super::*;
use crate::jobs::Jobs;
use crate::store::SqliteStore;
use proptest::prelude::*;
use serde_json::json;
use std::sync::Arc;

const JOB: &str = r#"format = 1
[job]
name = "One line"
[racks.R1]
position = [0, 0]
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
[marks.M1]
name = "Corner of the house"
position = [1, 1]
[marks.M2]
name = "Gate post"
position = [2, 2]
[neighbours.east]
name = "East"
day = "50 dBA"
line = [[60, 0], [60, 20]]
[loudspeakers.L1]
model = "stake-110-wide"
position = [12, 0]
tap = "10 W"
line = "A"
[lines.A]
channel = "C1"
cable = "burial-2x14awg"
[lines.A.runs]
a1 = { from = "R1", to = "L1" }
[visits.V]
date = "2026-05-04"
kind = "handover"
[visits.V.readings.r0]
line = "A"
dc = "4.1 ohm"
"#;

fn opened() -> Arc<OpenJob> {
    let jobs = Jobs::new(Arc::new(SqliteStore::in_memory().unwrap()));
    let id = jobs.create(JOB, &[], &[]).unwrap_or_else(|e| panic!("{:?}", e.problem));
    jobs.open(&id).unwrap()
}

fn edit(operations: Value) -> Edit {
    serde_json::from_value(operations).unwrap()
}

/// Somebody edits on what they see.
fn edits(job: &OpenJob, who: &str, note: &str, patch: Edit) -> Result<u64, ApiError> {
    let base_revision = job.now().revision;
    let edit_id = format!("edit-{base_revision:08}");
    let request = EditRequest {
        edit_id,
        base_revision,
        measured_revision: None,
        patch,
        who: who.into(),
        note: note.into(),
        made_at: None,
    };
    job.edit(request).map(|done| done.revision)
}

fn undoes(job: &OpenJob, who: &str) -> Result<Applied, ApiError> {
    job.undo(UndoRequest { edit_id: None, who: who.into() })
}

/// What somebody does at one place of the job.
#[derive(Debug, Clone)]
enum Deed {
    Move(u8, u8),
    Put(u8, u8),
    Out(u8),
    Corner(u8),
    Name(u8),
    Reading,
    Undo,
    Redo,
}

impl Deed {
    /// The edit and, by hand, the place it is at; lists are one place. None for a step back or forth.
    fn edit(&self, number: usize) -> Option<(Edit, String)> {
        let (operation, place) = match self {
            Self::Move(mark, x) => {
                let place = format!("/marks/M{mark}/position");
                (json!({ "op": "replace", "path": place, "value": [x, 3] }), place)
            }
            Self::Put(mark, x) => {
                let place = format!("/marks/M{mark}");
                let value = json!({ "name": format!("Stake {x}"), "position": [x, 4] });
                (json!({ "op": "add", "path": place, "value": value }), place)
            }
            Self::Out(mark) => {
                let place = format!("/marks/M{mark}");
                (json!({ "op": "remove", "path": place }), place)
            }
            Self::Corner(y) => {
                let place = "/neighbours/east/line".to_owned();
                (
                    json!({ "op": "add", "path": format!("{place}/-"), "value": [61, 21 + u32::from(*y)] }),
                    place,
                )
            }
            Self::Name(n) => (
                json!({ "op": "replace", "path": "/job/name", "value": format!("Name {n}") }),
                "/job/name".into(),
            ),
            Self::Reading => {
                let place = format!("/visits/V/readings/n{number}");
                (json!({ "op": "add", "path": place, "value": { "line": "A", "dc": "4.2 ohm" } }), place)
            }
            Self::Undo | Self::Redo => return None,
        };
        Some((edit(json!([operation])), place))
    }
}

fn deeds() -> impl Strategy<Value = Vec<(bool, Deed)>> {
    let deed = prop_oneof![
        3 => (1u8..5, 0u8..40).prop_map(|(mark, x)| Deed::Move(mark, x)),
        2 => (1u8..5, 0u8..40).prop_map(|(mark, x)| Deed::Put(mark, x)),
        1 => (1u8..5).prop_map(Deed::Out),
        1 => (0u8..40).prop_map(Deed::Corner),
        1 => (0u8..40).prop_map(Deed::Name),
        1 => Just(Deed::Reading),
        5 => Just(Deed::Undo),
        2 => Just(Deed::Redo),
    ];
    prop::collection::vec((any::<bool>(), deed), 1..24)
}

/// An edit that counts, as the second way of computing keeps it.
#[derive(Debug, Clone)]
struct Counts {
    who: &'static str,
    edit: Edit,
    place: String,
}

impl Counts {
    fn is_entry(&self) -> bool {
        self.place.starts_with("/visits")
    }

    fn meets(&self, place: &str) -> bool {
        let within = |inner: &str, outer: &str| {
            inner.strip_prefix(outer).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
        };
        within(&self.place, place) || within(place, &self.place)
    }
}

/// The second way: the edits that count, carried out one after the other on the job as it began.
struct Replayed {
    base: Value,
    counting: Vec<Counts>,
    undone: [Vec<Counts>; 2],
    /// Everything that was done, by whom and where, in order.
    log: Vec<(&'static str, String)>,
}

const PEOPLE: [&str; 2] = ["Ann", "Ben"];

impl Replayed {
    fn document(&self) -> Value {
        let mut document = self.base.clone();
        for one in &self.counting {
            one.edit.apply(&mut document).unwrap();
        }
        document
    }

    /// Where somebody's own last edit stands.
    fn last_of(&self, who: &str) -> Option<usize> {
        self.counting.iter().rposition(|c| c.who == who && !c.is_entry())
    }

    /// Whether something after it is at the same place.
    fn is_built_upon(&self, at: usize) -> bool {
        self.counting[at + 1..].iter().any(|c| c.meets(&self.counting[at].place))
    }

    fn takes_in(&mut self, person: usize, edit: Edit, place: String) {
        let who = PEOPLE[person];
        let one = Counts { who, edit, place: place.clone() };
        if !one.is_entry() {
            self.undone[person].clear();
        }
        self.counting.push(one);
        self.log.push((who, place));
    }
}

/// One deed on the job and in the second way; they must agree on whether it is done.
fn does(job: &OpenJob, replayed: &mut Replayed, person: usize, number: usize, deed: &Deed) {
    let who = PEOPLE[person];
    match deed {
        Deed::Undo => {
            let last = replayed.last_of(who);
            match undoes(job, who) {
                Ok(_) => {
                    let last = last.unwrap();
                    assert!(!replayed.is_built_upon(last), "{:?}", replayed.counting);
                    let taken = replayed.counting.remove(last);
                    replayed.log.push((who, taken.place.clone()));
                    replayed.undone[person].push(taken);
                }
                Err(e) if e.problem.code == ErrorCode::NothingToDo => assert_eq!(last, None),
                Err(e) => {
                    assert_eq!(e.problem.code, ErrorCode::NeededLater, "{}", e.problem.message);
                    assert!(replayed.is_built_upon(last.unwrap()), "{}", e.problem.message);
                    assert!(e.problem.message.contains(PEOPLE[1 - person]), "{}", e.problem.message);
                }
            }
        }
        Deed::Redo => match job.redo(UndoRequest { edit_id: None, who: who.into() }) {
            Ok(_) => {
                let again = replayed.undone[person].pop().unwrap();
                replayed.log.push((who, again.place.clone()));
                replayed.counting.push(again);
            }
            Err(e) if e.problem.code == ErrorCode::NothingToDo => assert!(replayed.undone[person].is_empty()),
            Err(e) => {
                assert_eq!(e.problem.code, ErrorCode::NeededLater, "{}", e.problem.message);
                let wanted = replayed.undone[person].last().unwrap();
                let in_the_way = |(other, place): &(&str, String)| *other != who && wanted.meets(place);
                assert!(replayed.log.iter().any(in_the_way), "{}", e.problem.message);
            }
        },
        other => {
            let Some((patch, place)) = other.edit(number) else { return };
            if edits(job, who, "", patch.clone()).is_ok() {
                replayed.takes_in(person, patch, place);
            }
        }
    }
    assert_eq!(*job.now().file.raw(), replayed.document());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    /// Two people edit, undo and redo in any order. At every moment the job is what the edits that count give, carried out on
    /// the job as it began; so once one of them has undone everything, it is what the other's edits alone give. An undo is
    /// refused exactly where an edit of the other that still counts is at the same place.
    #[test]
    fn what_is_left_after_undoing_is_what_the_other_did(deeds in deeds()) {
        let job = opened();
        let mut replayed =
            Replayed { base: job.now().file.raw().clone(), counting: vec![], undone: [vec![], vec![]], log: vec![] };
        for (number, (first, deed)) in deeds.iter().enumerate() {
            does(&job, &mut replayed, usize::from(*first), number, deed);
        }
        // Each undoes as much as can be undone, in turns, until neither can.
        for _ in 0..deeds.len() {
            for person in [0, 1] {
                does(&job, &mut replayed, person, deeds.len(), &Deed::Undo);
            }
        }
        // Whoever did the newest edit that counts can undo it: nothing is left but what was entered on the visit.
        prop_assert!(replayed.counting.iter().all(Counts::is_entry), "{:?}", replayed.counting);
    }
}

#[test]
fn an_undo_that_cannot_be_says_who_did_what_to_which_thing() {
    let job = opened();
    let first = job.now().file.raw().clone();
    let amplifier =
        json!([{ "op": "add", "path": "/amplifiers/P2", "value": { "model": "line-4x280", "rack": "R1" } }]);
    edits(&job, "Ann", "Add amplifier P2", edit(amplifier)).unwrap();
    let channel =
        json!([{ "op": "add", "path": "/channels/C2", "value": { "amplifier": "P2", "output": 1 } }]);
    edits(&job, "Ben", "Add channel C2", edit(channel)).unwrap();
    let refused = undoes(&job, "Ann").unwrap_err().problem;
    assert_eq!(refused.code, ErrorCode::NeededLater, "{}", refused.message);
    assert_eq!(
        refused.message,
        "Cannot undo \"Add amplifier P2\": Ben changed C2 later (\"Add channel C2\"). Ask Ben to take that back first, or change C2 by hand."
    );
    // Somebody else has nothing to undo, whatever others did.
    assert_eq!(undoes(&job, "Cleo").unwrap_err().problem.code, ErrorCode::NothingToDo);
    undoes(&job, "Ben").unwrap();
    undoes(&job, "Ann").unwrap();
    assert_eq!(*job.now().file.raw(), first);
    // At the same place: the thing by its name.
    let moved = |x: u32| {
        edit(json!([{ "op": "replace", "path": "/neighbours/east/line", "value": [[x, 0], [x, 9]] }]))
    };
    edits(&job, "Ann", "Move East", moved(70)).unwrap();
    edits(&job, "", "", moved(80)).unwrap();
    let told = undoes(&job, "Ann").unwrap_err().problem.message.clone();
    assert!(told.contains("somebody changed East later. Ask somebody"), "{told}");
}

#[test]
fn going_back_is_an_edit_that_leaves_what_was_measured() {
    let job = opened();
    let first = job.now().file.raw().clone();
    edits(&job, "Ann", "", Deed::Move(1, 9).edit(0).unwrap().0).unwrap();
    edits(&job, "Ben", "", Deed::Reading.edit(1).unwrap().0).unwrap();
    edits(&job, "Ben", "", Deed::Out(2).edit(2).unwrap().0).unwrap();
    let wish = |revision: u64, base_revision: u64, n: u32| GoBack {
        edit_id: format!("back-{n:08}"),
        base_revision,
        revision,
        who: "Ann".into(),
    };
    assert_eq!(job.go_back(wish(0, 2, 1)).unwrap_err().problem.code, ErrorCode::Behind);
    assert_eq!(job.go_back(wish(3, 3, 2)).unwrap_err().problem.code, ErrorCode::Invalid);
    // To before Ben took the mark out: what differs is the mark alone.
    let done = job.go_back(wish(2, 3, 3)).unwrap();
    assert_eq!(done.patch.operations.len(), 1, "{:?}", done.patch);
    assert_eq!(job.go_back(wish(2, 3, 3)).unwrap(), done, "sent twice, it is done once");
    let done = job.go_back(wish(0, 4, 4)).unwrap();
    let now = job.now();
    assert_eq!(now.file.raw()["visits"]["V"]["readings"].as_object().map(serde_json::Map::len), Some(2));
    assert_eq!(now.file.raw()["marks"], first["marks"]);
    let keys = |v: &Value| v["marks"].as_object().map(|m| m.keys().cloned().collect::<Vec<_>>());
    assert_eq!(keys(now.file.raw()), keys(&first), "in the order they had");
    // But for the reading it is the job as it began.
    let told = job.go_back(wish(0, 5, 5)).unwrap_err().problem;
    assert_eq!(told.code, ErrorCode::NothingToDo, "{}", told.message);
    // It is Ann's own edit.
    assert_eq!(job.undo_and_redo("Ann").unwrap().0.map(|e| e.revision), Some(done.revision));
    undoes(&job, "Ann").unwrap();
    assert_eq!(job.now().file.raw()["marks"]["M1"]["position"], json!([9, 3]));
}
