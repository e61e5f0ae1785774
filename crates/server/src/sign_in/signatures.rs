//! Signatures of tokens, checked by the cryptography that is here already.
//!
//! The library that reads tokens brings none of its own: with it would come a second one (C, built by cmake) or RSA in a crate with
//! an advisory that stands open. Nothing is signed here.

use jsonwebtoken::crypto::{CryptoProvider, JwtSigner, JwtVerifier, KeyUtils};
use jsonwebtoken::errors::{ErrorKind, Result as Checked, new_error};
use jsonwebtoken::signature::{Error, Verifier};
use jsonwebtoken::{Algorithm, AlgorithmFamily, DecodingKey, DecodingKeyKind, EncodingKey};
use ring::signature::{
    ECDSA_P256_SHA256_FIXED, ECDSA_P384_SHA384_FIXED, ED25519, RSA_PKCS1_2048_8192_SHA256,
    RSA_PKCS1_2048_8192_SHA384, RSA_PKCS1_2048_8192_SHA512, RSA_PSS_2048_8192_SHA256,
    RSA_PSS_2048_8192_SHA384, RSA_PSS_2048_8192_SHA512, RsaParameters, RsaPublicKeyComponents,
    UnparsedPublicKey, VerificationAlgorithm,
};

/// Algorithms with a key of two halves (RFC 7518, section 3.1; RFC 8037): one that both sides know would let whoever knows it, this
/// server too, speak for the provider.
pub const TAKEN: [Algorithm; 9] = [
    Algorithm::RS256,
    Algorithm::RS384,
    Algorithm::RS512,
    Algorithm::PS256,
    Algorithm::PS384,
    Algorithm::PS512,
    Algorithm::ES256,
    Algorithm::ES384,
    Algorithm::EdDSA,
];

static PROVIDER: CryptoProvider = CryptoProvider {
    signer_factory: no_signer,
    verifier_factory: verifier,
    key_utils: KeyUtils::new_unimplemented(),
};

/// Has the library that reads tokens check signatures by what is here.
pub fn ready() {
    // Said before in this process: it is the same.
    let _ready = PROVIDER.install_default();
}

fn no_signer(_: &Algorithm, _: &EncodingKey) -> Checked<Box<dyn JwtSigner>> {
    Err(new_error(ErrorKind::UnsupportedAlgorithm))
}

fn verifier(algorithm: &Algorithm, key: &DecodingKey) -> Checked<Box<dyn JwtVerifier>> {
    if key.family() != family(*algorithm) || !TAKEN.contains(algorithm) {
        return Err(new_error(ErrorKind::InvalidAlgorithm));
    }
    Ok(Box::new(Check { algorithm: *algorithm, key: key.clone() }))
}

/// A signature's algorithm and the key it was made with.
struct Check {
    algorithm: Algorithm,
    key: DecodingKey,
}

impl JwtVerifier for Check {
    fn algorithm(&self) -> Algorithm {
        self.algorithm
    }
}

impl Verifier<Vec<u8>> for Check {
    fn verify(&self, message: &[u8], signature: &Vec<u8>) -> Result<(), Error> {
        let checked = match (self.key.kind(), plain(self.algorithm), rsa(self.algorithm)) {
            (DecodingKeyKind::SecretOrDer(point), Some(by), None) => {
                UnparsedPublicKey::new(by, point).verify(message, signature)
            }
            (DecodingKeyKind::RsaModulusExponent { n, e }, None, Some(by)) => {
                RsaPublicKeyComponents { n, e }.verify(by, message, signature)
            }
            _ => return Err(Error::new()),
        };
        checked.map_err(|_| Error::new())
    }
}

/// Those whose key is a point.
fn plain(algorithm: Algorithm) -> Option<&'static dyn VerificationAlgorithm> {
    let by: &'static dyn VerificationAlgorithm = match algorithm {
        Algorithm::ES256 => &ECDSA_P256_SHA256_FIXED,
        Algorithm::ES384 => &ECDSA_P384_SHA384_FIXED,
        Algorithm::EdDSA => &ED25519,
        _ => return None,
    };
    Some(by)
}

/// Those whose key is modulus and exponent.
fn rsa(algorithm: Algorithm) -> Option<&'static RsaParameters> {
    Some(match algorithm {
        Algorithm::RS256 => &RSA_PKCS1_2048_8192_SHA256,
        Algorithm::RS384 => &RSA_PKCS1_2048_8192_SHA384,
        Algorithm::RS512 => &RSA_PKCS1_2048_8192_SHA512,
        Algorithm::PS256 => &RSA_PSS_2048_8192_SHA256,
        Algorithm::PS384 => &RSA_PSS_2048_8192_SHA384,
        Algorithm::PS512 => &RSA_PSS_2048_8192_SHA512,
        _ => return None,
    })
}

fn family(algorithm: Algorithm) -> AlgorithmFamily {
    match algorithm {
        Algorithm::ES256 | Algorithm::ES384 => AlgorithmFamily::Ec,
        Algorithm::EdDSA => AlgorithmFamily::Ed,
        Algorithm::HS256 | Algorithm::HS384 | Algorithm::HS512 => AlgorithmFamily::Hmac,
        _ => AlgorithmFamily::Rsa,
    }
}
