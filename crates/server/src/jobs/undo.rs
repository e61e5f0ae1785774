//! What can be undone and redone, worked out from the log alone, so that it survives a restart.

use crate::store::Kind;

/// Revisions of the entries that can be undone and redone, the next one last.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct UndoStacks {
    undo: Vec<u64>,
    redo: Vec<u64>,
}

impl UndoStacks {
    /// From the log, oldest first.
    pub fn of(log: impl IntoIterator<Item = (u64, Kind)>) -> Self {
        let mut stacks = Self::default();
        for (revision, kind) in log {
            stacks.push(revision, kind);
        }
        stacks
    }

    /// Takes in one more entry of the log.
    pub fn push(&mut self, revision: u64, kind: Kind) {
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
        }
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

    #[test]
    fn undoing_and_redoing_walk_back_and_forth_and_an_edit_ends_redoing() {
        let mut s =
            UndoStacks::of([(1, Kind::Edit), (2, Kind::Edit), (3, Kind::Undo(2)), (4, Kind::Undo(1))]);
        assert_eq!((s.next_undo(), s.next_redo()), (None, Some(1)));
        s.push(5, Kind::Redo(1));
        assert_eq!((s.next_undo(), s.next_redo()), (Some(5), Some(2)));
        s.push(6, Kind::Redo(2));
        s.push(7, Kind::Undo(6));
        assert_eq!((s.next_undo(), s.next_redo()), (Some(5), Some(6)));
        s.push(8, Kind::Edit);
        assert_eq!((s.next_undo(), s.next_redo()), (Some(8), None));
    }
}
