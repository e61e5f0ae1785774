//! People who sign in, for whoever sits at the computer: their roles, and turning them away.

use super::extract::{Body, In};
use super::share::{RoleAsked, for_devices};
use crate::app::App;
use crate::background::blocking;
use crate::error::{ApiError, ErrorBody};
use crate::store::{Person, Role, Store};
use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use loamline_terms::say;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(people)).routes(routes!(set_role_of_person, forget_person))
}

/// Somebody who signs in.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct PersonView {
    /// Their id.
    id: String,
    /// Their name.
    name: String,
    /// What they may do, on every device of theirs.
    role: Role,
    /// Since when they are known, RFC 3339.
    made_at: String,
    /// How many passkeys they have.
    passkeys: usize,
    /// Whether they sign in with the firm's account.
    account: bool,
}

impl PersonView {
    fn of(store: &dyn Store, person: Person) -> Result<Self, ApiError> {
        let Person { id, name, role, made_at } = person;
        let (passkeys, account) = (store.passkeys(&id)?.len(), !store.identities(&id)?.is_empty());
        Ok(Self { id, name, role, made_at, passkeys, account })
    }
}

fn no_person(id: &str) -> ApiError {
    ApiError::not_found(say!("person \"{id}\"", id = id))
}

/// Everybody who signs in.
#[utoipa::path(get, path = "/api/people", tag = "Devices",
    responses((status = 200, body = [PersonView]), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn people(State(app): State<App>) -> Result<Json<Vec<PersonView>>, ApiError> {
    let all = blocking(move || {
        let store = app.jobs.store();
        store.people()?.into_iter().map(|person| PersonView::of(store, person)).collect::<Result<Vec<_>, _>>()
    });
    Ok(Json(all.await?))
}

/// Gives somebody another role, at once, on every device of theirs.
#[utoipa::path(put, path = "/api/people/{id}", tag = "Devices", request_body = RoleAsked,
    params(("id" = String, Path, description = "The person")),
    responses((status = 200, body = PersonView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn set_role_of_person(
    State(app): State<App>,
    In(id): In<String>,
    Body(asked): Body<RoleAsked>,
) -> Result<Json<PersonView>, ApiError> {
    let role = for_devices(asked.role)?;
    let told = app.sharing.clone();
    let person = blocking(move || {
        let store = app.jobs.store();
        store.set_role_of(&id, role)?;
        let person = store.person(&id)?.ok_or_else(|| no_person(&id))?;
        app.jobs.note("", "role", &format!("{} ({})", person.name, role.word()))?;
        PersonView::of(store, person)
    })
    .await?;
    told.iter().for_each(|s| s.tell_changed());
    Ok(Json(person))
}

/// Turns somebody away, at once, on every device of theirs: their passkeys and their account let nobody in any more.
#[utoipa::path(delete, path = "/api/people/{id}", tag = "Devices",
    params(("id" = String, Path, description = "The person")),
    responses((status = 204, description = "Forgotten"), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn forget_person(State(app): State<App>, In(id): In<String>) -> Result<StatusCode, ApiError> {
    let told = app.sharing.clone();
    blocking(move || match app.jobs.store().person(&id)? {
        Some(person) if app.jobs.store().forget_person(&id)? => {
            app.jobs.note("", "turned_away", &person.name)
        }
        _ => Err(no_person(&id)),
    })
    .await?;
    told.iter().for_each(|s| s.tell_changed());
    Ok(StatusCode::NO_CONTENT)
}
