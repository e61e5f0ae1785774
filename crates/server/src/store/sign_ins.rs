//! People who sign in, kept beside the devices: who they are, their passkeys, and who they are to an identity provider.
//!
//! A device somebody signed in on is theirs (`Device::person`): it has their role, and goes when they go. Instants are texts as in
//! `people`.

use super::error::StoreError;
use super::people::Role;
use serde::{Deserialize, Serialize};

/// Somebody who signs in, on as many devices as they like.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Person {
    /// Their id.
    pub id: String,
    /// Their name.
    pub name: String,
    /// What they may do, on every device of theirs.
    pub role: Role,
    /// Since when they are known, RFC 3339.
    pub made_at: String,
}

/// A passkey: of it only what is public is known here.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Passkey {
    /// Its id as whatever keeps it made it up, base64url.
    pub id: String,
    /// Whose it is.
    pub person: String,
    /// Its public key as COSE has it (RFC 9052), base64url.
    pub public_key: String,
    /// How often it was used as it counts itself; 0 where it does not count.
    pub counter: u32,
    /// What it is called in the list.
    pub name: String,
    /// When it was made, RFC 3339.
    pub made_at: String,
    /// When it was last used, RFC 3339.
    pub used_at: String,
}

/// Who somebody is to an identity provider.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Identity {
    /// The provider, as it calls itself.
    pub issuer: String,
    /// The person, as it calls them for good.
    pub subject: String,
    /// The person here.
    pub person: String,
}

/// Keeps people who sign in. Calls may take as long as the disk or the network does.
pub trait SignIns: Send + Sync {
    /// Keeps a new person, with who they are to a provider where they came by way of one: both or neither.
    ///
    /// # Errors
    /// When the store cannot be written; when there is such a person or identity already.
    fn add_person(&self, person: &Person, known_as: Option<&Identity>) -> Result<(), StoreError>;

    /// A person by their id.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn person(&self, id: &str) -> Result<Option<Person>, StoreError>;

    /// Everybody who signs in, in the order they were made.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn people(&self) -> Result<Vec<Person>, StoreError>;

    /// Gives a person another role, and with it every device of theirs; whether there is one.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn set_role_of(&self, person: &str, role: Role) -> Result<bool, StoreError>;

    /// Takes a person away with their passkeys, identities and devices; whether there was one.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn forget_person(&self, person: &str) -> Result<bool, StoreError>;

    /// Makes a device that is nobody's a person's, in their role; whether it was nobody's.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn give_device(&self, device: &str, person: &str) -> Result<bool, StoreError>;

    /// Keeps a new passkey.
    ///
    /// # Errors
    /// When the store cannot be written; when there is one of that id, or no such person.
    fn keep_passkey(&self, passkey: &Passkey) -> Result<(), StoreError>;

    /// A passkey by its id.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn passkey(&self, id: &str) -> Result<Option<Passkey>, StoreError>;

    /// The passkeys of a person, in the order they were made.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn passkeys(&self, person: &str) -> Result<Vec<Passkey>, StoreError>;

    /// Notes that a passkey was used at `at` and how it counts now; whether that is more than before, or it does not count. Of two
    /// that say the same one is told so, whichever server they ask.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn used_passkey(&self, id: &str, counter: u32, at: &str) -> Result<bool, StoreError>;

    /// Takes a passkey of a person away; whether there was one.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn drop_passkey(&self, person: &str, id: &str) -> Result<bool, StoreError>;

    /// Keeps who a person is to a provider.
    ///
    /// # Errors
    /// When the store cannot be written; when that is somebody already.
    fn keep_identity(&self, identity: &Identity) -> Result<(), StoreError>;

    /// Whom a provider means.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn known_as(&self, issuer: &str, subject: &str) -> Result<Option<Person>, StoreError>;

    /// Who a person is to providers.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn identities(&self, person: &str) -> Result<Vec<Identity>, StoreError>;
}
