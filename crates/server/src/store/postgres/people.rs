//! Who is let in and what they did, in the database. That a device was turned away or given another role is told to the other
//! servers, and so is what of a job they must let go.

use super::PostgresStore;
use super::rows::{LINK, count, insert_link, mark_deleted};
use super::trouble::{Trouble, number, signed, text, unsigned};
use crate::store::{Acceptance, ClientLink, DeletedJob, Device, Doing, People, Role, StoreError, Token};
use postgres::{Row, Transaction};

const DEVICE: &str = "id, name, role, paired_at, seen_at, person";

fn device(r: &Row) -> Result<Device, Trouble> {
    let word: String = r.try_get(2)?;
    let role = Role::of(&word).ok_or_else(|| StoreError::Damaged(format!("no role is called {word}")))?;
    Ok(Device {
        id: r.try_get(0)?,
        name: r.try_get(1)?,
        role,
        person: r.try_get(5)?,
        paired_at: r.try_get(3)?,
        seen_at: r.try_get(4)?,
    })
}

fn deleted_job(r: &Row) -> Result<DeletedJob, Trouble> {
    Ok(DeletedJob { id: r.try_get(0)?, name: r.try_get(1)?, at: r.try_get(2)?, who: r.try_get(3)? })
}

fn doing(r: &Row) -> Result<(u64, Doing), Trouble> {
    let doing = Doing { at: r.try_get(1)?, who: r.try_get(2)?, what: r.try_get(3)?, about: r.try_get(4)? };
    Ok((count(r, 0)?, doing))
}

fn token(r: &Row) -> Result<Token, Trouble> {
    Ok(Token { hash: r.try_get(0)?, made_at: r.try_get(1)?, good_until: r.try_get(2)? })
}

fn link(r: &Row) -> Result<ClientLink, Trouble> {
    let accepted = match r.try_get::<_, Option<String>>(7)? {
        Some(name) => Some(Acceptance {
            name,
            at: r.try_get(8)?,
            revision: unsigned(r.try_get(9)?),
            content: r.try_get(10)?,
            sha256: r.try_get(11)?,
        }),
        None => None,
    };
    Ok(ClientLink {
        id: r.try_get(0)?,
        job: r.try_get(1)?,
        client: r.try_get(2)?,
        prices: r.try_get(3)?,
        made_at: r.try_get(4)?,
        made_by: r.try_get(5)?,
        good_until: r.try_get(6)?,
        accepted,
    })
}

fn all<T>(rows: &[Row], read: impl Fn(&Row) -> Result<T, Trouble>) -> Result<Vec<T>, StoreError> {
    Ok(rows.iter().map(read).collect::<Result<Vec<_>, _>>()?)
}

fn insert_token(t: &mut Transaction<'_>, device: &str, token: &Token) -> Result<(), Trouble> {
    t.execute_typed(
        "INSERT INTO loamline.tokens (hash, device, made_at, good_until) VALUES ($1, $2, $3, $4)",
        &[text(&token.hash), text(&device), text(&token.made_at), text(&token.good_until)],
    )?;
    Ok(())
}

impl PostgresStore {
    /// Marks a device as seen, and has the tokens it was given before this one end.
    fn seen(&self, device: &str, token: &Token, now: &str, older_end: &str) -> Result<(), StoreError> {
        self.within(|t| {
            t.execute_typed(
                "UPDATE loamline.devices SET seen_at = $2 WHERE id = $1",
                &[text(&device), text(&now)],
            )?;
            t.execute_typed(
                "UPDATE loamline.tokens SET good_until = $3 WHERE device = $1 AND made_at < $2 AND good_until > $3",
                &[text(&device), text(&token.made_at), text(&older_end)],
            )?;
            Ok(())
        })
    }
}

impl People for PostgresStore {
    fn admit(&self, d: &Device, tokens: &[Token]) -> Result<(), StoreError> {
        self.within(|t| {
            // Whoever gives its person another role meanwhile waits, and finds it.
            let role = match &d.person {
                Some(person) => t
                    .query_typed("SELECT role FROM loamline.people WHERE id = $1 FOR SHARE", &[text(person)])?
                    .first()
                    .map(|r| r.try_get::<_, String>(0))
                    .transpose()?,
                None => None,
            };
            let role = role.unwrap_or_else(|| d.role.word().to_owned());
            t.execute_typed(
                "INSERT INTO loamline.devices (id, name, role, paired_at, seen_at, person)
                 VALUES ($1, $2, $3, $4, $5, $6)",
                &[
                    text(&d.id),
                    text(&d.name),
                    text(&role),
                    text(&d.paired_at),
                    text(&d.seen_at),
                    text(&d.person),
                ],
            )?;
            tokens.iter().try_for_each(|token| insert_token(t, &d.id, token))
        })
    }

    fn tokens(&self, device: &str) -> Result<Vec<Token>, StoreError> {
        let rows = self.rows(
            "SELECT hash, made_at, good_until FROM loamline.tokens WHERE device = $1 ORDER BY hash",
            &[text(&device)],
        )?;
        all(&rows, token)
    }

    fn device_of(
        &self,
        token_hash: &str,
        now: &str,
        older_end: &str,
    ) -> Result<Option<(Device, Token)>, StoreError> {
        let rows = self.rows(
            "SELECT d.id, d.name, d.role, d.paired_at, d.seen_at, d.person, t.made_at, t.good_until
             FROM loamline.tokens t JOIN loamline.devices d ON d.id = t.device
             WHERE t.hash = $1 AND t.good_until > $2",
            &[text(&token_hash), text(&now)],
        )?;
        let Some(r) = rows.first() else { return Ok(None) };
        let found = device(r)?;
        let made_at: String = r.try_get(6).map_err(Trouble::from)?;
        let good_until: String = r.try_get(7).map_err(Trouble::from)?;
        let token = Token { hash: token_hash.to_owned(), made_at, good_until };
        // Once a minute is often enough: a flush to the disk for every request would be felt.
        if found.seen_at.get(..16) != now.get(..16) {
            self.seen(&found.id, &token, now, older_end)?;
        }
        Ok(Some((found, token)))
    }

    fn renew(&self, device: &str, token: &Token, unless_after: &str) -> Result<bool, StoreError> {
        self.within(|t| {
            // Of two servers that renew it at once the second waits, and finds what the first gave it.
            let there =
                t.query_typed("SELECT 1 FROM loamline.devices WHERE id = $1 FOR UPDATE", &[text(&device)])?;
            t.execute_typed("DELETE FROM loamline.tokens WHERE good_until <= $1", &[text(&token.made_at)])?;
            let newer = t.query_typed(
                "SELECT 1 FROM loamline.tokens WHERE device = $1 AND made_at > $2 LIMIT 1",
                &[text(&device), text(&unless_after)],
            )?;
            let gives = !there.is_empty() && newer.is_empty();
            if gives {
                insert_token(t, device, token)?;
            }
            Ok(gives)
        })
    }

    fn device(&self, id: &str) -> Result<Option<Device>, StoreError> {
        let question = format!("SELECT {DEVICE} FROM loamline.devices WHERE id = $1");
        let rows = self.rows(&question, &[text(&id)])?;
        Ok(rows.first().map(device).transpose()?)
    }

    fn devices(&self) -> Result<Vec<Device>, StoreError> {
        let question = format!("SELECT {DEVICE} FROM loamline.devices ORDER BY seen_at DESC, id");
        all(&self.rows(&question, &[])?, device)
    }

    fn set_role(&self, device: &str, role: Role) -> Result<bool, StoreError> {
        let changed = self.execute(
            "UPDATE loamline.devices SET role = $2 WHERE id = $1",
            &[text(&device), text(&role.word())],
        )?;
        if changed > 0 {
            self.calls.people_changed();
        }
        Ok(changed > 0)
    }

    fn forget(&self, device: &str) -> Result<bool, StoreError> {
        let gone = self.execute("DELETE FROM loamline.devices WHERE id = $1", &[text(&device)])?;
        if gone > 0 {
            self.calls.people_changed();
        }
        Ok(gone > 0)
    }

    fn put_away(&self, job: &str, who: &str, at: &str) -> Result<bool, StoreError> {
        let marked = self.within(|t| mark_deleted(t, job, who, at))?;
        if marked {
            self.calls.changed(job);
        }
        Ok(marked)
    }

    fn deleted(&self) -> Result<Vec<DeletedJob>, StoreError> {
        let rows = self.rows(
            "SELECT id, name, deleted_at, deleted_by FROM loamline.jobs
             WHERE deleted_at IS NOT NULL ORDER BY deleted_at DESC, id",
            &[],
        )?;
        all(&rows, deleted_job)
    }

    fn bring_back(&self, job: &str) -> Result<bool, StoreError> {
        let back = self.execute(
            "UPDATE loamline.jobs SET deleted_at = NULL, deleted_by = NULL
             WHERE id = $1 AND deleted_at IS NOT NULL",
            &[text(&job)],
        )?;
        Ok(back > 0)
    }

    fn note(&self, d: &Doing) -> Result<(), StoreError> {
        self.execute(
            r#"INSERT INTO loamline.doings ("at", who, what, about) VALUES ($1, $2, $3, $4)"#,
            &[text(&d.at), text(&d.who), text(&d.what), text(&d.about)],
        )?;
        Ok(())
    }

    fn doings(&self, before: u64, limit: u32) -> Result<Vec<(u64, Doing)>, StoreError> {
        let rows = self.rows(
            r#"SELECT number, "at", who, what, about FROM loamline.doings
               WHERE number < $1 ORDER BY number DESC LIMIT $2"#,
            &[number(&signed(before)), number(&i64::from(limit))],
        )?;
        all(&rows, doing)
    }

    fn keep_link(&self, l: &ClientLink, token_hash: &str) -> Result<(), StoreError> {
        self.within(|t| insert_link(t, l, token_hash))
    }

    fn kept_links(&self, job: &str) -> Result<Vec<(ClientLink, String)>, StoreError> {
        let question = format!(
            "SELECT {LINK}, token_hash FROM loamline.client_links WHERE job = $1 ORDER BY made_at DESC, id"
        );
        all(&self.rows(&question, &[text(&job)])?, |r| Ok((link(r)?, r.try_get(12)?)))
    }

    fn link_of(&self, token_hash: &str, now: &str) -> Result<Option<ClientLink>, StoreError> {
        let question = format!(
            "SELECT {LINK} FROM loamline.client_links WHERE token_hash = $1 AND good_until > $2
             AND EXISTS (SELECT 1 FROM loamline.jobs j WHERE j.id = job AND j.deleted_at IS NULL)"
        );
        let rows = self.rows(&question, &[text(&token_hash), text(&now)])?;
        Ok(rows.first().map(link).transpose()?)
    }

    fn end_link(&self, job: &str, link: &str, now: &str) -> Result<bool, StoreError> {
        let ended = self.execute(
            "UPDATE loamline.client_links SET good_until = $3 WHERE id = $2 AND job = $1 AND good_until > $3",
            &[text(&job), text(&link), text(&now)],
        )?;
        Ok(ended > 0)
    }

    fn accept(&self, link: &str, a: &Acceptance) -> Result<bool, StoreError> {
        let kept = self.execute(
            "UPDATE loamline.client_links SET accepted_by = $2, accepted_at = $3, accepted_revision = $4,
             accepted = $5, accepted_sha256 = $6 WHERE id = $1 AND accepted_by IS NULL",
            &[
                text(&link),
                text(&a.name),
                text(&a.at),
                number(&signed(a.revision)),
                text(&a.content),
                text(&a.sha256),
            ],
        )?;
        Ok(kept > 0)
    }

    fn accept_anew(&self, link: &str, before: &str, kept: &str, a: &Acceptance) -> Result<bool, StoreError> {
        let copy = format!(
            "INSERT INTO loamline.client_links ({LINK}, token_hash)
             SELECT $3, job, client, prices, made_at, made_by, $4, accepted_by, accepted_at, accepted_revision,
             accepted, accepted_sha256, $3 FROM loamline.client_links WHERE id = $1 AND accepted_sha256 = $2"
        );
        self.within(|t| {
            // What was accepted before is an ended link of its own; no address leads to it.
            let copied = t.execute_typed(&copy, &[text(&link), text(&before), text(&kept), text(&a.at)])?;
            t.execute_typed(
                "UPDATE loamline.client_links SET accepted_by = $3, accepted_at = $4, accepted_revision = $5,
                 accepted = $6, accepted_sha256 = $7 WHERE id = $1 AND accepted_sha256 = $2",
                &[
                    text(&link),
                    text(&before),
                    text(&a.name),
                    text(&a.at),
                    number(&signed(a.revision)),
                    text(&a.content),
                    text(&a.sha256),
                ],
            )?;
            Ok(copied > 0)
        })
    }
}
