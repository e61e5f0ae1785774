//! Asking the identity provider: the one place where this program asks anybody. By HTTPS, as this system trusts; without it on this
//! computer alone. Nothing is followed elsewhere, and an answer has a time and a size.

use super::provider::is_secure;
use crate::trusted::{NoTrust, as_this_system_trusts};
use axum::body::Bytes;
use axum::http::header::{ACCEPT, AUTHORIZATION, CONTENT_TYPE, HOST};
use axum::http::{Method, Request, StatusCode, Uri};
use http_body_util::{BodyExt as _, Full, Limited};
use hyper::client::conn::http1::handshake;
use hyper_util::rt::TokioIo;
use loamline_limits::{PROVIDER_BYTES, PROVIDER_S};
use rustls::ClientConfig;
use rustls::pki_types::ServerName;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpStream;
use tokio::task::JoinSet;
use tokio::time::timeout;
use tokio_rustls::TlsConnector;

/// Why there is no answer, in a sentence's part.
#[derive(Debug, thiserror::Error)]
pub enum FetchError {
    /// It is nowhere that may be asked.
    #[error("\"{0}\" is no address that is asked: it begins with https://")]
    Address(String),
    /// It cannot be reached.
    #[error("{host} is out of reach: {why}")]
    Away {
        /// Who.
        host: String,
        /// Why.
        why: String,
    },
    /// It takes too long.
    #[error("it did not answer within {0} s")]
    Slow(u64),
    /// What it says is too much.
    #[error("its answer breaks off, or has more than {0} bytes")]
    Broken(u64),
}

/// What is sent to be answered: a form, and who sends it.
pub struct Form {
    /// The form, written out.
    pub body: String,
    /// The header `Authorization`; none where the form says who sends it.
    pub authorization: Option<String>,
}

/// Asks by HTTPS.
pub struct Fetcher(Option<Arc<ClientConfig>>);

impl Fetcher {
    /// One for a provider at this address.
    ///
    /// # Errors
    /// Where it is reached by HTTPS and this system trusts nobody.
    pub fn for_provider(address: &str) -> Result<Self, NoTrust> {
        if !address.starts_with("https:") {
            return Ok(Self(None));
        }
        let mut tls = as_this_system_trusts()?;
        tls.alpn_protocols = vec![b"http/1.1".to_vec()];
        Ok(Self(Some(Arc::new(tls))))
    }

    /// Asks for what is at an address, or sends a form to it; status and body of the answer.
    ///
    /// # Errors
    /// [`FetchError`].
    pub async fn ask(&self, address: &str, form: Option<Form>) -> Result<(StatusCode, Bytes), FetchError> {
        let within = Duration::from_secs(PROVIDER_S.number);
        timeout(within, self.answer(address, form)).await.map_err(|_| FetchError::Slow(PROVIDER_S.number))?
    }

    async fn answer(&self, address: &str, form: Option<Form>) -> Result<(StatusCode, Bytes), FetchError> {
        let nowhere = || FetchError::Address(address.to_owned());
        let uri: Uri = address.parse().map_err(|_| nowhere())?;
        let host = uri.host().filter(|_| is_secure(address)).ok_or_else(nowhere)?;
        let host = host.trim_start_matches('[').trim_end_matches(']');
        let by_tls = uri.scheme_str() == Some("https");
        let port = uri.port_u16().unwrap_or(if by_tls { 443 } else { 80 });
        let away = |why: String| FetchError::Away { host: host.to_owned(), why };
        let request = request(&uri, form).ok_or_else(nowhere)?;
        let stream = TcpStream::connect((host, port)).await.map_err(|e| away(e.to_string()))?;
        let answer = if by_tls {
            let tls = self.0.as_ref().ok_or_else(nowhere)?;
            let name = ServerName::try_from(host.to_owned()).map_err(|_| nowhere())?;
            let stream = TlsConnector::from(Arc::clone(tls)).connect(name, stream).await;
            talk(stream.map_err(|e| away(e.to_string()))?, request).await
        } else {
            talk(stream, request).await
        };
        answer.map_err(|e| e.map_or(FetchError::Broken(PROVIDER_BYTES.number), |e| away(e.to_string())))
    }
}

/// A request as one connection takes it: only what follows the host.
fn request(uri: &Uri, form: Option<Form>) -> Option<Request<Full<Bytes>>> {
    let method = if form.is_some() { Method::POST } else { Method::GET };
    // A name and a password before the host are nobody's here.
    let host = uri.authority()?.as_str().rsplit('@').next()?;
    let path = uri.path_and_query().map_or("/", |p| p.as_str());
    let mut request =
        Request::builder().method(method).uri(path).header(HOST, host).header(ACCEPT, "application/json");
    let body = match form {
        Some(Form { body, authorization }) => {
            request = request.header(CONTENT_TYPE, "application/x-www-form-urlencoded");
            if let Some(who) = authorization {
                request = request.header(AUTHORIZATION, who);
            }
            body
        }
        None => String::new(),
    };
    request.body(Full::new(Bytes::from(body))).ok()
}

/// Sends a request and reads all of its answer; the error of the connection, or none where the answer is too long.
async fn talk<S: AsyncRead + AsyncWrite + Unpin + Send + 'static>(
    stream: S,
    request: Request<Full<Bytes>>,
) -> Result<(StatusCode, Bytes), Option<hyper::Error>> {
    let (mut sender, connection) = handshake(TokioIo::new(stream)).await.map_err(Some)?;
    // It is driven beside, until the answer is here or nobody waits for it any more.
    let mut driven = JoinSet::new();
    driven.spawn(async move { connection.await.is_ok() });
    let answer = sender.send_request(request).await.map_err(Some)?;
    let status = answer.status();
    let body = Limited::new(answer.into_body(), PROVIDER_BYTES.most()).collect().await;
    let body = body.map_err(|_| None::<hyper::Error>)?;
    Ok((status, body.to_bytes()))
}
