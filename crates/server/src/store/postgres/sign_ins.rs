//! People who sign in, in the database. That somebody was turned away or given another role is told to the other servers.

use super::PostgresStore;
use super::trouble::{Trouble, number, text};
use crate::store::{Identity, Passkey, Person, Role, SignIns, StoreError};
use postgres::{Row, Transaction};

const PERSON: &str = "id, name, role, made_at";
const PASSKEY: &str = "id, person, public_key, counter, name, made_at, used_at";

fn person(r: &Row) -> Result<Person, Trouble> {
    let word: String = r.try_get(2)?;
    let role = Role::of(&word).ok_or_else(|| StoreError::Damaged(format!("no role is called {word}")))?;
    Ok(Person { id: r.try_get(0)?, name: r.try_get(1)?, role, made_at: r.try_get(3)? })
}

fn passkey(r: &Row) -> Result<Passkey, Trouble> {
    let counter: i64 = r.try_get(3)?;
    Ok(Passkey {
        id: r.try_get(0)?,
        person: r.try_get(1)?,
        public_key: r.try_get(2)?,
        counter: u32::try_from(counter).unwrap_or(u32::MAX),
        name: r.try_get(4)?,
        made_at: r.try_get(5)?,
        used_at: r.try_get(6)?,
    })
}

fn identity(r: &Row) -> Result<Identity, Trouble> {
    Ok(Identity { issuer: r.try_get(0)?, subject: r.try_get(1)?, person: r.try_get(2)? })
}

fn all<T>(rows: &[Row], read: impl Fn(&Row) -> Result<T, Trouble>) -> Result<Vec<T>, StoreError> {
    Ok(rows.iter().map(read).collect::<Result<Vec<_>, _>>()?)
}

fn insert_identity(t: &mut Transaction<'_>, i: &Identity) -> Result<(), Trouble> {
    t.execute_typed(
        "INSERT INTO loamline.identities (issuer, subject, person) VALUES ($1, $2, $3)",
        &[text(&i.issuer), text(&i.subject), text(&i.person)],
    )?;
    Ok(())
}

impl SignIns for PostgresStore {
    fn add_person(&self, p: &Person, known_as: Option<&Identity>) -> Result<(), StoreError> {
        self.within(|t| {
            t.execute_typed(
                "INSERT INTO loamline.people (id, name, role, made_at) VALUES ($1, $2, $3, $4)",
                &[text(&p.id), text(&p.name), text(&p.role.word()), text(&p.made_at)],
            )?;
            known_as.map_or(Ok(()), |identity| insert_identity(t, identity))
        })
    }

    fn person(&self, id: &str) -> Result<Option<Person>, StoreError> {
        let question = format!("SELECT {PERSON} FROM loamline.people WHERE id = $1");
        let rows = self.rows(&question, &[text(&id)])?;
        Ok(rows.first().map(person).transpose()?)
    }

    fn people(&self) -> Result<Vec<Person>, StoreError> {
        let question = format!("SELECT {PERSON} FROM loamline.people ORDER BY made_at, id");
        all(&self.rows(&question, &[])?, person)
    }

    fn set_role_of(&self, person: &str, role: Role) -> Result<bool, StoreError> {
        let changed = self.within(|t| {
            let changed = t.execute_typed(
                "UPDATE loamline.people SET role = $2 WHERE id = $1",
                &[text(&person), text(&role.word())],
            )?;
            // A device that is being let in holds the person's row until it is there: it is among these.
            t.execute_typed(
                "UPDATE loamline.devices SET role = $2 WHERE person = $1",
                &[text(&person), text(&role.word())],
            )?;
            Ok(changed)
        })?;
        if changed > 0 {
            self.calls.people_changed();
        }
        Ok(changed > 0)
    }

    fn forget_person(&self, person: &str) -> Result<bool, StoreError> {
        let gone = self.execute("DELETE FROM loamline.people WHERE id = $1", &[text(&person)])?;
        if gone > 0 {
            self.calls.people_changed();
        }
        Ok(gone > 0)
    }

    fn give_device(&self, device: &str, person: &str) -> Result<bool, StoreError> {
        let given = self.execute(
            "UPDATE loamline.devices d SET person = p.id, role = p.role FROM loamline.people p
             WHERE d.id = $1 AND d.person IS NULL AND p.id = $2",
            &[text(&device), text(&person)],
        )?;
        Ok(given > 0)
    }

    fn keep_passkey(&self, p: &Passkey) -> Result<(), StoreError> {
        self.execute(
            "INSERT INTO loamline.passkeys (id, person, public_key, counter, name, made_at, used_at)
             VALUES ($1, $2, $3, $4, $5, $6, $7)",
            &[
                text(&p.id),
                text(&p.person),
                text(&p.public_key),
                number(&i64::from(p.counter)),
                text(&p.name),
                text(&p.made_at),
                text(&p.used_at),
            ],
        )?;
        Ok(())
    }

    fn passkey(&self, id: &str) -> Result<Option<Passkey>, StoreError> {
        let question = format!("SELECT {PASSKEY} FROM loamline.passkeys WHERE id = $1");
        let rows = self.rows(&question, &[text(&id)])?;
        Ok(rows.first().map(passkey).transpose()?)
    }

    fn passkeys(&self, person: &str) -> Result<Vec<Passkey>, StoreError> {
        let question =
            format!("SELECT {PASSKEY} FROM loamline.passkeys WHERE person = $1 ORDER BY made_at, id");
        all(&self.rows(&question, &[text(&person)])?, passkey)
    }

    fn used_passkey(&self, id: &str, counter: u32, at: &str) -> Result<bool, StoreError> {
        let used = self.execute(
            "UPDATE loamline.passkeys SET counter = $2, used_at = $3
             WHERE id = $1 AND (counter < $2 OR (counter = 0 AND $2 = 0))",
            &[text(&id), number(&i64::from(counter)), text(&at)],
        )?;
        Ok(used > 0)
    }

    fn drop_passkey(&self, person: &str, id: &str) -> Result<bool, StoreError> {
        let gone = self.execute(
            "DELETE FROM loamline.passkeys WHERE id = $2 AND person = $1",
            &[text(&person), text(&id)],
        )?;
        Ok(gone > 0)
    }

    fn keep_identity(&self, i: &Identity) -> Result<(), StoreError> {
        self.within(|t| insert_identity(t, i))
    }

    fn known_as(&self, issuer: &str, subject: &str) -> Result<Option<Person>, StoreError> {
        let rows = self.rows(
            "SELECT p.id, p.name, p.role, p.made_at FROM loamline.identities i
             JOIN loamline.people p ON p.id = i.person WHERE i.issuer = $1 AND i.subject = $2",
            &[text(&issuer), text(&subject)],
        )?;
        Ok(rows.first().map(person).transpose()?)
    }

    fn identities(&self, person: &str) -> Result<Vec<Identity>, StoreError> {
        let rows = self.rows(
            "SELECT issuer, subject, person FROM loamline.identities WHERE person = $1
             ORDER BY issuer, subject",
            &[text(&person)],
        )?;
        all(&rows, identity)
    }
}
