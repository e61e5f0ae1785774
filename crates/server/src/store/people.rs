//! Who is let in and what they did, kept beside the jobs: devices with their tokens and roles, jobs that were deleted and can
//! still be brought back, links for clients, and a log of all that is in no job's own history.
//!
//! A trait of its own, so that each store has it in a file of its own. Instants are texts of RFC 3339 in UTC to the second, all
//! of the same form, so that the earlier one is the smaller text.

use super::error::StoreError;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What somebody may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Everything, deleting jobs too.
    Owner,
    /// Everything about a job but deleting it.
    Designer,
    /// Readings, ticks and photos; sees no prices.
    Crew,
    /// What a link shows of one job, and accepting it.
    Client,
}

impl Role {
    /// Every role, the one that may most first.
    pub const ALL: [Self; 4] = [Self::Owner, Self::Designer, Self::Crew, Self::Client];

    /// As it is kept and told.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Owner => "owner",
            Self::Designer => "designer",
            Self::Crew => "crew",
            Self::Client => "client",
        }
    }

    /// The role of a word.
    pub fn of(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.word() == word)
    }

    /// Whether prices are for them.
    pub const fn sees_prices(self) -> bool {
        matches!(self, Self::Owner | Self::Designer)
    }
}

/// A device that was let in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Device {
    /// Its id, for the list.
    pub id: String,
    /// The name it was paired under.
    pub name: String,
    /// What may be done with it.
    pub role: Role,
    /// Whose it is: who signed in on it; none for one that was paired by a code alone.
    pub person: Option<String>,
    /// When it was paired, RFC 3339.
    pub paired_at: String,
    /// When it was last seen, RFC 3339.
    pub seen_at: String,
}

/// A token of a device, of which only the hash is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Token {
    /// SHA-256 of it, hexadecimal.
    pub hash: String,
    /// When it was made.
    pub made_at: String,
    /// Until when it lets the device in.
    pub good_until: String,
}

/// A job that was deleted and is still kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeletedJob {
    /// Its id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// When it was deleted.
    pub at: String,
    /// By whom.
    pub who: String,
}

/// Something that was done and is in no job's history.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Doing {
    /// When.
    pub at: String,
    /// Who; empty where nobody said.
    pub who: String,
    /// What, as a word for programs.
    pub what: String,
    /// To which device, job or link, by its name.
    pub about: String,
}

/// A link by which a client sees one job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClientLink {
    /// Its id, for the list.
    pub id: String,
    /// The job.
    pub job: String,
    /// For whom it is.
    pub client: String,
    /// Whether prices are shown.
    pub prices: bool,
    /// When it was made.
    pub made_at: String,
    /// By whom.
    pub made_by: String,
    /// Until when it shows anything.
    pub good_until: String,
    /// What was accepted by it; none so far.
    pub accepted: Option<Acceptance>,
}

/// What a client accepted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Acceptance {
    /// Who accepted, as they typed their name.
    pub name: String,
    /// When, by the clock here.
    pub at: String,
    /// Revision of the job.
    pub revision: u64,
    /// Exactly what was accepted.
    pub content: String,
    /// SHA-256 of that, hexadecimal.
    pub sha256: String,
}

/// Keeps who is let in and what they did. Calls may take as long as the disk or the network does.
pub trait People: Send + Sync {
    /// Keeps a device with its tokens: the first one, or those it had elsewhere. One that is somebody's has their role.
    ///
    /// # Errors
    /// When the store cannot be written; when there is such a device or token already, or no such person.
    fn admit(&self, device: &Device, tokens: &[Token]) -> Result<(), StoreError>;

    /// The tokens of a device, by their hash.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn tokens(&self, device: &str) -> Result<Vec<Token>, StoreError>;

    /// The device of a token that is good at `now`, with the token; the device is marked as seen, and its older tokens end
    /// by `older_end`.
    ///
    /// # Errors
    /// When the store cannot be read or written.
    fn device_of(
        &self,
        token_hash: &str,
        now: &str,
        older_end: &str,
    ) -> Result<Option<(Device, Token)>, StoreError>;

    /// Gives a device another token, unless it was given one after `unless_after`; whether it was. Tokens that have ended
    /// are let go.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn renew(&self, device: &str, token: &Token, unless_after: &str) -> Result<bool, StoreError>;

    /// A device by its id.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn device(&self, id: &str) -> Result<Option<Device>, StoreError>;

    /// Every paired device, the one seen last first.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn devices(&self) -> Result<Vec<Device>, StoreError>;

    /// Gives a device another role; whether there is one.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn set_role(&self, device: &str, role: Role) -> Result<bool, StoreError>;

    /// Takes a device away with its tokens; whether there was one.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn forget(&self, device: &str) -> Result<bool, StoreError>;

    /// Marks a job as deleted: from then on it is in no list, is not read and takes no edits. Whether there was one.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn put_away(&self, job: &str, who: &str, at: &str) -> Result<bool, StoreError>;

    /// Jobs that were deleted and are still kept, the one deleted last first.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn deleted(&self) -> Result<Vec<DeletedJob>, StoreError>;

    /// Takes back that a job was deleted; whether it was.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn bring_back(&self, job: &str) -> Result<bool, StoreError>;

    /// Adds to the log of what is in no job's history.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn note(&self, doing: &Doing) -> Result<(), StoreError>;

    /// At most `limit` entries of that log with a number below `before`, the newest first, each with its number.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn doings(&self, before: u64, limit: u32) -> Result<Vec<(u64, Doing)>, StoreError>;

    /// Keeps a link for a client with the hash of its token.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn keep_link(&self, link: &ClientLink, token_hash: &str) -> Result<(), StoreError>;

    /// The links of a job, the newest first, each with the hash of its token.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn kept_links(&self, job: &str) -> Result<Vec<(ClientLink, String)>, StoreError>;

    /// The links of a job, the newest first.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn links(&self, job: &str) -> Result<Vec<ClientLink>, StoreError> {
        Ok(self.kept_links(job)?.into_iter().map(|(link, _)| link).collect())
    }

    /// The link of a token that is good at `now`, unless its job was deleted.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn link_of(&self, token_hash: &str, now: &str) -> Result<Option<ClientLink>, StoreError>;

    /// Ends a link of a job at once; what was accepted by it stays. Whether there was one that was good.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn end_link(&self, job: &str, link: &str, now: &str) -> Result<bool, StoreError>;

    /// Keeps what was accepted by a link, once; whether nothing had been before.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn accept(&self, link: &str, accepted: &Acceptance) -> Result<bool, StoreError>;

    /// Keeps what is accepted by a link instead of what had been, whose hash is `before`; that stays as an ended link of its own
    /// under the id `kept`. Whether it was still that.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn accept_anew(
        &self,
        link: &str,
        before: &str,
        kept: &str,
        accepted: &Acceptance,
    ) -> Result<bool, StoreError>;
}
