//! Pairing: a code shown on this computer lets one device in; from then on it holds a token of its own.

use crate::clock::{from_now, now};
use crate::connections::neighbourhood;
use crate::error::ApiError;
use crate::error_code::ErrorCode;
use crate::random::{NoRandom, letters, sha256};
use crate::store::{Device, Role, Store, Token};
use axum::http::StatusCode;
use loamline_limits::{ADDRESSES_REMEMBERED, CODE_GOOD_S, CODE_SHOWN_S, TOKEN_GOOD_S, WRONG_CODES};
use loamline_terms::say;
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Letters of a code: 40 bits, which at the rate wrong ones are taken would last for ages.
const CODE_LETTERS: usize = 8;
/// Letters of a token: 260 bits.
const TOKEN_LETTERS: usize = 52;
/// Name of the cookie that holds it; the prefix makes browsers refuse it from anywhere but this server over HTTPS.
pub const COOKIE: &str = "__Host-loamline";
/// Within which wrong codes of one address are counted.
const WINDOW: Duration = Duration::from_secs(60);

/// A code, what it lets a device do, and when it was made.
struct Code {
    letters: String,
    role: Role,
    made: Instant,
}

impl Code {
    fn is_good_at(&self, now: Instant) -> bool {
        now.saturating_duration_since(self.made) < Duration::from_secs(CODE_GOOD_S.number)
    }
}

/// Codes that let a device in, and who got them wrong.
#[derive(Default)]
pub struct Pairing {
    codes: Mutex<Vec<Code>>,
    wrong: Mutex<HashMap<IpAddr, Vec<Instant>>>,
}

impl Pairing {
    /// The code to show now for a role, as people read it: two groups. Each lets one device in, within ten minutes.
    ///
    /// # Errors
    /// [`NoRandom`].
    pub fn code(&self, role: Role) -> Result<String, NoRandom> {
        self.code_at(role, Instant::now())
    }

    fn code_at(&self, role: Role, now: Instant) -> Result<String, NoRandom> {
        let mut codes = self.codes.lock().unwrap_or_else(PoisonError::into_inner);
        codes.retain(|c| c.is_good_at(now));
        let shown_for = Duration::from_secs(CODE_SHOWN_S.number);
        let is_shown = |c: &&Code| c.role == role && now.saturating_duration_since(c.made) < shown_for;
        let shown = codes.iter().rfind(is_shown).map(|c| c.letters.clone());
        let newest = match shown {
            Some(letters) => letters,
            None => {
                let letters = letters(CODE_LETTERS)?;
                codes.push(Code { letters: letters.clone(), role, made: now });
                letters
            }
        };
        let (a, b) = newest.split_at(CODE_LETTERS / 2);
        Ok(format!("{a}-{b}"))
    }

    /// Lets a device in that knows a code, in the role the code was made for; the device and its token, which is kept nowhere
    /// here.
    ///
    /// # Errors
    /// 403 for a wrong code, 429 after several of them from one address.
    pub fn pair(
        &self,
        store: &dyn Store,
        from: IpAddr,
        code: &str,
        name: &str,
    ) -> Result<(Device, String), ApiError> {
        let role = self.spend(from, code, Instant::now())?;
        let (secret, token) = new_token()?;
        let at = now();
        let device = Device {
            id: letters(6)?,
            name: name.to_owned(),
            role,
            person: None,
            paired_at: at.clone(),
            seen_at: at,
        };
        store.admit(&device, &[token])?;
        Ok((device, secret))
    }

    /// Takes a code as spent by somebody who signs in and is not known yet; the role it was made for.
    ///
    /// # Errors
    /// As for [`Pairing::pair`].
    pub fn invited(&self, from: IpAddr, code: &str) -> Result<Role, ApiError> {
        self.spend(from, code, Instant::now())
    }

    /// Takes a code as spent; the role it was made for.
    fn spend(&self, from: IpAddr, code: &str, now: Instant) -> Result<Role, ApiError> {
        let from = neighbourhood(from);
        let plain: String =
            code.chars().filter(char::is_ascii_alphanumeric).map(|c| c.to_ascii_lowercase()).collect();
        let mut wrong = self.wrong.lock().unwrap_or_else(PoisonError::into_inner);
        let recent = |at: &Instant| now.saturating_duration_since(*at) < WINDOW;
        if let Some(own) = wrong.get_mut(&from) {
            own.retain(recent);
            WRONG_CODES.check(own.len() + 1).map_err(|_| {
                ApiError::new(
                    StatusCode::TOO_MANY_REQUESTS,
                    ErrorCode::TooMany,
                    say!("Too many wrong codes. Wait a minute, then type the code shown on the computer."),
                )
            })?;
        }
        let mut codes = self.codes.lock().unwrap_or_else(PoisonError::into_inner);
        codes.retain(|c| c.is_good_at(now));
        // Compared by their hashes, so that the time it takes tells nothing.
        let sent = sha256(plain.as_bytes());
        let known = codes.iter().position(|c| sha256(c.letters.as_bytes()) == sent);
        if let Some(spent) = known {
            return Ok(codes.remove(spent).role);
        }
        if wrong.len() >= ADDRESSES_REMEMBERED.most() && !wrong.contains_key(&from) {
            let quiet = wrong.iter().min_by_key(|(_, tries)| tries.last().copied()).map(|(a, _)| *a);
            quiet.map(|a| wrong.remove(&a));
        }
        wrong.entry(from).or_default().push(now);
        Err(ApiError::new(
            StatusCode::FORBIDDEN,
            ErrorCode::WrongCode,
            say!(
                "That is not the code shown on the computer, or it has been used: each lets in one device, within ten minutes."
            ),
        ))
    }
}

/// Another token for a device: itself, for the device alone, and what is kept of it.
///
/// # Errors
/// [`NoRandom`].
pub fn new_token() -> Result<(String, Token), NoRandom> {
    let secret = letters(TOKEN_LETTERS)?;
    let hash = sha256(secret.as_bytes());
    Ok((secret, Token { hash, made_at: now(), good_until: from_now(TOKEN_GOOD_S.number) }))
}

/// The header that has a browser keep a token.
pub fn cookie(secret: &str) -> String {
    let kept_s = TOKEN_GOOD_S.number;
    format!("{COOKIE}={secret}; Path=/; Secure; HttpOnly; SameSite=Strict; Max-Age={kept_s}")
}

/// The header that has a browser forget its token.
pub fn no_cookie() -> String {
    format!("{COOKIE}=; Path=/; Secure; HttpOnly; SameSite=Strict; Max-Age=0")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::{People as _, SqliteStore};

    const OWNER: [u8; 4] = [192, 168, 1, 2];
    const STRANGER: [u8; 4] = [192, 168, 1, 66];

    #[test]
    fn a_code_lets_one_device_in_and_a_device_can_be_forgotten() {
        let store = SqliteStore::in_memory().unwrap();
        let pairing = Pairing::default();
        let code = pairing.code(Role::Crew).unwrap();
        let (device, token) = pairing.pair(&store, OWNER.into(), &code.to_uppercase(), "Phone").unwrap();
        let hash = sha256(token.as_bytes());
        let (found, kept) = store.device_of(&hash, &now(), &now()).unwrap().unwrap();
        assert_eq!((found.name.as_str(), found.role), ("Phone", Role::Crew));
        assert!(kept.good_until > kept.made_at);
        let again = pairing.pair(&store, OWNER.into(), &code, "Another").unwrap_err();
        assert_eq!(again.status, StatusCode::FORBIDDEN);
        assert_ne!(pairing.code(Role::Crew).unwrap(), code);
        assert!(store.forget(&device.id).unwrap());
        assert_eq!(store.device_of(&hash, &now(), &now()).unwrap(), None);
    }

    #[test]
    fn a_stranger_who_keeps_trying_keeps_nobody_else_out() {
        let pairing = Pairing::default();
        let code = pairing.code(Role::Designer).unwrap();
        let start = Instant::now();
        // A wrong code every four seconds for ten minutes, nearly: after five within a minute the rest are not looked at.
        let statuses: Vec<StatusCode> = (0..149)
            .map(|n| {
                pairing
                    .spend(STRANGER.into(), "nnnn-nnnn", start + Duration::from_secs(4 * n))
                    .unwrap_err()
                    .status
            })
            .collect();
        let looked_at = statuses.iter().filter(|s| **s == StatusCode::FORBIDDEN).count();
        assert!(looked_at <= 5 * 11, "{looked_at}");
        assert!(pairing.spend(OWNER.into(), &code, start + Duration::from_secs(599)).is_ok());
    }

    #[test]
    fn a_code_is_good_for_ten_minutes_and_the_one_shown_for_five_at_least() {
        let pairing = Pairing::default();
        let start = Instant::now();
        let minutes = |m: u64| start + Duration::from_secs(60 * m);
        let first = pairing.code_at(Role::Designer, start).unwrap();
        assert_eq!(pairing.code_at(Role::Designer, minutes(4)).unwrap(), first);
        let second = pairing.code_at(Role::Designer, minutes(5)).unwrap();
        assert_ne!(second, first);
        assert!(pairing.spend(OWNER.into(), &first, minutes(10)).is_err());
        assert!(pairing.spend(OWNER.into(), &second, minutes(14)).is_ok());
    }

    #[test]
    fn each_role_has_a_code_of_its_own() {
        let pairing = Pairing::default();
        let start = Instant::now();
        let crew = pairing.code_at(Role::Crew, start).unwrap();
        let designer = pairing.code_at(Role::Designer, start).unwrap();
        assert_ne!(crew, designer);
        assert_eq!(pairing.code_at(Role::Crew, start).unwrap(), crew, "it is shown on");
        assert_eq!(pairing.spend(OWNER.into(), &crew, start).unwrap(), Role::Crew);
        assert_eq!(pairing.spend(OWNER.into(), &designer, start).unwrap(), Role::Designer);
    }

    #[test]
    fn many_addresses_take_no_more_memory_than_is_set_aside() {
        let pairing = Pairing::default();
        let start = Instant::now();
        for n in 0..ADDRESSES_REMEMBERED.number as u32 + 100 {
            let from = std::net::Ipv4Addr::from(0x0a00_0000 + n);
            assert!(pairing.spend(from.into(), "x", start + Duration::from_millis(n.into())).is_err());
        }
        assert_eq!(pairing.wrong.lock().unwrap().len(), ADDRESSES_REMEMBERED.most());
    }
}
