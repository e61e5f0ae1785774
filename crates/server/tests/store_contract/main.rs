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
mod people;
mod sign_ins;
#[cfg(unix)]
mod tasks;

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
    use loamline_model::{Edit, Operation};
    use loamline_server::{
        ApiError, Device, EditRequest, Event, GoBack, Heard, JobListing, Jobs, NewJob, OpenJob, People as _,
        Person, PostgresStore, Role, SignIns as _, Store as _, StoreError, UndoRequest,
    };
    use serde_json::json;
    use std::sync::Arc;
    use std::time::{Duration, Instant};

    const LISTING: JobListing<'_> =
        JobListing { name: "Court", summary: "", at: "2026-05-04T09:30:00Z", status: "", client: "" };
    const NEW: NewJob<'_> =
        NewJob { text: "t", catalogue: &[], attachments: &[], listing: LISTING, template: false };

    /// What is heard where jobs changed.
    fn of_jobs(ids: &[&str]) -> Heard {
        let jobs = ids.iter().map(|id| (*id).to_owned()).collect();
        Heard::Said { jobs, tasks: Vec::new(), people: false }
    }

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
        taking_back_is_personal_whichever_server_it_is_asked_of(&cluster);
        opened_twice_the_tables_stay(&cluster);
        super::tasks::work_is_handed_on(&cluster);
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
        a.create("one", &NEW).unwrap();
        assert!(a.delete("one").unwrap());
        assert!(ours.tell(soon).unwrap());
        let heard = theirs.hear(Duration::from_secs(5)).unwrap();
        assert_eq!(heard, of_jobs(&["one"]));
        assert_eq!(ours.hear(soon).unwrap(), of_jobs(&[]), "nobody hears himself");
        assert_eq!(theirs.hear(soon).unwrap(), of_jobs(&[]), "it was said once");
        // A device in another role, or turned away.
        let device = Device {
            id: "phone".into(),
            name: "Phone".into(),
            role: Role::Crew,
            person: None,
            paired_at: String::new(),
            seen_at: String::new(),
        };
        a.admit(&device, &[]).unwrap();
        assert!(!a.set_role("nobody", Role::Owner).unwrap() && !ours.tell(soon).unwrap());
        let told = || {
            assert!(ours.tell(soon).unwrap());
            theirs.hear(Duration::from_secs(5)).unwrap()
        };
        let of_people = Heard::Said { jobs: Vec::new(), tasks: Vec::new(), people: true };
        assert!(a.set_role("phone", Role::Designer).unwrap());
        assert_eq!(told(), of_people);
        assert!(a.forget("phone").unwrap());
        assert_eq!(told(), of_people);
        // And somebody who signs in.
        let ann = Person { id: "ann".into(), name: "Ann".into(), role: Role::Crew, made_at: String::new() };
        a.add_person(&ann, None).unwrap();
        assert!(a.set_role_of("ann", Role::Owner).unwrap());
        assert_eq!(told(), of_people);
        assert!(a.forget_person("ann").unwrap());
        assert_eq!(told(), of_people);
    }

    fn what_others_did_is_taken_in(cluster: &Cluster) {
        let address = cluster.database("follow");
        let [a, b] = [(), ()].map(|()| Jobs::new(Arc::new(PostgresStore::open(&address).unwrap())));
        let id = a.create("format = 1\n\n[job]\nname = \"Court\"\n", &[], &[]).unwrap();
        let (here, there) = (a.open(&id).unwrap(), b.open(&id).unwrap());
        let mut looking = there.listen();
        let edit = |n: u64, base: u64| renamed("/job/name", "Ann", n, base);
        assert_eq!(here.edit(edit(1, 0)).unwrap().revision, 1);
        assert_eq!(there.now().revision, 0);
        assert_eq!(b.catch_up(&of_jobs(&["another"])).unwrap(), 0);
        assert_eq!(b.catch_up(&of_jobs(&[&id])).unwrap(), 1);
        assert_eq!((there.now().revision, there.now().file.text()), (1, here.now().file.text()));
        assert!(matches!(looking.try_recv(), Ok(Event::Edited(e)) if e.revision == 1));
        // An edit on what was seen by way of the other server, which this one has not heard of.
        assert_eq!(here.edit(edit(2, 1)).unwrap().revision, 2);
        assert_eq!(there.edit(edit(3, 2)).unwrap().revision, 3);
        // One sent to both takes effect once.
        assert_eq!(here.edit(edit(3, 2)).unwrap().revision, 3);
        // One that meets what the other did is asked about, not lost; undo takes back one's newest, wherever it was made.
        assert!(there.edit(edit(4, 1)).is_err());
        assert_eq!(here.undo(by("Ann")).unwrap().revision, 4);
        assert_eq!(b.open(&id).unwrap().now().revision, 4, "before anybody is answered");
        // A job taken away at one is gone at the other.
        a.delete(&id, "Ann").unwrap();
        assert_eq!(b.catch_up(&Heard::Anything).unwrap(), 1);
        let told = std::iter::from_fn(|| looking.try_recv().ok()).last();
        assert!(matches!(told, Some(Event::Gone)), "{told:?}");
        assert!(b.open(&id).is_err());
        // Brought back by another server it is there again, with what can be undone.
        assert_eq!(b.bring_back(&id, "Ben").unwrap(), "Name 2");
        assert_eq!(a.open(&id).unwrap().undo(by("Ann")).unwrap().revision, 5);
    }

    /// Somebody who undoes or redoes.
    fn by(who: &str) -> UndoRequest {
        UndoRequest { edit_id: None, who: who.into() }
    }

    /// An edit that gives the name at a place a number.
    fn renamed(path: &str, who: &str, n: u64, base_revision: u64) -> EditRequest {
        EditRequest {
            edit_id: format!("edit-{n:08}"),
            base_revision,
            measured_revision: None,
            patch: Edit::new([Operation::Replace { path: path.into(), value: json!(format!("Name {n}")) }]),
            who: who.into(),
            note: String::new(),
            made_at: None,
        }
    }

    /// Each step by way of the server that has not heard of the one before it.
    fn taking_back_is_personal_whichever_server_it_is_asked_of(cluster: &Cluster) {
        const JOB: &str = "format = 1\n\n[job]\nname = \"Court\"\n\n[marks.M1]\nname = \"Gate\"\nposition = [1, 1]\n\n\
                           [marks.M2]\nname = \"Post\"\nposition = [2, 2]\n";
        let address = cluster.database("undo");
        let [a, b] = [(), ()].map(|()| Jobs::new(Arc::new(PostgresStore::open(&address).unwrap())));
        let id = a.create(JOB, &[], &[]).unwrap();
        let (here, there) = (a.open(&id).unwrap(), b.open(&id).unwrap());
        let names = |job: &OpenJob| {
            let name =
                |mark: &str| job.now().file.raw().pointer(&format!("/marks/{mark}/name")).cloned().unwrap();
            [name("M1"), name("M2")]
        };
        here.edit(renamed("/marks/M1/name", "Ann", 1, 0)).unwrap();
        there.edit(renamed("/marks/M2/name", "Ben", 2, 0)).unwrap();
        assert_eq!(here.undo(by("Ben")).unwrap().revision, 3);
        assert_eq!(names(&here), [json!("Name 1"), json!("Post")]);
        assert_eq!(there.undo(by("Ann")).unwrap().revision, 4);
        assert_eq!(names(&there), [json!("Gate"), json!("Post")]);
        assert_eq!(here.redo(by("Ann")).unwrap().revision, 5);
        assert_eq!(there.redo(by("Ben")).unwrap().revision, 6);
        assert_eq!(names(&there), [json!("Name 1"), json!("Name 2")]);
        assert!(here.undo(by("Cleo")).is_err(), "nothing of hers");
        // Somebody else's later edit of the same stands in the way, wherever it was made.
        here.edit(renamed("/marks/M1/name", "Ben", 3, 6)).unwrap();
        assert!(there.undo(by("Ann")).is_err());
        // Back to the beginning, by way of the server that has not heard of the last edit: of what was seen, and no other.
        let back = |base_revision, edit_id: &str| GoBack {
            edit_id: edit_id.into(),
            base_revision,
            revision: 0,
            who: "Ann".into(),
        };
        here.edit(renamed("/marks/M2/name", "Ben", 4, 7)).unwrap();
        assert!(there.go_back(back(7, "go-back-of-what-is-gone")).is_err());
        assert_eq!(there.go_back(back(8, "go-back-0123456789")).unwrap().revision, 9);
        assert_eq!(
            there.go_back(back(8, "go-back-0123456789")).unwrap().revision,
            9,
            "sent twice, done once"
        );
        assert_eq!(names(&there), [json!("Gate"), json!("Post")]);
        equipment_is_taken_in(&here, &there);
    }

    /// Own catalogue files changed by way of one server count on the other.
    fn equipment_is_taken_in(here: &OpenJob, there: &OpenJob) {
        let add = |name: &'static str| {
            move |mut files: Vec<(String, String)>| -> Result<Vec<(String, String)>, ApiError> {
                let text = format!(
                    "[conduits.{name}]\ndescription = \"25 mm\"\ninside_diameter = \"19 mm\"\nprice_per_m = 1.0\n"
                );
                files.push((format!("{name}.toml"), text));
                Ok(files)
            }
        };
        let refused = |r: &loamline_model::Report| ApiError::report("refused", r);
        let first = here.change_catalogue("Ann", "Enter", add("ours-1"), refused).unwrap();
        let second = there.change_catalogue("Ben", "Enter", add("ours-2"), refused).unwrap();
        assert_eq!(second, first + 1);
        here.catch_up().unwrap();
        for job in [here, there] {
            let now = job.now();
            let has = |name: &str| now.file.catalogue().conduits.contains_key(name);
            assert!(now.revision == second && has("ours-1") && has("ours-2"));
        }
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
        store.create("one", &NEW).unwrap();
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
        store.create("one", &NEW).unwrap();
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
