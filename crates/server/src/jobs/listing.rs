//! What the list of jobs shows of a job, and what is said where there is none.

use crate::error::ApiError;
use crate::store::JobListing;
use loamline_model::{Choice as _, JobDocument};
use loamline_terms::{Sentence, say};

/// What the list shows of a job that is as it is now, RFC 3339.
pub fn as_listed<'a>(document: &'a JobDocument, at: &'a str) -> JobListing<'a> {
    let about = &document.about;
    JobListing {
        name: &about.name,
        summary: &about.summary,
        at,
        status: about.status.map_or("", |s| s.word()),
        client: &document.client.name,
    }
}

/// That there is no job of an id.
pub fn no_such_job(id: &str) -> ApiError {
    ApiError::not_found(say!("job \"{id}\"", id = id))
}

/// That this program cannot read a job as it is kept.
pub fn unreadable() -> Sentence {
    say!("The stored job cannot be read by this version of the program.")
}
