//! Equipment of a job's own: catalogue files brought in, models typed in, changed and taken out.

use super::extract::{Asked, Body, In};
use crate::app::App;
use crate::error::{ApiError, ErrorBody, FieldProblem, shown};
use crate::jobs::{CatalogueFiles, attachment_name};
use axum::Json;
use axum::extract::State;
use loamline_model::{ProblemKind, Report, catalogue_entries, with_entry};
use loamline_terms::{Sentence, all_of, pointer, say};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new()
        .routes(routes!(files))
        .routes(routes!(put_file, remove_file))
        .routes(routes!(put_model, remove_model))
}

/// The file that models typed in are kept in.
const TYPED_IN: &str = "own.toml";

/// Tables of the catalogue.
const TABLES: [&str; 5] = ["loudspeakers", "amplifiers", "cables", "connectors", "conduits"];

/// How many things that use a model are named.
const USES_NAMED: usize = 6;

/// A catalogue file of a job's own.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct OwnFileView {
    /// Its name.
    name: String,
    /// Its text.
    text: String,
    /// What is in it, table by table.
    entries: Vec<OwnEntries>,
}

/// What a catalogue file holds of a table.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct OwnEntries {
    /// The table: `loudspeakers`, `amplifiers`, `cables`, `connectors` or `conduits`.
    table: String,
    /// Ids in it.
    ids: Vec<String>,
}

/// A catalogue file to keep with a job.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewOwnFile {
    /// Its text: docs/schema/catalogue.schema.json.
    text: String,
    /// Who.
    #[serde(default)]
    #[schema(max_length = 80)]
    who: String,
}

/// A model to keep with a job.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewModel {
    /// Its entry, as a catalogue file has it.
    #[schema(value_type = Object)]
    entry: Value,
    /// Who.
    #[serde(default)]
    #[schema(max_length = 80)]
    who: String,
}

/// Who takes something out.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct WhoQuery {
    /// Who.
    #[serde(default)]
    who: String,
}

/// A job whose own equipment has changed.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct OwnChanged {
    /// Revision of the job after it.
    revision: u64,
}

/// The catalogue files of a job's own, in the order they are read: an entry of a later one counts before one of an earlier
/// one or of the shipped catalogue.
#[utoipa::path(get, path = "/api/jobs/{id}/catalogue/files", tag = "Jobs", operation_id = "own_files",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = [OwnFileView]), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn files(State(app): State<App>, In(id): In<String>) -> Result<Json<Vec<OwnFileView>>, ApiError> {
    let view = |(name, text): (String, String)| {
        let entries = catalogue_entries(&text).into_iter().map(|(table, ids)| OwnEntries { table, ids });
        OwnFileView { name, entries: entries.collect(), text }
    };
    app.job(id, move |job| Ok(Json(job.own_catalogue()?.into_iter().map(view).collect()))).await
}

/// Keeps a catalogue file with a job, in place of one of the same name. Nothing is kept that the job makes no sense with.
#[utoipa::path(put, path = "/api/jobs/{id}/catalogue/files/{name}", tag = "Jobs", request_body = NewOwnFile,
    params(("id" = String, Path, description = "The job"), ("name" = String, Path, description = "The file's name, with .toml at its end")),
    responses((status = 200, body = OwnChanged), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn put_file(
    State(app): State<App>,
    In((id, name)): In<(String, String)>,
    Body(new): Body<NewOwnFile>,
) -> Result<Json<OwnChanged>, ApiError> {
    let name = file_name(&name)?;
    let put = move |mut files: CatalogueFiles| {
        let text = new.text.clone();
        match files.iter_mut().find(|f| f.0 == name) {
            Some(file) => file.1 = text,
            None => files.push((name.clone(), text)),
        }
        Ok(files)
    };
    let refused = |r: &Report| {
        if is_of_the_files(r) {
            ApiError::report(say!("The file has problems; nothing was taken in."), r)
        } else {
            still_used(r)
        }
    };
    change(app, id, new.who, "Bring in equipment".to_owned(), put, refused).await
}

/// Takes a catalogue file of a job's own away, unless something of it is used.
#[utoipa::path(delete, path = "/api/jobs/{id}/catalogue/files/{name}", tag = "Jobs",
    params(("id" = String, Path, description = "The job"), ("name" = String, Path, description = "The file's name"), WhoQuery),
    responses((status = 200, body = OwnChanged), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn remove_file(
    State(app): State<App>,
    In((id, name)): In<(String, String)>,
    Asked(query): Asked<WhoQuery>,
) -> Result<Json<OwnChanged>, ApiError> {
    let take = move |mut files: CatalogueFiles| {
        let before = files.len();
        files.retain(|f| f.0 != name);
        if files.len() < before {
            return Ok(files);
        }
        Err(ApiError::not_found(say!("catalogue file \"{name}\" of this job", name = shown(&name))))
    };
    change(app, id, query.who, "Take out a catalogue file".to_owned(), take, still_used).await
}

/// Keeps a model with a job, in place of one of the same id. It counts before one of the shipped catalogue.
#[utoipa::path(put, path = "/api/jobs/{id}/catalogue/{table}/{model}", tag = "Jobs", request_body = NewModel,
    params(("id" = String, Path, description = "The job"),
        ("table" = String, Path, description = "loudspeakers, amplifiers, cables, connectors or conduits"),
        ("model" = String, Path, description = "The model's id")),
    responses((status = 200, body = OwnChanged), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn put_model(
    State(app): State<App>,
    In((id, table, model)): In<(String, String, String)>,
    Body(new): Body<NewModel>,
) -> Result<Json<OwnChanged>, ApiError> {
    let table = known_table(&table)?;
    let note = format!("Enter the model {}", shown(&model));
    let at = format!("/{table}/{}", pointer::escape(&model));
    let entry = new.entry;
    let put = move |files| with_model(files, table, &model, &entry);
    let refused = move |r: &Report| if is_of_the_files(r) { plainly(r, &at) } else { still_used(r) };
    change(app, id, new.who, note, put, refused).await
}

/// Takes a model of a job's own away, unless it is used and there is none of its id in the shipped catalogue.
#[utoipa::path(delete, path = "/api/jobs/{id}/catalogue/{table}/{model}", tag = "Jobs",
    params(("id" = String, Path, description = "The job"),
        ("table" = String, Path, description = "loudspeakers, amplifiers, cables, connectors or conduits"),
        ("model" = String, Path, description = "The model's id"), WhoQuery),
    responses((status = 200, body = OwnChanged), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn remove_model(
    State(app): State<App>,
    In((id, table, model)): In<(String, String, String)>,
    Asked(query): Asked<WhoQuery>,
) -> Result<Json<OwnChanged>, ApiError> {
    let table = known_table(&table)?;
    let note = format!("Take out the model {}", shown(&model));
    let take = move |files| without_model(files, table, &model);
    change(app, id, query.who, note, take, still_used).await
}

async fn change(
    app: App,
    id: String,
    who: String,
    note: String,
    put: impl Fn(CatalogueFiles) -> Result<CatalogueFiles, ApiError> + Send + 'static,
    refused: impl Fn(&Report) -> ApiError + Send + 'static,
) -> Result<Json<OwnChanged>, ApiError> {
    app.job(id, move |job| {
        let revision = job.change_catalogue(&who, &note, put, refused)?;
        Ok(Json(OwnChanged { revision }))
    })
    .await
}

fn known_table(table: &str) -> Result<&'static str, ApiError> {
    let known = TABLES.into_iter().find(|t| *t == table);
    known.ok_or_else(|| ApiError::not_found(say!("table \"{table}\" of the catalogue", table = shown(table))))
}

fn file_name(name: &str) -> Result<String, ApiError> {
    let name = attachment_name("name", name)?;
    if name.ends_with(".toml") {
        return Ok(name);
    }
    Err(ApiError::field("name", say!("A catalogue file is TOML, and its name ends so: speakers.toml.")))
}

fn holds(text: &str, table: &str, model: &str) -> bool {
    let all = catalogue_entries(text);
    all.iter().any(|(t, ids)| t == table && ids.iter().any(|id| id == model))
}

fn unwritable() -> ApiError {
    ApiError::field("/entry", say!("This cannot be written into the file the models are kept in."))
}

/// The files with a model in the last one that has it, else among those typed in.
fn with_model(
    mut files: CatalogueFiles,
    table: &str,
    model: &str,
    entry: &Value,
) -> Result<CatalogueFiles, ApiError> {
    let has_it = files.iter().rposition(|(_, text)| holds(text, table, model));
    let place = has_it.or_else(|| files.iter().position(|f| f.0 == TYPED_IN));
    let place = place.unwrap_or_else(|| {
        files.push((TYPED_IN.to_owned(), String::new()));
        files.len() - 1
    });
    let text = &mut files[place].1;
    *text = with_entry(text, table, model, Some(entry)).ok_or_else(unwritable)?;
    Ok(files)
}

/// The files without a model; one that is left without anything goes.
fn without_model(mut files: CatalogueFiles, table: &str, model: &str) -> Result<CatalogueFiles, ApiError> {
    let mut found = false;
    for (_, text) in files.iter_mut().filter(|(_, text)| holds(text, table, model)) {
        *text = with_entry(text, table, model, None).ok_or_else(unwritable)?;
        found = true;
    }
    files.retain(|(_, text)| !text.trim().is_empty());
    if found {
        return Ok(files);
    }
    Err(ApiError::not_found(say!("model \"{model}\" among those of this job's own", model = shown(model))))
}

/// What is wrong with a model as it was typed in: whoever typed it sees no file.
fn plainly(report: &Report, at: &str) -> ApiError {
    let problem = |p: &loamline_model::ReportEntry| FieldProblem {
        expected: p.problem.kind.expected(),
        suggestion: p.problem.hint.clone(),
        ..FieldProblem::new(p.pointer.strip_prefix(at).unwrap_or(&p.pointer), p.problem.kind.told())
    };
    ApiError::invalid(
        say!("The model has problems; nothing was kept."),
        report.problems.iter().map(problem).collect(),
    )
}

/// Whether it is the catalogue files that something is wrong with, and not the job beside them.
fn is_of_the_files(report: &Report) -> bool {
    report.problems.iter().all(|p| p.file.starts_with("catalogue"))
}

/// What in the job uses a model that is gone.
fn still_used(report: &Report) -> ApiError {
    let lost = |p: &&loamline_model::ReportEntry| matches!(p.problem.kind, ProblemKind::UnknownId { .. });
    let mut users: Vec<String> = Vec::new();
    for p in report.problems.iter().filter(lost) {
        let user = pointer::keys(&p.pointer).nth(1).unwrap_or_default().into_owned();
        if !users.contains(&user) {
            users.push(user);
        }
    }
    if users.is_empty() {
        return ApiError::report(
            say!("The job would make no sense without it; nothing was changed."),
            report,
        );
    }
    let others = users.len().saturating_sub(USES_NAMED) + report.more;
    users.truncate(USES_NAMED);
    let more = match others {
        0 => Sentence::default(),
        n => say!(" and {count} more", count = n.to_string()),
    };
    let told = say!(
        "It is used: {users}{more}. Give them another model first.",
        users = all_of(&users),
        more = more
    );
    ApiError::field("", told)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::Jobs;
    use crate::store::SqliteStore;
    use serde_json::json;
    use std::sync::Arc;

    fn conduit(price: f64) -> Value {
        json!({ "description": "25 mm", "inside_diameter": "19 mm", "price_per_m": price })
    }

    #[test]
    fn a_model_is_changed_where_it_stands_and_a_file_left_without_anything_goes() {
        let brought =
            vec![("pipes.toml".to_owned(), "# ours\n[conduits.c-32]\ndescription = \"32\"\n".to_owned())];
        let files = with_model(brought, "conduits", "c-25", &conduit(1.0)).unwrap();
        assert_eq!(files.len(), 2);
        assert!(holds(&files[1].1, "conduits", "c-25") && files[1].0 == TYPED_IN);
        let files = with_model(files, "conduits", "c-32", &conduit(2.0)).unwrap();
        assert!(files[0].1.starts_with("# ours") && files[0].1.contains("19 mm"), "{}", files[0].1);
        let files = without_model(files, "conduits", "c-25").unwrap();
        assert_eq!(files.iter().map(|f| f.0.as_str()).collect::<Vec<_>>(), ["pipes.toml"]);
        assert!(without_model(files, "conduits", "c-25").is_err());
    }

    #[test]
    fn a_model_that_is_used_stays_and_the_job_goes_on_at_a_new_revision() {
        let jobs = Jobs::new(Arc::new(SqliteStore::in_memory().unwrap()));
        let text = "format = 1\n[job]\nname = \"x\"\n[racks.R1]\nposition = [0, 0]\n";
        let id = jobs.create(text, &[], &[]).unwrap();
        let job = jobs.open(&id).unwrap();
        let shipped = loamline_model::shipped_catalogue().unwrap();
        let model = shipped.amplifiers.values().find(|a| a.power_8ohm_w.is_some()).unwrap();
        let entry = json!({ "description": "Ours", "channels": 2, "power_8ohm": "100 W",
            "maximum_voltage": model.maximum_v, "maximum_current": model.maximum_a, "idle": "10 W", "price": 10 });
        let revision = job
            .change_catalogue("Ann", "Enter", |f| with_model(f, "amplifiers", "ours-2", &entry), still_used)
            .unwrap();
        assert_eq!((revision, job.now().revision), (1, 1));
        assert!(job.now().file.catalogue().amplifiers.contains_key("ours-2"));
        let patch = serde_json::from_value(json!([
            { "op": "add", "path": "/amplifiers", "value": { "A1": { "model": "ours-2", "rack": "R1" } } },
        ]));
        let edit = crate::jobs::EditRequest {
            edit_id: "0123456789ab".into(),
            base_revision: 0,
            measured_revision: None,
            patch: patch.unwrap(),
            who: String::new(),
            note: String::new(),
            made_at: None,
        };
        assert_eq!(job.edit(edit).unwrap().revision, 2);
        let take = |f| without_model(f, "amplifiers", "ours-2");
        let why = job.change_catalogue("Ann", "Take out", take, still_used).unwrap_err();
        assert_eq!(why.problem.message, "It is used: A1. Give them another model first.");
        assert_eq!(job.now().revision, 2);
        // Undoing passes by what changed the catalogue.
        let undone = job.undo(crate::jobs::UndoRequest::default()).unwrap();
        assert_eq!(undone.revision, 3);
        job.change_catalogue("Ann", "Take out", take, still_used).unwrap();
        assert!(job.undo(crate::jobs::UndoRequest::default()).is_err());
        // Read anew from the store it is the same.
        drop(job);
        jobs.let_go(std::time::Duration::ZERO);
        let again = jobs.open(&id).unwrap();
        assert_eq!(again.now().revision, 4);
        assert!(again.own_catalogue().unwrap().is_empty());
    }

    #[test]
    fn what_is_wrong_with_a_typed_model_is_told_without_a_file() {
        let jobs = Jobs::new(Arc::new(SqliteStore::in_memory().unwrap()));
        let id = jobs.create("format = 1\n[job]\nname = \"x\"\n", &[], &[]).unwrap();
        let job = jobs.open(&id).unwrap();
        let put =
            |f| with_model(f, "conduits", "c-25", &json!({ "description": "25", "inside_diameter": "9 km" }));
        let why = job.change_catalogue("Ann", "", put, |r| plainly(r, "/conduits/c-25")).unwrap_err();
        let told: Vec<&str> = why.problem.problems.iter().map(|p| p.path.as_str()).collect();
        assert!(told.contains(&"/inside_diameter"), "{told:?}");
        assert!(why.problem.problems.iter().all(|p| !p.message.contains("toml")));
        assert_eq!(job.now().revision, 0);
    }
}
