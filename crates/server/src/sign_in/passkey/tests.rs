//! An authenticator in some lines, and what is made of its answers when they are not what they should be.

use super::*;
use ring::rand::SystemRandom;
use ring::signature::{ECDSA_P256_SHA256_ASN1_SIGNING, EcdsaKeyPair, KeyPair as _};
use serde_json::json;

/// What keeps one passkey for one place.
struct Authenticator {
    key: EcdsaKeyPair,
    flags: u8,
    counter: u32,
}

const ID: [u8; 5] = [1, 2, 3, 4, 250];

impl Authenticator {
    fn new() -> Self {
        let random = SystemRandom::new();
        let pkcs8 = EcdsaKeyPair::generate_pkcs8(&ECDSA_P256_SHA256_ASN1_SIGNING, &random).unwrap();
        let key = EcdsaKeyPair::from_pkcs8(&ECDSA_P256_SHA256_ASN1_SIGNING, pkcs8.as_ref(), &random).unwrap();
        Self { key, flags: PRESENT | VERIFIED, counter: 0 }
    }

    /// The key in the only form authenticators may send it in (CTAP2 canonical CBOR): {1: 2, 3: -7, -1: 1, -2: x, -3: y}.
    fn cose(&self) -> Vec<u8> {
        let point = self.key.public_key().as_ref();
        let (x, y) = (&point[1..33], &point[33..65]);
        [&[0xa5, 1, 2, 3, 0x26, 0x20, 1, 0x21, 0x58, 32][..], x, &[0x22, 0x58, 32], y].concat()
    }

    fn said(&self, name: &str, made: bool) -> Vec<u8> {
        let hash = digest(&SHA256, name.as_bytes());
        let flags = if made { self.flags | HAS_KEY } else { self.flags };
        let mut said = [hash.as_ref(), &[flags], &self.counter.to_be_bytes()].concat();
        if made {
            said.extend([0; 16]);
            said.extend([0, ID.len() as u8]);
            said.extend(ID);
            said.extend(self.cose());
        }
        said
    }

    /// `{"fmt": "none", "attStmt": {}, "authData": ...}`
    fn attestation(&self, name: &str) -> Vec<u8> {
        let text = |t: &str| Value::Text(t.to_owned());
        let object = Value::Map(vec![
            (text("fmt"), text("none")),
            (text("attStmt"), Value::Map(Vec::new())),
            (text("authData"), Value::Bytes(self.said(name, true))),
        ]);
        let mut bytes = Vec::new();
        ciborium::into_writer(&object, &mut bytes).unwrap();
        bytes
    }

    fn sign(&self, said: &[u8], client: &[u8]) -> Vec<u8> {
        let message = [said, digest(&SHA256, client).as_ref()].concat();
        self.key.sign(&SystemRandom::new(), &message).unwrap().as_ref().to_vec()
    }
}

fn site() -> Site {
    Site { name: "jobs.example".into(), origin: "https://jobs.example:8438".into() }
}

fn client(kind: &str, origin: &str, framed: bool) -> Vec<u8> {
    let said =
        json!({ "type": kind, "challenge": "abc", "origin": origin, "crossOrigin": framed, "other": 1 });
    serde_json::to_vec(&said).unwrap()
}

fn registered(a: &Authenticator, name: &str, bytes: &[u8]) -> Result<Made, PasskeyError> {
    made(&site(), &ClientData::read(bytes)?, &a.attestation(name))
}

const CREATE: &str = "webauthn.create";
const GET: &str = "webauthn.get";

#[test]
fn a_passkey_that_was_made_signs_in_and_counts() {
    let mut a = Authenticator::new();
    let here = site();
    let found = registered(&a, &here.name, &client(CREATE, &here.origin, false)).unwrap();
    assert_eq!(found, Made { id: written(&ID), public_key: written(&a.cose()), counter: 0 });
    a.counter = 258;
    let bytes = client(GET, &here.origin, false);
    let told = ClientData::read(&bytes).unwrap();
    assert_eq!(told.challenge, "abc");
    let said = a.said(&here.name, false);
    let signature = a.sign(&said, &bytes);
    let by = |key: &str, said: &[u8], signature: &[u8]| signed(&here, (&told, &bytes), key, said, signature);
    assert_eq!(by(&found.public_key, &said, &signature), Ok(258));
    // Another's key, a counter that was changed, and bytes of the signature that were.
    let other = written(&Authenticator::new().cose());
    assert_eq!(by(&other, &said, &signature), Err(PasskeyError::Signature));
    let mut changed = said.clone();
    changed[36] ^= 1;
    assert_eq!(by(&found.public_key, &changed, &signature), Err(PasskeyError::Signature));
    for at in [0, 8, signature.len() - 1] {
        let mut changed = signature.clone();
        changed[at] ^= 1;
        assert_eq!(by(&found.public_key, &said, &changed), Err(PasskeyError::Signature), "{at}");
    }
    assert_eq!(by("no key", &said, &signature), Err(PasskeyError::OtherKey));
}

#[test]
fn what_the_browser_says_of_another_page_is_refused() {
    let (a, here) = (Authenticator::new(), site());
    let refused = |kind: &str, origin: &str, framed: bool| {
        registered(&a, &here.name, &client(kind, origin, framed)).unwrap_err()
    };
    assert_eq!(refused(GET, &here.origin, false), PasskeyError::OfAnotherKind);
    assert_eq!(refused(CREATE, &here.origin, true), PasskeyError::Framed);
    for origin in
        ["https://jobs.example", "http://jobs.example:8438", "https://jobs.example.evil.example:8438", "null"]
    {
        assert!(matches!(refused(CREATE, origin, false), PasskeyError::OtherPage { .. }), "{origin}");
    }
    assert!(matches!(ClientData::read(b"{}"), Err(PasskeyError::Unreadable)));
    let told = ClientData::read(&client(CREATE, &here.origin, false)).unwrap();
    for nonsense in [&b""[..], b"\xa0", b"garbage"] {
        assert_eq!(made(&here, &told, nonsense), Err(PasskeyError::Unreadable));
    }
}

#[test]
fn what_the_authenticator_says_of_itself_is_held_against_what_was_asked() {
    let here = site();
    let bytes = client(CREATE, &here.origin, false);
    let with = |flags: u8, name: &str| {
        let a = Authenticator { flags, ..Authenticator::new() };
        registered(&a, name, &bytes).err()
    };
    let asked = PRESENT | VERIFIED;
    assert_eq!(with(asked, &here.name), None);
    assert_eq!(with(asked | MAY_BE_COPIED | IS_COPIED, &here.name), None);
    assert_eq!(with(asked | IS_COPIED, &here.name), Some(PasskeyError::Unreadable));
    assert_eq!(with(VERIFIED, &here.name), Some(PasskeyError::Nobody));
    assert_eq!(with(PRESENT, &here.name), Some(PasskeyError::NotChecked));
    assert_eq!(with(asked, "example"), Some(PasskeyError::OtherName(here.name.clone())));
    // Signing in, the same is asked.
    let a = Authenticator { flags: PRESENT, ..Authenticator::new() };
    let bytes = client(GET, &here.origin, false);
    let told = ClientData::read(&bytes).unwrap();
    let said = a.said(&here.name, false);
    let found = signed(&here, (&told, &bytes), &written(&a.cose()), &said, &a.sign(&said, &bytes));
    assert_eq!(found, Err(PasskeyError::NotChecked));
}

#[test]
fn what_is_cut_short_is_never_read_beyond_its_end() {
    let a = Authenticator::new();
    let whole = a.said("jobs.example", true);
    let key = 32 + 1 + 4 + 16 + 2 + ID.len();
    for length in 0..whole.len() {
        let said = Said::read(&whole[..length]);
        assert_eq!(said.is_some(), length >= key, "{length}");
        let has_key = said.and_then(|s| s.made).and_then(|(_, rest)| PublicKey::read(rest));
        assert!(has_key.is_none(), "{length}");
    }
}
