//! The file jobs are kept in, as accidents leave it: cut to nothing, full of holes, behind its own log, taken by two.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod common;

use axum::http::StatusCode;
use common::Browser;
use loamline_server::{Jobs, SqliteStore, Store as _, StoreError};
use rusqlite::{Connection, params};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::sync::Arc;

fn database(folder: &Path) -> PathBuf {
    folder.join("jobs.sqlite")
}

async fn rename(b: &Browser, job: &str, edit_id: &str, base: u64, name: &str) -> (StatusCode, Value) {
    let edit = json!({ "edit_id": edit_id, "base_revision": base, "who": "Ann",
        "patch": [{ "op": "replace", "path": "/job/name", "value": name }] });
    b.ask("POST", &format!("/api/jobs/{job}/edits"), Some(edit)).await
}

/// A store with one job and three edits on it, closed; the job's id and its text.
async fn kept(folder: &Path) -> (String, String) {
    let b = Browser::new(SqliteStore::open(&database(folder)).unwrap());
    let id = b.example().await;
    for (n, name) in ["First", "Second", "Third"].into_iter().enumerate() {
        let (status, _) = rename(&b, &id, &format!("edit-{n}-0123456789abcdef"), n as u64, name).await;
        assert_eq!(status, StatusCode::OK);
    }
    drop(b);
    let text = SqliteStore::open(&database(folder)).unwrap().job(&id).unwrap().unwrap().text;
    assert!(text.contains("\"Third\""));
    (id, text)
}

/// Writes another text and revision into the only job's row, by its own checksum.
fn put_in_place(folder: &Path, text: &str, revision: u64) {
    let sum = ring::digest::digest(&ring::digest::SHA256, text.as_bytes());
    let sum: String = sum.as_ref().iter().map(|b| format!("{b:02x}")).collect();
    let changed = Connection::open(database(folder))
        .unwrap()
        .execute("UPDATE jobs SET text = ?1, sha256 = ?2, revision = ?3", params![text, sum, revision])
        .unwrap();
    assert_eq!(changed, 1);
}

#[tokio::test]
async fn a_file_cut_to_nothing_is_refused_and_not_begun_anew() {
    let folder = tempfile::tempdir().unwrap();
    let file = database(folder.path());
    kept(folder.path()).await;
    let whole = std::fs::read(&file).unwrap();
    for bytes in [&b""[..], b"not a database at all", &whole[..8]] {
        std::fs::write(&file, bytes).unwrap();
        let why = SqliteStore::open(&file).unwrap_err();
        assert!(matches!(why, StoreError::NoStore { .. }), "{why}");
        assert!(why.to_string().contains("backup"), "{why}");
        assert_eq!(std::fs::read(&file).unwrap(), bytes, "nothing is written to what is no store");
    }
    // Cut in the middle of it.
    for length in [100, 4096, whole.len() / 2] {
        let elsewhere = tempfile::tempdir().unwrap();
        std::fs::write(database(elsewhere.path()), &whole[..length]).unwrap();
        let why = SqliteStore::open(&database(elsewhere.path())).unwrap_err();
        assert!(matches!(why, StoreError::Torn { .. }), "{length} bytes: {why}");
        assert_eq!(std::fs::read(database(elsewhere.path())).unwrap(), &whole[..length]);
    }
    // Gone, while the log of what was written last is still there.
    std::fs::remove_file(&file).unwrap();
    std::fs::write(folder.path().join("jobs.sqlite-wal"), b"what was written last").unwrap();
    let why = SqliteStore::open(&file).unwrap_err();
    assert!(matches!(why, StoreError::Gone { .. }), "{why}");
    assert!(!file.exists());
}

/// SQLite itself goes on writing in each of these cases, and what is acknowledged then is gone at the next start.
#[tokio::test]
async fn what_happens_to_the_file_while_it_is_in_use_is_noticed_before_an_edit_is_acknowledged() {
    type Accident = fn(&Path);
    let accidents: [(&str, Accident); 3] = [
        ("was cut short", |file| {
            let cut = std::fs::OpenOptions::new().write(true).open(file).unwrap();
            cut.set_len(cut.metadata().unwrap().len() / 2).unwrap();
        }),
        ("was taken away", |file| std::fs::remove_file(file).unwrap()),
        ("was put in place of another", |file| {
            let copy = file.with_extension("copy");
            std::fs::copy(file, &copy).unwrap();
            std::fs::rename(copy, file).unwrap();
        }),
    ];
    for (told, accident) in accidents {
        if cfg!(not(unix)) && told != "was cut short" {
            // Elsewhere a file that is open is neither taken away nor replaced, or cannot be told from another.
            continue;
        }
        let folder = tempfile::tempdir().unwrap();
        let (id, text) = kept(folder.path()).await;
        let b = Browser::new(SqliteStore::open(&database(folder.path())).unwrap());
        let (status, answer) = rename(&b, &id, "edit-4-0123456789abcdef", 3, "Fourth").await;
        assert_eq!(status, StatusCode::OK, "{answer}");
        accident(&database(folder.path()));
        let (status, answer) = rename(&b, &id, "edit-5-0123456789abcdef", 4, "Fifth").await;
        assert_eq!(status, StatusCode::INTERNAL_SERVER_ERROR, "{told}: {answer}");
        let message = answer["error"]["message"].as_str().unwrap();
        assert!(message.contains(told) && message.contains("last backup"), "{message}");
        // The job as it was acknowledged is still shown, and goes out as a folder.
        assert_eq!(answered(&b, &format!("/api/jobs/{id}")).await["revision"], json!(4));
        let files = exported(&b, &id).await;
        let out = files.iter().find(|f| f.0 == "job.toml").map(|f| f.1.clone()).unwrap();
        assert_eq!(out, text.replace("\"Third\"", "\"Fourth\""), "{told}");
    }
}

#[test]
fn a_database_of_something_else_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let file = database(folder.path());
    Connection::open(&file).unwrap().execute_batch("CREATE TABLE photos (name TEXT)").unwrap();
    let before = std::fs::read(&file).unwrap();
    let why = SqliteStore::open(&file).unwrap_err();
    assert!(matches!(why, StoreError::NoStore { .. }), "{why}");
    assert_eq!(std::fs::read(&file).unwrap(), before);
}

/// The texts that job had before its last edit, the newest first.
fn earlier(text: &str) -> Vec<String> {
    let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/guesthouse-garden/job.toml");
    let before = ["Second", "First"].map(|name| text.replace("\"Third\"", &format!("\"{name}\"")));
    before.into_iter().chain([std::fs::read_to_string(example).unwrap()]).collect()
}

#[tokio::test]
async fn holes_are_found_when_the_store_is_opened_or_put_right_and_never_shown_as_a_job() {
    // Pages of zeros at twenty places, one place at a time, as a failing disk leaves them.
    let folder = tempfile::tempdir().unwrap();
    let (id, text) = kept(folder.path()).await;
    Connection::open(database(folder.path()))
        .unwrap()
        .execute_batch("PRAGMA wal_checkpoint(TRUNCATE)")
        .unwrap();
    let whole = std::fs::read(database(folder.path())).unwrap();
    let mut told = [0usize; 4];
    for n in 0..20 {
        let place = 100 + (whole.len() - 612) / 20 * n;
        let mut torn = whole.clone();
        torn[place..place + 512].fill(0);
        let elsewhere = tempfile::tempdir().unwrap();
        std::fs::write(database(elsewhere.path()), torn).unwrap();
        let store = match SqliteStore::open(&database(elsewhere.path())) {
            Ok(store) => store,
            Err(why) => {
                assert!(matches!(why, StoreError::Torn { .. } | StoreError::NoStore { .. }), "{why}");
                told[0] += 1;
                continue;
            }
        };
        let jobs = Jobs::new(Arc::new(store));
        let notes = jobs.look_over();
        match jobs.open(&id) {
            Ok(job) if job.damage().earlier => {
                // As it once was, and told so: by no hole made into something it never was.
                let shown = job.now().file.text().to_owned();
                assert!(earlier(&text).contains(&shown), "the hole at {place} changed the job");
                assert!(notes.is_ok_and(|n| !n.is_empty()), "the hole at {place} is found only now");
                told[3] += 1;
            }
            Ok(job) => {
                assert_eq!(job.now().file.text(), text, "the hole at {place} changed the job");
                told[if notes.is_ok_and(|n| n.is_empty()) { 1 } else { 2 }] += 1;
            }
            Err(_) => {
                // What cannot be put right was told when the store was opened.
                assert!(notes.map_or(true, |n| !n.is_empty()), "the hole at {place} is found only now");
                told[3] += 1;
            }
        }
    }
    assert!(told[0] + told[2] + told[3] > 0, "{told:?}: no hole hit anything");
}

#[tokio::test]
async fn a_damaged_text_is_made_again_from_the_log() {
    let folder = tempfile::tempdir().unwrap();
    let (id, text) = kept(folder.path()).await;
    let change = |sql: &str| Connection::open(database(folder.path())).unwrap().execute_batch(sql).unwrap();
    change("UPDATE jobs SET text = replace(text, 'Third', 'Thirx')");
    let jobs = Jobs::new(Arc::new(SqliteStore::open(&database(folder.path())).unwrap()));
    let notes = jobs.look_over().unwrap();
    assert!(notes.len() == 1 && notes[0].contains("put right"), "{notes:?}");
    assert_eq!(jobs.open(&id).unwrap().now().file.text(), text);
    assert!(jobs.look_over().unwrap().is_empty());
    // Without the text it began with there is no proof.
    change("UPDATE jobs SET text = replace(text, 'Third', 'Thirx'), made = NULL");
    let jobs = Jobs::new(Arc::new(SqliteStore::open(&database(folder.path())).unwrap()));
    let notes = jobs.look_over().unwrap();
    assert!(notes.len() == 1 && notes[0].contains("backup"), "{notes:?}");
    assert!(jobs.open(&id).is_err());
}

#[tokio::test]
async fn a_revision_behind_its_log_is_carried_on() {
    let folder = tempfile::tempdir().unwrap();
    let (id, text) = kept(folder.path()).await;
    // The job's row as it was two edits ago, by its own checksum: the log has gone on.
    put_in_place(folder.path(), &text.replace("\"Third\"", "\"First\""), 1);
    let b = Browser::new(SqliteStore::open(&database(folder.path())).unwrap());
    let (status, answer) = rename(&b, &id, "edit-late-0123456789abcdef", 3, "Fourth").await;
    assert_eq!((status, answer["revision"].as_u64()), (StatusCode::OK, Some(4)), "{answer}");
    let (_, job) = b.ask("GET", &format!("/api/jobs/{id}?who=Ann"), None).await;
    assert_eq!(job["name"], "Fourth");
    assert_eq!(job["undo"]["revision"], 4);
}

#[tokio::test]
async fn an_unreadable_entry_of_the_log_keeps_nobody_out_of_the_job() {
    let folder = tempfile::tempdir().unwrap();
    let (id, text) = kept(folder.path()).await;
    Connection::open(database(folder.path()))
        .unwrap()
        .execute_batch("UPDATE edits SET patch = 'torn' WHERE revision = 2")
        .unwrap();
    let jobs = Jobs::new(Arc::new(SqliteStore::open(&database(folder.path())).unwrap()));
    let job = jobs.open(&id).unwrap();
    assert_eq!(job.now().file.text(), text);
    // The last edit can be undone; what came before the unreadable one cannot.
    let undo = || job.undo(loamline_server::UndoRequest { edit_id: None, who: "Ann".into() });
    assert!(undo().is_ok());
    assert!(undo().is_err());
}

/// What a browser is answered, with a refusal told where there is one.
async fn answered(b: &Browser, path: &str) -> Value {
    let (status, answer) = b.ask("GET", path, None).await;
    assert_eq!(status, StatusCode::OK, "{path}: {answer}");
    answer
}

/// Names and contents of the files in a zip.
fn unzipped(bytes: Vec<u8>) -> Vec<(String, String)> {
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap();
    (0..archive.len())
        .map(|i| {
            let mut file = archive.by_index(i).unwrap();
            let mut text = String::new();
            std::io::Read::read_to_string(&mut file, &mut text).unwrap();
            (file.name().to_owned(), text)
        })
        .collect()
}

async fn exported(b: &Browser, id: &str) -> Vec<(String, String)> {
    let request = axum::http::Request::get(format!("/api/jobs/{id}/export")).header("host", "127.0.0.1:8437");
    let (status, bytes) = b.send(request.body(axum::body::Body::empty()).unwrap()).await;
    assert_eq!(status, StatusCode::OK, "{}", String::from_utf8_lossy(&bytes));
    unzipped(bytes)
}

/// Each of these once answered every use of the job, or of its history, with 500 for good.
#[tokio::test]
async fn whatever_damages_an_entry_of_the_log_the_job_is_used_on_and_says_what_is_lost() {
    for damage in [
        "UPDATE edits SET patch = 'torn' WHERE revision = 2",
        "UPDATE edits SET inverse = 'torn' WHERE revision = 2",
        "UPDATE edits SET kind = '' WHERE revision = 2",
        "UPDATE edits SET inverse = CAST(x'ff00ff' AS TEXT) WHERE revision = 2",
        "UPDATE edits SET inverse = 'torn' WHERE revision = 3",
        "DELETE FROM edits WHERE revision = 2",
    ] {
        let folder = tempfile::tempdir().unwrap();
        let (id, text) = kept(folder.path()).await;
        Connection::open(database(folder.path())).unwrap().execute_batch(damage).unwrap();
        let b = Browser::new(SqliteStore::open(&database(folder.path())).unwrap());
        let other = b.example().await;
        let job = answered(&b, &format!("/api/jobs/{id}")).await;
        let told = job["damaged"][0]["sentence"].as_str().unwrap_or_default();
        let revision = if damage.ends_with('3') { 3 } else { 2 };
        assert!(told.contains(&format!("revision {revision} cannot be read")), "{damage}: {told}");
        let history = answered(&b, &format!("/api/jobs/{id}/history")).await;
        let lost = history.as_array().unwrap().iter().find(|e| e["revision"] == revision);
        let gone = damage.starts_with("DELETE");
        assert!(lost.map_or(gone, |e| e["kind"] == "unreadable"), "{damage}: {history}");
        // The folder goes out with the job as it is, and with what is lost of its log in words.
        let files = exported(&b, &id).await;
        let file = |name: &str| files.iter().find(|f| f.0 == name).map(|f| f.1.clone()).unwrap();
        assert_eq!(file("job.toml"), text, "{damage}");
        assert!(file("damaged/what-is-lost.txt").contains("cannot be read"), "{damage}");
        // It is edited on. Of what was made before the damage a person is asked.
        let (status, answer) = rename(&b, &id, "edit-now-0123456789abcdef", 3, "Fourth").await;
        assert_eq!(status, StatusCode::OK, "{damage}: {answer}");
        let (status, answer) = rename(&b, &id, "edit-old-0123456789abcdef", 1, "Fifth").await;
        assert_eq!((status, answer["error"]["code"].as_str()), (StatusCode::CONFLICT, Some("conflict")));
        // Others have nothing to do with it.
        assert_eq!(answered(&b, &format!("/api/jobs/{other}")).await["damaged"], json!([]));
    }
}

#[tokio::test]
async fn an_edit_whose_entry_is_damaged_is_not_carried_out_again() {
    let folder = tempfile::tempdir().unwrap();
    let (id, _) = kept(folder.path()).await;
    let damage = "UPDATE edits SET patch = 'torn' WHERE revision = 2";
    Connection::open(database(folder.path())).unwrap().execute_batch(damage).unwrap();
    let b = Browser::new(SqliteStore::open(&database(folder.path())).unwrap());
    let (status, answer) = rename(&b, &id, "edit-1-0123456789abcdef", 1, "Second").await;
    assert_eq!((status, &answer["revision"]), (StatusCode::OK, &json!(2)), "{answer}");
    assert_eq!(answered(&b, &format!("/api/jobs/{id}")).await["revision"], json!(3));
}

/// Such a job once could not be opened at all.
#[tokio::test]
async fn a_job_whose_log_breaks_off_is_shown_as_it_was_and_nothing_is_written_over_what_is_kept() {
    for (damage, revision) in [
        ("UPDATE edits SET patch = 'torn' WHERE revision = 2; UPDATE jobs SET text = 'torn'", 1),
        ("UPDATE edits SET patch = 'torn' WHERE revision = 3; UPDATE jobs SET text = 'torn'", 2),
        ("DELETE FROM edits WHERE revision = 1; UPDATE jobs SET text = 'torn'", 0),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let (id, text) = kept(folder.path()).await;
        Connection::open(database(folder.path())).unwrap().execute_batch(damage).unwrap();
        let jobs = Jobs::new(Arc::new(SqliteStore::open(&database(folder.path())).unwrap()));
        let notes = jobs.look_over().unwrap();
        assert!(notes.len() == 1 && notes[0].contains(&format!("at revision {revision},")), "{notes:?}");
        drop(jobs);
        let b = Browser::new(SqliteStore::open(&database(folder.path())).unwrap());
        let job = answered(&b, &format!("/api/jobs/{id}")).await;
        assert_eq!((&job["revision"], &job["undo"]), (&json!(revision), &Value::Null), "{job}");
        assert!(
            job["damaged"][0]["sentence"].as_str().unwrap_or_default().contains("takes no edits"),
            "{job}"
        );
        // It can be looked at and taken along; what is entered is refused with what to do.
        answered(&b, &format!("/api/jobs/{id}/findings")).await;
        let (status, answer) = rename(&b, &id, "edit-now-0123456789abcdef", revision, "Fourth").await;
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{answer}");
        assert!(answer["error"]["message"].as_str().unwrap().contains("last backup"), "{answer}");
        let files = exported(&b, &id).await;
        let file = |name: &str| files.iter().find(|f| f.0 == name).map(|f| f.1.clone()).unwrap();
        assert_eq!(file("job.toml"), earlier(&text)[2 - usize::try_from(revision).unwrap()], "{damage}");
        assert_eq!(file("damaged/job-as-kept.toml"), "torn");
        drop(b);
        let store = SqliteStore::open(&database(folder.path())).unwrap();
        let left = store.job(&id).unwrap().unwrap();
        assert_eq!((left.text.as_str(), left.revision), ("torn", 3), "what is kept stays as it is");
    }
}

#[tokio::test]
async fn a_job_beyond_repair_goes_out_with_whatever_is_left_of_it() {
    let folder = tempfile::tempdir().unwrap();
    let (id, text) = kept(folder.path()).await;
    let damage = "UPDATE jobs SET text = replace(text, 'Third', 'Thirx'), made = NULL";
    Connection::open(database(folder.path())).unwrap().execute_batch(damage).unwrap();
    let b = Browser::new(SqliteStore::open(&database(folder.path())).unwrap());
    let (status, answer) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    assert_eq!(status, StatusCode::INTERNAL_SERVER_ERROR, "{answer}");
    let files = exported(&b, &id).await;
    let file = |name: &str| files.iter().find(|f| f.0 == name).map(|f| f.1.clone()).unwrap();
    assert_eq!(file("job.toml"), text.replace("Third", "Thirx"));
    assert!(file("damaged/what-is-lost.txt").contains("last backup"));
}

/// As a job is found that an older program took in, and whose rules have changed since.
#[tokio::test]
async fn a_job_that_todays_rules_refuse_says_where_and_goes_out_as_it_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let (id, text) = kept(folder.path()).await;
    let refused = text.replacen("format = 1", "format = 1\nunheard_of = 3", 1);
    assert_ne!(refused, text);
    put_in_place(folder.path(), &refused, 3);
    let b = Browser::new(SqliteStore::open(&database(folder.path())).unwrap());
    let (status, answer) = b.ask("GET", &format!("/api/jobs/{id}"), None).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{answer}");
    assert!(answer["error"]["problems"][0]["message"].as_str().unwrap().contains("unheard"), "{answer}");
    // It stands in the list, and the folder is what is kept.
    let (_, jobs) = b.ask("GET", "/api/jobs", None).await;
    assert_eq!(jobs[0]["name"], "Third");
    let files = exported(&b, &id).await;
    let file = |name: &str| files.iter().find(|f| f.0 == name).map(|f| f.1.clone()).unwrap();
    assert_eq!(file("job.toml"), refused);
    assert!(file("damaged/what-is-lost.txt").contains("unheard"));
    let store = SqliteStore::open(&database(folder.path())).unwrap();
    assert_eq!(store.job(&id).unwrap().unwrap().text, refused, "nothing was written over it");
}

#[tokio::test]
async fn a_second_server_takes_over_and_the_first_is_told_so() {
    let folder = tempfile::tempdir().unwrap();
    let open = || Browser::new(SqliteStore::open(&database(folder.path())).unwrap().take_over().unwrap());
    let first = open();
    let id = first.example().await;
    let second = open();
    let (status, answer) = rename(&first, &id, "edit-1-0123456789abcdef", 0, "Mine").await;
    assert_eq!(
        (status, answer["error"]["code"].as_str()),
        (StatusCode::SERVICE_UNAVAILABLE, Some("taken_over"))
    );
    assert!(answer["error"]["message"].as_str().unwrap().contains("another loamline"), "{answer}");
    let (status, _) = rename(&second, &id, "edit-2-0123456789abcdef", 0, "Theirs").await;
    assert_eq!(status, StatusCode::OK);
}

#[tokio::test]
async fn an_import_is_taken_in_whole_or_not_at_all() {
    let b = Browser::new(SqliteStore::in_memory().unwrap().with_room(20));
    let id = b.example().await;
    let request = axum::http::Request::get(format!("/api/jobs/{id}/export")).header("host", "127.0.0.1:8437");
    let (_, zip) = b.send(request.body(axum::body::Body::empty()).unwrap()).await;
    let mut archive = zip::ZipWriter::new_append(std::io::Cursor::new(zip)).unwrap();
    for (name, size) in [("one.png", 8), ("two.png", 40)] {
        archive.start_file(format!("attachments/{name}"), zip::write::SimpleFileOptions::default()).unwrap();
        let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
        bytes.resize(size, 0);
        std::io::Write::write_all(&mut archive, &bytes).unwrap();
    }
    let bytes = archive.finish().unwrap().into_inner();
    let request = axum::http::Request::post("/api/jobs/import")
        .header("host", "127.0.0.1:8437")
        .header("content-type", "application/zip")
        .body(axum::body::Body::from(bytes))
        .unwrap();
    let (status, _) = b.send(request).await;
    assert_eq!(status, StatusCode::PAYLOAD_TOO_LARGE);
    let (_, jobs) = b.ask("GET", "/api/jobs", None).await;
    assert_eq!(jobs.as_array().map(Vec::len), Some(1), "half a job was left behind: {jobs}");
}

#[cfg(unix)]
#[tokio::test]
async fn others_on_the_machine_cannot_read_the_jobs() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = tempfile::tempdir().unwrap();
    // A file of before, open to everybody.
    kept(folder.path()).await;
    let file = database(folder.path());
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o644)).unwrap();
    let store = SqliteStore::open(&file).unwrap();
    store.jobs().unwrap();
    // A folder that is made is theirs alone too.
    loamline_server::store_in(&folder.path().join("new")).unwrap();
    for entry in std::fs::read_dir(folder.path()).unwrap() {
        let entry = entry.unwrap();
        let mode = entry.metadata().unwrap().permissions().mode();
        assert_eq!(mode & 0o077, 0, "{}: {mode:o}", entry.path().display());
    }
}

#[tokio::test]
async fn only_the_apps_own_addresses_give_the_app() {
    let b = Browser::new(SqliteStore::in_memory().unwrap());
    for path in ["/health", "/jobs", "/index", "/admin/x", "/api/nothing"] {
        let (status, _) = b.ask("GET", path, None).await;
        assert_eq!(status, StatusCode::NOT_FOUND, "{path}");
    }
}
