//! The tables of people: versions of the tables of their own, on top of those of the jobs.

/// The tables of people, made of those before there were roles: a device had one token, for good.
pub const PEOPLE: &str = "
ALTER TABLE devices RENAME TO devices_before;
CREATE TABLE devices (
  id TEXT PRIMARY KEY, name TEXT NOT NULL, role TEXT NOT NULL, paired_at TEXT NOT NULL, seen_at TEXT NOT NULL
) STRICT;
CREATE TABLE tokens (
  hash TEXT PRIMARY KEY, device TEXT NOT NULL REFERENCES devices(id) ON DELETE CASCADE,
  made_at TEXT NOT NULL, good_until TEXT NOT NULL
) STRICT;
CREATE INDEX tokens_of_device ON tokens (device);
INSERT INTO devices SELECT id, name, 'designer', paired_at, seen_at FROM devices_before;
INSERT INTO tokens SELECT token_hash, id, paired_at, strftime('%Y-%m-%dT%H:%M:%SZ', 'now', '+60 days')
  FROM devices_before;
DROP TABLE devices_before;
CREATE TABLE deleted_jobs (
  job TEXT PRIMARY KEY REFERENCES jobs(id) ON DELETE CASCADE, at TEXT NOT NULL, who TEXT NOT NULL
) STRICT;
CREATE TABLE doings (
  number INTEGER PRIMARY KEY, at TEXT NOT NULL, who TEXT NOT NULL, what TEXT NOT NULL, about TEXT NOT NULL
) STRICT;
CREATE TABLE client_links (
  id TEXT PRIMARY KEY, token_hash TEXT NOT NULL UNIQUE, job TEXT NOT NULL REFERENCES jobs(id) ON DELETE CASCADE,
  client TEXT NOT NULL, prices INTEGER NOT NULL, made_at TEXT NOT NULL, made_by TEXT NOT NULL,
  good_until TEXT NOT NULL, accepted_by TEXT, accepted_at TEXT, accepted_revision INTEGER, accepted TEXT,
  accepted_sha256 TEXT
) STRICT;
CREATE INDEX client_links_of_job ON client_links (job, made_at DESC);
";

/// Those of people who sign in: a device of theirs goes with them.
pub const SIGN_INS: &str = "
CREATE TABLE people (id TEXT PRIMARY KEY, name TEXT NOT NULL, role TEXT NOT NULL, made_at TEXT NOT NULL) STRICT;
CREATE TABLE passkeys (
  id TEXT PRIMARY KEY, person TEXT NOT NULL REFERENCES people(id) ON DELETE CASCADE, public_key TEXT NOT NULL,
  counter INTEGER NOT NULL, name TEXT NOT NULL, made_at TEXT NOT NULL, used_at TEXT NOT NULL
) STRICT;
CREATE INDEX passkeys_of_person ON passkeys (person);
CREATE TABLE identities (
  issuer TEXT NOT NULL, subject TEXT NOT NULL, person TEXT NOT NULL REFERENCES people(id) ON DELETE CASCADE,
  PRIMARY KEY (issuer, subject)
) STRICT;
CREATE INDEX identities_of_person ON identities (person);
ALTER TABLE devices ADD COLUMN person TEXT REFERENCES people(id) ON DELETE CASCADE;
CREATE INDEX devices_of_person ON devices (person);
";
