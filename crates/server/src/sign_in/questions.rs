//! What passkeys are asked, and what signing in needs to know.

use super::accounts::Accounts;
use super::passkey::written;
use super::waiting::Waiting;
use crate::random::{NoRandom, letters};
use crate::store::Person;
use std::net::IpAddr;

/// Letters of a challenge: 260 bits; Web Authentication wants 16 bytes at least (section 13.4.3).
const CHALLENGE_LETTERS: usize = 52;

/// What a passkey was asked.
pub enum Question {
    /// Who somebody is.
    Who,
    /// To be made, on a device, for a person; whether they are known already.
    Make {
        /// The device.
        device: String,
        /// The person.
        person: Person,
        /// Whether the store knows them.
        is_known: bool,
    },
}

/// What signing in needs to know.
pub struct SignIn {
    questions: Waiting<Question>,
    /// The firm's own accounts, where there are any.
    pub accounts: Option<Accounts>,
}

impl SignIn {
    /// With the firm's own accounts, where there are any.
    pub fn with(accounts: Option<Accounts>) -> Self {
        Self { questions: Waiting::default(), accounts }
    }

    /// Asks a passkey; the challenge as it is sent, base64url.
    ///
    /// # Errors
    /// [`NoRandom`].
    pub fn ask(&self, from: IpAddr, question: Question) -> Result<String, NoRandom> {
        let challenge = written(letters(CHALLENGE_LETTERS)?.as_bytes());
        self.questions.put(challenge.clone(), from, question);
        Ok(challenge)
    }

    /// What was asked with a challenge, once.
    pub fn asked(&self, challenge: &str) -> Option<Question> {
        self.questions.take(challenge)
    }
}
