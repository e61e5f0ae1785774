//! Whoever asks: who they are here, passkeys of their own, signing out.

use super::extract::{Body, In};
use super::share::{Peer, address_of};
use crate::access::Asker;
use crate::app::App;
use crate::background::blocking;
use crate::clock::now;
use crate::error::{ApiError, ErrorBody};
use crate::error_code::ErrorCode;
use crate::jobs::{Jobs, person};
use crate::random::letters;
use crate::share::{Sharing, no_cookie};
use crate::sign_in::{ALGORITHMS, ClientData, Made, PasskeyError, Question, Site, made, read, refused};
use crate::store::{Device, Passkey, Person, Role};
use axum::extract::State;
use axum::http::header::SET_COOKIE;
use axum::http::{HeaderMap, StatusCode};
use axum::response::IntoResponse;
use axum::{Extension, Json};
use loamline_limits::{PASSKEYS_OF_ONE, SIGN_IN_S};
use loamline_terms::{Told, say};
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new()
        .routes(routes!(me))
        .routes(routes!(passkey_question))
        .routes(routes!(keep_passkey))
        .routes(routes!(drop_passkey))
        .routes(routes!(sign_out))
}

/// Letters of a person's id; a passkey carries it.
pub const PERSON_LETTERS: usize = 26;

/// Who asks.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct MeView {
    /// Whether they sit at the computer that runs loamline itself: they need no leave there, and nobody signs in.
    here: bool,
    /// What they may do.
    role: Role,
    /// What the device is called; none at the computer itself.
    device: Option<String>,
    /// Their name, where they signed in; none on a device that was paired by a code alone.
    name: Option<String>,
    /// Their passkeys.
    passkeys: Vec<PasskeyView>,
    /// Why no passkey can be made where they have the app open now; none where one can.
    no_passkey: Option<Told>,
}

/// A passkey of one's own.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct PasskeyView {
    /// Its id.
    id: String,
    /// What it is called.
    name: String,
    /// When it was made, RFC 3339.
    made_at: String,
    /// When it was last used, RFC 3339.
    used_at: String,
}

/// Somebody who wants a passkey.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPasskey {
    /// Their name; only asked of a device that was paired by a code, and what that is called when empty.
    #[serde(default)]
    #[schema(max_length = 80)]
    name: String,
}

/// What a browser asks an authenticator for: the members of `PublicKeyCredentialCreationOptions` that differ from one to the next.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct PasskeyWanted {
    /// The challenge, base64url.
    challenge: String,
    /// The name it is for.
    site: String,
    /// The person's id.
    person: String,
    /// The person's name.
    name: String,
    /// Numbers of the algorithms that are taken, the one liked best first.
    algorithms: Vec<i64>,
    /// Ids of the passkeys they have, base64url.
    have: Vec<String>,
    /// Milliseconds it may take.
    timeout_ms: u64,
}

/// A passkey that was made.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PasskeyMade {
    /// What it is called in the list.
    #[schema(max_length = 80)]
    name: String,
    /// `clientDataJSON`, base64url.
    client_data: String,
    /// `attestationObject`, base64url.
    attestation: String,
}

impl From<Passkey> for PasskeyView {
    fn from(p: Passkey) -> Self {
        Self { id: p.id, name: p.name, made_at: p.made_at, used_at: p.used_at }
    }
}

/// The device somebody asks from.
fn device_of(asker: &Asker) -> Result<Arc<Device>, ApiError> {
    match asker {
        Asker::Paired(device) => Ok(Arc::clone(device)),
        Asker::Here | Asker::Stranger => Err(nobody_signs_in_here()),
    }
}

/// At the computer itself.
pub fn nobody_signs_in_here() -> ApiError {
    ApiError::new(
        StatusCode::CONFLICT,
        ErrorCode::NoSignIn,
        say!(
            "Nobody signs in on the computer that runs loamline itself. Open the app by its address in the network."
        ),
    )
}

/// How the network is let in, for somebody who asks from there.
pub fn network(app: &App, asker: &Asker) -> Result<Arc<Sharing>, ApiError> {
    let sharing = app.sharing.clone().filter(|_| *asker != Asker::Here);
    sharing.ok_or_else(nobody_signs_in_here)
}

/// A passkey's answer that is not taken.
pub fn not_taken(why: &PasskeyError) -> ApiError {
    refused(why.told().capitalised() + ".")
}

/// Whoever asks: what they may do and, where they signed in, their name and passkeys.
#[utoipa::path(get, path = "/api/me", tag = "Devices",
    responses((status = 200, body = MeView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn me(
    State(app): State<App>,
    Extension(asker): Extension<Asker>,
    headers: HeaderMap,
) -> Result<Json<MeView>, ApiError> {
    let place = network(&app, &asker).and_then(|_| Site::asked(&headers));
    let no_passkey = place.err().map(|e| Told::from(e.problem.message));
    let role = asker.role().ok_or_else(nobody_signs_in_here)?;
    let Asker::Paired(device) = asker else {
        let (device, name, passkeys) = (None, None, Vec::new());
        return Ok(Json(MeView { here: true, role, device, name, passkeys, no_passkey }));
    };
    let (name, passkeys) = {
        let device = Arc::clone(&device);
        blocking(move || {
            let Some(id) = &device.person else { return Ok((None, Vec::new())) };
            let store = app.jobs.store();
            Ok((store.person(id)?.map(|p| p.name), store.passkeys(id)?))
        })
        .await?
    };
    let passkeys = passkeys.into_iter().map(PasskeyView::from).collect();
    let device = Some(device.name.clone());
    Ok(Json(MeView { here: false, role, device, name, passkeys, no_passkey }))
}

/// Begins to make a passkey for oneself: what the browser hands on to the authenticator.
#[utoipa::path(post, path = "/api/me/passkeys/question", tag = "Devices", request_body = NewPasskey,
    responses((status = 200, body = PasskeyWanted), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn passkey_question(
    State(app): State<App>,
    Extension(asker): Extension<Asker>,
    peer: Peer,
    headers: HeaderMap,
    Body(wish): Body<NewPasskey>,
) -> Result<Json<PasskeyWanted>, ApiError> {
    let (sharing, device) = (network(&app, &asker)?, device_of(&asker)?);
    let site = Site::asked(&headers)?;
    let named = person("/name", &wish.name)?;
    let wanted = blocking(move || {
        let (person, is_known) = whose(&app.jobs, &device, &named)?;
        let have = if is_known { app.jobs.store().passkeys(&person.id)? } else { Vec::new() };
        PASSKEYS_OF_ONE.check(have.len() + 1).map_err(|more| ApiError::too_large("", more))?;
        let (id, name) = (person.id.clone(), person.name.clone());
        let question = Question::Make { device: device.id.clone(), person, is_known };
        Ok(PasskeyWanted {
            challenge: sharing.sign_in.ask(address_of(peer), question)?,
            site: site.name,
            person: id,
            name,
            algorithms: ALGORITHMS.to_vec(),
            have: have.into_iter().map(|p| p.id).collect(),
            timeout_ms: 1000 * SIGN_IN_S.number,
        })
    })
    .await?;
    Ok(Json(wanted))
}

/// The person whose device it is, or becomes; whether they are known already.
fn whose(jobs: &Jobs, device: &Device, named: &str) -> Result<(Person, bool), ApiError> {
    if let Some(id) = &device.person {
        let known = jobs.store().person(id)?;
        return Ok((known.ok_or_else(|| ApiError::not_found(say!("such person any more")))?, true));
    }
    let name = [named, device.name.as_str()].into_iter().find(|name| !name.is_empty()).unwrap_or("Somebody");
    let id = letters(PERSON_LETTERS)?;
    Ok((Person { id, name: name.to_owned(), role: device.role, made_at: now() }, false))
}

/// Keeps a passkey that was made; a device that was paired by a code is its person's from then on.
#[utoipa::path(post, path = "/api/me/passkeys", tag = "Devices", request_body = PasskeyMade,
    responses((status = 201, body = PasskeyView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn keep_passkey(
    State(app): State<App>,
    Extension(asker): Extension<Asker>,
    headers: HeaderMap,
    Body(answer): Body<PasskeyMade>,
) -> Result<impl IntoResponse, ApiError> {
    let (sharing, device) = (network(&app, &asker)?, device_of(&asker)?);
    let site = Site::asked(&headers)?;
    let name = person("/name", &answer.name)?;
    let unreadable = || not_taken(&PasskeyError::Unreadable);
    let client = read(&answer.client_data).ok_or_else(unreadable)?;
    let client = ClientData::read(&client).map_err(|e| not_taken(&e))?;
    let Some(Question::Make { device: asked, person, is_known }) = sharing.sign_in.asked(&client.challenge)
    else {
        return Err(refused(say!(
            "The passkey was asked for too long ago, or is kept already. Begin again."
        )));
    };
    if asked != device.id {
        return Err(refused(say!("The passkey was asked for on another device. Begin again on this one.")));
    }
    let attestation = read(&answer.attestation).ok_or_else(unreadable)?;
    let made = made(&site, &client, &attestation).map_err(|e| not_taken(&e))?;
    let kept = blocking(move || keep_for(&app.jobs, &device, person, is_known, made, &name)).await?;
    Ok((StatusCode::CREATED, Json(PasskeyView::from(kept))))
}

fn keep_for(
    jobs: &Jobs,
    device: &Device,
    person: Person,
    is_known: bool,
    made: Made,
    name: &str,
) -> Result<Passkey, ApiError> {
    let store = jobs.store();
    if store.passkey(&made.id)?.is_some() {
        return Err(refused(say!("This passkey is known here already.")));
    }
    if !is_known {
        store.add_person(&person, None)?;
        if !store.give_device(&device.id, &person.id)? {
            // Turned away meanwhile, or somebody's by another answer.
            store.forget_person(&person.id)?;
            return Err(refused(say!(
                "This device is somebody's meanwhile, or was turned away. Begin again."
            )));
        }
    }
    let name = if name.is_empty() { device.name.as_str() } else { name };
    let at = now();
    let passkey = Passkey {
        id: made.id,
        person: person.id,
        public_key: made.public_key,
        counter: made.counter,
        name: name.to_owned(),
        made_at: at.clone(),
        used_at: at,
    };
    store.keep_passkey(&passkey)?;
    jobs.note(&person.name, "passkey_made", &passkey.name)?;
    Ok(passkey)
}

/// Takes a passkey of one's own away: it signs nobody in from then on. Devices that are signed in stay so.
#[utoipa::path(delete, path = "/api/me/passkeys/{passkey}", tag = "Devices",
    params(("passkey" = String, Path, description = "The passkey")),
    responses((status = 204, description = "Gone"), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn drop_passkey(
    State(app): State<App>,
    Extension(asker): Extension<Asker>,
    In(id): In<String>,
) -> Result<StatusCode, ApiError> {
    let device = device_of(&asker)?;
    blocking(move || {
        let store = app.jobs.store();
        let none = || ApiError::not_found(say!("passkey \"{id}\" of yours", id = &id));
        let passkey = store.passkey(&id)?.ok_or_else(none)?;
        let owner = device.person.as_deref().filter(|person| *person == passkey.person).ok_or_else(none)?;
        if !store.drop_passkey(owner, &id)? {
            return Err(none());
        }
        let name = store.person(owner)?.map(|p| p.name).unwrap_or_default();
        app.jobs.note(&name, "passkey_removed", &passkey.name)
    })
    .await?;
    Ok(StatusCode::NO_CONTENT)
}

/// Signs this device out: it is let in again by signing in, or by a code.
#[utoipa::path(post, path = "/api/sign-out", tag = "Devices",
    responses((status = 204, description = "Signed out"), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn sign_out(
    State(app): State<App>,
    Extension(asker): Extension<Asker>,
) -> Result<impl IntoResponse, ApiError> {
    let (sharing, device) = (network(&app, &asker)?, device_of(&asker)?);
    blocking(move || {
        if app.jobs.store().forget(&device.id)? {
            app.jobs.note(&device.name, "signed_out", &device.name)?;
        }
        Ok(())
    })
    .await?;
    sharing.tell_changed();
    Ok((StatusCode::NO_CONTENT, [(SET_COOKIE, no_cookie())]))
}
