//! Words between servers that are kept nowhere: NOTIFY on a channel of its own, so that whoever waits for edits is not woken by them.

use super::others::{heard_by, hold};
use super::pool::Pool;
use super::trouble::{Trouble, text};
use crate::store::StoreError;
use postgres::Client;
use std::sync::Mutex;
use std::time::Duration;

/// This server's word, and its ear.
pub struct Present {
    own: String,
    ear: Mutex<Option<Client>>,
}

impl Present {
    /// That of a server known by a word that no other has.
    pub fn of(own: String) -> Self {
        Self { own, ear: Mutex::default() }
    }

    /// Tells the others.
    pub fn tell(&self, pool: &Pool, said: &str) -> Result<(), StoreError> {
        let said = format!("{} {said}", self.own);
        pool.ask(|c| Ok(c.query_typed("SELECT pg_notify('loamline_present', $1)", &[text(&said)])?))?;
        Ok(())
    }

    /// What others told, at most so long after the call.
    pub fn hear(&self, pool: &Pool, at_most: Duration) -> Result<Vec<(String, String)>, StoreError> {
        let mut ear = hold(&self.ear);
        let Some(client) = ear.as_mut() else {
            let mut client = pool.connect()?;
            client.batch_execute("LISTEN loamline_present").map_err(Trouble::from)?;
            *ear = Some(client);
            return Ok(Vec::new());
        };
        let heard = heard_by(client, at_most);
        match heard {
            Ok(said) => Ok(said.iter().filter_map(|notice| self.of_another(notice)).collect()),
            Err(e) => {
                *ear = None;
                Err(StoreError::Away(e.told()))
            }
        }
    }

    /// Which other server said what; none of one's own words.
    fn of_another(&self, notice: &str) -> Option<(String, String)> {
        let (server, said) = notice.split_once(' ')?;
        (server != self.own).then(|| (server.to_owned(), said.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_server_does_not_hear_itself() {
        let present = Present::of("me".into());
        assert_eq!(
            present.of_another("you {\"job\": \"a b\"}"),
            Some(("you".into(), "{\"job\": \"a b\"}".into()))
        );
        assert_eq!(present.of_another("me {}"), None);
        assert_eq!(present.of_another("nonsense"), None);
    }
}
