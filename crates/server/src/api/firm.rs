//! The firm: letterhead, logo, prices, language.

use super::extract::{Body, Raw, of_type};
use crate::app::App;
use crate::background::blocking;
use crate::error::{ApiError, ErrorBody};
use crate::error_code::ErrorCode;
use crate::firm::{
    Firm, FirmText, LANGUAGE, LOGO, PRICES, PROFILE, check_labels, check_language, check_languages,
    check_logo, check_meter, firm_file, price_book, shipped_language,
};
use crate::rechecking::look_over_all;
use axum::Json;
use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, State};
use axum::http::header::{CONTENT_TYPE, ETAG};
use axum::http::{HeaderMap, StatusCode};
use axum::response::IntoResponse;
use loamline_limits::{LOGO_BYTES, PAPERS_FILE_BYTES};
use loamline_model::shipped_catalogue;
use loamline_terms::say;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    // One byte too many may come, so that the answer says how many may.
    let most = LOGO_BYTES.most().max(PAPERS_FILE_BYTES.most()) + 1;
    OpenApiRouter::new()
        .routes(routes!(firm, put_firm))
        .routes(routes!(logo, put_logo, remove_logo))
        .routes(routes!(put_prices, remove_prices))
        .routes(routes!(language, put_language, remove_language))
        .layer(DefaultBodyLimit::max(most))
}

/// What all jobs' papers have in common.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct FirmView {
    /// Letterhead and wording.
    profile: FirmText,
    /// The logo; absent where there is none.
    logo: Option<LogoView>,
    /// The firm's own prices, as CSV: `code` and `price`, one row each; absent where there are none.
    prices: Option<String>,
    /// A sentence for each price that stands for nothing of the shipped catalogue.
    unknown_prices: Vec<String>,
    /// Whether papers are in a language the firm brought along.
    own_language: bool,
}

/// A logo.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LogoView {
    /// Media type.
    media_type: &'static str,
    /// SHA-256 of its content, hexadecimal.
    sha256: String,
    /// Size, bytes.
    size: u64,
}

fn logo_type(bytes: &[u8]) -> &'static str {
    if bytes.starts_with(b"\x89PNG") { "image/png" } else { "image/svg+xml" }
}

fn view(app: &App) -> Result<Json<FirmView>, ApiError> {
    let firm = Firm::of(app.jobs.store())?;
    let logo = firm.file(LOGO).map(|f| LogoView {
        media_type: logo_type(&f.bytes),
        sha256: f.sha256.clone(),
        size: u64::try_from(f.bytes.len()).unwrap_or(u64::MAX),
    });
    let known = shipped_catalogue()
        .map_err(|r| ApiError::report(say!("The shipped catalogue cannot be read."), &r))?;
    let unknown = firm.prices()?.unknown(&known);
    Ok(Json(FirmView {
        profile: firm.profile(),
        logo,
        prices: firm.price_text(),
        unknown_prices: unknown.iter().map(ToString::to_string).collect(),
        own_language: firm.file(LANGUAGE).is_some(),
    }))
}

/// Keeps a file of the firm's once it was looked at; the firm with it.
async fn kept(
    app: App,
    name: &'static str,
    bytes: Vec<u8>,
    check: impl FnOnce(&[u8]) -> Result<(), ApiError> + Send + 'static,
) -> Result<Json<FirmView>, ApiError> {
    blocking(move || {
        check(&bytes)?;
        app.jobs.store().keep_of_firm(&firm_file(name, bytes))?;
        view(&app)
    })
    .await
}

/// Takes a file of the firm's away; the firm without it.
async fn dropped(app: App, name: &'static str, called: &'static str) -> Result<Json<FirmView>, ApiError> {
    blocking(move || {
        if !app.jobs.store().drop_of_firm(name)? {
            return Err(ApiError::not_found(format!("{called} of the firm's")));
        }
        view(&app)
    })
    .await
}

/// A text that was sent.
fn text_of(bytes: &[u8]) -> Result<&str, ApiError> {
    PAPERS_FILE_BYTES.check(bytes.len()).map_err(|more| ApiError::too_large("", more))?;
    std::str::from_utf8(bytes).map_err(|_| ApiError::field("", say!("What was sent is no text in UTF-8.")))
}

/// What the papers of all jobs have in common.
#[utoipa::path(get, path = "/api/firm", tag = "Firm",
    responses((status = 200, body = FirmView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn firm(State(app): State<App>) -> Result<Json<FirmView>, ApiError> {
    blocking(move || view(&app)).await
}

/// Sets letterhead and wording.
#[utoipa::path(put, path = "/api/firm", tag = "Firm", request_body = FirmText,
    responses((status = 200, body = FirmView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn put_firm(State(app): State<App>, Body(text): Body<FirmText>) -> Result<Json<FirmView>, ApiError> {
    let bytes = serde_json::to_vec(&text).map_err(|_| ApiError::gave_up())?;
    let check = move |_: &[u8]| {
        check_labels(&text.labels)?;
        check_meter(&text.meter)?;
        check_languages(&text)
    };
    kept(app, PROFILE, bytes, check).await
}

/// The logo.
#[utoipa::path(get, path = "/api/firm/logo", tag = "Firm",
    responses((status = 200, description = "The logo",
            content((String = "image/png"), (String = "image/svg+xml"))),
        (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn logo(State(app): State<App>) -> Result<impl IntoResponse, ApiError> {
    let file = blocking(move || {
        let firm = Firm::of(app.jobs.store())?;
        firm.file(LOGO).cloned().ok_or_else(|| ApiError::not_found(say!("logo of the firm's")))
    })
    .await?;
    Ok((
        [(CONTENT_TYPE, logo_type(&file.bytes).to_owned()), (ETAG, format!("\"{}\"", file.sha256))],
        file.bytes,
    ))
}

/// Sets the logo: a PNG picture or an SVG drawing.
#[utoipa::path(put, path = "/api/firm/logo", tag = "Firm",
    request_body(description = "PNG or SVG, at most 2 MB", content((String = "image/png"), (String = "image/svg+xml"))),
    responses((status = 200, body = FirmView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn put_logo(
    State(app): State<App>,
    headers: HeaderMap,
    Raw(bytes): Raw,
) -> Result<Json<FirmView>, ApiError> {
    let said = of_type(&headers, &["image/png", "image/svg+xml"])?;
    if logo_type(&bytes) != said {
        return Err(ApiError::new(
            StatusCode::UNSUPPORTED_MEDIA_TYPE,
            ErrorCode::WrongType,
            say!("What was sent is no {kind}: its first bytes are not those of one.", kind = said),
        ));
    }
    kept(app, LOGO, bytes.to_vec(), check_logo).await
}

/// Takes the logo away.
#[utoipa::path(delete, path = "/api/firm/logo", tag = "Firm",
    responses((status = 200, body = FirmView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn remove_logo(State(app): State<App>) -> Result<Json<FirmView>, ApiError> {
    dropped(app, LOGO, "logo").await
}

/// Sets the firm's own prices, margin, tax and price of an hour: a price book, as `loamline pack --prices` takes it.
#[utoipa::path(put, path = "/api/firm/prices", tag = "Firm",
    request_body(description = "CSV with the columns code and price", content_type = "text/csv", content = String),
    responses((status = 200, body = FirmView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn put_prices(
    State(app): State<App>,
    headers: HeaderMap,
    Raw(bytes): Raw,
) -> Result<Json<FirmView>, ApiError> {
    of_type(&headers, &["text/csv"])?;
    let check = |bytes: &[u8]| price_book(text_of(bytes)?).map(|_| ());
    let firm = kept(app.clone(), PRICES, bytes.to_vec(), check).await?;
    look_over_all(&app).await?;
    Ok(firm)
}

/// Takes the firm's own prices away: those of the catalogue count again.
#[utoipa::path(delete, path = "/api/firm/prices", tag = "Firm",
    responses((status = 200, body = FirmView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn remove_prices(State(app): State<App>) -> Result<Json<FirmView>, ApiError> {
    let firm = dropped(app.clone(), PRICES, "price book").await?;
    look_over_all(&app).await?;
    Ok(firm)
}

/// The language file of the papers: the firm's, else the one that comes with the program, to translate.
#[utoipa::path(get, path = "/api/firm/language", tag = "Firm",
    responses((status = 200, description = "TOML", content_type = "application/toml", body = String),
        (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn language(State(app): State<App>) -> Result<impl IntoResponse, ApiError> {
    let own = blocking(move || Ok(Firm::of(app.jobs.store())?.language_text())).await?;
    let text = own.or_else(|| shipped_language().map(str::to_owned));
    let text =
        text.ok_or_else(|| ApiError::not_found(say!("language file: this program makes no papers")))?;
    Ok(([(CONTENT_TYPE, "application/toml")], Bytes::from(text)))
}

/// Sets the language of the papers: a language file, as `loamline pack --language` takes it.
#[utoipa::path(put, path = "/api/firm/language", tag = "Firm",
    request_body(description = "TOML with every word of the papers", content_type = "application/toml", content = String),
    responses((status = 200, body = FirmView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn put_language(
    State(app): State<App>,
    headers: HeaderMap,
    Raw(bytes): Raw,
) -> Result<Json<FirmView>, ApiError> {
    of_type(&headers, &["application/toml"])?;
    let check = |bytes: &[u8]| check_language(text_of(bytes)?);
    kept(app, LANGUAGE, bytes.to_vec(), check).await
}

/// Takes the firm's language file away: papers are in English again.
#[utoipa::path(delete, path = "/api/firm/language", tag = "Firm",
    responses((status = 200, body = FirmView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn remove_language(State(app): State<App>) -> Result<Json<FirmView>, ApiError> {
    dropped(app, LANGUAGE, "language file").await
}
