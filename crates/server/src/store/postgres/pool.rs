//! Connections to the database: a few, lent out one at a time and given back.

use super::address::Address;
use super::trouble::Trouble;
use crate::store::StoreError;
use loamline_limits::{DATABASE_CONNECTIONS, DATABASE_S, STORE_BUSY_S};
use postgres::Client;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// A connection that has rested so long is asked whether it still stands before it is used: the database may have been
/// started anew meanwhile.
const RESTED: Duration = Duration::from_secs(1);

/// How often a transaction is tried that another stood in the way of.
const TRIES: usize = 4;

/// What every connection is set to. A commit is on the disk before it is answered, and nothing waits for ever.
const SETTINGS: &str = "
SET statement_timeout = '60s';
SET lock_timeout = '10s';
SET idle_in_transaction_session_timeout = '60s';
SET client_min_messages = warning;
SELECT set_config('synchronous_commit', 'on', false) WHERE current_setting('synchronous_commit') = 'off';
";

/// Connections to one database.
pub struct Pool {
    address: Address,
    resting: Mutex<Resting>,
    given_back: Condvar,
}

#[derive(Default)]
struct Resting {
    /// Those nobody uses, and since when.
    clients: Vec<(Client, Instant)>,
    /// How many are in use.
    lent: usize,
}

impl Pool {
    /// Connections to an address; none is made yet.
    pub fn to(address: Address) -> Self {
        Self { address, resting: Mutex::default(), given_back: Condvar::new() }
    }

    /// Where they lead.
    pub fn address(&self) -> &Address {
        &self.address
    }

    /// A connection of its own, beside those that are lent.
    ///
    /// # Errors
    /// When the database cannot be reached.
    pub fn connect(&self) -> Result<Client, Trouble> {
        let mut client = self.address.connect()?;
        client.batch_execute(SETTINGS)?;
        Ok(client)
    }

    /// Asks what may be asked twice: once more where the connection broke.
    ///
    /// # Errors
    /// Those of what is asked; when the database cannot be reached.
    pub fn ask<T>(&self, ask: impl Fn(&mut Client) -> Result<T, Trouble>) -> Result<T, StoreError> {
        match self.lend(&ask) {
            Err(trouble) if trouble.is_away() => {
                // Those that rest are likely broken too.
                let broken = std::mem::take(&mut self.resting().clients);
                drop(broken);
                Ok(self.lend(&ask)?)
            }
            asked => Ok(asked?),
        }
    }

    /// Does what is taken back as a whole where it fails: again where another transaction stood in its way.
    ///
    /// # Errors
    /// As for [`Pool::ask`].
    pub fn change<T>(&self, change: impl Fn(&mut Client) -> Result<T, Trouble>) -> Result<T, StoreError> {
        for _ in 1..TRIES {
            match self.lend(&change) {
                Err(trouble) if trouble.is_of_two_at_once() => {}
                changed => return Ok(changed?),
            }
        }
        Ok(self.lend(&change)?)
    }

    fn lend<T>(&self, work: impl FnOnce(&mut Client) -> Result<T, Trouble>) -> Result<T, Trouble> {
        // Whoever unwinds out of the work takes the connection along: it is closed.
        let (mut client, place) = self.take()?;
        let done = work(&mut client);
        let broken = client.is_closed() || matches!(&done, Err(trouble) if trouble.is_away());
        if !broken {
            self.resting().clients.push((client, Instant::now()));
        }
        drop(place);
        done
    }

    fn take(&self) -> Result<(Client, Place<'_>), Trouble> {
        let until = Instant::now() + Duration::from_secs(STORE_BUSY_S.number);
        let mut resting = self.resting();
        loop {
            let found = resting.clients.pop();
            if found.is_some() || DATABASE_CONNECTIONS.check(resting.lent + 1).is_ok() {
                resting.lent += 1;
                drop(resting);
                let place = Place(self);
                match found {
                    None => return Ok((self.connect()?, place)),
                    Some((mut client, since)) => {
                        let within = Duration::from_secs(DATABASE_S.number);
                        if since.elapsed() < RESTED || client.is_valid(within).is_ok() {
                            return Ok((client, place));
                        }
                    }
                }
                drop(place);
                resting = self.resting();
                continue;
            }
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                let all = format!("all {} connections to it are in use", resting.lent);
                return Err(StoreError::Away(all).into());
            }
            resting = self.given_back.wait_timeout(resting, left).unwrap_or_else(PoisonError::into_inner).0;
        }
    }

    fn resting(&self) -> MutexGuard<'_, Resting> {
        // Nothing can give up while it is held.
        self.resting.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A connection's place among those that are lent, given back when it is dropped.
struct Place<'p>(&'p Pool);

impl Drop for Place<'_> {
    fn drop(&mut self) {
        self.0.resting().lent -= 1;
        self.0.given_back.notify_one();
    }
}
