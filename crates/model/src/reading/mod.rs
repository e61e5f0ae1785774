//! Reading a document into types that cannot be wrong.
//!
//! A file becomes a neutral tree ([`Node`]) that remembers where each key and value stands. A record is declared once, with
//! the `record!` macro, as a list of fields, each with its key and a [`Codec`] that says what it accepts; from
//! that one declaration come the Rust type, the reader that reports every problem of the file in one go, the
//! "did you mean" for misspelt keys, and the published JSON Schema.

pub(crate) mod codec;
mod contract;
mod defaults;
pub(crate) mod field;
pub(crate) mod node;
pub(crate) mod problem;
#[macro_use]
pub(crate) mod record;
mod shared;

pub(crate) use contract::SchemaDefault;
pub use contract::{Choice, Definitions, Field, Record};
pub use node::{DocumentPlace, Node, NodeValue};
pub use problem::{Problem, ProblemKind};
pub(crate) use problem::{did_you_mean, enough, kind_told, short};
