//! People who sign in, in the file of the jobs.

use super::SqliteStore;
use crate::store::{Identity, Passkey, Person, Role, SignIns, StoreError};
use rusqlite::types::Type;
use rusqlite::{Connection, Error, OptionalExtension, Row, TransactionBehavior, params};

const PERSON: &str = "id, name, role, made_at";
const PASSKEY: &str = "id, person, public_key, counter, name, made_at, used_at";

fn person(r: &Row<'_>) -> Result<Person, Error> {
    let word: String = r.get(2)?;
    let unknown =
        || Error::FromSqlConversionFailure(2, Type::Text, format!("no role is called {word}").into());
    let role = Role::of(&word).ok_or_else(unknown)?;
    Ok(Person { id: r.get(0)?, name: r.get(1)?, role, made_at: r.get(3)? })
}

fn passkey(r: &Row<'_>) -> Result<Passkey, Error> {
    Ok(Passkey {
        id: r.get(0)?,
        person: r.get(1)?,
        public_key: r.get(2)?,
        counter: r.get(3)?,
        name: r.get(4)?,
        made_at: r.get(5)?,
        used_at: r.get(6)?,
    })
}

fn identity(r: &Row<'_>) -> Result<Identity, Error> {
    Ok(Identity { issuer: r.get(0)?, subject: r.get(1)?, person: r.get(2)? })
}

fn insert_identity(c: &Connection, i: &Identity) -> Result<(), Error> {
    c.execute(
        "INSERT INTO identities (issuer, subject, person) VALUES (?1, ?2, ?3)",
        params![i.issuer, i.subject, i.person],
    )?;
    Ok(())
}

impl SignIns for SqliteStore {
    fn add_person(&self, p: &Person, known_as: Option<&Identity>) -> Result<(), StoreError> {
        let mut c = self.writing()?;
        let t = c.transaction_with_behavior(TransactionBehavior::Immediate)?;
        t.execute(
            "INSERT INTO people (id, name, role, made_at) VALUES (?1, ?2, ?3, ?4)",
            params![p.id, p.name, p.role.word(), p.made_at],
        )?;
        if let Some(identity) = known_as {
            insert_identity(&t, identity)?;
        }
        Ok(t.commit()?)
    }

    fn person(&self, id: &str) -> Result<Option<Person>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(&format!("SELECT {PERSON} FROM people WHERE id = ?1"))?;
        Ok(q.query_row([id], person).optional()?)
    }

    fn people(&self) -> Result<Vec<Person>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(&format!("SELECT {PERSON} FROM people ORDER BY made_at, id"))?;
        Ok(q.query_map([], person)?.collect::<Result<_, _>>()?)
    }

    fn set_role_of(&self, person: &str, role: Role) -> Result<bool, StoreError> {
        let mut c = self.writing()?;
        let t = c.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let changed = t.execute("UPDATE people SET role = ?2 WHERE id = ?1", [person, role.word()])?;
        t.execute("UPDATE devices SET role = ?2 WHERE person = ?1", [person, role.word()])?;
        t.commit()?;
        Ok(changed > 0)
    }

    fn forget_person(&self, person: &str) -> Result<bool, StoreError> {
        Ok(self.writing()?.execute("DELETE FROM people WHERE id = ?1", [person])? > 0)
    }

    fn give_device(&self, device: &str, person: &str) -> Result<bool, StoreError> {
        let given = self.writing()?.execute(
            "UPDATE devices SET person = ?2, role = (SELECT role FROM people WHERE id = ?2)
             WHERE id = ?1 AND person IS NULL AND EXISTS (SELECT 1 FROM people WHERE id = ?2)",
            [device, person],
        )?;
        Ok(given > 0)
    }

    fn keep_passkey(&self, p: &Passkey) -> Result<(), StoreError> {
        self.writing()?.execute(
            "INSERT INTO passkeys (id, person, public_key, counter, name, made_at, used_at)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            params![p.id, p.person, p.public_key, p.counter, p.name, p.made_at, p.used_at],
        )?;
        Ok(())
    }

    fn passkey(&self, id: &str) -> Result<Option<Passkey>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(&format!("SELECT {PASSKEY} FROM passkeys WHERE id = ?1"))?;
        Ok(q.query_row([id], passkey).optional()?)
    }

    fn passkeys(&self, person: &str) -> Result<Vec<Passkey>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(&format!(
            "SELECT {PASSKEY} FROM passkeys WHERE person = ?1 ORDER BY made_at, id"
        ))?;
        Ok(q.query_map([person], passkey)?.collect::<Result<_, _>>()?)
    }

    fn used_passkey(&self, id: &str, counter: u32, at: &str) -> Result<bool, StoreError> {
        let used = self.writing()?.execute(
            "UPDATE passkeys SET counter = ?2, used_at = ?3
             WHERE id = ?1 AND (counter < ?2 OR (counter = 0 AND ?2 = 0))",
            params![id, counter, at],
        )?;
        Ok(used > 0)
    }

    fn drop_passkey(&self, person: &str, id: &str) -> Result<bool, StoreError> {
        let gone =
            self.writing()?.execute("DELETE FROM passkeys WHERE id = ?2 AND person = ?1", [person, id])?;
        Ok(gone > 0)
    }

    fn keep_identity(&self, i: &Identity) -> Result<(), StoreError> {
        let connection = self.writing()?;
        Ok(insert_identity(&connection, i)?)
    }

    fn known_as(&self, issuer: &str, subject: &str) -> Result<Option<Person>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(
            "SELECT p.id, p.name, p.role, p.made_at FROM identities i JOIN people p ON p.id = i.person
             WHERE i.issuer = ?1 AND i.subject = ?2",
        )?;
        Ok(q.query_row([issuer, subject], person).optional()?)
    }

    fn identities(&self, person: &str) -> Result<Vec<Identity>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(
            "SELECT issuer, subject, person FROM identities WHERE person = ?1 ORDER BY issuer, subject",
        )?;
        Ok(q.query_map([person], identity)?.collect::<Result<_, _>>()?)
    }
}
