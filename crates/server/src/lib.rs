#![doc = include_str!("../README.md")]
//!
//! [`serve`] is the whole of it; [`application`] is the same without listening. [`openapi`] describes the interface.
//! Edits reach the disk before they are acknowledged. Work that takes long runs off the threads that serve.

mod accepted;
mod access;
mod api;
mod app;
mod background;
mod checked;
#[cfg(feature = "papers")]
mod client;
mod clock;
mod connections;
mod data_folder;
mod error;
mod error_code;
mod firm;
mod follow;
mod give_way;
mod guard;
mod jobs;
mod live;
mod made_papers;
mod metrics;
mod moving;
mod operations;
mod presence;
mod problem;
mod proposal_runs;
mod proposed;
mod proposing;
mod queue;
mod random;
mod rechecking;
mod rounds;
mod serve;
mod serve_error;
mod share;
mod sign_in;
mod stopping;
mod store;
mod tasks_told;
mod told;
mod trusted;
mod web;
mod without_prices;
mod work;
mod worker;

pub use background::background_work_under_way;
pub use data_folder::{back_up, file_in, put_back, store_in};
pub use error::{ApiError, Conflict, ErrorBody, FieldProblem, Problem};
pub use guard::Door;
pub use jobs::{
    Applied, Damage, EditRequest, Event, Folder, GoBack, Jobs, OpenJob, Snapshot, UndoRequest,
    export as export_folder, import as import_folder, zipped as zip_files,
};
pub use moving::{Moved, Place, Thing, move_all};
pub use serve::{Ready, ServeOptions, Shared, SignInOptions, application, serve};
pub use serve_error::ServeError;
pub use store::{
    Acceptance, AttachmentRow, Backup, Begun, ClientLink, DeletedJob, Device, Doing, Entry, FirmFile, Hand,
    Heard, Identity, JobListing, JobRow, Kind, NewJob, NewTask, Others, Outcome, Passkey, People, Person,
    PostgresStore, Role, SignIns, SqliteStore, Store, StoreError, StoredJob, Task, TaskKind, Tasks, Token,
    sum_of,
};
pub use work::{WorkOptions, work};

/// OpenAPI of the interface, as JSON.
///
/// # Errors
/// Never in practice: the description is plain data.
pub fn openapi() -> Result<String, serde_json::Error> {
    let (_, description) = api::routes();
    description.to_pretty_json()
}
