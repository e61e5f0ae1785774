//! Edits: JSON Patch (RFC 6902) on a job as it was typed, checked before they take effect, each with its inverse.
//!
//! [`JobFile`] is the one place where a job changes. The document is kept as people typed it ("12 ft 6 in" stays
//! that), an edit is tried on a copy, the copy is read and checked like any file, and only then takes its place;
//! the text of the file follows with comments and order kept.
//!
//! Nothing measured is lost by an edit: `preserve_measured` puts behind one that replaces or removes a measured line, or a part of it
//! that was measured at, the line as it was; `preserve_late` does it for what comes in afterwards.

mod between;
mod catalogue_file;
mod conflict;
mod file;
mod meter;
#[cfg(test)]
mod one_line;
mod patch;
mod preserve_late;
mod preserve_measured;
mod raw;
#[cfg(feature = "schema")]
mod shape;
mod take_out;
mod write_back;

pub use catalogue_file::{entries, with_entry};
pub use conflict::{conflicting_place, conflicts, place_built_upon};
pub use file::{EditError, JobFile, SaveError};
pub use patch::{Edit, Operation, PatchError};
pub use preserve_late::Past;
#[cfg(feature = "schema")]
pub use shape::{PatchOperation, PatchWord};
pub use take_out::TakenOut;
