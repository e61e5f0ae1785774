//! Job folders out and in, as one zip file.

use super::extract::{Asked, In, Raw, of_type};
use super::jobs::Made;
use super::queues::TicketQuery;
use crate::app::App;
use crate::background::Work;
use crate::error::{ApiError, ErrorBody};
use crate::give_way::aside;
use crate::jobs::{Folder, Jobs, export, import, no_such_job, zipped};
use crate::store::{AttachmentRow, StoreError};
use axum::Json;
use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::http::{HeaderMap, StatusCode};
use axum::response::IntoResponse;
use loamline_limits::{ZIP_BYTES, go_on};
use loamline_model::JobFile;
use loamline_terms::Sentence;
use std::sync::Arc;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(export_job))
}

pub fn import_routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(import_job)).layer(DefaultBodyLimit::max(ZIP_BYTES.most()))
}

/// The job's folder as a zip file. Of a damaged job it holds whatever can be read, and `damaged/` says what is lost.
#[utoipa::path(get, path = "/api/jobs/{id}/export", tag = "Jobs",
    params(("id" = String, Path, description = "The job"), TicketQuery),
    responses((status = 200, description = "A zip file", content_type = "application/zip", body = String),
        (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn export_job(
    State(app): State<App>,
    In(id): In<String>,
    Asked(query): Asked<TicketQuery>,
) -> Result<impl IntoResponse, ApiError> {
    let jobs = Arc::clone(&app.jobs);
    let packed = app.background.run_named(Work::Folders, query.name(), move || packed(&jobs, &id));
    let (name, bytes) = packed.await?;
    let disposition = format!("attachment; filename=\"{name}.zip\"");
    Ok(([(CONTENT_TYPE, "application/zip".to_owned()), (CONTENT_DISPOSITION, disposition)], bytes))
}

/// A job's folder under the name of its file, also of a job that cannot be opened any more.
fn packed(jobs: &Jobs, id: &str) -> Result<(String, Vec<u8>), ApiError> {
    let opened = jobs.open(id);
    if let Err(none) = &opened
        && none.status == StatusCode::NOT_FOUND
    {
        return Err(none.clone());
    }
    // After it was opened: what is put right then is written back.
    let stored = match (jobs.store().job(id), &opened) {
        (Ok(found), _) => found.ok_or_else(|| no_such_job(id))?,
        (Err(why), Ok(job)) => return from_memory(&job.now().file, &why),
        (Err(why), Err(_)) => return Err(why.into()),
    };
    let (attachments, missing) = attachments(jobs, id)?;
    let (name, text, mut lost) = match opened {
        Ok(job) => {
            let (now, damage) = (job.now(), job.damage().clone());
            (
                now.file.job().document().about.name.clone(),
                now.file.text().to_owned(),
                in_english(&damage.told),
            )
        }
        Err(why) => {
            let listed = jobs.list()?.into_iter().find(|row| row.id == id);
            let mut told = vec![why.problem.message.to_string()];
            told.extend(why.problem.problems.iter().map(|p| p.message.to_string()));
            (listed.map(|row| row.name).unwrap_or_default(), stored.text.clone(), told)
        }
    };
    lost.extend(missing);
    let folder = Folder { text, catalogue: stored.catalogue, attachments, left_out: Vec::new() };
    let bytes =
        if lost.is_empty() { export(&folder)? } else { with_what_is_lost(&folder, &stored.text, &lost)? };
    Ok((file_name(&name), bytes))
}

/// Sentences as a file that goes out has them.
fn in_english(sentences: &[Sentence]) -> Vec<String> {
    sentences.iter().map(ToString::to_string).collect()
}

/// An open job whose store cannot be read any more: what is known of it here.
fn from_memory(file: &JobFile, why: &StoreError) -> Result<(String, Vec<u8>), ApiError> {
    let text = file.text().to_owned();
    let folder = Folder { text, catalogue: Vec::new(), attachments: Vec::new(), left_out: Vec::new() };
    let lost = format!("Its own catalogue files, plans and photos are left out: {why}.");
    let bytes = with_what_is_lost(&folder, file.text(), &[lost])?;
    Ok((file_name(&file.job().document().about.name), bytes))
}

/// Files kept with a job, and a sentence for each that is damaged.
type Kept = (Vec<(AttachmentRow, Vec<u8>)>, Vec<String>);

fn attachments(jobs: &Jobs, id: &str) -> Result<Kept, ApiError> {
    let (mut kept, mut missing) = (Vec::new(), Vec::new());
    let rows = match jobs.store().attachments(id) {
        Ok(rows) => rows,
        Err(StoreError::Refused(why) | StoreError::Damaged(why)) => {
            return Ok((kept, vec![format!("Plans and photos are left out: {why}.")]));
        }
        Err(e) => return Err(e.into()),
    };
    for row in rows {
        go_on();
        match jobs.store().attachment(id, &row.name) {
            Ok(found) => kept.extend(found),
            Err(StoreError::Refused(why) | StoreError::Damaged(why)) => {
                missing.push(format!("The plan or photo {} is left out: {why}.", row.name));
            }
            Err(e) => return Err(e.into()),
        }
    }
    Ok((kept, missing))
}

/// A damaged job's folder, with what is lost of it in words and its text as it is kept where that is another.
fn with_what_is_lost(folder: &Folder, kept: &str, lost: &[String]) -> Result<Vec<u8>, ApiError> {
    let told = lost.join("\n\n") + "\n";
    let mut files: Vec<(String, &[u8])> = vec![("job.toml".to_owned(), folder.text.as_bytes())];
    files.extend(folder.catalogue.iter().map(|(name, t)| (format!("catalogue/{name}"), t.as_bytes())));
    files.extend(folder.attachments.iter().map(|(r, b)| (format!("attachments/{}", r.name), b.as_slice())));
    files.push(("damaged/what-is-lost.txt".to_owned(), told.as_bytes()));
    if kept != folder.text {
        files.push(("damaged/job-as-kept.toml".to_owned(), kept.as_bytes()));
    }
    zipped(files.iter().map(|(name, bytes)| (name.as_str(), *bytes)))
}

/// A job's name as the name of a file: letters and digits, the rest as hyphens.
pub fn file_name(name: &str) -> String {
    let plain: String =
        name.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' }).collect();
    let parts: Vec<&str> = plain.split('-').filter(|p| !p.is_empty()).collect();
    if parts.is_empty() { "job".into() } else { parts.join("-") }
}

/// Takes in a job folder as a zip file.
#[utoipa::path(post, path = "/api/jobs/import", tag = "Jobs", params(TicketQuery),
    request_body(content = String, content_type = "application/zip"),
    responses((status = 201, body = Made), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn import_job(
    State(app): State<App>,
    headers: HeaderMap,
    Asked(query): Asked<TicketQuery>,
    Raw(bytes): Raw,
) -> Result<impl IntoResponse, ApiError> {
    of_type(&headers, &["application/zip"])?;
    let jobs = Arc::clone(&app.jobs);
    let made = app.background.run_named(Work::Folders, query.name(), move || take_in(&jobs, &bytes)).await?;
    Ok((StatusCode::CREATED, Json(made)))
}

fn take_in(jobs: &Jobs, bytes: &Bytes) -> Result<Made, ApiError> {
    let (folder, file) = aside(|| {
        let folder = import(bytes)?;
        let file = Jobs::checked(&folder.text, &folder.catalogue)?;
        Ok((folder, file))
    })?;
    let id = jobs.keep(&file, &folder.text, &folder.catalogue, &folder.attachments)?;
    Ok(Made { id, left_out: folder.left_out })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_called_like_the_job_in_plain_letters() {
        assert_eq!(file_name(r#"The "Old" \ Mill"#), "the-old-mill");
        assert_eq!(file_name("\u{fc}\u{fc}"), "job");
    }
}
