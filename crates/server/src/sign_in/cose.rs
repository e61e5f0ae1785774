//! Public keys of passkeys as COSE writes them, and signatures made with them.
//!
//! RFC 9052, section 7 (the map), RFC 9053, sections 2.1, 2.2 and 7 (labels, ECDSA, EdDSA, curves), RFC 8230, section 4 (RSA);
//! numbers of algorithms are those of the registry "COSE Algorithms". The three taken here are those Web Authentication asks
//! everybody to offer (section 5.8.5 there). Left out: compressed points, which authenticators must not send (section 5.8.5 there).

use ciborium::Value;
use ring::signature::{
    ECDSA_P256_SHA256_ASN1, ED25519, RSA_PKCS1_2048_8192_SHA256, RsaPublicKeyComponents, UnparsedPublicKey,
};

/// ECDSA on P-256 with SHA-256.
const ES256: i64 = -7;
/// EdDSA, here on Ed25519 alone.
const EDDSA: i64 = -8;
/// RSASSA-PKCS1-v1_5 with SHA-256.
const RS256: i64 = -257;

/// Numbers of the algorithms that are taken, the one liked best first.
pub const ALGORITHMS: [i64; 3] = [ES256, EDDSA, RS256];

/// Labels of the map, by what they say: kind of key, algorithm, and of each kind its own.
const KIND: i64 = 1;
const ALGORITHM: i64 = 3;
const CURVE_OR_MODULUS: i64 = -1;
const X_OR_EXPONENT: i64 = -2;
const Y: i64 = -3;

/// A public key of a kind that is taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PublicKey {
    /// A point of P-256: 4, x, y.
    P256(Vec<u8>),
    /// A point of Ed25519.
    Ed25519(Vec<u8>),
    /// Modulus and exponent, most significant byte first.
    Rsa(Vec<u8>, Vec<u8>),
}

impl PublicKey {
    /// Reads the key that bytes begin with, and how many it takes; nothing where they are none that is taken.
    pub fn read(cose: &[u8]) -> Option<(Self, usize)> {
        let mut left = cose;
        let map = match ciborium::from_reader::<Value, _>(&mut left).ok()? {
            Value::Map(entries) => Entries(entries),
            _ => return None,
        };
        let taken = cose.len() - left.len();
        // Kinds 1, 2 and 3 are OKP, EC2 and RSA; curve 1 is P-256 and curve 6 Ed25519.
        let key = match (map.number(KIND)?, map.number(ALGORITHM)?) {
            (2, ES256) if map.number(CURVE_OR_MODULUS)? == 1 => {
                let (x, y) = (map.bytes(X_OR_EXPONENT, 32)?, map.bytes(Y, 32)?);
                Self::P256([&[4][..], x, y].concat())
            }
            (1, EDDSA) if map.number(CURVE_OR_MODULUS)? == 6 => {
                Self::Ed25519(map.bytes(X_OR_EXPONENT, 32)?.to_vec())
            }
            (3, RS256) => {
                let plain = |label| map.value(label)?.as_bytes().cloned();
                Self::Rsa(plain(CURVE_OR_MODULUS)?, plain(X_OR_EXPONENT)?)
            }
            _ => return None,
        };
        Some((key, taken))
    }

    /// Whether a signature of a message was made with its other half.
    pub fn verifies(&self, message: &[u8], signature: &[u8]) -> bool {
        match self {
            Self::P256(point) => {
                UnparsedPublicKey::new(&ECDSA_P256_SHA256_ASN1, point).verify(message, signature).is_ok()
            }
            Self::Ed25519(point) => {
                UnparsedPublicKey::new(&ED25519, point).verify(message, signature).is_ok()
            }
            Self::Rsa(n, e) => {
                let key = RsaPublicKeyComponents { n: n.as_slice(), e: e.as_slice() };
                key.verify(&RSA_PKCS1_2048_8192_SHA256, message, signature).is_ok()
            }
        }
    }
}

/// A map with numbers for keys.
struct Entries(Vec<(Value, Value)>);

impl Entries {
    fn value(&self, label: i64) -> Option<&Value> {
        let is_it = |key: &Value| key.as_integer().and_then(|n| i64::try_from(n).ok()) == Some(label);
        self.0.iter().find(|(key, _)| is_it(key)).map(|(_, value)| value)
    }

    fn number(&self, label: i64) -> Option<i64> {
        i64::try_from(self.value(label)?.as_integer()?).ok()
    }

    /// Bytes of a length.
    fn bytes(&self, label: i64, length: usize) -> Option<&[u8]> {
        self.value(label)?.as_bytes().map(Vec::as_slice).filter(|b| b.len() == length)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// From hexadecimal digits, blanks between them.
    fn hex(text: &str) -> Vec<u8> {
        let digits: Vec<u32> = text.chars().filter_map(|c| c.to_digit(16)).collect();
        digits.chunks(2).map(|pair| (pair[0] * 16 + pair[1]) as u8).collect()
    }

    /// RFC 8032, section 7.1, test 2: the key, the message 0x72 and its signature.
    #[test]
    fn a_signature_of_the_standard_is_taken_and_a_changed_one_is_not() {
        let x = "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c";
        // {1: 1, 3: -8, -1: 6, -2: x}
        let cose = hex(&format!("a4 01 01 03 27 20 06 21 5820 {x} ff"));
        let (key, taken) = PublicKey::read(&cose).unwrap();
        assert_eq!(
            (&key, taken),
            (&PublicKey::Ed25519(hex(x)), cose.len() - 1),
            "what follows is not part of it"
        );
        let signature = hex("92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da\
             085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00");
        assert!(key.verifies(&[0x72], &signature));
        assert!(!key.verifies(&[0x73], &signature));
        assert!(!key.verifies(&[0x72], &signature[..63]));
    }

    #[test]
    fn what_is_no_key_or_of_another_kind_is_none() {
        let (x, y) = ("11".repeat(32), "22".repeat(32));
        let p256 = hex(&format!("a5 01 02 03 26 20 01 21 5820 {x} 22 5820 {y}"));
        let point = [&[4][..], &hex(&x), &hex(&y)].concat();
        assert_eq!(PublicKey::read(&p256), Some((PublicKey::P256(point), p256.len())));
        for other in [
            String::new(),
            "a0".into(),
            "80".into(),
            // Cut short.
            format!("a5 01 02 03 26 20 01 21 5820 {x} 22 5820 22"),
            // The curve P-384, ES384, a coordinate of 31 bytes, and a sign in place of the other coordinate.
            format!("a5 01 02 03 26 20 02 21 5820 {x} 22 5820 {y}"),
            format!("a5 01 02 03 3822 20 01 21 5820 {x} 22 5820 {y}"),
            format!("a5 01 02 03 26 20 01 21 581f {} 22 5820 {y}", "11".repeat(31)),
            format!("a5 01 02 03 26 20 01 21 5820 {x} 22 f5"),
            // A list that says it has four thousand million entries.
            "9affffffff".into(),
        ] {
            assert_eq!(PublicKey::read(&hex(&other)), None, "{other}");
        }
    }
}
