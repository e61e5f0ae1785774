//! What each person can undo and redo, worked out from the log alone, so that it survives a restart. Entries of visits are left
//! out: see [`super::spared`].
//!
//! Undoing is personal: everybody takes back their own edits, the last one first, and nobody another's. Whether anything that
//! was done later stands in the way is a question of its own: see [`super::later`].

use super::spared::visits_only;
use crate::store::Kind;
use loamline_model::Edit;
use std::collections::BTreeMap;

/// What whoever gave no name is called: all of them share what they can undo.
const NOBODY: &str = "somebody";

/// The name by which edits are somebody's own.
pub fn own_name(who: &str) -> &str {
    let who = who.trim();
    if who.is_empty() { NOBODY } else { who }
}

/// What was undone and can be done again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Undone {
    /// Revision of the entry that was undone.
    pub of: u64,
    /// Revision of the entry that undid it.
    pub at: u64,
}

/// One person's entries that can be undone and redone, the next one last.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct Stacks {
    undo: Vec<u64>,
    redo: Vec<Undone>,
}

/// Entries that can be undone and redone, by whose they are.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct UndoStacks {
    people: BTreeMap<String, Stacks>,
}

impl UndoStacks {
    /// Takes in one more entry of the log.
    pub fn push(&mut self, revision: u64, kind: Kind, patch: &Edit, who: &str) {
        if kind != Kind::Unreadable && visits_only(patch) {
            return;
        }
        match kind {
            Kind::Edit => {
                let own = self.own(who);
                own.undo.push(revision);
                own.redo.clear();
            }
            Kind::Undo(of) => {
                self.people.values_mut().for_each(|s| s.undo.retain(|r| *r != of));
                self.own(who).redo.push(Undone { of, at: revision });
            }
            Kind::Redo(of) => {
                self.people.values_mut().for_each(|s| s.redo.retain(|u| u.of != of));
                self.own(who).undo.push(revision);
            }
            Kind::Unreadable => self.forget(),
        }
    }

    fn own(&mut self, who: &str) -> &mut Stacks {
        self.people.entry(own_name(who).to_owned()).or_default()
    }

    /// What was done so far cannot be undone any more: what came after it is not known.
    pub fn forget(&mut self) {
        *self = Self::default();
    }

    /// The entry that undoing undoes for somebody.
    pub fn next_undo(&self, who: &str) -> Option<u64> {
        self.people.get(own_name(who))?.undo.last().copied()
    }

    /// The entry that redoing does again for somebody.
    pub fn next_redo(&self, who: &str) -> Option<Undone> {
        self.people.get(own_name(who))?.redo.last().copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::Operation;

    /// From a log of one person, oldest first.
    fn of(log: impl IntoIterator<Item = (u64, Kind, Edit)>) -> UndoStacks {
        let mut stacks = UndoStacks::default();
        for (revision, kind, patch) in log {
            stacks.push(revision, kind, &patch, "Ann");
        }
        stacks
    }

    fn at(path: &str) -> Edit {
        Edit::new([Operation::Remove { path: path.into() }])
    }

    /// Ann's next ones.
    fn next(s: &UndoStacks) -> (Option<u64>, Option<u64>) {
        (s.next_undo("Ann"), s.next_redo("Ann").map(|u| u.of))
    }

    #[test]
    fn an_entry_of_a_visit_neither_is_undone_nor_ends_redoing() {
        let mut s = of([(1, Kind::Edit, at("/areas/a")), (2, Kind::Edit, at("/areas/b"))]);
        s.push(3, Kind::Edit, &at("/visits/v/readings/r"), "Ann");
        assert_eq!(next(&s), (Some(2), None));
        s.push(4, Kind::Undo(2), &at("/areas/b"), "Ann");
        s.push(5, Kind::Edit, &at("/visits/v/readings/s"), "Ann");
        assert_eq!(next(&s), (Some(1), Some(2)));
        assert_eq!(s.next_redo("Ann"), Some(Undone { of: 2, at: 4 }));
    }

    #[test]
    fn undoing_and_redoing_walk_back_and_forth_and_an_edit_ends_redoing() {
        let kinds = [Kind::Edit, Kind::Edit, Kind::Undo(2), Kind::Undo(1)];
        let mut s = of((1..).zip(kinds).map(|(r, k)| (r, k, at("/areas/a"))));
        assert_eq!(next(&s), (None, Some(1)));
        s.push(5, Kind::Redo(1), &at("/areas/a"), "Ann");
        assert_eq!(next(&s), (Some(5), Some(2)));
        s.push(6, Kind::Redo(2), &at("/areas/a"), "Ann");
        s.push(7, Kind::Undo(6), &at("/areas/a"), "Ann");
        assert_eq!(next(&s), (Some(5), Some(6)));
        s.push(8, Kind::Edit, &at("/areas/a"), "Ann");
        assert_eq!(next(&s), (Some(8), None));
    }

    #[test]
    fn everybody_has_their_own_and_whoever_gave_no_name_shares() {
        let mut s = of([(1, Kind::Edit, at("/areas/a")), (2, Kind::Edit, at("/areas/b"))]);
        s.push(3, Kind::Edit, &at("/areas/c"), "Ben ");
        s.push(4, Kind::Undo(2), &at("/areas/b"), "Ann");
        s.push(5, Kind::Edit, &at("/areas/d"), "Ben");
        assert_eq!(next(&s), (Some(1), Some(2)), "another's edit does not end redoing");
        assert_eq!((s.next_undo("Ben"), s.next_undo("Cleo")), (Some(5), None));
        s.push(6, Kind::Edit, &at("/areas/e"), "");
        assert_eq!(s.next_undo("somebody"), Some(6));
        // A log of before undoing was personal: Ben undid what was Ann's, and it is his to do again.
        s.push(7, Kind::Undo(1), &at("/areas/a"), "Ben");
        assert_eq!((s.next_undo("Ann"), s.next_redo("Ben")), (None, Some(Undone { of: 1, at: 7 })));
    }

    #[test]
    fn what_came_before_an_entry_that_cannot_be_read_is_not_undone() {
        let mut s = of([(1, Kind::Edit, at("/areas/a")), (2, Kind::Edit, at("/areas/b"))]);
        s.push(3, Kind::Unreadable, &Edit::default(), "");
        assert_eq!(next(&s), (None, None));
        s.push(4, Kind::Edit, &at("/areas/c"), "Ann");
        s.push(5, Kind::Undo(4), &at("/areas/c"), "Ann");
        assert_eq!(next(&s), (None, Some(4)));
    }
}
