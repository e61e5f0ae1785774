//! Passkeys, as whoever is signed in to takes them: Web Authentication, Level 3 (W3C), registering by section 7.1 and signing in by
//! section 7.2.
//!
//! What is asked for is a discoverable credential that checked who uses it, since nothing else is asked of anybody, with no
//! attestation. The steps follow the standard's; left out are those for what is not asked for: attestation statements (whoever
//! registers is signed in already, and any make of authenticator will do), extensions, token binding. Nothing here keeps
//! anything: that a challenge is answered once is seen to by whoever keeps them.
//!
//! Held against an authenticator of our own in the tests, Chromium's virtual one (`web/e2e/visits/sign-in.spec.ts`) and signatures
//! of a general library (`checks/test_sign_in.py`).

use super::cose::PublicKey;
use super::site::Site;
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use ciborium::Value;
use loamline_terms::{Sentence, say};
use ring::digest::{SHA256, digest};
use serde::Deserialize;
use std::fmt;

/// Somebody was there (section 6.1, flags).
const PRESENT: u8 = 0x01;
/// Who they are was checked: by PIN, finger or face.
const VERIFIED: u8 = 0x04;
/// The passkey may be on several devices.
const MAY_BE_COPIED: u8 = 0x08;
/// It is.
const IS_COPIED: u8 = 0x10;
/// A new passkey follows.
const HAS_KEY: u8 = 0x40;

/// Bytes of a passkey's id at most (section 7.1, step 25).
const ID_BYTES: usize = 1023;

/// Why a passkey's answer is not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PasskeyError {
    /// It is none.
    Unreadable,
    /// It answers something else than was asked.
    OfAnotherKind,
    /// It was given to another page.
    OtherPage {
        /// Who asked.
        found: String,
        /// Who should have.
        expected: String,
    },
    /// It was given within somebody else's page.
    Framed,
    /// It belongs to another name.
    OtherName(String),
    /// Nobody was asked.
    Nobody,
    /// It was not checked who is there.
    NotChecked,
    /// Its key is of no kind that is taken.
    OtherKey,
    /// The signature is wrong.
    Signature,
}

/// What the browser says of a request it passed on.
#[derive(Debug, Clone, Deserialize)]
pub struct ClientData {
    #[serde(rename = "type")]
    kind: String,
    /// The challenge as it was sent, base64url.
    pub challenge: String,
    origin: String,
    #[serde(default, rename = "crossOrigin")]
    cross_origin: bool,
}

impl PasskeyError {
    /// What is wrong, to be said in any language.
    pub fn told(&self) -> Sentence {
        match self {
            Self::Unreadable => say!("what the passkey answered cannot be read"),
            Self::OfAnotherKind => {
                say!("the passkey's answer is to another question than the one that was asked")
            }
            Self::OtherPage { found, expected } => say!(
                "the passkey was asked by {found}, and this is {expected}: open the app there, and sign in again",
                found = found,
                expected = expected
            ),
            Self::Framed => {
                say!("the passkey was asked within another page: open the app in a window of its own")
            }
            Self::OtherName(name) => say!("the passkey is for another name than {name}", name = name),
            Self::Nobody => say!("the passkey answered without anybody there"),
            Self::NotChecked => say!(
                "the device did not check who uses it: set up a PIN, fingerprint or face on it, and try again"
            ),
            Self::OtherKey => {
                say!("the passkey has a key of a kind that is not taken here: use another device or key")
            }
            Self::Signature => say!("the passkey's signature is not its own"),
        }
    }
}

impl fmt::Display for PasskeyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.told())
    }
}

impl ClientData {
    /// Reads it.
    ///
    /// # Errors
    /// [`PasskeyError::Unreadable`].
    pub fn read(bytes: &[u8]) -> Result<Self, PasskeyError> {
        serde_json::from_slice(bytes).map_err(|_| PasskeyError::Unreadable)
    }

    fn is_for(&self, site: &Site, kind: &str) -> Result<(), PasskeyError> {
        if self.kind != kind {
            return Err(PasskeyError::OfAnotherKind);
        }
        if self.origin != site.origin {
            let (found, expected) = (crate::error::shown(&self.origin), site.origin.clone());
            return Err(PasskeyError::OtherPage { found, expected });
        }
        if self.cross_origin { Err(PasskeyError::Framed) } else { Ok(()) }
    }
}

/// What an authenticator says of itself (section 6.1).
struct Said<'a> {
    name_hash: &'a [u8],
    flags: u8,
    counter: u32,
    /// Id of a new passkey, and what begins with its key.
    made: Option<(&'a [u8], &'a [u8])>,
}

impl<'a> Said<'a> {
    fn read(bytes: &'a [u8]) -> Option<Self> {
        let (name_hash, rest) = bytes.split_at_checked(32)?;
        let (flags, rest) = rest.split_first()?;
        let (counter, rest) = rest.split_at_checked(4)?;
        let counter = u32::from_be_bytes(counter.try_into().ok()?);
        let made = if flags & HAS_KEY == 0 {
            None
        } else {
            // Sixteen bytes tell the make of the authenticator.
            let (_make, rest) = rest.split_at_checked(16)?;
            let (length, rest) = rest.split_at_checked(2)?;
            Some(rest.split_at_checked(u16::from_be_bytes(length.try_into().ok()?).into())?)
        };
        Some(Self { name_hash, flags: *flags, counter, made })
    }

    /// Whether somebody who was checked said it about this place.
    fn is_of(&self, site: &Site) -> Result<(), PasskeyError> {
        let hash = digest(&SHA256, site.name.as_bytes());
        let hash: &[u8] = hash.as_ref();
        if self.name_hash != hash {
            return Err(PasskeyError::OtherName(site.name.clone()));
        }
        if self.flags & PRESENT == 0 {
            return Err(PasskeyError::Nobody);
        }
        if self.flags & VERIFIED == 0 {
            return Err(PasskeyError::NotChecked);
        }
        if self.flags & IS_COPIED != 0 && self.flags & MAY_BE_COPIED == 0 {
            return Err(PasskeyError::Unreadable);
        }
        Ok(())
    }
}

/// A passkey that was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Made {
    /// Its id, base64url.
    pub id: String,
    /// Its public key, COSE, base64url.
    pub public_key: String,
    /// How often it was used as it counts itself.
    pub counter: u32,
}

/// The passkey an answer to a request for a new one holds. That its challenge is one that was made here, for whom, and was not
/// answered before, is seen to by the caller.
///
/// # Errors
/// [`PasskeyError`].
pub fn made(site: &Site, client: &ClientData, attestation: &[u8]) -> Result<Made, PasskeyError> {
    client.is_for(site, "webauthn.create")?;
    let object: Value = ciborium::from_reader(attestation).map_err(|_| PasskeyError::Unreadable)?;
    let said = object.as_map().and_then(|entries| {
        entries.iter().find(|(key, _)| key.as_text() == Some("authData")).and_then(|(_, v)| v.as_bytes())
    });
    let said = said.and_then(|bytes| Said::read(bytes)).ok_or(PasskeyError::Unreadable)?;
    said.is_of(site)?;
    let (id, rest) = said.made.ok_or(PasskeyError::Unreadable)?;
    if id.is_empty() || id.len() > ID_BYTES {
        return Err(PasskeyError::Unreadable);
    }
    let (_, taken) = PublicKey::read(rest).ok_or(PasskeyError::OtherKey)?;
    let public_key = rest.get(..taken).unwrap_or(rest);
    Ok(Made { id: written(id), public_key: written(public_key), counter: said.counter })
}

/// How a passkey counts itself that answered a request to sign in, where the answer is its own. That its challenge is one that
/// was made here and was not answered before is seen to by the caller, and so is that it counts up.
///
/// # Errors
/// [`PasskeyError`].
pub fn signed(
    site: &Site,
    (client, client_bytes): (&ClientData, &[u8]),
    public_key: &str,
    said_bytes: &[u8],
    signature: &[u8],
) -> Result<u32, PasskeyError> {
    client.is_for(site, "webauthn.get")?;
    let said = Said::read(said_bytes).ok_or(PasskeyError::Unreadable)?;
    said.is_of(site)?;
    let key = read(public_key).ok_or(PasskeyError::OtherKey)?;
    let (key, _) = PublicKey::read(&key).ok_or(PasskeyError::OtherKey)?;
    let message = [said_bytes, digest(&SHA256, client_bytes).as_ref()].concat();
    if key.verifies(&message, signature) { Ok(said.counter) } else { Err(PasskeyError::Signature) }
}

/// Bytes as base64url without padding, as browsers write them here.
pub fn written(bytes: &[u8]) -> String {
    URL_SAFE_NO_PAD.encode(bytes)
}

/// Bytes that are written so.
pub fn read(text: &str) -> Option<Vec<u8>> {
    URL_SAFE_NO_PAD.decode(text).ok()
}

#[cfg(test)]
mod tests;
