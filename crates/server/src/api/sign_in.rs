//! Signing in: by a passkey, or with the firm's own accounts.

use super::extract::Body;
use super::me::{network, not_taken};
use super::share::{DeviceView, Peer, address_of};
use crate::access::Asker;
use crate::app::App;
use crate::background::blocking;
use crate::clock::now;
use crate::error::{ApiError, ErrorBody};
use crate::error_code::ErrorCode;
use crate::jobs::Jobs;
use crate::random::letters;
use crate::share::{cookie, new_token};
use crate::sign_in::{Accounts, ClientData, PasskeyError, Question, Site, read, refused, signed};
use crate::store::{Device, Person};
use axum::extract::State;
use axum::http::header::SET_COOKIE;
use axum::http::{HeaderMap, StatusCode};
use axum::response::IntoResponse;
use axum::{Extension, Json};
use loamline_limits::SIGN_IN_S;
use loamline_terms::{Told, say};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new()
        .routes(routes!(sign_in_ways))
        .routes(routes!(sign_in_question))
        .routes(routes!(sign_in_by_passkey))
        .routes(routes!(sign_in_by_account))
}

/// Letters of the id of a device that was signed in on.
const DEVICE_LETTERS: usize = 12;

/// The cookie by which a browser is known again that went to the firm's provider. It comes along when the provider sends the browser
/// back, which the one with the token does not.
pub const WAY_COOKIE: &str = "__Host-loamline-way";

/// How one may sign in where the app is open now.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SignInView {
    /// Whether by a passkey.
    passkey: bool,
    /// Why not by a passkey, where not.
    no_passkey: Option<Told>,
    /// What the firm's accounts are called; none where there are none, or one cannot sign in with them here.
    account: Option<String>,
}

/// What a browser asks an authenticator for: the members of `PublicKeyCredentialRequestOptions` that differ from one to the next.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct PasskeyAsked {
    /// The challenge, base64url.
    challenge: String,
    /// The name it is for.
    site: String,
    /// Milliseconds it may take.
    timeout_ms: u64,
}

/// What an authenticator answered.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PasskeyAnswer {
    /// The id of the passkey, base64url.
    id: String,
    /// `clientDataJSON`, base64url.
    client_data: String,
    /// `authenticatorData`, base64url.
    authenticator_data: String,
    /// `signature`, base64url.
    signature: String,
    /// `userHandle`, base64url, where the authenticator says it.
    #[serde(default)]
    user: Option<String>,
}

/// Somebody who wants to sign in with the firm's account.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AccountAsked {
    /// The code they were invited by; needed once, by whoever has no role by their account.
    #[serde(default)]
    code: Option<String>,
}

/// Where a browser goes to sign in.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct AccountWay {
    /// The provider's page.
    address: String,
}

/// The firm's accounts.
pub fn accounts(accounts: Option<&Accounts>) -> Result<&Accounts, ApiError> {
    accounts.ok_or_else(|| {
        let why = say!("This server knows no accounts of the firm's. It is told of them with --provider.");
        ApiError::new(StatusCode::CONFLICT, ErrorCode::NoSignIn, why)
    })
}

/// How one may sign in where the app is open now.
#[utoipa::path(get, path = "/api/sign-in", tag = "Devices",
    responses((status = 200, body = SignInView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn sign_in_ways(
    State(app): State<App>,
    Extension(asker): Extension<Asker>,
    headers: HeaderMap,
) -> Json<SignInView> {
    match network(&app, &asker).and_then(|s| Site::asked(&headers).map(|_| s)) {
        Ok(sharing) => {
            let account = sharing.sign_in.accounts.as_ref().map(|a| a.name().to_owned());
            Json(SignInView { passkey: true, no_passkey: None, account })
        }
        Err(why) => {
            let no_passkey = Some(Told::from(why.problem.message));
            Json(SignInView { passkey: false, no_passkey, account: None })
        }
    }
}

/// Begins to sign somebody in by a passkey: what the browser hands on to the authenticator.
#[utoipa::path(post, path = "/api/sign-in/passkey/question", tag = "Devices",
    responses((status = 200, body = PasskeyAsked), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn sign_in_question(
    State(app): State<App>,
    Extension(asker): Extension<Asker>,
    peer: Peer,
    headers: HeaderMap,
) -> Result<Json<PasskeyAsked>, ApiError> {
    let sharing = network(&app, &asker)?;
    let site = Site::asked(&headers)?;
    let challenge = sharing.sign_in.ask(address_of(peer), Question::Who)?;
    Ok(Json(PasskeyAsked { challenge, site: site.name, timeout_ms: 1000 * SIGN_IN_S.number }))
}

/// Signs in by a passkey: the answer sets a cookie that lets this device in from then on.
#[utoipa::path(post, path = "/api/sign-in/passkey", tag = "Devices", request_body = PasskeyAnswer,
    responses((status = 201, body = DeviceView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn sign_in_by_passkey(
    State(app): State<App>,
    Extension(asker): Extension<Asker>,
    headers: HeaderMap,
    Body(answer): Body<PasskeyAnswer>,
) -> Result<impl IntoResponse, ApiError> {
    let sharing = network(&app, &asker)?;
    let site = Site::asked(&headers)?;
    let shown = Shown::of(&answer).ok_or_else(|| not_taken(&PasskeyError::Unreadable))?;
    let client = ClientData::read(&shown.client).map_err(|e| not_taken(&e))?;
    let Some(Question::Who) = sharing.sign_in.asked(&client.challenge) else {
        return Err(refused(say!(
            "The passkey was asked for too long ago, or was used already. Begin again."
        )));
    };
    let (device, secret) = blocking(move || {
        let store = app.jobs.store();
        let unknown = || {
            refused(say!("This passkey is not known here, or not any more. Sign in another way, or pair this device by a code."))
        };
        let passkey = store.passkey(&answer.id)?.ok_or_else(unknown)?;
        if shown.user.as_ref().is_some_and(|user| *user != passkey.person.as_bytes()) {
            return Err(unknown());
        }
        let Shown { client: bytes, said, signature, .. } = &shown;
        let counter = signed(&site, (&client, bytes), &passkey.public_key, said, signature)
            .map_err(|e| not_taken(&e))?;
        if !store.used_passkey(&passkey.id, counter, &now())? {
            return Err(refused(say!(
                "This passkey counts behind how often it was used: there may be a copy of it. Take it away, and make another."
            )));
        }
        let person = store.person(&passkey.person)?.ok_or_else(unknown)?;
        let_in(&app.jobs, &person, &passkey.name)
    })
    .await?;
    Ok((StatusCode::CREATED, [(SET_COOKIE, cookie(&secret))], Json(DeviceView::from(device))))
}

/// What an authenticator answered, read.
struct Shown {
    client: Vec<u8>,
    said: Vec<u8>,
    signature: Vec<u8>,
    user: Option<Vec<u8>>,
}

impl Shown {
    fn of(answer: &PasskeyAnswer) -> Option<Self> {
        Some(Self {
            client: read(&answer.client_data)?,
            said: read(&answer.authenticator_data)?,
            signature: read(&answer.signature)?,
            user: match &answer.user {
                Some(user) => Some(read(user)?),
                None => None,
            },
        })
    }
}

/// Lets a device in on which somebody signed in; the device and its token.
///
/// # Errors
/// When the store cannot be written.
pub fn let_in(jobs: &Jobs, person: &Person, by: &str) -> Result<(Device, String), ApiError> {
    let (secret, token) = new_token()?;
    let at = now();
    let device = Device {
        id: letters(DEVICE_LETTERS)?,
        name: person.name.clone(),
        role: person.role,
        person: Some(person.id.clone()),
        paired_at: at.clone(),
        seen_at: at,
    };
    jobs.store().admit(&device, &[token])?;
    jobs.note(&person.name, "signed_in", by)?;
    // Given another role at this very moment, they have that one.
    Ok((jobs.store().device(&device.id)?.unwrap_or(device), secret))
}

/// Begins to sign somebody in with the firm's account: where the browser goes, and a cookie by which it is known again.
#[utoipa::path(post, path = "/api/sign-in/account", tag = "Devices", request_body = AccountAsked,
    responses((status = 200, body = AccountWay), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn sign_in_by_account(
    State(app): State<App>,
    Extension(asker): Extension<Asker>,
    peer: Peer,
    headers: HeaderMap,
    Body(wish): Body<AccountAsked>,
) -> Result<impl IntoResponse, ApiError> {
    let sharing = network(&app, &asker)?;
    let site = Site::asked(&headers)?;
    let invitation = wish.code.filter(|code| !code.trim().is_empty());
    let accounts = accounts(sharing.sign_in.accounts.as_ref())?;
    let way = accounts.begin(address_of(peer), &site.origin, invitation).await?;
    let kept_s = SIGN_IN_S.number;
    let known_by =
        format!("{WAY_COOKIE}={}; Path=/; Secure; HttpOnly; SameSite=Lax; Max-Age={kept_s}", way.secret);
    Ok(([(SET_COOKIE, known_by)], Json(AccountWay { address: way.address })))
}
