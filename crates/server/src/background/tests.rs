//! Turns, places and threads: who waits for whom, and who does not.

use super::*;
use crate::queue::{TOLD_EVERY, until};
use axum::http::StatusCode;
use rayon::iter::{IntoParallelIterator as _, ParallelIterator as _};
use std::sync::atomic::AtomicBool;
use std::sync::{Mutex, mpsc};
use tokio::task::JoinHandle;

/// Work that has every turn of a kind that has one, until its gate is opened.
struct Held {
    gate: mpsc::Sender<()>,
    done: JoinHandle<Result<(), ApiError>>,
}

impl Held {
    async fn at(background: &Background, kind: Work) -> Self {
        let ((gate, opened), own) = (mpsc::channel::<()>(), background.clone());
        let work = move || {
            opened.recv().ok();
            Ok(())
        };
        let done = tokio::spawn(async move { own.run_named(kind, None, work).await });
        until(|| background.kind(kind).lane.free() == 0).await;
        Self { gate, done }
    }

    async fn ends(self) {
        self.gate.send(()).unwrap();
        assert_eq!(self.done.await.unwrap(), Ok(()));
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn who_goes_away_stops_his_own_work_and_nobody_elses() {
    use loamline_limits::go_on;
    let background = Background::default();
    let (began, begun) = mpsc::channel::<()>();
    let gone = background.clone();
    let asked = tokio::spawn(async move {
        gone.run_named::<()>(Work::Settings, None, move || {
            began.send(()).ok();
            loop {
                go_on();
                thread::sleep(Duration::from_millis(1));
            }
        })
        .await
    });
    begun.recv().unwrap();
    let stays = background.clone();
    let other = tokio::spawn(async move {
        let work = || {
            for _ in 0..300 {
                go_on();
                thread::sleep(Duration::from_millis(1));
            }
            Ok(7)
        };
        stays.run_named(Work::Settings, None, work).await
    });
    let free = || background.kind(Work::Settings).lane.free();
    until(|| free() == 0).await;
    asked.abort();
    let stopped = Instant::now();
    until(|| free() > 0).await;
    let took = stopped.elapsed();
    assert!(took < Duration::from_millis(200), "{took:?}");
    assert!(!other.is_finished(), "the turn that became free is the other one's");
    assert_eq!(other.await.unwrap(), Ok(7));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_full_queue_says_when_to_come_again_and_other_kinds_go_on() {
    let background = Background::default();
    let first = Held::at(&background, Work::Proposals).await;
    let places = Arc::new(Mutex::new(Vec::new()));
    let mut queue = Vec::new();
    for _ in 0..WAITING_FOR_PROPOSALS.number {
        let (b, told) = (background.clone(), Arc::clone(&places));
        // One after the other, so that the places are known.
        let before = background.kind(Work::Proposals).lane.waiting();
        queue.push(tokio::spawn(async move {
            let tell = |place| {
                told.lock().unwrap().push(place);
                true
            };
            b.run_telling(Work::Proposals, tell, || Ok(())).await
        }));
        until(|| background.kind(Work::Proposals).lane.waiting() > before).await;
    }
    let late = background.run_named(Work::Proposals, None, || Ok(())).await.unwrap_err();
    assert_eq!(late.status, StatusCode::SERVICE_UNAVAILABLE);
    assert!(late.problem.retry_after_s.is_some_and(|s| s >= 1), "{late:?}");
    assert_eq!(background.run_named(Work::Results, None, || Ok(7)).await.unwrap(), 7);
    tokio::time::sleep(2 * TOLD_EVERY).await;
    // One who goes away makes room, and those behind move up.
    queue.remove(0).abort();
    tokio::time::sleep(2 * TOLD_EVERY).await;
    let most = WAITING_FOR_PROPOSALS.most();
    let told = places.lock().unwrap().clone();
    assert!(told.contains(&most) && told.iter().all(|p| (1..=most).contains(p)), "{told:?}");
    assert!(!told[told.len() - (most - 1)..].contains(&most), "{told:?}");
    first.ends().await;
    for one in queue {
        assert_eq!(one.await.unwrap(), Ok(()));
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn who_does_not_want_it_any_more_gives_the_place_up() {
    let background = Background::default();
    let first = Held::at(&background, Work::Proposals).await;
    let given_up = background.run_telling(Work::Proposals, |_| false, || Ok(())).await;
    assert!(given_up.is_err());
    assert_eq!(background.kind(Work::Proposals).lane.waiting(), 0);
    first.ends().await;
}

/// Handed to the same threads, the light work would begin once the heavy had ended.
#[tokio::test(flavor = "multi_thread")]
async fn light_work_waits_for_no_thread_of_heavy_work() {
    let background = Background::default();
    let (begun, over) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicBool::new(false)));
    let (heavy, counted, ended) = (background.clone(), Arc::clone(&begun), Arc::clone(&over));
    let held = tokio::spawn(async move {
        let work = move || {
            let part = |_| {
                counted.fetch_add(1, Ordering::Relaxed);
                while !ended.load(Ordering::Relaxed) {
                    thread::sleep(Duration::from_millis(1));
                }
            };
            (0..64).into_par_iter().for_each(part);
            Ok(())
        };
        heavy.run_named(Work::Settings, None, work).await
    });
    // Every thread it has is at one of its parts.
    until(|| begun.load(Ordering::Relaxed) >= rayon::current_num_threads().min(64)).await;
    let light = background.run_named(Work::Results, None, || Ok((0..1000u32).into_par_iter().sum::<u32>()));
    let done = tokio::time::timeout(Duration::from_secs(20), light).await;
    over.store(true, Ordering::Relaxed);
    assert_eq!(done, Ok(Ok(499_500)));
    assert_eq!(held.await.unwrap(), Ok(()));
}

#[tokio::test(flavor = "multi_thread")]
async fn every_kind_tells_who_is_at_it_and_a_name_finds_its_place() {
    let background = Background::default();
    let first = Held::at(&background, Work::Folders).await;
    let waits = background.clone();
    let second =
        tokio::spawn(async move { waits.run_on(Work::Folders, Some("mine".into()), || Ok(7), Ok).await });
    until(|| background.place_of("mine").is_some()).await;
    let place = background.place_of("mine").unwrap();
    assert_eq!((place.kind, place.before, place.about_s), (Work::Folders, 0, 1));
    let told = background.queues();
    assert_eq!(told.len(), Work::ALL.len());
    let folders = told.iter().find(|q| q.kind == "folders").unwrap();
    assert_eq!((folders.turns, folders.running, folders.waiting), (1, 1, 1));
    assert!(told.iter().filter(|q| q.kind != "folders").all(|q| q.running + q.waiting == 0));
    first.ends().await;
    assert_eq!(second.await.unwrap(), Ok(7));
    assert_eq!(background.place_of("mine"), None);
}

/// With one set of threads for all light work, the parts of the small job would begin once the large one's had ended.
#[tokio::test(flavor = "multi_thread")]
async fn light_work_waits_for_no_thread_of_other_light_work() {
    let background = Background::default();
    let (large, counted) = (background.clone(), Arc::new(AtomicUsize::new(0)));
    let (begun, over) = (Arc::clone(&counted), Arc::new(AtomicBool::new(false)));
    let ended = Arc::clone(&over);
    let held = tokio::spawn(async move {
        let part = move |_| {
            counted.fetch_add(1, Ordering::Relaxed);
            while !ended.load(Ordering::Relaxed) {
                thread::sleep(Duration::from_millis(1));
            }
        };
        let work = move || {
            (0..64).into_par_iter().for_each(part);
            Ok(())
        };
        large.run_named(Work::Results, None, work).await
    });
    until(|| begun.load(Ordering::Relaxed) >= rayon::current_num_threads().min(64)).await;
    let small = background.run_named(Work::Results, None, || Ok((0..1000u32).into_par_iter().sum::<u32>()));
    let small = tokio::time::timeout(Duration::from_secs(20), small).await;
    // Nor does what heavy work has made for it, and for everybody, before it begins.
    let own = background.clone();
    let shared = move || Ok(own.lightly(|| (0..1000u32).into_par_iter().sum::<u32>()));
    let heavy = background.run_on(Work::Papers, None, shared, Ok);
    let heavy = tokio::time::timeout(Duration::from_secs(20), heavy).await;
    over.store(true, Ordering::Relaxed);
    assert_eq!((small, heavy), (Ok(Ok(499_500)), Ok(Ok(499_500))));
    assert_eq!(held.await.unwrap(), Ok(()));
}

#[test]
fn what_stands_behind_all_is_heavy_and_one_job_has_half_the_turns_of_what_is_light() {
    let background = Background::default();
    let heavy: Vec<Work> = Work::ALL.into_iter().filter(|kind| background.is_heavy(*kind)).collect();
    assert_eq!(heavy, [Work::Settings, Work::Papers, Work::Proposals]);
    let turns = background.kind(Work::Results).lane.at_once();
    let shares = Work::ALL.map(|kind| background.share_of_a_job(kind));
    assert_eq!(shares, [Some(turns / 2), None, None, None, None]);
}
