#![doc = include_str!("../README.md")]
//!
//! [`serve`] is the whole of it; [`application`] is the same without listening. [`openapi`] describes the interface.
//! Edits reach the disk before they are acknowledged. Work that takes long runs off the threads that serve.

mod access;
mod api;
mod app;
mod background;
#[cfg(feature = "papers")]
mod client;
mod clock;
mod connections;
mod error;
mod error_code;
mod firm;
mod give_way;
mod guard;
mod jobs;
mod live;
mod made_papers;
mod proposal_runs;
mod queue;
mod random;
mod rounds;
mod serve;
mod share;
mod store;
mod told;
mod web;
mod without_prices;

pub use background::background_work_under_way;
pub use error::{ApiError, Conflict, ErrorBody, FieldProblem, Problem};
pub use guard::Door;
pub use jobs::{
    Applied, Damage, EditRequest, Event, Folder, GoBack, Jobs, OpenJob, Snapshot, UndoRequest,
    export as export_folder, import as import_folder, zipped as zip_files,
};
pub use serve::{Ready, ServeError, ServeOptions, Shared, application, serve, store_in};
pub use store::{
    Acceptance, AttachmentRow, ClientLink, DeletedJob, Device, Doing, Entry, FirmFile, JobListing, JobRow,
    Kind, People, Role, SqliteStore, Store, StoreError, StoredJob, Token,
};

/// OpenAPI of the interface, as JSON.
///
/// # Errors
/// Never in practice: the description is plain data.
pub fn openapi() -> Result<String, serde_json::Error> {
    let (_, description) = api::routes();
    description.to_pretty_json()
}
