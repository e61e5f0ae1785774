//! What can be undone and redone, worked out from the log alone, so that it survives a restart. Entries of visits are left
//! out: see [`super::spared`].

use super::spared::visits_only;
use crate::store::Kind;
use loamline_model::Edit;

/// Revisions of the entries that can be undone and redone, the next one last.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct UndoStacks {
    undo: Vec<u64>,
    redo: Vec<u64>,
}

impl UndoStacks {
    /// Takes in one more entry of the log.
    pub fn push(&mut self, revision: u64, kind: Kind, patch: &Edit) {
        if kind != Kind::Unreadable && visits_only(patch) {
            return;
        }
        match kind {
            Kind::Edit => {
                self.undo.push(revision);
                self.redo.clear();
            }
            Kind::Undo(of) => {
                self.undo.retain(|r| *r != of);
                self.redo.push(of);
            }
            Kind::Redo(of) => {
                self.redo.retain(|r| *r != of);
                self.undo.push(revision);
            }
            Kind::Unreadable => self.forget(),
        }
    }

    /// What was done so far cannot be undone any more: what came after it is not known.
    pub fn forget(&mut self) {
        *self = Self::default();
    }

    /// The entry that undoing undoes.
    pub fn next_undo(&self) -> Option<u64> {
        self.undo.last().copied()
    }

    /// The entry that redoing does again.
    pub fn next_redo(&self) -> Option<u64> {
        self.redo.last().copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::Operation;

    /// From a log, oldest first.
    fn of(log: impl IntoIterator<Item = (u64, Kind, Edit)>) -> UndoStacks {
        let mut stacks = UndoStacks::default();
        for (revision, kind, patch) in log {
            stacks.push(revision, kind, &patch);
        }
        stacks
    }

    fn at(path: &str) -> Edit {
        Edit::new([Operation::Remove { path: path.into() }])
    }

    #[test]
    fn an_entry_of_a_visit_neither_is_undone_nor_ends_redoing() {
        let mut s = of([(1, Kind::Edit, at("/areas/a")), (2, Kind::Edit, at("/areas/b"))]);
        s.push(3, Kind::Edit, &at("/visits/v/readings/r"));
        assert_eq!(s.next_undo(), Some(2));
        s.push(4, Kind::Undo(2), &at("/areas/b"));
        s.push(5, Kind::Edit, &at("/visits/v/readings/s"));
        assert_eq!((s.next_undo(), s.next_redo()), (Some(1), Some(2)));
    }

    #[test]
    fn undoing_and_redoing_walk_back_and_forth_and_an_edit_ends_redoing() {
        let kinds = [Kind::Edit, Kind::Edit, Kind::Undo(2), Kind::Undo(1)];
        let mut s = of((1..).zip(kinds).map(|(r, k)| (r, k, at("/areas/a"))));
        assert_eq!((s.next_undo(), s.next_redo()), (None, Some(1)));
        s.push(5, Kind::Redo(1), &at("/areas/a"));
        assert_eq!((s.next_undo(), s.next_redo()), (Some(5), Some(2)));
        s.push(6, Kind::Redo(2), &at("/areas/a"));
        s.push(7, Kind::Undo(6), &at("/areas/a"));
        assert_eq!((s.next_undo(), s.next_redo()), (Some(5), Some(6)));
        s.push(8, Kind::Edit, &at("/areas/a"));
        assert_eq!((s.next_undo(), s.next_redo()), (Some(8), None));
    }

    #[test]
    fn what_came_before_an_entry_that_cannot_be_read_is_not_undone() {
        let mut s = of([(1, Kind::Edit, at("/areas/a")), (2, Kind::Edit, at("/areas/b"))]);
        s.push(3, Kind::Unreadable, &Edit::default());
        assert_eq!((s.next_undo(), s.next_redo()), (None, None));
        s.push(4, Kind::Edit, &at("/areas/c"));
        s.push(5, Kind::Undo(4), &at("/areas/c"));
        assert_eq!((s.next_undo(), s.next_redo()), (None, Some(4)));
    }
}
