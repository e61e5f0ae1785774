//! Ids and tokens nobody can guess, and hashes.

use ring::rand::{SecureRandom, SystemRandom};

/// Letters of ids and codes: digits and lower-case letters without those that look alike (RFC 4648 base 32, adapted).
const LETTERS: &[u8; 32] = b"abcdefghjkmnpqrstuvwxyz023456789";

/// The system gave no random numbers.
#[derive(Debug, thiserror::Error)]
#[error("this computer gives no random numbers; nothing safe can be made without them")]
pub struct NoRandom;

/// Random letters, five bits each.
///
/// # Errors
/// [`NoRandom`].
pub fn letters(count: usize) -> Result<String, NoRandom> {
    let mut bytes = vec![0u8; count];
    SystemRandom::new().fill(&mut bytes).map_err(|_| NoRandom)?;
    Ok(bytes.iter().map(|b| char::from(LETTERS[usize::from(b & 31)])).collect())
}

/// SHA-256, hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    let digest = ring::digest::digest(&ring::digest::SHA256, bytes);
    digest.as_ref().iter().map(|b| format!("{b:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hashes_are_those_of_the_standard() {
        // FIPS 180-4, example "abc".
        assert_eq!(sha256(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn letters_do_not_repeat_themselves() {
        let (a, b) = (letters(26).unwrap(), letters(26).unwrap());
        assert_eq!(a.len(), 26);
        assert_ne!(a, b);
        assert!(a.bytes().all(|c| LETTERS.contains(&c)));
    }
}
