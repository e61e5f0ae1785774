//! Signing in, beside pairing by a code: by a passkey, or with the firm's own accounts. There are no passwords of ours.

mod accounts;
mod cose;
mod fetch;
mod id_token;
mod passkey;
mod provider;
mod questions;
mod signatures;
mod site;
mod waiting;

pub use accounts::{Accounts, BACK, Back, Vouched, refused};
pub use cose::ALGORITHMS;
#[cfg(test)]
pub use id_token::Claims;
pub use passkey::{ClientData, Made, PasskeyError, made, read, signed};
pub use provider::{Provider, ProviderError};
pub use questions::{Question, SignIn};
pub use site::{Site, is_number};
