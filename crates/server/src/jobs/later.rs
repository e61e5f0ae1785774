//! What was done since an edit and stands in the way of taking it back.
//!
//! An edit can be taken back when taking it back commutes with everything later that still stands
//! ([`loamline_model::place_built_upon`]). An edit that was itself undone since leaves nothing, and neither does an undoing that
//! was done again since. Entries of visits are left out: undoing spares them ([`super::spared`]).

use super::spared::visits_only;
use crate::store::{Entry, Kind};
use loamline_model::{Edit, place_built_upon};
use serde_json::Value;

/// Later entries that an edit meets.
pub struct Later<'a> {
    back: &'a Edit,
    now: &'a Value,
    standing: Vec<Entry>,
}

impl<'a> Later<'a> {
    /// Nothing so far of what meets `back`, which takes something back in the document `now`.
    pub fn new(back: &'a Edit, now: &'a Value) -> Self {
        Self { back, now, standing: Vec::new() }
    }

    /// Takes in the next entry of the log.
    pub fn take(&mut self, entry: Entry) {
        match entry.kind {
            Kind::Undo(of) => self.against(|e| e.revision == of, entry),
            Kind::Redo(of) => self.against(|e| e.kind == Kind::Undo(of), entry),
            Kind::Edit | Kind::Unreadable => self.stands(entry),
        }
    }

    /// What it takes back is as if it had never been; where that is of before, it stands itself.
    fn against(&mut self, is: impl Fn(&Entry) -> bool, entry: Entry) {
        match self.standing.iter().rposition(is) {
            Some(place) => drop(self.standing.remove(place)),
            None => self.stands(entry),
        }
    }

    fn stands(&mut self, entry: Entry) {
        if !visits_only(&entry.patch) && place_built_upon(self.back, &entry.patch, self.now).is_some() {
            self.standing.push(entry);
        }
    }

    /// The newest that stands in the way, with the place where.
    pub fn newest(mut self) -> Option<(Entry, String)> {
        let entry = self.standing.pop()?;
        let place = place_built_upon(&entry.patch, self.back, self.now)?;
        Some((entry, place))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::Operation;
    use serde_json::json;

    fn entry(revision: u64, kind: Kind, path: &str) -> Entry {
        Entry {
            revision,
            edit_id: String::new(),
            kind,
            who: format!("who made {revision}"),
            at: String::new(),
            made_at: None,
            note: String::new(),
            patch: Edit::new([Operation::Replace { path: path.into(), value: json!(1) }]),
            inverse: Edit::default(),
        }
    }

    /// Revision of the newest of these that stands against taking back what was done at `/a/x`.
    fn newest(log: &[(u64, Kind, &str)]) -> Option<u64> {
        let (back, now) = (entry(1, Kind::Edit, "/a/x").patch, json!({ "a": { "x": 0 } }));
        let mut later = Later::new(&back, &now);
        log.iter().for_each(|(revision, kind, path)| later.take(entry(*revision, *kind, path)));
        later.newest().map(|(e, _)| e.revision)
    }

    #[test]
    fn only_what_meets_it_and_still_stands_is_in_the_way() {
        let edit = Kind::Edit;
        assert_eq!(newest(&[(2, edit, "/a/y"), (3, edit, "/b"), (4, edit, "/visits/v/readings/r")]), None);
        assert_eq!(newest(&[(2, edit, "/a/x/deep"), (3, edit, "/b")]), Some(2));
        assert_eq!(newest(&[(2, edit, "/a"), (3, Kind::Undo(2), "/a")]), None);
        let again = [(2, edit, "/a"), (3, Kind::Undo(2), "/a"), (4, Kind::Redo(2), "/a")];
        assert_eq!(newest(&again), Some(4), "done again, it stands");
        // Of before: its undoing stands, until it is done again.
        assert_eq!(newest(&[(5, Kind::Undo(0), "/a/x")]), Some(5));
        assert_eq!(newest(&[(5, Kind::Undo(0), "/a/x"), (6, Kind::Redo(0), "/a/x")]), None);
        let twice = [(5, Kind::Undo(0), "/a/x"), (6, Kind::Redo(0), "/a/x"), (7, Kind::Undo(6), "/a/x")];
        assert_eq!(newest(&twice), Some(7));
    }
}
