//! Pairing: a code shown on this computer lets a device in once; from then on it holds a token of its own.

use crate::clock::now;
use crate::error::ApiError;
use crate::error_code::ErrorCode;
use crate::random::{NoRandom, letters, sha256};
use crate::store::{Device, Store};
use axum::http::StatusCode;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Letters of a code: 40 bits, which at the rate wrong ones are taken would last for ages.
const CODE_LETTERS: usize = 8;
/// Letters of a token: 260 bits.
const TOKEN_LETTERS: usize = 52;
/// Name of the cookie that holds it; the prefix makes browsers refuse it from anywhere but this server over HTTPS.
pub const COOKIE: &str = "__Host-loamline";
/// Wrong codes taken within [`WINDOW`] before all are refused for a while.
const MOST_WRONG: usize = 5;
const WINDOW: Duration = Duration::from_secs(60);

/// The code, and when it was got wrong.
pub struct Pairing {
    code: String,
    wrong: Mutex<Vec<Instant>>,
}

impl Pairing {
    /// A new code, good until the server stops.
    ///
    /// # Errors
    /// [`NoRandom`].
    pub fn new() -> Result<Self, NoRandom> {
        Ok(Self { code: letters(CODE_LETTERS)?, wrong: Mutex::default() })
    }

    /// The code as people read it: two groups.
    pub fn code(&self) -> String {
        let (a, b) = self.code.split_at(CODE_LETTERS / 2);
        format!("{a}-{b}")
    }

    /// Lets a device in that knows the code; the device and its token, which is kept nowhere here.
    ///
    /// # Errors
    /// 403 for a wrong code, 429 after several of them.
    pub fn pair(&self, store: &dyn Store, code: &str, name: &str) -> Result<(Device, String), ApiError> {
        let plain: String =
            code.chars().filter(char::is_ascii_alphanumeric).map(|c| c.to_ascii_lowercase()).collect();
        {
            let mut wrong = self.wrong.lock().unwrap_or_else(PoisonError::into_inner);
            wrong.retain(|at| at.elapsed() < WINDOW);
            if wrong.len() >= MOST_WRONG {
                return Err(ApiError::new(
                    StatusCode::TOO_MANY_REQUESTS,
                    ErrorCode::TooMany,
                    "Too many wrong codes. Wait a minute, then type the code shown on the computer.",
                ));
            }
            // Compared by their hashes, so that the time it takes tells nothing.
            if sha256(plain.as_bytes()) != sha256(self.code.as_bytes()) {
                wrong.push(Instant::now());
                return Err(ApiError::new(
                    StatusCode::FORBIDDEN,
                    ErrorCode::WrongCode,
                    "That is not the code shown on the computer.",
                ));
            }
        }
        let token = letters(TOKEN_LETTERS)?;
        let at = now();
        let device = Device { id: letters(6)?, name: name.to_owned(), paired_at: at.clone(), seen_at: at };
        store.pair(&device, &sha256(token.as_bytes()))?;
        Ok((device, token))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::SqliteStore;

    #[test]
    fn the_code_lets_in_wrong_ones_are_limited_and_a_device_can_be_forgotten() {
        let store = SqliteStore::in_memory().unwrap();
        let pairing = Pairing::new().unwrap();
        let (device, token) = pairing.pair(&store, &pairing.code().to_uppercase(), "Phone").unwrap();
        let hash = sha256(token.as_bytes());
        assert_eq!(store.device_of(&hash, &now()).unwrap().map(|d| d.name).as_deref(), Some("Phone"));
        for _ in 0..MOST_WRONG {
            assert_eq!(pairing.pair(&store, "nnnn-nnnn", "").unwrap_err().status, StatusCode::FORBIDDEN);
        }
        let late = pairing.pair(&store, &pairing.code(), "").unwrap_err();
        assert_eq!(late.status, StatusCode::TOO_MANY_REQUESTS);
        assert!(store.forget(&device.id).unwrap());
        assert_eq!(store.device_of(&hash, &now()).unwrap(), None);
    }
}
