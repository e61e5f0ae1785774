//! The job document: types, units, catalogue, validation and edits.
