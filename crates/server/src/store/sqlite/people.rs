//! Who is let in and what they did, in the file of the jobs.

use super::SqliteStore;
use super::rows::{LINK, insert_link, mark_deleted};
use crate::store::{Acceptance, ClientLink, DeletedJob, Device, Doing, People, Role, StoreError, Token};
use rusqlite::types::Type;
use rusqlite::{Error, OptionalExtension, Row, TransactionBehavior, params};

const DEVICE: &str = "id, name, role, paired_at, seen_at, person";

fn device(r: &Row<'_>) -> Result<Device, Error> {
    let word: String = r.get(2)?;
    let unknown =
        || Error::FromSqlConversionFailure(2, Type::Text, format!("no role is called {word}").into());
    let role = Role::of(&word).ok_or_else(unknown)?;
    let (person, paired_at) = (r.get(5)?, r.get(3)?);
    Ok(Device { id: r.get(0)?, name: r.get(1)?, role, person, paired_at, seen_at: r.get(4)? })
}

fn deleted_job(r: &Row<'_>) -> Result<DeletedJob, Error> {
    Ok(DeletedJob { id: r.get(0)?, name: r.get(1)?, at: r.get(2)?, who: r.get(3)? })
}

fn doing(r: &Row<'_>) -> Result<(u64, Doing), Error> {
    Ok((r.get(0)?, Doing { at: r.get(1)?, who: r.get(2)?, what: r.get(3)?, about: r.get(4)? }))
}

fn link(r: &Row<'_>) -> Result<ClientLink, Error> {
    let accepted = match r.get::<_, Option<String>>(7)? {
        Some(name) => Some(Acceptance {
            name,
            at: r.get(8)?,
            revision: r.get(9)?,
            content: r.get(10)?,
            sha256: r.get(11)?,
        }),
        None => None,
    };
    Ok(ClientLink {
        id: r.get(0)?,
        job: r.get(1)?,
        client: r.get(2)?,
        prices: r.get(3)?,
        made_at: r.get(4)?,
        made_by: r.get(5)?,
        good_until: r.get(6)?,
        accepted,
    })
}

impl People for SqliteStore {
    fn admit(&self, d: &Device, tokens: &[Token]) -> Result<(), StoreError> {
        let mut c = self.writing()?;
        let t = c.transaction_with_behavior(TransactionBehavior::Immediate)?;
        t.execute(
            "INSERT INTO devices (id, name, role, paired_at, seen_at, person)
             VALUES (?1, ?2, coalesce((SELECT role FROM people WHERE id = ?6), ?3), ?4, ?5, ?6)",
            params![d.id, d.name, d.role.word(), d.paired_at, d.seen_at, d.person],
        )?;
        for token in tokens {
            t.execute(
                "INSERT INTO tokens (hash, device, made_at, good_until) VALUES (?1, ?2, ?3, ?4)",
                params![token.hash, d.id, token.made_at, token.good_until],
            )?;
        }
        Ok(t.commit()?)
    }

    fn tokens(&self, device: &str) -> Result<Vec<Token>, StoreError> {
        let c = self.with();
        let mut q =
            c.prepare_cached("SELECT hash, made_at, good_until FROM tokens WHERE device = ?1 ORDER BY hash")?;
        let token = |r: &Row<'_>| Ok(Token { hash: r.get(0)?, made_at: r.get(1)?, good_until: r.get(2)? });
        Ok(q.query_map([device], token)?.collect::<Result<_, _>>()?)
    }

    fn device_of(
        &self,
        token_hash: &str,
        now: &str,
        older_end: &str,
    ) -> Result<Option<(Device, Token)>, StoreError> {
        let c = self.with();
        let token = c
            .prepare_cached(
                "SELECT device, made_at, good_until FROM tokens WHERE hash = ?1 AND good_until > ?2",
            )?
            .query_row([token_hash, now], |r| {
                let token = Token { hash: token_hash.to_owned(), made_at: r.get(1)?, good_until: r.get(2)? };
                Ok((r.get::<_, String>(0)?, token))
            })
            .optional()?;
        let Some((id, token)) = token else { return Ok(None) };
        let found = c
            .prepare_cached(&format!("SELECT {DEVICE} FROM devices WHERE id = ?1"))?
            .query_row([&id], device)
            .optional()?;
        // Once a minute is often enough: a flush to the disk for every request would be felt.
        if let Some(d) = found.as_ref().filter(|d| d.seen_at.get(..16) != now.get(..16)) {
            c.execute("UPDATE devices SET seen_at = ?2 WHERE id = ?1", [d.id.as_str(), now])?;
            c.execute(
                "UPDATE tokens SET good_until = ?3 WHERE device = ?1 AND made_at < ?2 AND good_until > ?3",
                [id.as_str(), token.made_at.as_str(), older_end],
            )?;
        }
        Ok(found.map(|d| (d, token)))
    }

    fn renew(&self, device: &str, token: &Token, unless_after: &str) -> Result<bool, StoreError> {
        let mut c = self.writing()?;
        let t = c.transaction_with_behavior(TransactionBehavior::Immediate)?;
        t.execute("DELETE FROM tokens WHERE good_until <= ?1", [&token.made_at])?;
        let made = t.execute(
            "INSERT INTO tokens (hash, device, made_at, good_until) SELECT ?1, ?2, ?3, ?4
             WHERE EXISTS (SELECT 1 FROM devices WHERE id = ?2)
             AND NOT EXISTS (SELECT 1 FROM tokens WHERE device = ?2 AND made_at > ?5)",
            params![token.hash, device, token.made_at, token.good_until, unless_after],
        )?;
        t.commit()?;
        Ok(made > 0)
    }

    fn device(&self, id: &str) -> Result<Option<Device>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(&format!("SELECT {DEVICE} FROM devices WHERE id = ?1"))?;
        Ok(q.query_row([id], device).optional()?)
    }

    fn devices(&self) -> Result<Vec<Device>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(&format!("SELECT {DEVICE} FROM devices ORDER BY seen_at DESC, id"))?;
        Ok(q.query_map([], device)?.collect::<Result<_, _>>()?)
    }

    fn set_role(&self, device: &str, role: Role) -> Result<bool, StoreError> {
        let changed =
            self.writing()?.execute("UPDATE devices SET role = ?2 WHERE id = ?1", [device, role.word()])?;
        Ok(changed > 0)
    }

    fn forget(&self, device: &str) -> Result<bool, StoreError> {
        Ok(self.writing()?.execute("DELETE FROM devices WHERE id = ?1", [device])? > 0)
    }

    fn put_away(&self, job: &str, who: &str, at: &str) -> Result<bool, StoreError> {
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        let marked = mark_deleted(&t, job, who, at)?;
        t.commit()?;
        Ok(marked)
    }

    fn deleted(&self) -> Result<Vec<DeletedJob>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(
            "SELECT id, name, at, who FROM deleted_jobs JOIN jobs ON id = job ORDER BY at DESC, id",
        )?;
        Ok(q.query_map([], deleted_job)?.collect::<Result<_, _>>()?)
    }

    fn bring_back(&self, job: &str) -> Result<bool, StoreError> {
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        let back = t.execute("DELETE FROM deleted_jobs WHERE job = ?1", [job])?;
        t.commit()?;
        Ok(back > 0)
    }

    fn note(&self, d: &Doing) -> Result<(), StoreError> {
        self.writing()?.execute(
            "INSERT INTO doings (at, who, what, about) VALUES (?1, ?2, ?3, ?4)",
            params![d.at, d.who, d.what, d.about],
        )?;
        Ok(())
    }

    fn doings(&self, before: u64, limit: u32) -> Result<Vec<(u64, Doing)>, StoreError> {
        let before = i64::try_from(before).unwrap_or(i64::MAX);
        let c = self.with();
        let mut q = c.prepare_cached(
            "SELECT number, at, who, what, about FROM doings WHERE number < ?1 ORDER BY number DESC LIMIT ?2",
        )?;
        Ok(q.query_map(params![before, limit], doing)?.collect::<Result<_, _>>()?)
    }

    fn keep_link(&self, l: &ClientLink, token_hash: &str) -> Result<(), StoreError> {
        insert_link(&*self.writing()?, l, token_hash)
    }

    fn kept_links(&self, job: &str) -> Result<Vec<(ClientLink, String)>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(&format!(
            "SELECT {LINK}, token_hash FROM client_links WHERE job = ?1 ORDER BY made_at DESC, id"
        ))?;
        Ok(q.query_map([job], |r| Ok((link(r)?, r.get(12)?)))?.collect::<Result<_, _>>()?)
    }

    fn link_of(&self, token_hash: &str, now: &str) -> Result<Option<ClientLink>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(&format!(
            "SELECT {LINK} FROM client_links WHERE token_hash = ?1 AND good_until > ?2
             AND job NOT IN (SELECT job FROM deleted_jobs)"
        ))?;
        Ok(q.query_row([token_hash, now], link).optional()?)
    }

    fn end_link(&self, job: &str, link: &str, now: &str) -> Result<bool, StoreError> {
        let ended = self.writing()?.execute(
            "UPDATE client_links SET good_until = ?3 WHERE id = ?2 AND job = ?1 AND good_until > ?3",
            [job, link, now],
        )?;
        Ok(ended > 0)
    }

    fn accept(&self, link: &str, a: &Acceptance) -> Result<bool, StoreError> {
        let kept = self.writing()?.execute(
            "UPDATE client_links SET accepted_by = ?2, accepted_at = ?3, accepted_revision = ?4, accepted = ?5,
             accepted_sha256 = ?6 WHERE id = ?1 AND accepted_by IS NULL",
            params![link, a.name, a.at, a.revision, a.content, a.sha256],
        )?;
        Ok(kept > 0)
    }

    fn accept_anew(&self, link: &str, before: &str, kept: &str, a: &Acceptance) -> Result<bool, StoreError> {
        let mut c = self.writing()?;
        let t = c.transaction()?;
        // What was accepted before is an ended link of its own; no address leads to it.
        let copied = t.execute(
            &format!(
                "INSERT INTO client_links ({LINK}, token_hash)
                 SELECT ?3, job, client, prices, made_at, made_by, ?4, accepted_by, accepted_at, accepted_revision,
                 accepted, accepted_sha256, ?3 FROM client_links WHERE id = ?1 AND accepted_sha256 = ?2"
            ),
            params![link, before, kept, a.at],
        )?;
        t.execute(
            "UPDATE client_links SET accepted_by = ?3, accepted_at = ?4, accepted_revision = ?5, accepted = ?6,
             accepted_sha256 = ?7 WHERE id = ?1 AND accepted_sha256 = ?2",
            params![link, before, a.name, a.at, a.revision, a.content, a.sha256],
        )?;
        t.commit()?;
        Ok(copied > 0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::sqlite::people_tables::PEOPLE;
    use rusqlite::Connection;

    fn token(hash: &str, made_at: &str, good_until: &str) -> Token {
        Token { hash: hash.into(), made_at: made_at.into(), good_until: good_until.into() }
    }

    const DAY_1: &str = "2026-05-01T08:00:00Z";
    const DAY_2: &str = "2026-05-02T08:00:00Z";
    const DAY_3: &str = "2026-05-03T08:00:00Z";
    const DAY_9: &str = "2026-05-09T08:00:00Z";

    fn phone(store: &SqliteStore) {
        let device = Device {
            id: "phone1".into(),
            name: "Phone".into(),
            role: Role::Crew,
            person: None,
            paired_at: DAY_1.into(),
            seen_at: DAY_1.into(),
        };
        store.admit(&device, &[token("old", DAY_1, DAY_9)]).unwrap();
    }

    #[test]
    fn a_token_ends_and_the_older_one_ends_once_the_newer_is_used() {
        let store = SqliteStore::in_memory().unwrap();
        phone(&store);
        assert!(store.device_of("old", DAY_9, DAY_9).unwrap().is_none(), "it has ended");
        assert!(store.renew("phone1", &token("new", DAY_2, DAY_9), DAY_1).unwrap());
        assert!(
            !store.renew("phone1", &token("third", DAY_2, DAY_9), DAY_1).unwrap(),
            "it has been given one"
        );
        assert!(!store.renew("nobody", &token("x", DAY_2, DAY_9), DAY_1).unwrap());
        // The answer with the new one was lost: the old one lets it in.
        let soon = "2026-05-02T08:02:00Z";
        assert!(store.device_of("old", "2026-05-02T08:01:00Z", soon).unwrap().is_some());
        let (found, used) =
            store.device_of("new", "2026-05-02T09:00:00Z", "2026-05-02T09:01:00Z").unwrap().unwrap();
        assert_eq!((found.role, used.made_at.as_str()), (Role::Crew, DAY_2));
        assert!(store.device_of("old", "2026-05-02T09:00:30Z", soon).unwrap().is_some(), "what is under way");
        assert!(store.device_of("old", "2026-05-02T09:02:00Z", soon).unwrap().is_none());
        assert!(store.forget("phone1").unwrap());
        assert!(store.device_of("new", DAY_3, DAY_3).unwrap().is_none(), "its tokens go with it");
    }

    #[test]
    fn devices_of_before_keep_their_token_and_become_designers() {
        let c = Connection::open_in_memory().unwrap();
        c.execute_batch(
            "CREATE TABLE jobs (id TEXT PRIMARY KEY) STRICT;
             CREATE TABLE devices (id TEXT PRIMARY KEY, token_hash TEXT NOT NULL UNIQUE, name TEXT NOT NULL,
               paired_at TEXT NOT NULL, seen_at TEXT NOT NULL) STRICT;
             INSERT INTO devices VALUES ('a', 'hash', 'Phone', '2026-05-01T08:00:00Z', '2026-05-02T08:00:00Z');",
        )
        .unwrap();
        c.execute_batch(PEOPLE).unwrap();
        let row: (String, String, String) = c
            .query_row("SELECT role, made_at, good_until FROM devices JOIN tokens ON device = id WHERE hash = 'hash'",
                [], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))
            .unwrap();
        assert_eq!((row.0.as_str(), row.1.as_str()), ("designer", DAY_1));
        assert!(row.2.len() == DAY_1.len() && row.2.as_str() > DAY_1, "{}", row.2);
    }
}
