//! One contract, two stores: every case is asked of a file of SQLite and of a PostgreSQL that the test starts for itself.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test may stop at the first surprise"
)]

mod cases;
#[cfg(unix)]
mod cluster;

use cases::{CASES, ROOM};
use loamline_server::SqliteStore;

#[test]
fn a_file_of_sqlite_keeps_the_contract() {
    for (name, case) in CASES {
        println!("{name}");
        let folder = tempfile::tempdir().unwrap();
        let store = SqliteStore::open(&folder.path().join("jobs.sqlite")).unwrap();
        case(&store.with_room(ROOM));
    }
}

#[cfg(unix)]
mod postgres {
    use super::cases::{CASES, ROOM};
    use super::cluster::Cluster;
    use loamline_server::{Heard, JobListing, Jobs, NewJob, PostgresStore, Store as _, StoreError};
    use std::sync::Arc;
    use std::time::{Duration, Instant};

    const LISTING: JobListing<'_> = JobListing { name: "Court", summary: "", at: "2026-05-04T09:30:00Z" };

    fn sql(address: &str, statements: &str) {
        let mut client = postgres::Client::connect(address, postgres::NoTls).unwrap();
        client.batch_execute(statements).unwrap();
    }

    /// All in one test: a cluster takes seconds to start.
    #[test]
    fn a_database_keeps_the_contract_and_more() {
        let Some(cluster) = Cluster::start() else {
            println!("not run: PostgreSQL 15 or newer is not installed");
            return;
        };
        for (n, (name, case)) in CASES.iter().enumerate() {
            println!("{name}");
            let store = PostgresStore::open(&cluster.database(&format!("case{n}"))).unwrap();
            case(&store.with_room(ROOM));
        }
        servers_hear_of_each_other(&cluster);
        what_others_did_is_taken_in(&cluster);
        opened_twice_the_tables_stay(&cluster);
        what_cannot_keep_jobs_says_so(&cluster);
        a_database_started_anew_is_found_again(&cluster);
    }

    fn servers_hear_of_each_other(cluster: &Cluster) {
        let address = cluster.database("calls");
        let [a, b] = [(), ()].map(|()| PostgresStore::open(&address).unwrap());
        let (ours, theirs) = (a.others().unwrap(), b.others().unwrap());
        let soon = Duration::from_millis(50);
        // Whoever begins to listen may have missed something.
        assert_eq!(
            (ours.hear(soon).unwrap(), theirs.hear(soon).unwrap()),
            (Heard::Anything, Heard::Anything)
        );
        assert!(!ours.tell(soon).unwrap(), "nothing was done");
        let new = NewJob { text: "t", catalogue: &[], attachments: &[], listing: LISTING };
        a.create("one", &new).unwrap();
        assert!(a.delete("one").unwrap());
        assert!(ours.tell(soon).unwrap());
        let heard = theirs.hear(Duration::from_secs(5)).unwrap();
        assert_eq!(heard, Heard::Jobs(vec!["one".to_owned()]));
        assert_eq!(ours.hear(soon).unwrap(), Heard::Jobs(Vec::new()), "nobody hears himself");
        assert_eq!(theirs.hear(soon).unwrap(), Heard::Jobs(Vec::new()), "it was said once");
    }

    fn what_others_did_is_taken_in(cluster: &Cluster) {
        let address = cluster.database("follow");
        let [a, b] = [(), ()].map(|()| Jobs::new(Arc::new(PostgresStore::open(&address).unwrap())));
        let id = a.create("format = 1\n\n[job]\nname = \"Court\"\n", &[], &[]).unwrap();
        let (here, there) = (a.open(&id).unwrap(), b.open(&id).unwrap());
        let mut looking = there.listen();
        let edit = |n: u64, base: u64| loamline_server::EditRequest {
            edit_id: format!("edit-{n:08}"),
            base_revision: base,
            measured_revision: None,
            patch: loamline_model::Edit::new([loamline_model::Operation::Replace {
                path: "/job/name".into(),
                value: serde_json::json!(format!("Name {n}")),
            }]),
            who: "Ann".into(),
            note: String::new(),
            made_at: None,
        };
        assert_eq!(here.edit(edit(1, 0)).unwrap().revision, 1);
        assert_eq!(there.now().revision, 0);
        assert_eq!(b.catch_up(&Heard::Jobs(vec!["another".to_owned()])).unwrap(), 0);
        assert_eq!(b.catch_up(&Heard::Jobs(vec![id.clone()])).unwrap(), 1);
        assert_eq!((there.now().revision, there.now().file.text()), (1, here.now().file.text()));
        assert!(matches!(looking.try_recv(), Ok(loamline_server::Event::Edited(e)) if e.revision == 1));
        // An edit on what was seen by way of the other server, which this one has not heard of.
        assert_eq!(here.edit(edit(2, 1)).unwrap().revision, 2);
        assert_eq!(there.edit(edit(3, 2)).unwrap().revision, 3);
        // One sent to both takes effect once.
        assert_eq!(here.edit(edit(3, 2)).unwrap().revision, 3);
        // One that meets what the other did is asked about, not lost; undo takes back the newest, whoever made it.
        assert!(there.edit(edit(4, 1)).is_err());
        let ann = loamline_server::UndoRequest { edit_id: None, who: "Ann".into() };
        assert_eq!(here.undo(ann).unwrap().revision, 4);
        assert_eq!(b.open(&id).unwrap().now().revision, 4, "before anybody is answered");
        // A job taken away at one is gone at the other.
        a.delete(&id).unwrap();
        assert_eq!(b.catch_up(&Heard::Anything).unwrap(), 1);
        let told = std::iter::from_fn(|| looking.try_recv().ok()).last();
        assert!(matches!(told, Some(loamline_server::Event::Gone)), "{told:?}");
        assert!(b.open(&id).is_err());
    }

    fn opened_twice_the_tables_stay(cluster: &Cluster) {
        let address = cluster.database("twice");
        let made: Vec<_> = std::thread::scope(|s| {
            let open = || PostgresStore::open(&address).map(drop);
            let all: Vec<_> = (0..4).map(|_| s.spawn(open)).collect();
            all.into_iter().map(|t| t.join().unwrap()).collect()
        });
        assert!(made.iter().all(Result::is_ok), "servers that start together: {made:?}");
        let store = PostgresStore::open(&address).unwrap();
        store
            .create("one", &NewJob { text: "t", catalogue: &[], attachments: &[], listing: LISTING })
            .unwrap();
        drop(store);
        assert_eq!(PostgresStore::open(&address).unwrap().jobs().unwrap().len(), 1);
    }

    fn what_cannot_keep_jobs_says_so(cluster: &Cluster) {
        let refused = |address: &str| PostgresStore::open(address).map(drop).unwrap_err();
        let none = refused(&cluster.address("none", "loamline"));
        assert!(
            matches!(&none, StoreError::NoDatabase { .. }) && none.to_string().contains("none"),
            "{none}"
        );
        let newer = cluster.database("newer");
        drop(PostgresStore::open(&newer).unwrap());
        sql(&newer, "UPDATE loamline.version SET number = number + 1");
        let why = refused(&newer);
        assert!(
            matches!(why, StoreError::Newer { .. }) && why.to_string().contains("newer program"),
            "{why}"
        );
        let no_rights = cluster.database("rights");
        sql(&no_rights, "CREATE ROLE looks LOGIN; REVOKE CREATE ON DATABASE rights FROM PUBLIC");
        let why = refused(&cluster.address("rights", "looks")).to_string();
        assert!(why.contains("its user may not") && why.contains("own the database"), "{why}");
        // Nothing was left behind by the one that was refused.
        sql(&no_rights, "CREATE SCHEMA loamline");
        let why = refused("postgres://loamline@127.0.0.1:1/jobs").to_string();
        assert!(why.contains("does not answer"), "{why}");
    }

    fn a_database_started_anew_is_found_again(cluster: &Cluster) {
        let store = PostgresStore::open(&cluster.database("anew")).unwrap();
        let new = NewJob { text: "t", catalogue: &[], attachments: &[], listing: LISTING };
        store.create("one", &new).unwrap();
        let calls = store.others().unwrap();
        assert_eq!(calls.hear(Duration::from_millis(10)).unwrap(), Heard::Anything);
        cluster.restart();
        // What may be asked twice is, and nobody notices.
        assert_eq!(store.jobs().unwrap().len(), 1);
        store.ready().unwrap();
        // Whoever listened is told that something may have been missed.
        let until = Instant::now() + Duration::from_secs(20);
        let again = loop {
            match calls.hear(Duration::from_millis(100)) {
                Ok(Heard::Anything) => break true,
                _ if Instant::now() > until => break false,
                _ => {}
            }
        };
        assert!(again, "it listens again");
    }
}
