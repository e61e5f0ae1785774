//! Pairing and paired devices.

use super::extract::{Body, In};
use crate::app::App;
use crate::background::blocking;
use crate::error::{ApiError, ErrorBody};
use crate::error_code::ErrorCode;
use crate::jobs::person;
use crate::share::{COOKIE, Sharing};
use crate::store::Device;
use axum::extract::{ConnectInfo, State};
use axum::http::StatusCode;
use axum::http::header::SET_COOKIE;
use axum::response::IntoResponse;
use axum::{Extension, Json};
use serde::{Deserialize, Serialize};
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::Arc;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new()
        .routes(routes!(share))
        .routes(routes!(pair))
        .routes(routes!(devices))
        .routes(routes!(forget))
}

/// How long a device stays paired without being seen, s: 400 days, the most browsers keep a cookie.
const PAIRED_S: u32 = 400 * 86_400;

/// How phones are let in. Only asked on the computer itself.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[schema(as = SharingView)]
pub struct ShareView {
    /// Whether the network is let in at all (`loamline serve --share`).
    shared: bool,
    /// The code to pair with: it lets one device in, within a quarter of an hour. Ask again for the next.
    code: Option<String>,
    /// Addresses of the app on the network, the likeliest first.
    addresses: Vec<String>,
    /// Addresses of the page that explains the warning, with the code after the #; the first is what the square holds.
    explained_at: Vec<String>,
    /// SHA-256 of the certificate phones take in.
    fingerprint: Option<String>,
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

/// A paired device.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct DeviceView {
    /// Its id.
    id: String,
    /// Its name.
    name: String,
    /// When it was paired, RFC 3339.
    paired_at: String,
    /// When it was last seen, RFC 3339.
    seen_at: String,
}

impl From<Device> for DeviceView {
    fn from(d: Device) -> Self {
        Self { id: d.id, name: d.name, paired_at: d.paired_at, seen_at: d.seen_at }
    }
}

/// The page that explains the warning, with the code to pair with.
pub fn with_code(address: &str, code: &str) -> String {
    format!("{address}#pair={code}")
}

/// How phones are let in.
#[utoipa::path(get, path = "/api/share", tag = "Devices",
    responses((status = 200, body = ShareView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn share(State(app): State<App>) -> Result<Json<ShareView>, ApiError> {
    let s = app.sharing.as_deref();
    let code = s.map(|s| s.pairing.code()).transpose()?;
    let explained = |s: &Sharing, code: &str| s.explained_at.iter().map(|a| with_code(a, code)).collect();
    Ok(Json(ShareView {
        shared: s.is_some(),
        addresses: s.map(|s| s.addresses.clone()).unwrap_or_default(),
        explained_at: s.zip(code.as_deref()).map(|(s, code)| explained(s, code)).unwrap_or_default(),
        fingerprint: s.map(|s| s.authority.fingerprint()),
        code,
    }))
}

/// Pairs this device: the answer sets a cookie that lets it in from then on.
#[utoipa::path(post, path = "/api/pair", tag = "Devices", request_body = PairRequest,
    responses((status = 201, body = DeviceView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn pair(
    State(app): State<App>,
    peer: Option<Extension<ConnectInfo<SocketAddr>>>,
    Body(wish): Body<PairRequest>,
) -> Result<impl IntoResponse, ApiError> {
    let name = person("/name", &wish.name).map_err(|p| ApiError::invalid(p.message.clone(), vec![p]))?;
    let sharing: Arc<Sharing> = app.sharing.clone().ok_or_else(|| {
        ApiError::new(StatusCode::CONFLICT, ErrorCode::NotShared, "This server lets no other devices in.")
    })?;
    let from = peer.map_or(IpAddr::V4(Ipv4Addr::LOCALHOST), |Extension(ConnectInfo(peer))| peer.ip());
    let (device, token) =
        blocking(move || sharing.pairing.pair(app.jobs.store(), from, &wish.code, &name)).await?;
    let cookie = format!("{COOKIE}={token}; Path=/; Secure; HttpOnly; SameSite=Strict; Max-Age={PAIRED_S}");
    Ok((StatusCode::CREATED, [(SET_COOKIE, cookie)], Json(DeviceView::from(device))))
}

/// Every paired device, the one seen last first.
#[utoipa::path(get, path = "/api/devices", tag = "Devices",
    responses((status = 200, body = [DeviceView]), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn devices(State(app): State<App>) -> Result<Json<Vec<DeviceView>>, ApiError> {
    let devices = blocking(move || Ok(app.jobs.store().devices()?)).await?;
    Ok(Json(devices.into_iter().map(DeviceView::from).collect()))
}

/// Turns a device away: it has to pair again.
#[utoipa::path(delete, path = "/api/devices/{id}", tag = "Devices",
    params(("id" = String, Path, description = "The device")),
    responses((status = 204, description = "Forgotten"), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn forget(State(app): State<App>, In(id): In<String>) -> Result<StatusCode, ApiError> {
    blocking(move || {
        if app.jobs.store().forget(&id)? {
            Ok(StatusCode::NO_CONTENT)
        } else {
            Err(ApiError::not_found(format!("device \"{id}\"")))
        }
    })
    .await
}
