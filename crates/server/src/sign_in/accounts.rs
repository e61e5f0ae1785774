//! Signing in with the firm's own accounts: to the identity provider and back.
//!
//! OpenID Connect Core 1.0, section 3.1 (the code flow), with a proof of who began it (RFC 7636, S256) and the provider's name in its
//! answer where it gives it (RFC 9207). What the provider can do is asked of it (OpenID Connect Discovery 1.0, section 4) and known
//! for a while; its keys are asked for at every sign-in, since they change when they please. `state` is known once and for ten
//! minutes, and belongs to the browser that began.

use super::fetch::{Fetcher, Form};
use super::id_token::{Claims, Expected, believed};
use super::passkey::written;
use super::provider::{Provider, is_secure};
use super::waiting::Waiting;
use crate::error::{ApiError, shown};
use crate::error_code::ErrorCode;
use crate::random::{letters, sha256};
use crate::store::Role;
use crate::trusted::NoTrust;
use axum::body::Bytes;
use axum::http::StatusCode;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use form_urlencoded::{Serializer, byte_serialize};
use jsonwebtoken::jwk::JwkSet;
use loamline_limits::PROVIDER_KNOWN_S;
use loamline_terms::{Sentence, say};
use ring::digest::{SHA256, digest};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use std::net::IpAddr;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::Mutex;

/// Letters of what is made up for one sign-in: 260 bits; RFC 7636 wants 43 of them at least.
const SECRET_LETTERS: usize = 52;

/// Where the provider sends people back to, without the name of the server.
pub const BACK: &str = "/sign-in/back";

/// The firm's accounts.
pub struct Accounts {
    provider: Provider,
    fetcher: Fetcher,
    begun: Waiting<Begun>,
    known: Mutex<Option<(Instant, Arc<Abilities>)>>,
}

/// A sign-in that was begun.
struct Begun {
    /// SHA-256 of what the browser that began it was given.
    browser: String,
    nonce: String,
    proof: String,
    /// The app, as the browser names it.
    origin: String,
    /// The code they were invited by.
    invitation: Option<String>,
}

/// Where a browser goes to sign in, and what it is given to come back with.
pub struct Way {
    /// The provider's page.
    pub address: String,
    /// What this browser alone knows.
    pub secret: String,
}

/// What a provider sends a browser back with.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
pub struct Back {
    state: String,
    code: Option<String>,
    iss: Option<String>,
    error: Option<String>,
    error_description: Option<String>,
}

/// Somebody the provider answers for.
pub struct Vouched {
    /// The provider, as it calls itself.
    pub issuer: String,
    /// What it says of them.
    pub claims: Claims,
    /// The role that follows from it.
    pub role: Option<Role>,
    /// Whether roles follow from what it says at all.
    pub gives_roles: bool,
    /// The code they were invited by.
    pub invitation: Option<String>,
}

/// What a provider can do, as it says.
#[derive(Debug, Deserialize)]
struct Abilities {
    issuer: String,
    authorization_endpoint: String,
    token_endpoint: String,
    jwks_uri: String,
    #[serde(default)]
    token_endpoint_auth_methods_supported: Vec<String>,
    #[serde(default)]
    authorization_response_iss_parameter_supported: bool,
}

#[derive(Deserialize)]
struct Tokens {
    id_token: String,
}

/// Why a provider gives no tokens, as it says.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Denied {
    error: String,
    error_description: String,
}

impl Accounts {
    /// Those of a provider.
    ///
    /// # Errors
    /// Where it is reached by HTTPS and this system trusts nobody.
    pub fn of(provider: Provider) -> Result<Self, NoTrust> {
        let fetcher = Fetcher::for_provider(&provider.issuer)?;
        Ok(Self { provider, fetcher, begun: Waiting::default(), known: Mutex::new(None) })
    }

    /// What they are called.
    pub fn name(&self) -> &str {
        &self.provider.name
    }

    /// Begins to sign somebody in who has the app open at `origin`, with the code they were invited by.
    ///
    /// # Errors
    /// When the provider cannot be asked.
    pub async fn begin(
        &self,
        from: IpAddr,
        origin: &str,
        invitation: Option<String>,
    ) -> Result<Way, ApiError> {
        let abilities = self.abilities().await?;
        let [state, nonce, proof, secret] = [
            letters(SECRET_LETTERS)?,
            letters(SECRET_LETTERS)?,
            letters(SECRET_LETTERS)?,
            letters(SECRET_LETTERS)?,
        ];
        let address = abilities.authorization_endpoint.clone();
        let (page, asked) = address.split_once('?').unwrap_or((address.as_str(), ""));
        let asked = Serializer::for_suffix(asked.to_owned(), 0)
            .append_pair("response_type", "code")
            .append_pair("client_id", &self.provider.client_id)
            .append_pair("redirect_uri", &format!("{origin}{BACK}"))
            .append_pair("scope", &self.provider.scopes.join(" "))
            .append_pair("state", &state)
            .append_pair("nonce", &nonce)
            .append_pair("code_challenge", &written(digest(&SHA256, proof.as_bytes()).as_ref()))
            .append_pair("code_challenge_method", "S256")
            .finish();
        let browser = sha256(secret.as_bytes());
        let begun = Begun { browser, nonce, proof, origin: origin.to_owned(), invitation };
        self.begun.put(state, from, begun);
        Ok(Way { address: format!("{page}?{asked}"), secret })
    }

    /// Who came back, with what the browser was given when it began.
    ///
    /// # Errors
    /// 403 where this was not begun here, or the provider is not believed; 502 where it cannot be asked.
    pub async fn end(&self, back: &Back, secret: Option<&str>) -> Result<Vouched, ApiError> {
        let begun = self.begun.take(&back.state).ok_or_else(|| {
            refused(say!("This sign-in was not begun here within the last ten minutes, or it is over already. Begin again."))
        })?;
        if secret.map(|s| sha256(s.as_bytes())).as_deref() != Some(&*begun.browser) {
            return Err(refused(say!("This sign-in was begun in another browser. Begin again in this one.")));
        }
        let abilities = self.abilities().await?;
        let named =
            back.iss.as_deref().map_or(!abilities.authorization_response_iss_parameter_supported, |iss| {
                iss == self.provider.issuer
            });
        if !named {
            return Err(self.disbelieved("its answer names another provider"));
        }
        if let Some(error) = &back.error {
            let why = back.error_description.as_deref().unwrap_or(error);
            let why = shown(why.trim_end_matches('.'));
            return Err(refused(say!(
                "{account} was not signed in with: {why}.",
                account = self.called(),
                why = why
            )));
        }
        let code = back.code.as_deref().ok_or_else(|| self.disbelieved("its answer has no code"))?;
        let form = self.form_for(&abilities, code, &begun);
        let tokens: Tokens = self.read(&abilities.token_endpoint, Some(form)).await?;
        let keys: JwkSet = self.read(&abilities.jwks_uri, None).await?;
        let Provider { issuer, client_id, .. } = &self.provider;
        let expected = Expected { issuer, client_id, nonce: &begun.nonce };
        let claims = believed(&tokens.id_token, &keys, expected).map_err(|why| self.disbelieved(why))?;
        Ok(Vouched {
            issuer: issuer.clone(),
            role: self.provider.role(&claims.others),
            gives_roles: self.provider.gives_roles(),
            claims,
            invitation: begun.invitation,
        })
    }

    /// What a code is handed in with for a token.
    fn form_for(&self, abilities: &Abilities, code: &str, begun: &Begun) -> Form {
        let Provider { client_id, client_secret, .. } = &self.provider;
        let mut form = Serializer::new(String::new());
        form.append_pair("grant_type", "authorization_code")
            .append_pair("code", code)
            .append_pair("redirect_uri", &format!("{}{BACK}", begun.origin))
            .append_pair("client_id", client_id)
            .append_pair("code_verifier", &begun.proof);
        // A provider that says nothing takes it in the header (Discovery, section 3).
        let ways = &abilities.token_endpoint_auth_methods_supported;
        let in_header = ways.is_empty() || ways.iter().any(|w| w == "client_secret_basic");
        let authorization = match client_secret {
            Some(secret) if in_header => Some(basic(client_id, secret)),
            Some(secret) => {
                form.append_pair("client_secret", secret);
                None
            }
            None => None,
        };
        Form { body: form.finish(), authorization }
    }

    /// What the provider can do: as it said a while ago at most.
    async fn abilities(&self) -> Result<Arc<Abilities>, ApiError> {
        // Held while it is asked: of many who begin at once one asks.
        let mut known = self.known.lock().await;
        let still = |at: &Instant| at.elapsed() < Duration::from_secs(PROVIDER_KNOWN_S.number);
        if let Some((_, abilities)) = known.as_ref().filter(|(at, _)| still(at)) {
            return Ok(Arc::clone(abilities));
        }
        let issuer = &self.provider.issuer;
        let address = format!("{}/.well-known/openid-configuration", issuer.trim_end_matches('/'));
        let said: Abilities = self.read(&address, None).await?;
        if said.issuer != *issuer {
            let why = format!("it calls itself {}, and {issuer} was asked", shown(&said.issuer));
            return Err(self.disbelieved(why));
        }
        let places = [&said.authorization_endpoint, &said.token_endpoint, &said.jwks_uri];
        if let Some(open) = places.into_iter().find(|place| !is_secure(place)) {
            return Err(self.disbelieved(format!("it names {}, which is not asked by HTTPS", shown(open))));
        }
        let said = Arc::new(said);
        *known = Some((Instant::now(), Arc::clone(&said)));
        Ok(said)
    }

    async fn read<T: DeserializeOwned>(&self, address: &str, form: Option<Form>) -> Result<T, ApiError> {
        let (status, body) =
            self.fetcher.ask(address, form).await.map_err(|why| self.unanswered(&why.to_string()))?;
        if !status.is_success() {
            return Err(self.unanswered(&denied(status, &body)));
        }
        serde_json::from_slice(&body)
            .map_err(|_| self.unanswered("what it says is not what the standard has it say"))
    }

    fn called(&self) -> String {
        loamline_terms::capitalised(self.name())
    }

    fn disbelieved(&self, why: impl std::fmt::Display) -> ApiError {
        let why = why.to_string();
        refused(say!("The provider of {account} is not believed: {why}.", account = self.name(), why = why))
    }

    fn unanswered(&self, why: &str) -> ApiError {
        let told = say!(
            "The provider of {account} cannot be asked: {why}. Try again, or let this device in another way.",
            account = self.name(),
            why = why
        );
        ApiError::new(StatusCode::BAD_GATEWAY, ErrorCode::NotSignedIn, told)
    }
}

fn denied(status: StatusCode, body: &Bytes) -> String {
    let said: Denied = serde_json::from_slice(body).unwrap_or_default();
    let why = if said.error_description.is_empty() { said.error } else { said.error_description };
    if why.is_empty() {
        format!("it answers {}", status.as_u16())
    } else {
        format!("it says \"{}\"", shown(&why))
    }
}

/// RFC 6749, section 2.3.1: both written as a form has them, then as RFC 7617 does.
fn basic(client_id: &str, secret: &str) -> String {
    let [id, secret] = [client_id, secret].map(|part| byte_serialize(part.as_bytes()).collect::<String>());
    format!("Basic {}", STANDARD.encode(format!("{id}:{secret}")))
}

/// Who wants to sign in is not let in.
pub fn refused(why: impl Into<Sentence>) -> ApiError {
    ApiError::new(StatusCode::FORBIDDEN, ErrorCode::NotSignedIn, why)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn id_and_secret_are_written_as_the_standard_has_them() {
        // "a b:c" and "%" written as a form: a+b%3Ac and %25; base64 of "a+b%3Ac:%25" by the table of RFC 4648.
        assert_eq!(basic("a b:c", "%"), "Basic YStiJTNBYzolMjU=");
    }

    /// RFC 7636, appendix B.
    #[test]
    fn the_proof_is_that_of_the_standard() {
        let proof = "dBjftJeZ4CVP-mB92K27uhbUJU1p1r_wW1gFWFOEjXk";
        let challenge = written(digest(&SHA256, proof.as_bytes()).as_ref());
        assert_eq!(challenge, "E9Melhoa2OwvFrEMTJguCHaoeK1t8URWbuGJSstw-cM");
    }
}
