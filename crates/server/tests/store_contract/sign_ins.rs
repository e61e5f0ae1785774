//! What every store keeps to of people who sign in. A case gets a store with nothing in it.

use loamline_server::{Device, Identity, Passkey, Person, Role, Store, Token};

const DAY_1: &str = "2026-05-01T08:00:00Z";
const DAY_2: &str = "2026-05-02T08:00:00Z";
const DAY_9: &str = "2026-05-09T08:00:00Z";
const ISSUER: &str = "https://login.example";

fn person(id: &str, role: Role) -> Person {
    Person { id: id.into(), name: format!("Person {id}"), role, made_at: DAY_1.into() }
}

fn passkey(id: &str, person: &str) -> Passkey {
    Passkey {
        id: id.into(),
        person: person.into(),
        public_key: "pQECAyYgASFYIA".into(),
        counter: 0,
        name: "Laptop \u{1f50a}".into(),
        made_at: DAY_1.into(),
        used_at: DAY_1.into(),
    }
}

fn identity(subject: &str, person: &str) -> Identity {
    Identity { issuer: ISSUER.into(), subject: subject.into(), person: person.into() }
}

fn device(id: &str, person: Option<&str>) -> Device {
    Device {
        id: id.into(),
        name: format!("Device {id}"),
        role: Role::Crew,
        person: person.map(str::to_owned),
        paired_at: DAY_1.into(),
        seen_at: DAY_1.into(),
    }
}

fn token(hash: &str) -> Token {
    Token { hash: hash.into(), made_at: DAY_1.into(), good_until: DAY_9.into() }
}

pub fn a_person_is_known_by_passkey_and_provider(store: &dyn Store) {
    store.add_person(&person("a", Role::Designer), Some(&identity("17", "a"))).unwrap();
    assert!(store.add_person(&person("b", Role::Owner), Some(&identity("17", "b"))).is_err());
    assert_eq!(store.person("b").unwrap(), None, "and leaves nothing of the other");
    store.add_person(&person("b", Role::Owner), None).unwrap();
    assert_eq!(store.people().unwrap(), [person("a", Role::Designer), person("b", Role::Owner)]);
    assert_eq!(store.known_as(ISSUER, "17").unwrap(), Some(person("a", Role::Designer)));
    assert_eq!(store.known_as("https://other.example", "17").unwrap(), None);
    assert_eq!(store.known_as(ISSUER, "18").unwrap(), None);
    store.keep_identity(&identity("18", "a")).unwrap();
    assert!(store.keep_identity(&identity("18", "b")).is_err(), "that is somebody already");
    assert_eq!(store.identities("a").unwrap(), [identity("17", "a"), identity("18", "a")]);
    store.keep_passkey(&passkey("key-1", "a")).unwrap();
    assert!(store.keep_passkey(&passkey("key-1", "b")).is_err(), "one of an id");
    assert!(store.keep_passkey(&passkey("key-2", "nobody")).is_err());
    assert_eq!(store.passkey("key-1").unwrap(), Some(passkey("key-1", "a")));
    assert_eq!((store.passkeys("a").unwrap().len(), store.passkeys("b").unwrap().len()), (1, 0));
    assert!(!store.drop_passkey("b", "key-1").unwrap(), "it is not theirs");
    assert!(store.drop_passkey("a", "key-1").unwrap() && !store.drop_passkey("a", "key-1").unwrap());
}

/// A copy of a passkey counts behind the one it was taken of (WebAuthn, section 6.1.1); many do not count at all.
pub fn a_passkey_counts_up_or_not_at_all(store: &dyn Store) {
    store.add_person(&person("a", Role::Crew), None).unwrap();
    store.keep_passkey(&passkey("key", "a")).unwrap();
    assert!(store.used_passkey("key", 0, DAY_1).unwrap() && store.used_passkey("key", 0, DAY_1).unwrap());
    assert!(store.used_passkey("key", 7, DAY_2).unwrap());
    for behind in [7, 6, 0] {
        assert!(!store.used_passkey("key", behind, DAY_9).unwrap(), "{behind}");
    }
    assert!(store.used_passkey("key", u32::MAX, DAY_2).unwrap());
    let kept = store.passkey("key").unwrap().unwrap();
    assert_eq!((kept.counter, kept.used_at.as_str()), (u32::MAX, DAY_2));
    assert!(!store.used_passkey("nobodys", 8, DAY_2).unwrap());
}

pub fn a_persons_devices_follow_their_role_and_go_with_them(store: &dyn Store) {
    store.add_person(&person("a", Role::Designer), Some(&identity("17", "a"))).unwrap();
    store.keep_passkey(&passkey("key", "a")).unwrap();
    // Whatever it was let in as: it is theirs.
    store.admit(&device("laptop", Some("a")), &[token("laptop")]).unwrap();
    store.admit(&device("phone", None), &[token("phone")]).unwrap();
    store.admit(&device("shared", None), &[token("shared")]).unwrap();
    assert!(store.admit(&device("other", Some("nobody")), &[token("other")]).is_err());
    let role = |id: &str| store.device(id).unwrap().map(|d| (d.role, d.person));
    let theirs = |role: Role| Some((role, Some("a".to_owned())));
    assert_eq!(role("laptop"), theirs(Role::Designer));
    assert!(store.give_device("phone", "a").unwrap());
    assert!(!store.give_device("phone", "a").unwrap(), "it is somebody's");
    assert!(!store.give_device("shared", "nobody").unwrap());
    assert_eq!(role("phone"), theirs(Role::Designer));
    assert!(store.set_role_of("a", Role::Crew).unwrap() && !store.set_role_of("nobody", Role::Crew).unwrap());
    assert_eq!((role("laptop"), role("phone")), (theirs(Role::Crew), theirs(Role::Crew)));
    let (found, _) = store.device_of("laptop", DAY_2, DAY_9).unwrap().unwrap();
    assert_eq!((found.role, found.person.as_deref()), (Role::Crew, Some("a")));
    assert!(store.set_role_of("a", Role::Owner).unwrap());
    assert_eq!(role("shared"), Some((Role::Crew, None)), "it is nobody's");
    assert!(store.forget_person("a").unwrap() && !store.forget_person("a").unwrap());
    assert_eq!((role("laptop"), role("phone")), (None, None));
    assert_eq!(store.device_of("phone", DAY_2, DAY_9).unwrap(), None);
    assert_eq!((store.passkey("key").unwrap(), store.known_as(ISSUER, "17").unwrap()), (None, None));
    assert!(store.device_of("shared", DAY_2, DAY_9).unwrap().is_some());
}
