//! The tables in the database, and how those of each version become those of the next.
//!
//! They stand in a schema of their own, so that a firm's database may hold other things too. What is compared or sorted by
//! programs has the collation "C", which is the same on every system.

use super::trouble::{Trouble, number};
use crate::store::StoreError;
use postgres::{Client, Transaction};

/// Oldest version of PostgreSQL that is served, as it counts them.
const OLDEST: i64 = 150_000;

/// Taken by whoever changes the tables, so that of servers that start together one does. Any number; nobody else's.
const LOCK: i64 = 0x6c6f_616d_6c69_6e65;

/// What makes the tables of each version of those of the version before; the first of none.
const STEPS: &[&str] = &[TO_1, TO_2, TO_3];

/// Version of the tables this program knows.
const KNOWN: i64 = STEPS.len() as i64;

/// `made` is the text at revision 0: with the log it gives every later text again. `sha256` is that of the text beside it.
/// Photos do not get smaller: they are kept as they are. That a job was deleted stands in its own row: an edit that waits for the
/// row finds it there.
const TO_1: &str = r#"
CREATE TABLE loamline.jobs (
  id text COLLATE "C" PRIMARY KEY, text text NOT NULL, revision bigint NOT NULL,
  name text NOT NULL, summary text NOT NULL, changed_at text COLLATE "C" NOT NULL,
  sha256 text NOT NULL, made text, status text NOT NULL, client text NOT NULL, template boolean NOT NULL,
  deleted_at text COLLATE "C", deleted_by text
);
CREATE INDEX jobs_deleted ON loamline.jobs (deleted_at DESC, id) WHERE deleted_at IS NOT NULL;
CREATE TABLE loamline.catalogue_files (
  job text COLLATE "C" NOT NULL REFERENCES loamline.jobs ON DELETE CASCADE, place bigint NOT NULL,
  name text NOT NULL, text text NOT NULL, sha256 text NOT NULL, PRIMARY KEY (job, place)
);
CREATE TABLE loamline.edits (
  job text COLLATE "C" NOT NULL REFERENCES loamline.jobs ON DELETE CASCADE, revision bigint NOT NULL,
  edit_id text COLLATE "C" NOT NULL, kind text NOT NULL, "of" bigint, who text NOT NULL, "at" text NOT NULL,
  made_at text, note text NOT NULL, patch text NOT NULL, inverse text NOT NULL,
  PRIMARY KEY (job, revision), UNIQUE (job, edit_id)
);
CREATE TABLE loamline.contents (sha256 text COLLATE "C" PRIMARY KEY, bytes bytea NOT NULL);
ALTER TABLE loamline.contents ALTER bytes SET STORAGE EXTERNAL;
CREATE TABLE loamline.attachments (
  job text COLLATE "C" NOT NULL REFERENCES loamline.jobs ON DELETE CASCADE, name text COLLATE "C" NOT NULL,
  sha256 text COLLATE "C" NOT NULL REFERENCES loamline.contents, media_type text NOT NULL, size bigint NOT NULL,
  PRIMARY KEY (job, name)
);
CREATE INDEX attachments_of_content ON loamline.attachments (sha256);
CREATE TABLE loamline.firm_files (name text COLLATE "C" PRIMARY KEY, bytes bytea NOT NULL, sha256 text NOT NULL);
CREATE TABLE loamline.devices (
  id text COLLATE "C" PRIMARY KEY, name text NOT NULL, role text NOT NULL, paired_at text NOT NULL,
  seen_at text COLLATE "C" NOT NULL
);
CREATE TABLE loamline.tokens (
  hash text COLLATE "C" PRIMARY KEY, device text COLLATE "C" NOT NULL REFERENCES loamline.devices ON DELETE CASCADE,
  made_at text COLLATE "C" NOT NULL, good_until text COLLATE "C" NOT NULL
);
CREATE INDEX tokens_of_device ON loamline.tokens (device);
CREATE TABLE loamline.doings (
  number bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY, "at" text NOT NULL, who text NOT NULL, what text NOT NULL,
  about text NOT NULL
);
CREATE TABLE loamline.client_links (
  id text COLLATE "C" PRIMARY KEY, token_hash text COLLATE "C" NOT NULL UNIQUE,
  job text COLLATE "C" NOT NULL REFERENCES loamline.jobs ON DELETE CASCADE, client text NOT NULL,
  prices boolean NOT NULL, made_at text COLLATE "C" NOT NULL, made_by text NOT NULL,
  good_until text COLLATE "C" NOT NULL, accepted_by text, accepted_at text, accepted_revision bigint, accepted text,
  accepted_sha256 text
);
CREATE INDEX client_links_of_job ON loamline.client_links (job, made_at DESC);
"#;

/// Work that was asked for. `turn` counts those who began it: of two, only the later can deliver. `said` counts what there is to
/// tell of it. `status` and `outcome` are what is answered to whoever asked.
const TO_2: &str = r#"
CREATE TABLE loamline.tasks (
  id text COLLATE "C" PRIMARY KEY, kind text COLLATE "C" NOT NULL,
  job text COLLATE "C" NOT NULL REFERENCES loamline.jobs ON DELETE CASCADE, revision bigint NOT NULL DEFAULT 0,
  wish text NOT NULL, priority bigint NOT NULL, is_waited_for boolean NOT NULL,
  asked_at timestamptz NOT NULL DEFAULT now(), wanted_at timestamptz NOT NULL DEFAULT now(),
  is_stopped boolean NOT NULL DEFAULT false, turn bigint NOT NULL DEFAULT 0, said bigint NOT NULL DEFAULT 0,
  progress text NOT NULL DEFAULT '', status bigint NOT NULL DEFAULT 0, outcome text, ended_at timestamptz
);
CREATE INDEX tasks_of_job ON loamline.tasks (job);
CREATE INDEX tasks_ended ON loamline.tasks (ended_at) WHERE ended_at IS NOT NULL;
CREATE INDEX tasks_waiting ON loamline.tasks (priority, asked_at, id) WHERE ended_at IS NULL AND turn = 0;
"#;

/// People who sign in: a device of theirs goes with them.
const TO_3: &str = r#"
CREATE TABLE loamline.people (
  id text COLLATE "C" PRIMARY KEY, name text NOT NULL, role text NOT NULL, made_at text COLLATE "C" NOT NULL
);
CREATE TABLE loamline.passkeys (
  id text COLLATE "C" PRIMARY KEY, person text COLLATE "C" NOT NULL REFERENCES loamline.people ON DELETE CASCADE,
  public_key text NOT NULL, counter bigint NOT NULL, name text NOT NULL, made_at text COLLATE "C" NOT NULL,
  used_at text NOT NULL
);
CREATE INDEX passkeys_of_person ON loamline.passkeys (person);
CREATE TABLE loamline.identities (
  issuer text COLLATE "C" NOT NULL, subject text COLLATE "C" NOT NULL,
  person text COLLATE "C" NOT NULL REFERENCES loamline.people ON DELETE CASCADE, PRIMARY KEY (issuer, subject)
);
CREATE INDEX identities_of_person ON loamline.identities (person);
ALTER TABLE loamline.devices ADD COLUMN person text COLLATE "C" REFERENCES loamline.people ON DELETE CASCADE;
CREATE INDEX devices_of_person ON loamline.devices (person);
"#;

/// Looks the database over and brings its tables to the version this program knows: all steps or none.
///
/// # Errors
/// When it cannot keep jobs, or its tables are those of a newer program; nothing is written then.
pub fn prepare(client: &mut Client) -> Result<(), Trouble> {
    if let Some(why) = unfit(client)? {
        return Err(StoreError::Refused(why).into());
    }
    // Given back with the connection. Had before the transaction begins: one that waits for it inside goes on with the names it
    // knew before, and does not see the tables of whoever was first.
    client.query_typed("SELECT pg_advisory_lock($1)", &[number(&LOCK)])?;
    let mut t = client.transaction()?;
    let found = version(&mut t)?;
    if found > KNOWN {
        return Err(StoreError::Newer { found, known: KNOWN }.into());
    }
    if found < KNOWN {
        t.batch_execute(
            "CREATE SCHEMA IF NOT EXISTS loamline;
             CREATE TABLE IF NOT EXISTS loamline.version (one int PRIMARY KEY CHECK (one = 1), number bigint NOT NULL)",
        )?;
        let done = usize::try_from(found).unwrap_or_default();
        for step in STEPS.iter().skip(done) {
            t.batch_execute(step)?;
        }
        t.execute_typed(
            "INSERT INTO loamline.version (one, number) VALUES (1, $1) ON CONFLICT (one) DO UPDATE SET number = $1",
            &[number(&KNOWN)],
        )?;
    }
    Ok(t.commit()?)
}

/// Why a database cannot keep jobs, where it cannot.
fn unfit(client: &mut Client) -> Result<Option<String>, Trouble> {
    let said = client.query_typed(
        "SELECT current_setting('server_version_num')::bigint, current_setting('server_version'),
                current_setting('server_encoding')",
        &[],
    )?;
    let Some(row) = said.first() else { return Ok(None) };
    let (number, version): (i64, String) = (row.try_get(0)?, row.try_get(1)?);
    let encoding: String = row.try_get(2)?;
    Ok(if number < OLDEST {
        Some(format!("it is PostgreSQL {version}, and 15 is the oldest that is served; use a newer one"))
    } else if encoding == "UTF8" {
        None
    } else {
        Some(format!("it keeps texts as {encoding}; make one with the encoding UTF8"))
    })
}

/// Version of the tables that are there; 0 where there are none.
fn version(t: &mut Transaction<'_>) -> Result<i64, Trouble> {
    let there = t.query_typed("SELECT to_regclass('loamline.version') IS NOT NULL", &[])?;
    match there.first().map(|row| row.try_get::<_, bool>(0)).transpose()? {
        Some(true) => {
            let rows = t.query_typed("SELECT number FROM loamline.version", &[])?;
            Ok(rows.first().map(|row| row.try_get(0)).transpose()?.unwrap_or(0))
        }
        _ => Ok(0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_step_makes_what_it_makes_in_the_schema_of_its_own() {
        for step in STEPS {
            for statement in step.split(';').map(str::trim).filter(|s| !s.is_empty()) {
                assert!(statement.contains("loamline."), "{statement}");
            }
        }
    }
}
