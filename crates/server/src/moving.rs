//! All that is kept moved from one place to another: a laptop's file to a firm's database, or back. Nothing is taken away where
//! it was.

use crate::data_folder::{file_in, lock};
use crate::serve_error::ServeError;
use crate::store::{
    Doing, JobRow, PostgresStore, SqliteStore, Store, StoreError, sum_of, sum_of_device, sum_of_doings,
    sum_of_person,
};
use std::collections::BTreeMap;
use std::fs::File;
use std::path::{Path, PathBuf};

/// A place jobs are kept in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// A file of SQLite, or the folder it lies in.
    File(PathBuf),
    /// The address of a database.
    Database(String),
}

impl Place {
    /// What somebody wrote: an address where it looks like one, a file or folder otherwise.
    pub fn read(written: &str) -> Self {
        if written.contains("://") { Self::Database(written.to_owned()) } else { Self::File(written.into()) }
    }

    /// The file, where it is one.
    fn file(&self) -> Option<PathBuf> {
        match self {
            Self::File(path) if path.is_dir() => Some(file_in(path)),
            Self::File(path) => Some(path.clone()),
            Self::Database(_) => None,
        }
    }

    /// The folder of a file for oneself, so that nobody edits meanwhile; nothing for a database.
    fn held(&self) -> Result<Option<File>, ServeError> {
        match self.file().as_deref().and_then(Path::parent) {
            // A file named without its folder lies in the current one.
            Some(folder) if folder.as_os_str().is_empty() => Ok(Some(lock(Path::new("."))?)),
            Some(folder) => Ok(Some(lock(folder)?)),
            None => Ok(None),
        }
    }

    /// The store there. A file jobs come from must be there; one they go to may be new.
    fn store(&self, is_source: bool) -> Result<Box<dyn Store>, ServeError> {
        match (self, self.file()) {
            (Self::Database(address), _) => Ok(Box::new(PostgresStore::open(address)?)),
            (_, Some(file)) if is_source && !file.exists() => {
                Err(StoreError::Unusable { file, why: "there is no such file".into() }.into())
            }
            (_, file) => Ok(Box::new(SqliteStore::open(&file.unwrap_or_default())?)),
        }
    }
}

/// What is moved.
#[derive(Debug, Clone, PartialEq)]
pub enum Thing {
    /// A job with its log, its files, its links for clients and whether it was deleted.
    Job(JobRow),
    /// A file of the firm's, by its name.
    FirmFile(String),
    /// Somebody who signs in, with their role, passkeys and who they are to a provider, by their name.
    Person(String),
    /// A device that was let in, with its role and its tokens, by its name.
    Device(String),
    /// The log of what is in no job's history: so many entries.
    Doings(usize),
}

/// What became of a thing that was to be moved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Moved {
    /// It is there now, and is the same to the last letter of its log and byte of its files.
    Same,
    /// It was there already, and is the same; of a device, that it is the same one.
    Already,
    /// It is not there: why, in a sentence's part.
    Not(String),
}

impl Moved {
    fn not(why: impl ToString) -> Self {
        Self::Not(why.to_string())
    }

    /// What arrived, held against what was sent.
    fn held_against(arrived: Result<String, StoreError>, sent: &str) -> Self {
        match arrived {
            Ok(arrived) if arrived == sent => Self::Same,
            Ok(_) => Self::not("what arrived is not what was sent"),
            Err(why) => Self::Not(format!("what arrived cannot be read back: {why}")),
        }
    }
}

/// Who hears of each thing, of what became of it, and of the sum of all that is kept of it.
type Told<'a> = &'a mut dyn FnMut(&Thing, &Moved, &str);

/// Entries of a log that are read at once.
const PAGE: u32 = 500;

/// Moves every job, one transaction each, then the firm's files, paired devices and the log of what is in no job's history, and
/// holds what arrived against what was sent. Things that arrived stay when a later one does not; moving again goes on from
/// there.
///
/// # Errors
/// When one of the places cannot be used at all.
pub fn move_all(
    from: &Place,
    to: &Place,
    mut told: impl FnMut(&Thing, &Moved, &str),
) -> Result<(), ServeError> {
    if from == to {
        return Err(ServeError::Example("the jobs would be moved to where they are".into()));
    }
    let _held = (from.held()?, to.held()?);
    let (source, target) = (from.store(true)?, to.store(false)?);
    move_jobs(&*source, &*target, &mut told)?;
    move_firm(&*source, &*target, &mut told)?;
    // Before devices, of which some are theirs.
    move_people(&*source, &*target, &mut told)?;
    move_devices(&*source, &*target, &mut told)?;
    move_doings(&*source, &*target, &mut told)?;
    Ok(())
}

fn move_jobs(source: &dyn Store, target: &dyn Store, told: Told<'_>) -> Result<(), StoreError> {
    let mut rows = source.all_kept()?;
    // The one that was changed last comes first in lists; it is moved last, as it was made.
    rows.reverse();
    let there = target.all_kept()?;
    for row in rows {
        let (moved, sum) = moved(source, target, &row, &there);
        told(&Thing::Job(row), &moved, &sum);
    }
    Ok(())
}

fn moved(source: &dyn Store, target: &dyn Store, row: &JobRow, there: &[JobRow]) -> (Moved, String) {
    let sum = match sum_of(source, row) {
        Ok(sum) => sum,
        Err(why) => return (Moved::not(why), String::new()),
    };
    if let Some(was_there) = there.iter().find(|t| t.id == row.id) {
        let moved = match sum_of(target, was_there) {
            Ok(kept) if kept == sum => Moved::Already,
            Ok(_) => Moved::not("another state of it is there already; take that away first"),
            Err(why) => Moved::Not(format!("what is there already cannot be read back: {why}")),
        };
        return (moved, sum);
    }
    if let Err(why) = target.copy_in(source, row) {
        return (Moved::not(why), sum);
    }
    (Moved::held_against(sum_of(target, row), &sum), sum)
}

fn move_firm(source: &dyn Store, target: &dyn Store, told: Told<'_>) -> Result<(), StoreError> {
    let there = target.firm()?;
    for file in source.firm()? {
        let moved = match there.iter().find(|f| f.name == file.name) {
            Some(kept) if kept.sha256 == file.sha256 => Moved::Already,
            Some(_) => Moved::not("another one is there already; take that away first"),
            None => {
                target.keep_of_firm(&file)?;
                // Read back, each is held against its own sum.
                let arrived = target.firm().map(|all| all.into_iter().find(|f| f.name == file.name));
                Moved::held_against(arrived.map(|f| f.map(|f| f.sha256).unwrap_or_default()), &file.sha256)
            }
        };
        told(&Thing::FirmFile(file.name), &moved, &file.sha256);
    }
    Ok(())
}

fn move_people(source: &dyn Store, target: &dyn Store, told: Told<'_>) -> Result<(), StoreError> {
    let summed = |store: &dyn Store, id: &str| -> Result<String, StoreError> {
        let (passkeys, identities) = (store.passkeys(id)?, store.identities(id)?);
        Ok(store.person(id)?.map(|p| sum_of_person(&p, &passkeys, &identities)).unwrap_or_default())
    };
    for person in source.people()? {
        let sum = summed(source, &person.id)?;
        let moved = match target.person(&person.id)? {
            // They may have been given another role there since, or another passkey: that counts.
            Some(kept) if kept.made_at == person.made_at => Moved::Already,
            Some(_) => Moved::not("somebody else of that id is there already"),
            None => {
                target.add_person(&person, None)?;
                source.passkeys(&person.id)?.iter().try_for_each(|p| target.keep_passkey(p))?;
                source.identities(&person.id)?.iter().try_for_each(|i| target.keep_identity(i))?;
                Moved::held_against(summed(target, &person.id), &sum)
            }
        };
        told(&Thing::Person(person.name), &moved, &sum);
    }
    Ok(())
}

fn move_devices(source: &dyn Store, target: &dyn Store, told: Told<'_>) -> Result<(), StoreError> {
    let mut devices = source.devices()?;
    devices.reverse();
    for device in devices {
        let tokens = source.tokens(&device.id)?;
        let sum = sum_of_device(&device, &tokens);
        let moved = match target.device(&device.id)? {
            // It may have been used there since, or given another role: that counts.
            Some(kept) if kept.paired_at == device.paired_at => Moved::Already,
            Some(_) => Moved::not("another device of that id is there already"),
            None => {
                target.admit(&device, &tokens)?;
                let arrived = || -> Result<String, StoreError> {
                    let tokens = target.tokens(&device.id)?;
                    Ok(target.device(&device.id)?.map(|d| sum_of_device(&d, &tokens)).unwrap_or_default())
                };
                Moved::held_against(arrived(), &sum)
            }
        };
        told(&Thing::Device(device.name), &moved, &sum);
    }
    Ok(())
}

/// The log of what is in no job's history goes to the end of the one that is there, but for what stands in that already.
fn move_doings(source: &dyn Store, target: &dyn Store, told: Told<'_>) -> Result<(), StoreError> {
    let sent = doings(source)?;
    if sent.is_empty() {
        return Ok(());
    }
    let there = doings(target)?;
    let mut counted = count(&there);
    let mut missing = 0;
    for doing in &sent {
        match counted.get_mut(&key(doing)) {
            Some(left) if *left > 0 => *left -= 1,
            _ => {
                target.note(doing)?;
                missing += 1;
            }
        }
    }
    let sum = summed(sent.iter());
    let arrived = doings(target).map(|all| {
        let mut wanted = count(&sent);
        // Of what is there, that which was sent, as often as it was.
        summed(all.iter().filter(|d| {
            let left = wanted.get_mut(&key(d)).filter(|left| **left > 0);
            left.map(|left| *left -= 1).is_some()
        }))
    });
    let moved = match Moved::held_against(arrived, &sum) {
        Moved::Same if missing == 0 => Moved::Already,
        moved => moved,
    };
    told(&Thing::Doings(sent.len()), &moved, &sum);
    Ok(())
}

/// All entries, the oldest first.
fn doings(store: &dyn Store) -> Result<Vec<Doing>, StoreError> {
    let (mut all, mut before) = (Vec::new(), u64::MAX);
    loop {
        let page = store.doings(before, PAGE)?;
        let Some((last, _)) = page.last() else { break };
        before = *last;
        all.extend(page.into_iter().map(|(_, doing)| doing));
    }
    all.reverse();
    Ok(all)
}

fn key(d: &Doing) -> [&str; 4] {
    [&d.at, &d.who, &d.what, &d.about]
}

fn count(doings: &[Doing]) -> BTreeMap<[&str; 4], usize> {
    let mut counted = BTreeMap::new();
    for doing in doings {
        *counted.entry(key(doing)).or_default() += 1;
    }
    counted
}

/// The sum of entries in whatever order they stand.
fn summed<'d>(doings: impl Iterator<Item = &'d Doing>) -> String {
    let mut doings: Vec<&Doing> = doings.collect();
    doings.sort_unstable_by(|a, b| key(a).cmp(&key(b)));
    sum_of_doings(doings)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::firm::firm_file;
    use crate::jobs::Jobs;
    use crate::store::{Device, Identity, People as _, Person, Role, SignIns as _, Token};
    use std::sync::Arc;

    fn places(folder: &Path) -> [Place; 2] {
        ["a", "b"].map(|name| {
            std::fs::create_dir(folder.join(name)).unwrap();
            Place::File(folder.join(name))
        })
    }

    fn opened(place: &Place) -> SqliteStore {
        SqliteStore::open(&place.file().unwrap()).unwrap()
    }

    fn told(from: &Place, to: &Place) -> Vec<(Thing, Moved)> {
        let mut all = Vec::new();
        move_all(from, to, |thing, moved, _| all.push((thing.clone(), moved.clone()))).unwrap();
        all
    }

    #[test]
    fn a_job_moved_is_the_same_and_moving_again_changes_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let [from, to] = places(folder.path());
        let jobs = Jobs::new(Arc::new(opened(&from)));
        let id = jobs.create("format = 1\n\n[job]\nname = \"Court\"\n", &[], &[]).unwrap();
        drop(jobs);
        for became in [Moved::Same, Moved::Already] {
            let all = told(&from, &to);
            assert!(
                matches!(&all[..], [(Thing::Job(row), moved)] if row.id == id && *moved == became),
                "{all:?}"
            );
        }
        // A job that has gone on at one of the two is not taken for the other.
        opened(&to).mend(&id, "format = 1\n\n[job]\nname = \"Yard\"\n", 0).unwrap();
        let all = told(&from, &to);
        assert!(matches!(&all[0].1, Moved::Not(why) if why.contains("another state")), "{all:?}");
        assert!(move_all(&from, &from, |_, _, _| ()).is_err());
        let none = Place::File(folder.path().join("none.sqlite"));
        assert!(move_all(&none, &to, |_, _, _| ()).is_err());
    }

    #[test]
    fn what_belongs_to_no_job_comes_along_and_a_deleted_one_stays_deleted() {
        const AT: &str = "2026-05-04T09:30:00Z";
        let folder = tempfile::tempdir().unwrap();
        let [from, to] = places(folder.path());
        let jobs = Jobs::new(Arc::new(opened(&from)));
        let id = jobs.create("format = 1\n\n[job]\nname = \"Court\"\n", &[], &[]).unwrap();
        jobs.delete(&id, "Ann").unwrap();
        // The same said twice is there twice.
        jobs.note("Ann", "role", "Phone (crew)").unwrap();
        jobs.note("Ann", "role", "Phone (crew)").unwrap();
        drop(jobs);
        let store = opened(&from);
        store.keep_of_firm(&firm_file("logo", b"<svg/>".to_vec())).unwrap();
        let ann = Person { id: "ann".into(), name: "Ann".into(), role: Role::Crew, made_at: AT.into() };
        let known_as =
            Identity { issuer: "https://login.example".into(), subject: "17".into(), person: "ann".into() };
        store.add_person(&ann, Some(&known_as)).unwrap();
        let device = Device {
            id: "phone1".into(),
            name: "Phone".into(),
            role: Role::Crew,
            person: Some("ann".into()),
            paired_at: AT.into(),
            seen_at: AT.into(),
        };
        let tokens = ["old", "new"].map(|hash| Token {
            hash: hash.into(),
            made_at: AT.into(),
            good_until: "2099-01-01T00:00:00Z".into(),
        });
        store.admit(&device, &tokens).unwrap();
        drop(store);
        for became in [Moved::Same, Moved::Already] {
            let all = told(&from, &to);
            assert_eq!(all.len(), 5, "{all:?}");
            assert!(all.iter().all(|(_, moved)| *moved == became), "{all:?}");
        }
        let (sent, there) = (opened(&from), opened(&to));
        assert!(there.jobs().unwrap().is_empty());
        assert_eq!(there.deleted().unwrap(), sent.deleted().unwrap());
        assert_eq!(there.firm().unwrap(), sent.firm().unwrap());
        assert_eq!(there.known_as("https://login.example", "17").unwrap(), Some(ann));
        assert_eq!(there.device_of("new", AT, AT).unwrap().unwrap().0, device);
        assert_eq!((doings(&there).unwrap(), doings(&there).unwrap().len()), (doings(&sent).unwrap(), 3));
        // Another logo that is there is not written over.
        there.keep_of_firm(&firm_file("logo", b"<svg />".to_vec())).unwrap();
        drop((sent, there));
        let not = told(&from, &to).into_iter().filter(|(_, moved)| matches!(moved, Moved::Not(_)));
        assert_eq!(not.map(|(thing, _)| thing).collect::<Vec<_>>(), [Thing::FirmFile("logo".into())]);
    }
}
