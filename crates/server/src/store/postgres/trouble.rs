//! What a database says when it refuses, as the store says it.

use crate::store::StoreError;
use postgres::types::{ToSql, Type};
use std::error::Error as _;

/// Why something did not come about in the database.
#[derive(Debug)]
pub enum Trouble {
    /// What the database or the way there says.
    Database(postgres::Error),
    /// What the store says.
    Store(StoreError),
}

impl From<postgres::Error> for Trouble {
    fn from(e: postgres::Error) -> Self {
        Self::Database(e)
    }
}

impl From<StoreError> for Trouble {
    fn from(e: StoreError) -> Self {
        Self::Store(e)
    }
}

/// Classes and codes of the SQL standard and of PostgreSQL (its manual, appendix A).
mod code {
    pub const CONNECTION: &str = "08";
    pub const FOREIGN_KEY: &str = "23503";
    pub const READ_ONLY: &str = "25006";
    pub const SERIALIZATION: &str = "40001";
    pub const DEADLOCK: &str = "40P01";
    pub const NO_RIGHTS: &str = "42501";
    pub const TOO_MANY_CONNECTIONS: &str = "53300";
    pub const DISK_FULL: &str = "53100";
    pub const SHUTTING_DOWN: &str = "57P";
    pub const LOCK_NOT_HAD: &str = "55P03";
    pub const TOO_LONG: &str = "57014";
}

impl Trouble {
    fn code(&self) -> Option<&str> {
        match self {
            Self::Database(e) => e.as_db_error().map(|e| e.code().code()),
            Self::Store(_) => None,
        }
    }

    /// Whether the database did not answer, so that it may help to ask again. What was asked may have been done.
    pub fn is_away(&self) -> bool {
        match (self, self.code()) {
            (Self::Store(e), _) => matches!(e, StoreError::Away(_)),
            (_, Some(c)) => {
                [code::CONNECTION, code::SHUTTING_DOWN].iter().any(|start| c.starts_with(start))
                    || c == code::TOO_MANY_CONNECTIONS
            }
            (Self::Database(e), None) => {
                e.is_closed() || e.source().is_some_and(|cause| cause.is::<std::io::Error>())
            }
        }
    }

    /// Whether two transactions stood in each other's way and one was taken back as a whole.
    pub fn is_of_two_at_once(&self) -> bool {
        matches!(self.code(), Some(code::FOREIGN_KEY | code::SERIALIZATION | code::DEADLOCK))
    }

    /// In a sentence's part.
    pub fn told(&self) -> String {
        match self {
            Self::Store(e) => e.to_string(),
            Self::Database(e) => match (e.as_db_error(), e.source()) {
                (Some(said), _) => said.message().to_owned(),
                (None, Some(cause)) => format!("{e}: {cause}"),
                (None, None) => e.to_string(),
            },
        }
    }

    /// Why a database cannot be used to keep jobs in, and what to do about it.
    pub fn of_database(self, database: &str) -> StoreError {
        let why = match (&self, self.code()) {
            (Self::Store(StoreError::Refused(why)), _) => Some(why.clone()),
            (Self::Store(_), _) => None,
            (_, Some(code::NO_RIGHTS | code::READ_ONLY)) => Some(format!(
                "its user may not do there what keeping jobs takes ({}); let the user own the database, or give it the right to create in it",
                self.told()
            )),
            _ if self.is_away() => Some(format!("it does not answer ({})", self.told())),
            _ => Some(self.told()),
        };
        match why {
            Some(why) => StoreError::NoDatabase { database: database.to_owned(), why },
            None => self.into(),
        }
    }
}

impl From<Trouble> for StoreError {
    fn from(trouble: Trouble) -> Self {
        let away = trouble.is_away();
        let code = trouble.code().map(str::to_owned);
        let told = trouble.told();
        match (trouble, code.as_deref()) {
            (Trouble::Store(e), _) => e,
            _ if away => Self::Away(told),
            (_, Some(code::LOCK_NOT_HAD | code::TOO_LONG)) => Self::Away(told),
            (_, Some(code::DISK_FULL)) => Self::NoRoom,
            (_, Some(code::READ_ONLY)) => Self::Refused(format!("the database can only be read ({told})")),
            _ => Self::Refused(told),
        }
    }
}

/// A value of a statement with its type.
pub type Value<'a> = (&'a (dyn ToSql + Sync), Type);

/// A text, or none.
pub fn text(value: &(dyn ToSql + Sync)) -> Value<'_> {
    (value, Type::TEXT)
}

/// A whole number, or none.
pub fn number(value: &(dyn ToSql + Sync)) -> Value<'_> {
    (value, Type::INT8)
}

/// Bytes.
pub fn bytes(value: &(dyn ToSql + Sync)) -> Value<'_> {
    (value, Type::BYTEA)
}

/// Yes or no.
pub fn truth(value: &(dyn ToSql + Sync)) -> Value<'_> {
    (value, Type::BOOL)
}

/// Several texts.
pub fn texts(value: &(dyn ToSql + Sync)) -> Value<'_> {
    (value, Type::TEXT_ARRAY)
}

/// A revision or a size as the database counts; beyond what it can count there is none.
pub fn signed(count: u64) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

/// A count of the database's.
pub fn unsigned(count: i64) -> u64 {
    u64::try_from(count).unwrap_or_default()
}
