//! Work handed on by way of a database: delivered once whoever comes back late, stopped, the urgent first, and taken over from a
//! worker that was killed. That one is replaced within fifteen seconds is the firm's own wish, not from a standard.

use super::cluster::Cluster;
use loamline_server::{
    Begun, Hand, Heard, JobListing, NewJob, NewTask, Outcome, PostgresStore, Store as _, StoreError,
    TaskKind, Tasks,
};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use tokio::runtime::Runtime;
use tokio::sync::watch;

const LISTING: JobListing<'_> =
    JobListing { name: "Court", summary: "", at: "2026-05-04T09:30:00Z", status: "", client: "" };
const NEW: NewJob<'_> =
    NewJob { text: "t", catalogue: &[], attachments: &[], listing: LISTING, template: false };

/// How soon a worker that was killed is replaced.
const REPLACED_WITHIN: Duration = Duration::from_secs(15);

/// Everything of it, each on a database of its own.
pub fn work_is_handed_on(cluster: &Cluster) {
    who_comes_back_late_delivers_nothing(cluster);
    what_is_stopped_is_not_begun(cluster);
    the_urgent_goes_first(cluster);
    what_fails_has_another_turn(cluster);
    a_killed_worker_is_replaced(cluster);
}

/// A store with jobs of these ids.
fn store_of(cluster: &Cluster, name: &str, jobs: &[&str]) -> PostgresStore {
    let store = PostgresStore::open(&cluster.database(name)).unwrap();
    for job in jobs {
        store.create(job, &NEW).unwrap();
    }
    store
}

fn tasks(store: &PostgresStore) -> &dyn Tasks {
    store.tasks().unwrap()
}

fn ask(store: &PostgresStore, id: &str, kind: TaskKind, job: &str) {
    tasks(store).ask_for(&NewTask { id, kind, job, wish: "{}" }).unwrap();
}

fn outcome(body: &str) -> Outcome {
    Outcome { status: 200, body: body.into() }
}

fn who_comes_back_late_delivers_nothing(cluster: &Cluster) {
    let store = store_of(cluster, "late", &["court"]);
    let tasks = tasks(&store);
    ask(&store, "one", TaskKind::Proposal, "court");
    let slow = tasks.begin("one").unwrap().unwrap();
    let next = tasks.begin("one").unwrap().unwrap();
    assert_eq!((slow.turn, next.turn), (1, 2));
    assert!(!tasks.report(&slow, "{}").unwrap(), "it has lost its turn");
    assert!(tasks.report(&next, r#"{"share":0.5}"#).unwrap());
    assert!(!tasks.deliver(&slow, 3, &outcome("slow")).unwrap());
    assert_eq!(tasks.task("court", "one").unwrap().unwrap().outcome, None);
    assert!(tasks.deliver(&next, 4, &outcome("next")).unwrap());
    for (turn, body) in [(&slow, "slow"), (&next, "again")] {
        assert!(!tasks.deliver(turn, 5, &outcome(body)).unwrap(), "delivered once");
    }
    let done = tasks.task("court", "one").unwrap().unwrap();
    assert_eq!((done.revision, done.outcome), (4, Some(outcome("next"))));
    assert_eq!(done.progress, r#"{"share":0.5}"#);
    assert!(tasks.begin("one").unwrap().is_none(), "what is done is not begun again");
    assert!(tasks.task("another", "one").unwrap().is_none(), "it is of one job alone");
    // The other servers are told.
    let other = PostgresStore::open(&cluster.address("late", "loamline")).unwrap();
    let ears = other.others().unwrap();
    assert_eq!(ears.hear(Duration::from_millis(50)).unwrap(), Heard::Anything);
    assert!(store.others().unwrap().tell(Duration::from_millis(50)).unwrap());
    let told = Heard::Said { jobs: Vec::new(), tasks: vec!["court".into()], people: false };
    assert_eq!(ears.hear(Duration::from_secs(5)).unwrap(), told);
}

fn what_is_stopped_is_not_begun(cluster: &Cluster) {
    let store = store_of(cluster, "stopped", &["court"]);
    let tasks = tasks(&store);
    assert!(!tasks.stop("court", "none").unwrap());
    ask(&store, "waits", TaskKind::Proposal, "court");
    assert!(tasks.stop("court", "waits").unwrap());
    assert!(tasks.begin("waits").unwrap().is_none());
    assert!(tasks.stop("court", "waits").unwrap(), "twice is as good as once");
    // Another for the same job stops the one before it, also where somebody is at it.
    ask(&store, "first", TaskKind::Proposal, "court");
    let first = tasks.begin("first").unwrap().unwrap();
    ask(&store, "second", TaskKind::Proposal, "court");
    assert!(!tasks.report(&first, "{}").unwrap(), "whoever is at it is told to stop");
    let (waiting, not_done) =
        (|| tasks.waiting(TaskKind::Proposal).unwrap(), || tasks.not_done(TaskKind::Proposal).unwrap());
    assert_eq!((waiting(), not_done()), (1, 2), "whoever is at the first has not ended it");
    assert!(tasks.begin("first").unwrap().is_none(), "nor is it begun anew");
    assert_eq!((waiting(), not_done()), (1, 1));
    // One of another kind does not.
    ask(&store, "check", TaskKind::Check, "court");
    let of_court = tasks.tasks_of(&["court".to_owned()]).unwrap();
    let over: Vec<(&str, bool)> = of_court.iter().map(|t| (t.id.as_str(), t.is_over())).collect();
    assert_eq!(over, [("waits", true), ("first", true), ("second", false), ("check", false)]);
    let before: Vec<u64> = of_court.iter().map(|t| t.before).collect();
    assert_eq!(before, [0, 0, 0, 1], "the check waits behind the proposal");
    // With its job a task goes.
    assert!(store.delete("court").unwrap());
    assert!(tasks.begin("second").unwrap().is_none());
}

/// A runtime of a worker that does with a task what it is told to do.
fn worker(store: &Arc<PostgresStore>, hand: Hand) -> (Runtime, watch::Sender<bool>) {
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
    let (stop, stopping) = watch::channel(false);
    let store = Arc::clone(store);
    runtime.spawn(async move { store.tasks().unwrap().work(hand, stopping).await });
    (runtime, stop)
}

/// A hand that begins and delivers each task, and notes its id with the moment.
fn diligent(store: &Arc<PostgresStore>, done: &Arc<Mutex<Vec<(Begun, Instant)>>>) -> Hand {
    let (store, done) = (Arc::clone(store), Arc::clone(done));
    Arc::new(move |id| {
        let (store, done) = (Arc::clone(&store), Arc::clone(&done));
        Box::pin(async move {
            let work = move || -> Result<(), StoreError> {
                let tasks = store.tasks().unwrap();
                if let Some(begun) = tasks.begin(&id)? {
                    assert!(tasks.deliver(&begun, 1, &outcome("done"))?);
                    done.lock().unwrap().push((begun, Instant::now()));
                }
                Ok(())
            };
            tokio::task::spawn_blocking(work).await.unwrap()
        })
    })
}

fn until(what: &str, within: Duration, so: impl Fn() -> bool) {
    let end = Instant::now() + within;
    while !so() {
        assert!(Instant::now() < end, "{what} within {within:?}");
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn the_urgent_goes_first(cluster: &Cluster) {
    let store = Arc::new(store_of(cluster, "urgent", &["a", "b", "c", "d"]));
    for (id, kind, job) in [
        ("night-1", TaskKind::Check, "a"),
        ("night-2", TaskKind::Check, "b"),
        ("person-1", TaskKind::Proposal, "c"),
        ("night-3", TaskKind::Check, "c"),
        ("person-2", TaskKind::Proposal, "d"),
    ] {
        ask(&store, id, kind, job);
    }
    let done = Arc::new(Mutex::new(Vec::new()));
    let (runtime, stop) = worker(&store, diligent(&store, &done));
    until("five tasks are done", Duration::from_secs(30), || done.lock().unwrap().len() == 5);
    let order: Vec<String> = done.lock().unwrap().iter().map(|(begun, _)| begun.id.clone()).collect();
    assert_eq!(order, ["person-1", "person-2", "night-1", "night-2", "night-3"]);
    stop.send(true).unwrap();
    runtime.shutdown_timeout(Duration::from_secs(5));
}

/// Whoever lost the turn fails, so that the entry of whoever has it stays, and is there should that one be lost as well.
fn what_fails_has_another_turn(cluster: &Cluster) {
    let store = Arc::new(store_of(cluster, "fails", &["court"]));
    ask(&store, "one", TaskKind::Check, "court");
    let turns = Arc::new(Mutex::new(Vec::new()));
    let hand: Hand = {
        let (store, turns) = (Arc::clone(&store), Arc::clone(&turns));
        Arc::new(move |id| {
            let (store, turns) = (Arc::clone(&store), Arc::clone(&turns));
            Box::pin(async move {
                let work = move || -> Result<(), StoreError> {
                    let tasks = store.tasks().unwrap();
                    let begun = tasks.begin(&id)?.unwrap();
                    turns.lock().unwrap().push(begun.turn);
                    if begun.turn == 1 {
                        return Err(StoreError::Behind);
                    }
                    assert!(tasks.deliver(&begun, 7, &outcome("second"))?);
                    Ok(())
                };
                tokio::task::spawn_blocking(work).await.unwrap()
            })
        })
    };
    let (runtime, stop) = worker(&store, hand);
    let done = || store.tasks().unwrap().task("court", "one").unwrap().unwrap().outcome;
    until("it is done by the second turn", Duration::from_secs(30), || done().is_some());
    assert_eq!((turns.lock().unwrap().clone(), done()), (vec![1, 2], Some(outcome("second"))));
    stop.send(true).unwrap();
    runtime.shutdown_timeout(Duration::from_secs(5));
}

fn a_killed_worker_is_replaced(cluster: &Cluster) {
    let store = Arc::new(store_of(cluster, "killed", &["court"]));
    let begun: Arc<Mutex<Option<Begun>>> = Arc::default();
    let never = {
        let (store, begun) = (Arc::clone(&store), Arc::clone(&begun));
        let hand: Hand = Arc::new(move |id| {
            let (store, begun) = (Arc::clone(&store), Arc::clone(&begun));
            Box::pin(async move {
                let work = move || store.tasks().unwrap().begin(&id);
                *begun.lock().unwrap() = tokio::task::spawn_blocking(work).await.unwrap()?;
                std::future::pending::<Result<(), StoreError>>().await
            })
        });
        hand
    };
    let (killed, _stop) = worker(&store, never);
    ask(&store, "one", TaskKind::Check, "court");
    until("a worker begins", Duration::from_secs(15), || begun.lock().unwrap().is_some());
    // Another is there, and idle: what is at work is nobody else's.
    let done = Arc::new(Mutex::new(Vec::new()));
    let (runtime, stop) = worker(&store, diligent(&store, &done));
    std::thread::sleep(Duration::from_secs(12));
    assert!(done.lock().unwrap().is_empty(), "a worker that gives signs of life keeps its turn");
    let since = Instant::now();
    killed.shutdown_background();
    until("another takes it over", Duration::from_secs(60), || !done.lock().unwrap().is_empty());
    let (next, at) = done.lock().unwrap()[0].clone();
    assert_eq!(next.turn, 2);
    let took = at.duration_since(since);
    assert!(took < REPLACED_WITHIN, "{took:?}");
    // Were it only slow, it would come too late.
    let slow = begun.lock().unwrap().clone().unwrap();
    assert!(!store.tasks().unwrap().deliver(&slow, 1, &outcome("late")).unwrap());
    assert_eq!(store.tasks().unwrap().task("court", "one").unwrap().unwrap().outcome, Some(outcome("done")));
    stop.send(true).unwrap();
    runtime.shutdown_timeout(Duration::from_secs(5));
}
