//! Pairing, paired devices with what may be done with them, and the log of what is in no job's history.

use super::extract::{Asked, Body, In};
use crate::app::App;
use crate::background::blocking;
use crate::error::{ApiError, ErrorBody};
use crate::error_code::ErrorCode;
use crate::jobs::person;
use crate::share::{Sharing, cookie};
use crate::store::{Device, Doing, Role};
use axum::extract::{ConnectInfo, State};
use axum::http::StatusCode;
use axum::http::header::SET_COOKIE;
use axum::response::IntoResponse;
use axum::{Extension, Json};
use loamline_limits::HISTORY_ENTRIES;
use loamline_terms::say;
use serde::{Deserialize, Serialize};
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::Arc;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new()
        .routes(routes!(share))
        .routes(routes!(pair))
        .routes(routes!(devices))
        .routes(routes!(set_role, forget))
        .routes(routes!(doings))
}

/// What devices are usually let in for.
const USUAL_ROLE: Role = Role::Designer;

/// From where somebody asks; not told where this computer itself asks.
pub type Peer = Option<Extension<ConnectInfo<SocketAddr>>>;

/// The address somebody asks from.
pub fn address_of(peer: Peer) -> IpAddr {
    peer.map_or(IpAddr::V4(Ipv4Addr::LOCALHOST), |Extension(ConnectInfo(peer))| peer.ip())
}

/// How phones are let in. Only asked on the computer itself.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = SharingView)]
pub struct ShareView {
    /// Whether the network is let in at all (`loamline serve --share`).
    shared: bool,
    /// The code to pair with: it lets one device in, within ten minutes. Ask again for the next.
    code: Option<String>,
    /// What the code lets a device do.
    role: Role,
    /// Addresses of the app on the network, the likeliest first.
    addresses: Vec<String>,
    /// Addresses of the page that explains the warning, with the code after the #; the first is what the square holds.
    explained_at: Vec<String>,
    /// SHA-256 of the certificate phones take in.
    fingerprint: Option<String>,
}

/// For what a code is wanted.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ShareQuery {
    /// What the device may do: `owner`, `designer` or `crew`; `designer` when absent.
    #[param(inline)]
    role: Option<Role>,
}

/// A device that wants in.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PairRequest {
    /// The code shown on the computer; capitals, spaces and hyphens do not matter.
    code: String,
    /// What the device is called in the list.
    #[schema(max_length = 80)]
    name: String,
}

/// A device that was let in.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct DeviceView {
    /// Its id.
    id: String,
    /// Its name.
    name: String,
    /// What may be done with it.
    role: Role,
    /// Id of the person whose it is, who signed in on it; none where it was paired by a code alone.
    person: Option<String>,
    /// When it was let in, RFC 3339.
    paired_at: String,
    /// When it was last seen, RFC 3339.
    seen_at: String,
}

impl From<Device> for DeviceView {
    fn from(d: Device) -> Self {
        let Device { id, name, role, person, paired_at, seen_at } = d;
        Self { id, name, role, person, paired_at, seen_at }
    }
}

/// A device, or somebody, in another role.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RoleAsked {
    /// What may be done from now on.
    pub role: Role,
}

/// Part of the log.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct DoingsQuery {
    /// Only entries before this one.
    before: Option<u64>,
    /// At most so many entries, 1 to 500; 50 when absent.
    #[param(minimum = 1, maximum = 500)]
    limit: Option<u32>,
}

/// Something that was done and is in no job's history.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct DoingView {
    /// Its number; the next has a higher one.
    number: u64,
    /// When, RFC 3339.
    at: String,
    /// Who; empty where nobody said.
    who: String,
    /// What: `paired`, `role`, `turned_away`, `signed_in`, `signed_out`, `passkey_made`, `passkey_removed`, `deleted`, `restored`,
    /// `link_made`, `link_ended` or `accepted`.
    what: String,
    /// The device, person, passkey, job or link it was about, by its name.
    about: String,
}

/// A device that cannot be a client's: clients have links.
pub fn for_devices(role: Role) -> Result<Role, ApiError> {
    if role == Role::Client {
        return Err(ApiError::field(
            "/role",
            say!("A client is not paired: make a link for them on the job's Papers page."),
        ));
    }
    Ok(role)
}

/// The page that explains the warning, with the code to pair with.
pub fn with_code(address: &str, code: &str) -> String {
    format!("{address}#pair={code}")
}

/// How phones are let in.
#[utoipa::path(get, path = "/api/share", tag = "Devices", params(ShareQuery),
    responses((status = 200, body = ShareView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn share(State(app): State<App>, Asked(query): Asked<ShareQuery>) -> Result<Json<ShareView>, ApiError> {
    let role = for_devices(query.role.unwrap_or(USUAL_ROLE))?;
    let s = app.sharing.as_deref();
    let code = s.map(|s| s.pairing.code(role)).transpose()?;
    let explained = |s: &Sharing, code: &str| s.explained_at.iter().map(|a| with_code(a, code)).collect();
    Ok(Json(ShareView {
        shared: s.is_some(),
        addresses: s.map(|s| s.addresses.clone()).unwrap_or_default(),
        explained_at: s.zip(code.as_deref()).map(|(s, code)| explained(s, code)).unwrap_or_default(),
        fingerprint: s.map(|s| s.authority.fingerprint()),
        code,
        role,
    }))
}

/// Pairs this device: the answer sets a cookie that lets it in from then on.
#[utoipa::path(post, path = "/api/pair", tag = "Devices", request_body = PairRequest,
    responses((status = 201, body = DeviceView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn pair(
    State(app): State<App>,
    peer: Peer,
    Body(wish): Body<PairRequest>,
) -> Result<impl IntoResponse, ApiError> {
    let name = person("/name", &wish.name)?;
    let sharing: Arc<Sharing> = app.sharing.clone().ok_or_else(|| {
        ApiError::new(
            StatusCode::CONFLICT,
            ErrorCode::NotShared,
            say!("This server lets no other devices in."),
        )
    })?;
    let from = address_of(peer);
    let (device, secret) = blocking(move || {
        let (device, secret) = sharing.pairing.pair(app.jobs.store(), from, &wish.code, &name)?;
        app.jobs.note("", "paired", &format!("{} ({})", device.name, device.role.word()))?;
        Ok((device, secret))
    })
    .await?;
    Ok((StatusCode::CREATED, [(SET_COOKIE, cookie(&secret))], Json(DeviceView::from(device))))
}

/// Every paired device, the one seen last first.
#[utoipa::path(get, path = "/api/devices", tag = "Devices",
    responses((status = 200, body = [DeviceView]), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn devices(State(app): State<App>) -> Result<Json<Vec<DeviceView>>, ApiError> {
    let devices = blocking(move || Ok(app.jobs.store().devices()?)).await?;
    Ok(Json(devices.into_iter().map(DeviceView::from).collect()))
}

/// Gives a device another role, at once.
#[utoipa::path(put, path = "/api/devices/{id}", tag = "Devices", request_body = RoleAsked,
    params(("id" = String, Path, description = "The device")),
    responses((status = 200, body = DeviceView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn set_role(
    State(app): State<App>,
    In(id): In<String>,
    Body(asked): Body<RoleAsked>,
) -> Result<Json<DeviceView>, ApiError> {
    let role = for_devices(asked.role)?;
    let told = app.sharing.clone();
    let device = blocking(move || {
        let there = || -> Result<Device, ApiError> {
            let device = app.jobs.store().device(&id)?;
            device.ok_or_else(|| ApiError::not_found(say!("device \"{id}\"", id = &id)))
        };
        if there()?.person.is_some() {
            return Err(ApiError::field(
                "/role",
                say!("This device is somebody's who signs in: give them another role."),
            ));
        }
        app.jobs.store().set_role(&id, role)?;
        let device = there()?;
        app.jobs.note("", "role", &format!("{} ({})", device.name, role.word()))?;
        Ok(device)
    })
    .await?;
    told.iter().for_each(|s| s.tell_changed());
    Ok(Json(DeviceView::from(device)))
}

/// Turns a device away, at once: it has to pair again.
#[utoipa::path(delete, path = "/api/devices/{id}", tag = "Devices",
    params(("id" = String, Path, description = "The device")),
    responses((status = 204, description = "Forgotten"), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn forget(State(app): State<App>, In(id): In<String>) -> Result<StatusCode, ApiError> {
    let told = app.sharing.clone();
    blocking(move || match app.jobs.store().device(&id)? {
        Some(device) if app.jobs.store().forget(&id)? => app.jobs.note("", "turned_away", &device.name),
        _ => Err(ApiError::not_found(say!("device \"{id}\"", id = &id))),
    })
    .await?;
    told.iter().for_each(|s| s.tell_changed());
    Ok(StatusCode::NO_CONTENT)
}

/// What was done that is in no job's history, the newest first: devices let in and turned away, roles, jobs deleted and brought
/// back, links for clients.
#[utoipa::path(get, path = "/api/doings", tag = "Devices", params(DoingsQuery),
    responses((status = 200, body = [DoingView]), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn doings(
    State(app): State<App>,
    Asked(query): Asked<DoingsQuery>,
) -> Result<Json<Vec<DoingView>>, ApiError> {
    let limit = query.limit.unwrap_or(50);
    if !(1..=HISTORY_ENTRIES.number).contains(&u64::from(limit)) {
        let told = format!("The limit is from 1 to {} entries.", HISTORY_ENTRIES.shown());
        return Err(ApiError::field("?limit", told));
    }
    let entries =
        blocking(move || Ok(app.jobs.store().doings(query.before.unwrap_or(u64::MAX), limit)?)).await?;
    let view =
        |(number, d): (u64, Doing)| DoingView { number, at: d.at, who: d.who, what: d.what, about: d.about };
    Ok(Json(entries.into_iter().map(view).collect()))
}
