//! What an identity provider says of somebody, believed once it is known to be the provider's own, for this server, about this
//! sign-in, and of now.
//!
//! OpenID Connect Core 1.0, section 3.1.3.7, steps 2 to 11 and 13 (those for the code flow), on signatures and claims as a library
//! reads them (RFC 7515, RFC 7519). Left out: encrypted tokens (step 1), which are asked for nowhere; `acr` and `auth_time` (12, 13),
//! which nothing is asked about. Beyond the standard, which lets it stand on TLS alone, every token's signature is checked.

use super::signatures::{TAKEN, ready};
use jsonwebtoken::errors::ErrorKind;
use jsonwebtoken::jwk::{Jwk, JwkSet, PublicKeyUse};
use jsonwebtoken::{Algorithm, DecodingKey, Validation, decode, decode_header};
use serde::Deserialize;
use serde_json::{Map, Value};

/// Seconds the provider's clock may be off.
const CLOCK_OFF_S: u64 = 60;

/// Why a token is not believed. Each is a sentence for whoever wants to sign in.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TokenError {
    /// It is no token.
    #[error("what it sent is no token that can be read")]
    Unreadable,
    /// It is signed by a way that is not taken, or not at all.
    #[error(
        "its token is signed in a way that is not taken here: RS256, ES256 and their like are, \"none\" and shared secrets are not"
    )]
    Algorithm,
    /// The key it is signed with is none of the provider's.
    #[error("its token is signed with a key it does not publish")]
    UnknownKey,
    /// The signature is not of this key.
    #[error("the signature of its token is wrong")]
    Signature,
    /// Somebody else made it.
    #[error("its token was made by another provider")]
    Issuer,
    /// It is for somebody else.
    #[error("its token is for another program than this server")]
    Audience,
    /// Its time is over.
    #[error("its token has expired, or one of the two clocks is wrong")]
    Expired,
    /// Its time has not come.
    #[error("its token is not good yet: one of the two clocks is wrong")]
    Early,
    /// It answers another sign-in.
    #[error("its token belongs to another sign-in")]
    Nonce,
    /// It lacks something.
    #[error("its token does not say \"{0}\"")]
    Missing(String),
}

/// What a token says.
#[derive(Debug, Clone, Deserialize)]
pub struct Claims {
    /// Who somebody is to the provider, for good.
    pub sub: String,
    iat: Option<f64>,
    nonce: Option<String>,
    aud: Audience,
    azp: Option<String>,
    /// The rest of it.
    #[serde(flatten)]
    pub others: Map<String, Value>,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
enum Audience {
    One(String),
    Several(Vec<String>),
}

impl Claims {
    /// What to call them: their name, else the name they sign in by, else their address, else who they are to the provider.
    pub fn name(&self) -> &str {
        let said =
            |key: &str| self.others.get(key).and_then(Value::as_str).map(str::trim).filter(|v| !v.is_empty());
        said("name").or_else(|| said("preferred_username")).or_else(|| said("email")).unwrap_or(&self.sub)
    }
}

/// What a token is held against.
#[derive(Debug, Clone, Copy)]
pub struct Expected<'a> {
    /// The provider, as it calls itself.
    pub issuer: &'a str,
    /// Who this server is to it.
    pub client_id: &'a str,
    /// What was sent along when this sign-in was begun.
    pub nonce: &'a str,
}

/// What a token says, once it is believed.
///
/// # Errors
/// [`TokenError`].
pub fn believed(token: &str, keys: &JwkSet, expected: Expected<'_>) -> Result<Claims, TokenError> {
    ready();
    let head = decode_header(token).map_err(|e| match e.kind() {
        // "none" is no algorithm it knows.
        ErrorKind::Json(_) => TokenError::Algorithm,
        _ => TokenError::Unreadable,
    })?;
    if !TAKEN.contains(&head.alg) {
        return Err(TokenError::Algorithm);
    }
    let mut asked = Validation::new(head.alg);
    asked.leeway = CLOCK_OFF_S;
    asked.validate_nbf = true;
    asked.set_issuer(&[expected.issuer]);
    asked.set_audience(&[expected.client_id]);
    asked.set_required_spec_claims(&["exp", "iss", "aud", "sub"]);
    // Without a name of the key each that fits is tried: a provider with several names them.
    let fitting = keys.keys.iter().filter(|key| may_sign(key, head.kid.as_deref(), head.alg));
    let mut found = Err(TokenError::UnknownKey);
    for key in fitting {
        let Ok(key) = DecodingKey::from_jwk(key) else { continue };
        found = decode::<Claims>(token, &key, &asked).map(|data| data.claims).map_err(|e| why(e.kind()));
        if !matches!(found, Err(TokenError::Signature | TokenError::Algorithm)) {
            break;
        }
    }
    let claims = found?;
    holds(&claims, expected)?;
    Ok(claims)
}

/// Whether a key is one to sign with that fits a token's head.
fn may_sign(key: &Jwk, named: Option<&str>, algorithm: Algorithm) -> bool {
    let common = &key.common;
    let is_named = named.is_none() || common.key_id.as_deref() == named;
    let signs = common.public_key_use.as_ref().is_none_or(|u| *u == PublicKeyUse::Signature);
    let fits = common.key_algorithm.is_none_or(|a| Algorithm::try_from(a).is_ok_and(|a| a == algorithm));
    is_named && signs && fits
}

/// What the library does not look at: of several audiences this server must be the one it was made for, and the sign-in this one.
fn holds(claims: &Claims, expected: Expected<'_>) -> Result<(), TokenError> {
    let for_us = claims.azp.as_deref().map(|azp| azp == expected.client_id);
    let fits = match &claims.aud {
        Audience::One(one) => one == expected.client_id && for_us != Some(false),
        Audience::Several(all) => for_us.unwrap_or(all.len() == 1),
    };
    if !fits {
        return Err(TokenError::Audience);
    }
    if claims.sub.is_empty() {
        return Err(TokenError::Missing("sub".into()));
    }
    if claims.iat.is_none() {
        return Err(TokenError::Missing("iat".into()));
    }
    if claims.nonce.as_deref() == Some(expected.nonce) { Ok(()) } else { Err(TokenError::Nonce) }
}

fn why(kind: &ErrorKind) -> TokenError {
    match kind {
        ErrorKind::InvalidSignature => TokenError::Signature,
        ErrorKind::InvalidIssuer => TokenError::Issuer,
        ErrorKind::InvalidAudience => TokenError::Audience,
        ErrorKind::ExpiredSignature => TokenError::Expired,
        ErrorKind::ImmatureSignature => TokenError::Early,
        ErrorKind::InvalidAlgorithm | ErrorKind::UnsupportedAlgorithm => TokenError::Algorithm,
        ErrorKind::MissingRequiredClaim(claim) | ErrorKind::InvalidClaimFormat(claim) => {
            TokenError::Missing(claim.clone())
        }
        _ => TokenError::Unreadable,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use base64::Engine as _;
    use base64::engine::general_purpose::URL_SAFE_NO_PAD;
    use ring::rand::SystemRandom;
    use ring::signature::{ECDSA_P256_SHA256_FIXED_SIGNING, EcdsaKeyPair, KeyPair as _};
    use serde_json::json;

    const EXPECTED: Expected<'_> =
        Expected { issuer: "https://login.example", client_id: "loamline", nonce: "once" };

    /// Who signs tokens with a key of its own.
    struct Signer(EcdsaKeyPair);

    impl Signer {
        fn new() -> Self {
            let random = SystemRandom::new();
            let pkcs8 = EcdsaKeyPair::generate_pkcs8(&ECDSA_P256_SHA256_FIXED_SIGNING, &random).unwrap();
            Self(EcdsaKeyPair::from_pkcs8(&ECDSA_P256_SHA256_FIXED_SIGNING, pkcs8.as_ref(), &random).unwrap())
        }

        /// RFC 7518, section 6.2.
        fn keys(&self, id: &str) -> JwkSet {
            let point = self.0.public_key().as_ref();
            let [x, y] = [&point[1..33], &point[33..]].map(|part| URL_SAFE_NO_PAD.encode(part));
            let key = json!({ "kty": "EC", "crv": "P-256", "kid": id, "use": "sig", "x": x, "y": y });
            serde_json::from_value(json!({ "keys": [key] })).unwrap()
        }

        fn token(&self, head: &Value, claims: &Value) -> String {
            let [head, claims] = [head, claims].map(|part| URL_SAFE_NO_PAD.encode(part.to_string()));
            let message = format!("{head}.{claims}");
            let signature = self.0.sign(&SystemRandom::new(), message.as_bytes()).unwrap();
            format!("{message}.{}", URL_SAFE_NO_PAD.encode(signature.as_ref()))
        }
    }

    fn now() -> u64 {
        std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap().as_secs()
    }

    fn good() -> Value {
        json!({ "iss": EXPECTED.issuer, "aud": "loamline", "sub": "17", "nonce": "once", "iat": now(),
            "exp": now() + 300, "name": " Ann ", "groups": ["field"] })
    }

    /// The good claims with some of them changed; null takes one out.
    fn with(changes: Value) -> Value {
        let mut claims = good();
        for (key, value) in changes.as_object().unwrap() {
            if value.is_null() {
                claims.as_object_mut().unwrap().remove(key);
            } else {
                claims[key] = value.clone();
            }
        }
        claims
    }

    #[test]
    fn a_token_of_the_provider_for_this_sign_in_is_believed() {
        let signer = Signer::new();
        for head in [json!({ "alg": "ES256", "kid": "k" }), json!({ "alg": "ES256", "typ": "JWT" })] {
            let claims = believed(&signer.token(&head, &good()), &signer.keys("k"), EXPECTED).unwrap();
            assert_eq!((claims.sub.as_str(), claims.name()), ("17", "Ann"));
            assert_eq!(claims.others["groups"], json!(["field"]));
        }
        for fine in [
            json!({ "aud": ["loamline"] }),
            json!({ "aud": ["loamline", "other"], "azp": "loamline" }),
            json!({ "exp": now() - 30 }),
            json!({ "nbf": now() + 30 }),
        ] {
            let token = signer.token(&json!({ "alg": "ES256", "kid": "k" }), &with(fine.clone()));
            assert!(believed(&token, &signer.keys("k"), EXPECTED).is_ok(), "{fine}");
        }
    }

    #[test]
    fn every_other_token_is_refused_with_its_reason() {
        let signer = Signer::new();
        let keys = signer.keys("k");
        let refused = |token: &str| believed(token, &keys, EXPECTED).unwrap_err();
        let head = json!({ "alg": "ES256", "kid": "k" });
        for (changes, why) in [
            (json!({ "iss": "https://login.example.evil" }), TokenError::Issuer),
            (json!({ "iss": null }), TokenError::Missing("iss".into())),
            (json!({ "aud": "another" }), TokenError::Audience),
            (json!({ "aud": ["loamline", "other"] }), TokenError::Audience),
            (json!({ "azp": "other" }), TokenError::Audience),
            (json!({ "exp": now() - 90 }), TokenError::Expired),
            (json!({ "exp": null }), TokenError::Missing("exp".into())),
            (json!({ "exp": "2099" }), TokenError::Missing("exp".into())),
            (json!({ "nbf": now() + 90 }), TokenError::Early),
            (json!({ "nonce": "twice" }), TokenError::Nonce),
            (json!({ "nonce": null }), TokenError::Nonce),
            (json!({ "sub": "" }), TokenError::Missing("sub".into())),
            (json!({ "iat": null }), TokenError::Missing("iat".into())),
        ] {
            assert_eq!(refused(&signer.token(&head, &with(changes.clone()))), why, "{changes}");
        }
        for head in [
            json!({ "alg": "none" }),
            json!({ "alg": "HS256", "kid": "k" }),
            json!({ "alg": "RS256", "kid": "k" }),
        ] {
            let token = signer.token(&head, &good());
            let why = refused(&token);
            assert!(matches!(why, TokenError::Algorithm), "{head}: {why}");
            let (unsigned, _) = token.rsplit_once('.').unwrap();
            assert!(believed(&format!("{unsigned}."), &keys, EXPECTED).is_err(), "{head}");
        }
        let another = Signer::new().token(&head, &good());
        assert_eq!(refused(&another), TokenError::Signature);
        assert_eq!(
            refused(&signer.token(&json!({ "alg": "ES256", "kid": "x" }), &good())),
            TokenError::UnknownKey
        );
        for nonsense in ["", "a.b", "a.b.c", "...."] {
            assert_eq!(refused(nonsense), TokenError::Unreadable, "{nonsense}");
        }
    }
}
