//! What every store keeps to of who is let in, of jobs that were deleted and of links for clients. A case gets a store with
//! nothing in it.

use super::cases::{append, entry, file, listing, make, walked};
use loamline_server::{
    Acceptance, ClientLink, Device, Doing, Kind, Role, SqliteStore, Store, StoreError, Token, sum_of,
};

const DAY_1: &str = "2026-05-01T08:00:00Z";
const DAY_2: &str = "2026-05-02T08:00:00Z";
const DAY_9: &str = "2026-05-09T08:00:00Z";

fn device(id: &str, seen_at: &str) -> Device {
    Device {
        id: id.into(),
        name: format!("Phone {id}"),
        role: Role::Crew,
        person: None,
        paired_at: DAY_1.into(),
        seen_at: seen_at.into(),
    }
}

fn token(hash: &str, made_at: &str) -> Token {
    Token { hash: hash.into(), made_at: made_at.into(), good_until: DAY_9.into() }
}

fn link(id: &str, job: &str, made_at: &str) -> ClientLink {
    ClientLink {
        id: id.into(),
        job: job.into(),
        client: "The owners".into(),
        prices: true,
        made_at: made_at.into(),
        made_by: "Ann".into(),
        good_until: DAY_9.into(),
        accepted: None,
    }
}

fn acceptance() -> Acceptance {
    Acceptance {
        name: "Mrs \u{d6}stman".into(),
        at: DAY_2.into(),
        revision: 7,
        content: "{\"plan\":\"\u{1f50a}\"}".into(),
        sha256: "ab".repeat(32),
    }
}

pub fn devices_come_and_go(store: &dyn Store) {
    let (a, b) = (device("a", DAY_1), device("b", "2026-05-01T08:01:00Z"));
    store.admit(&a, &[token("hash-a", DAY_1)]).unwrap();
    store.admit(&b, &[token("hash-b", DAY_1)]).unwrap();
    assert!(
        store.admit(&device("c", DAY_1), &[token("hash-a", DAY_1)]).is_err(),
        "a token lets one device in"
    );
    assert_eq!(store.device("c").unwrap(), None, "and leaves nothing of the other");
    assert_eq!(store.devices().unwrap(), [b.clone(), a.clone()]);
    let seen = "2026-05-01T10:00:00Z";
    assert_eq!(store.device_of("hash-a", seen, DAY_9).unwrap(), Some((a.clone(), token("hash-a", DAY_1))));
    assert_eq!(store.device_of("hash-of-nobody", seen, DAY_9).unwrap(), None);
    assert_eq!(store.devices().unwrap(), [device("a", seen), b]);
    assert!(store.set_role("a", Role::Owner).unwrap() && !store.set_role("nobody", Role::Owner).unwrap());
    assert_eq!(store.device("a").unwrap().map(|d| d.role), Some(Role::Owner));
    assert_eq!(store.tokens("a").unwrap(), [token("hash-a", DAY_1)]);
    assert!(store.forget("a").unwrap() && !store.forget("a").unwrap());
    assert_eq!(store.device_of("hash-a", seen, DAY_9).unwrap(), None);
    assert!(store.tokens("a").unwrap().is_empty(), "its tokens go with it");
}

pub fn a_token_ends_and_older_ones_end_by_it(store: &dyn Store) {
    store.admit(&device("a", DAY_1), &[token("old", DAY_1)]).unwrap();
    assert!(store.device_of("old", DAY_9, DAY_9).unwrap().is_none(), "it has ended");
    assert!(store.renew("a", &token("new", DAY_2), DAY_1).unwrap());
    assert!(!store.renew("a", &token("third", DAY_2), DAY_1).unwrap(), "it has been given one");
    assert!(!store.renew("nobody", &token("x", DAY_2), DAY_1).unwrap());
    // The answer with the new one was lost: the old one lets it in, and ends nothing.
    let soon = "2026-05-02T08:02:00Z";
    assert!(store.device_of("old", "2026-05-02T08:01:00Z", soon).unwrap().is_some());
    assert!(store.device_of("new", "2026-05-02T09:00:00Z", "2026-05-02T09:01:00Z").unwrap().is_some());
    assert!(store.device_of("old", "2026-05-02T09:00:30Z", soon).unwrap().is_some(), "what is under way");
    assert!(store.device_of("old", "2026-05-02T09:02:00Z", soon).unwrap().is_none());
    // Those that have ended are let go when a device is given another.
    let later = Token { good_until: "2026-06-09T08:00:00Z".into(), ..token("later", "2026-05-10T08:00:00Z") };
    assert!(store.renew("a", &later, DAY_9).unwrap());
    assert_eq!(store.tokens("a").unwrap(), [later]);
}

pub fn what_was_deleted_is_nowhere_and_comes_back_whole(store: &dyn Store) {
    make(store, "one", "first");
    make(store, "two", "first");
    append(store, "one", 1).unwrap();
    store.attach("one", &file("plan.png", b"plan"), b"plan").unwrap();
    let before = (store.job("one").unwrap(), walked(store, "one", 0));
    assert!(store.put_away("one", "Ann", DAY_2).unwrap());
    assert!(!store.put_away("one", "Ben", DAY_9).unwrap(), "once is enough");
    assert!(!store.put_away("none", "Ben", DAY_9).unwrap());
    assert_eq!(store.jobs().unwrap().iter().map(|j| j.id.as_str()).collect::<Vec<_>>(), ["two"]);
    assert_eq!(store.job("one").unwrap(), None);
    let ids = ["one".to_owned(), "two".to_owned()];
    assert_eq!(store.revisions(&ids).unwrap(), [("two".to_owned(), 0)]);
    assert!(matches!(append(store, "one", 2), Err(StoreError::NoJob)));
    let bare = entry(2, "edit-2", Kind::Edit);
    let equipped = store.append_with_catalogue("one", &bare, "t", listing("x", "y"), &[]);
    assert!(matches!(equipped, Err(StoreError::NoJob)), "{equipped:?}");
    // It is kept all the same.
    assert_eq!((store.kept("one").unwrap(), store.kept("none").unwrap()), (before.0.clone(), None));
    assert_eq!(store.all_kept().unwrap().len(), 2);
    let deleted = store.deleted().unwrap();
    let told: Vec<_> = deleted.iter().map(|d| (&*d.id, &*d.name, &*d.at, &*d.who)).collect();
    assert_eq!(told, [("one", "Later", DAY_2, "Ann")]);
    assert!(store.bring_back("one").unwrap() && !store.bring_back("one").unwrap());
    assert_eq!((store.job("one").unwrap(), walked(store, "one", 0)), before);
    assert_eq!(store.attachment("one", "plan.png").unwrap().unwrap().1, b"plan");
    append(store, "one", 2).unwrap();
    // For good, deleted or not.
    assert!(store.put_away("one", "Ann", DAY_2).unwrap() && store.delete("one").unwrap());
    assert!(store.deleted().unwrap().is_empty() && !store.bring_back("one").unwrap());
}

pub fn what_was_done_is_told_the_newest_first(store: &dyn Store) {
    let doing = |n: u32| Doing {
        at: DAY_1.into(),
        who: "Ann".into(),
        what: "role".into(),
        about: format!("Phone {n} (crew)"),
    };
    for n in 0..5 {
        store.note(&doing(n)).unwrap();
    }
    let newest = store.doings(u64::MAX, 2).unwrap();
    assert_eq!(newest.iter().map(|(_, d)| d.clone()).collect::<Vec<_>>(), [doing(4), doing(3)]);
    let rest = store.doings(newest[1].0, 500).unwrap();
    assert_eq!(rest.iter().map(|(_, d)| d.clone()).collect::<Vec<_>>(), [doing(2), doing(1), doing(0)]);
    assert!(rest.windows(2).all(|w| w[0].0 > w[1].0));
    assert!(store.doings(rest[2].0, 500).unwrap().is_empty());
}

pub fn a_link_shows_one_job_and_is_accepted_once(store: &dyn Store) {
    make(store, "one", "first");
    make(store, "two", "first");
    let (older, newer) = (link("a", "one", DAY_1), link("b", "one", DAY_2));
    store.keep_link(&older, "hash-a").unwrap();
    store.keep_link(&newer, "hash-b").unwrap();
    assert_eq!(store.links("one").unwrap(), [newer.clone(), older.clone()]);
    assert_eq!(store.kept_links("one").unwrap()[1], (older.clone(), "hash-a".to_owned()));
    assert!(store.links("two").unwrap().is_empty());
    assert_eq!(store.link_of("hash-a", DAY_2).unwrap(), Some(older.clone()));
    assert_eq!(store.link_of("hash-a", DAY_9).unwrap(), None, "it has ended");
    assert_eq!(store.link_of("hash-of-nobody", DAY_2).unwrap(), None);
    assert!(store.accept("a", &acceptance()).unwrap());
    let again = Acceptance { name: "Somebody else".into(), ..acceptance() };
    assert!(!store.accept("a", &again).unwrap() && !store.accept("none", &again).unwrap());
    let accepted = ClientLink { accepted: Some(acceptance()), ..older };
    assert_eq!(store.link_of("hash-a", DAY_2).unwrap(), Some(accepted.clone()));
    // Accepted anew, once, instead of exactly what had been; that stays as an ended link to which no address leads.
    let anew =
        Acceptance { name: "Cleo again".into(), at: DAY_2.into(), sha256: "other".into(), ..acceptance() };
    assert!(!store.accept_anew("a", "not this", "kept", &anew).unwrap());
    assert!(store.accept_anew("a", &acceptance().sha256, "kept", &anew).unwrap());
    assert!(!store.accept_anew("a", &acceptance().sha256, "kept again", &anew).unwrap());
    let kept = ClientLink { id: "kept".into(), good_until: DAY_2.into(), ..accepted.clone() };
    let accepted = ClientLink { accepted: Some(anew), ..accepted };
    assert_eq!(store.link_of("hash-a", DAY_1).unwrap(), Some(accepted.clone()));
    let of_the_job = store.links("one").unwrap();
    assert!(of_the_job.len() == 3 && of_the_job.contains(&kept), "{of_the_job:?}");
    // Ended at once, for this job alone; what was accepted stays.
    assert!(!store.end_link("two", "a", DAY_2).unwrap());
    assert!(store.end_link("one", "a", DAY_2).unwrap() && !store.end_link("one", "a", DAY_2).unwrap());
    assert_eq!(store.link_of("hash-a", DAY_2).unwrap(), None);
    let ended = ClientLink { good_until: DAY_2.into(), ..accepted };
    assert_eq!(store.links("one").unwrap(), [newer, ended, kept]);
    // A link of a job that was deleted shows nothing, until it is brought back.
    assert!(store.put_away("one", "Ann", DAY_2).unwrap());
    assert_eq!(store.link_of("hash-b", DAY_1).unwrap(), None);
    assert!(store.bring_back("one").unwrap() && store.link_of("hash-b", DAY_1).unwrap().is_some());
    assert!(store.delete("one").unwrap() && store.links("one").unwrap().is_empty());
}

pub fn a_deleted_job_is_copied_with_its_links(store: &dyn Store) {
    let other = SqliteStore::in_memory().unwrap();
    let other: &dyn Store = &other;
    make(other, "one", "first");
    append(other, "one", 1).unwrap();
    let row = |store: &dyn Store| store.all_kept().unwrap().swap_remove(0);
    let plain = sum_of(other, &row(other)).unwrap();
    other.keep_link(&link("a", "one", DAY_1), "hash-a").unwrap();
    other.accept("a", &acceptance()).unwrap();
    other.put_away("one", "Ann", DAY_2).unwrap();
    let sum = sum_of(other, &row(other)).unwrap();
    assert_ne!(sum, plain, "links and deleting count");
    store.copy_in(other, &row(other)).unwrap();
    assert_eq!(sum_of(store, &row(store)).unwrap(), sum);
    assert!(store.jobs().unwrap().is_empty());
    assert_eq!(store.deleted().unwrap(), other.deleted().unwrap());
    assert_eq!(store.kept_links("one").unwrap(), other.kept_links("one").unwrap());
    assert!(store.bring_back("one").unwrap());
    assert_eq!(store.link_of("hash-a", DAY_2).unwrap().unwrap().accepted, Some(acceptance()));
}
