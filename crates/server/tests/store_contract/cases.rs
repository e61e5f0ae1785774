//! What every store keeps to, case by case. A case gets a store with nothing in it.

use super::people::{
    a_deleted_job_is_copied_with_its_links, a_link_shows_one_job_and_is_accepted_once,
    a_token_ends_and_older_ones_end_by_it, devices_come_and_go,
    what_was_deleted_is_nowhere_and_comes_back_whole, what_was_done_is_told_the_newest_first,
};
use super::sign_ins::{
    a_passkey_counts_up_or_not_at_all, a_person_is_known_by_passkey_and_provider,
    a_persons_devices_follow_their_role_and_go_with_them,
};
use loamline_model::{Edit, Operation};
use loamline_server::{
    AttachmentRow, Entry, FirmFile, JobListing, Kind, NewJob, SqliteStore, Store, StoreError, sum_of,
};
use serde_json::json;

/// What a case is called and what it asks.
pub type Case = (&'static str, fn(&dyn Store));

/// All of them.
pub const CASES: &[Case] = &[
    ("a_job_is_kept_as_it_was_given", a_job_is_kept_as_it_was_given),
    ("jobs_are_listed_the_newest_first", jobs_are_listed_the_newest_first),
    ("an_id_is_taken_once", an_id_is_taken_once),
    ("an_edit_follows_the_revision_before_it", an_edit_follows_the_revision_before_it),
    ("of_many_who_edit_at_once_one_is_first_each_time", of_many_who_edit_at_once_one_is_first_each_time),
    ("a_log_is_walked_and_paged", a_log_is_walked_and_paged),
    ("one_large_entry_is_a_page", one_large_entry_is_a_page),
    ("what_was_put_right_does_not_go_back", what_was_put_right_does_not_go_back),
    ("a_job_goes_with_all_it_has", a_job_goes_with_all_it_has),
    (
        "equal_files_are_kept_once_and_go_with_their_last_name",
        equal_files_are_kept_once_and_go_with_their_last_name,
    ),
    ("a_file_that_is_too_much_changes_nothing", a_file_that_is_too_much_changes_nothing),
    ("an_import_is_all_or_nothing", an_import_is_all_or_nothing),
    ("the_list_shows_status_client_and_templates", the_list_shows_status_client_and_templates),
    ("own_catalogue_files_change_with_their_entry", own_catalogue_files_change_with_their_entry),
    ("a_firm_keeps_one_file_of_a_name", a_firm_keeps_one_file_of_a_name),
    ("devices_come_and_go", devices_come_and_go),
    ("a_token_ends_and_older_ones_end_by_it", a_token_ends_and_older_ones_end_by_it),
    ("what_was_deleted_is_nowhere_and_comes_back_whole", what_was_deleted_is_nowhere_and_comes_back_whole),
    ("what_was_done_is_told_the_newest_first", what_was_done_is_told_the_newest_first),
    ("a_link_shows_one_job_and_is_accepted_once", a_link_shows_one_job_and_is_accepted_once),
    ("a_person_is_known_by_passkey_and_provider", a_person_is_known_by_passkey_and_provider),
    ("a_passkey_counts_up_or_not_at_all", a_passkey_counts_up_or_not_at_all),
    (
        "a_persons_devices_follow_their_role_and_go_with_them",
        a_persons_devices_follow_their_role_and_go_with_them,
    ),
    ("a_job_copied_from_another_store_is_the_same", a_job_copied_from_another_store_is_the_same),
    ("a_deleted_job_is_copied_with_its_links", a_deleted_job_is_copied_with_its_links),
];

/// Room for the files of a job in these cases, bytes.
pub const ROOM: u64 = 1000;

pub fn listing<'a>(name: &'a str, at: &'a str) -> JobListing<'a> {
    JobListing { name, summary: "A \u{201c}court\u{201d} with 3 \u{3a9}", at, status: "", client: "" }
}

pub fn make(store: &dyn Store, id: &str, text: &str) {
    let catalogue = [("b.toml".to_owned(), "b = 1\n".to_owned()), ("a.toml".to_owned(), String::new())];
    let listing = listing(id, "2026-05-04T09:30:00Z");
    let new = NewJob { text, catalogue: &catalogue, attachments: &[], listing, template: false };
    store.create(id, &new).unwrap();
}

pub fn entry(revision: u64, edit_id: &str, kind: Kind) -> Entry {
    let value = json!({ "z": 1, "a": ["\u{0}", "\u{2028}", 0.1] });
    Entry {
        revision,
        edit_id: edit_id.to_owned(),
        kind,
        who: "Ann \u{1f50a}".into(),
        at: "2026-05-04T10:00:00Z".into(),
        made_at: revision.is_multiple_of(2).then(|| "2026-05-04T09:59:00+02:00".to_owned()),
        note: "Moved A3".into(),
        patch: Edit::new([Operation::Replace { path: "/job/name".into(), value }]),
        inverse: Edit::new([Operation::Remove { path: "/areas/a".into() }]),
    }
}

pub fn append(store: &dyn Store, id: &str, revision: u64) -> Result<(), StoreError> {
    let entry = entry(revision, &format!("edit-{id}-{revision}"), Kind::Edit);
    store.append(id, &entry, &format!("text {revision}"), listing("Later", "2026-05-04T10:00:00Z"))
}

pub fn file(name: &str, content: &[u8]) -> AttachmentRow {
    let sha256 = ring::digest::digest(&ring::digest::SHA256, content);
    let sha256 = sha256.as_ref().iter().map(|b| format!("{b:02x}")).collect();
    AttachmentRow { name: name.into(), sha256, media_type: "image/png".into(), size: content.len() as u64 }
}

pub fn walked(store: &dyn Store, id: &str, after: u64) -> Vec<Entry> {
    let mut all = Vec::new();
    store
        .since(id, after, &mut |e| {
            all.push(e);
            true
        })
        .unwrap();
    all
}

fn a_job_is_kept_as_it_was_given(store: &dyn Store) {
    let text = "format = 1\n# \u{e9}\u{1f50a}\t\"quoted\"\r\n";
    make(store, "one", text);
    let kept = store.job("one").unwrap().unwrap();
    assert_eq!((kept.text.as_str(), kept.revision, kept.logged), (text, 0, 0));
    let names: Vec<&str> = kept.catalogue.iter().map(|c| c.0.as_str()).collect();
    assert_eq!(names, ["b.toml", "a.toml"], "in the order they are read");
    assert!(kept.as_written && kept.altered.is_empty());
    assert_eq!(store.made("one").unwrap().as_deref(), Some(text));
    assert_eq!((store.job("two").unwrap(), store.made("two").unwrap()), (None, None));
    let ids = ["two".to_owned(), "one".to_owned()];
    assert_eq!(store.revisions(&ids).unwrap(), [("one".to_owned(), 0)]);
    store.ready().unwrap();
}

fn jobs_are_listed_the_newest_first(store: &dyn Store) {
    for (id, at) in
        [("b", "2026-05-04T09:30:00Z"), ("B", "2026-05-04T09:30:00Z"), ("c", "2026-05-05T00:00:00Z")]
    {
        let listing = listing(id, at);
        let new = NewJob { text: "t", catalogue: &[], attachments: &[], listing, template: false };
        store.create(id, &new).unwrap();
    }
    let ids =
        |store: &dyn Store| -> Vec<String> { store.jobs().unwrap().into_iter().map(|j| j.id).collect() };
    // Letters as ASCII has them, capitals first, whatever the system's language.
    assert_eq!(ids(store), ["c", "B", "b"]);
    let edit = entry(1, "edit-1", Kind::Edit);
    store.append("b", &edit, "t2", listing("Renamed", "2026-05-06T00:00:00Z")).unwrap();
    let first = store.jobs().unwrap().swap_remove(0);
    assert_eq!((first.id.as_str(), first.name.as_str(), first.revision), ("b", "Renamed", 1));
    assert_eq!(first.changed_at, "2026-05-06T00:00:00Z");
}

fn an_id_is_taken_once(store: &dyn Store) {
    make(store, "one", "first");
    let listing = listing("x", "y");
    let new = NewJob { text: "second", catalogue: &[], attachments: &[], listing, template: false };
    assert!(matches!(store.create("one", &new), Err(StoreError::IdTaken(id)) if id == "one"));
    assert_eq!(store.job("one").unwrap().unwrap().text, "first");
}

fn an_edit_follows_the_revision_before_it(store: &dyn Store) {
    make(store, "one", "first");
    append(store, "one", 1).unwrap();
    for wrong in [1, 3, 0] {
        assert!(matches!(append(store, "one", wrong), Err(StoreError::Behind)), "{wrong}");
    }
    assert!(matches!(append(store, "none", 1), Err(StoreError::NoJob)));
    let undo = entry(2, "undo-2", Kind::Undo(1));
    store.append("one", &undo, "text 2", listing("x", "y")).unwrap();
    let redo = entry(3, "redo-3", Kind::Redo(2));
    store.append("one", &redo, "text 3", listing("x", "y")).unwrap();
    let kept = store.job("one").unwrap().unwrap();
    assert_eq!((kept.text.as_str(), kept.revision, kept.logged, kept.as_written), ("text 3", 3, 3, true));
    assert_eq!(store.entry("one", "undo-2").unwrap(), Some(undo.clone()));
    assert_eq!(store.entry_at("one", 2).unwrap(), Some(undo));
    assert_eq!(store.entry_at("one", 3).unwrap(), Some(redo));
    assert_eq!(store.entry("one", "nobody's").unwrap(), None);
    assert_eq!(store.made("one").unwrap().as_deref(), Some("first"));
}

fn of_many_who_edit_at_once_one_is_first_each_time(store: &dyn Store) {
    const THREADS: u64 = 4;
    const EACH: u64 = 25;
    make(store, "one", "first");
    std::thread::scope(|s| {
        for thread in 0..THREADS {
            s.spawn(move || {
                let mut done = 0;
                while done < EACH {
                    let revision = store.job("one").unwrap().unwrap().revision + 1;
                    let edit = entry(revision, &format!("edit-{thread}-{done}"), Kind::Edit);
                    match store.append("one", &edit, &format!("text {revision}"), listing("x", "y")) {
                        Ok(()) => done += 1,
                        Err(StoreError::Behind) => {}
                        Err(e) => panic!("{e}"),
                    }
                }
            });
        }
    });
    let log = walked(store, "one", 0);
    let revisions: Vec<u64> = log.iter().map(|e| e.revision).collect();
    assert_eq!(revisions, (1..=THREADS * EACH).collect::<Vec<_>>());
    let mut ids: Vec<&str> = log.iter().map(|e| e.edit_id.as_str()).collect();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len() as u64, THREADS * EACH, "each of them once");
    let kept = store.job("one").unwrap().unwrap();
    assert_eq!((kept.revision, kept.text), (THREADS * EACH, format!("text {}", THREADS * EACH)));
}

fn a_log_is_walked_and_paged(store: &dyn Store) {
    make(store, "one", "first");
    make(store, "two", "first");
    // More than one page of either store.
    for revision in 1..=300 {
        append(store, "one", revision).unwrap();
    }
    append(store, "two", 1).unwrap();
    let log = walked(store, "one", 0);
    assert_eq!(log.len(), 300);
    assert_eq!(log[6], entry(7, "edit-one-7", Kind::Edit));
    assert_eq!(walked(store, "one", 298).iter().map(|e| e.revision).collect::<Vec<_>>(), [299, 300]);
    assert!(walked(store, "one", u64::MAX).is_empty() && walked(store, "none", 0).is_empty());
    let mut seen = 0;
    store
        .since("one", 0, &mut |_| {
            seen += 1;
            seen < 5
        })
        .unwrap();
    assert_eq!(seen, 5);
    let page = |before, limit| -> Vec<u64> {
        store.before("one", before, limit).unwrap().iter().map(|e| e.revision).collect()
    };
    assert_eq!(page(u64::MAX, 3), [300, 299, 298]);
    assert_eq!(page(3, 500), [2, 1]);
    assert!(page(1, 10).is_empty());
}

fn one_large_entry_is_a_page(store: &dyn Store) {
    make(store, "one", "first");
    for revision in 1..=3 {
        let mut edit = entry(revision, &format!("edit-{revision}"), Kind::Edit);
        // Larger than a page of the log and than a page of the history.
        let value = json!("n".repeat(9_000_000));
        edit.patch = Edit::new([Operation::Replace { path: "/job/notes".into(), value }]);
        store.append("one", &edit, "text", listing("x", "y")).unwrap();
    }
    assert_eq!(walked(store, "one", 0).len(), 3);
    let page = store.before("one", u64::MAX, 10).unwrap();
    assert_eq!(page.iter().map(|e| e.revision).collect::<Vec<_>>(), [3]);
}

fn what_was_put_right_does_not_go_back(store: &dyn Store) {
    make(store, "one", "first");
    append(store, "one", 1).unwrap();
    store.mend("one", "put right", 1).unwrap();
    let kept = store.job("one").unwrap().unwrap();
    assert_eq!((kept.text.as_str(), kept.revision, kept.as_written), ("put right", 1, true));
    append(store, "one", 2).unwrap();
    // By somebody who read it before.
    store.mend("one", "put right", 1).unwrap();
    assert_eq!(store.job("one").unwrap().unwrap().text, "text 2");
}

fn a_job_goes_with_all_it_has(store: &dyn Store) {
    make(store, "one", "first");
    append(store, "one", 1).unwrap();
    store.attach("one", &file("plan.png", b"plan"), b"plan").unwrap();
    assert!(store.delete("one").unwrap());
    assert!(!store.delete("one").unwrap());
    assert!(store.job("one").unwrap().is_none() && walked(store, "one", 0).is_empty());
    assert!(store.attachments("one").unwrap().is_empty());
    // The id may be used again, and has nothing of before.
    make(store, "one", "again");
    assert_eq!(store.job("one").unwrap().unwrap().logged, 0);
    assert!(store.attachment("one", "plan.png").unwrap().is_none());
}

fn equal_files_are_kept_once_and_go_with_their_last_name(store: &dyn Store) {
    make(store, "one", "first");
    make(store, "two", "first");
    let (plan, other) = (file("plan.png", b"plan\x00\xff"), file("b.png", b"other"));
    let copy = AttachmentRow { name: "Copy.png".into(), ..plan.clone() };
    store.attach("one", &plan, b"plan\x00\xff").unwrap();
    store.attach("one", &copy, b"plan\x00\xff").unwrap();
    store.attach("two", &plan, b"plan\x00\xff").unwrap();
    store.attach("one", &other, b"other").unwrap();
    let names =
        |id: &str| -> Vec<String> { store.attachments(id).unwrap().into_iter().map(|a| a.name).collect() };
    assert_eq!(names("one"), ["Copy.png", "b.png", "plan.png"]);
    assert_eq!(store.attachment("one", "plan.png").unwrap(), Some((plan.clone(), b"plan\x00\xff".to_vec())));
    // In place of one of the same name.
    let newer = file("plan.png", b"newer");
    store.attach("one", &newer, b"newer").unwrap();
    assert_eq!(store.attachment("one", "plan.png").unwrap(), Some((newer, b"newer".to_vec())));
    assert!(store.detach("one", "Copy.png").unwrap());
    assert!(!store.detach("one", "Copy.png").unwrap());
    // The other job's is still there after its content had lost two of its names.
    assert_eq!(store.attachment("two", "plan.png").unwrap(), Some((plan.clone(), b"plan\x00\xff".to_vec())));
    assert!(store.detach("two", "plan.png").unwrap());
    store.attach("two", &plan, b"plan\x00\xff").unwrap();
    assert_eq!(store.attachment("two", "plan.png").unwrap().unwrap().1, b"plan\x00\xff");
}

fn a_file_that_is_too_much_changes_nothing(store: &dyn Store) {
    make(store, "one", "first");
    let (half, more) = (vec![1; 600], vec![2; 500]);
    store.attach("one", &file("a.png", &half), &half).unwrap();
    let refused = store.attach("one", &file("b.png", &more), &more);
    assert!(matches!(refused, Err(StoreError::Full { kept: 600, wanted: 500, most: ROOM })), "{refused:?}");
    // In its own place it fits.
    store.attach("one", &file("a.png", &more), &more).unwrap();
    assert_eq!(store.attachments("one").unwrap(), [file("a.png", &more)]);
    assert!(matches!(store.attach("none", &file("a.png", b"x"), b"x"), Err(StoreError::NoJob)));
}

fn an_import_is_all_or_nothing(store: &dyn Store) {
    let (small, large) = (vec![1; 10], vec![2; 2000]);
    let attachments = [(file("a.png", &small), small), (file("b.png", &large), large)];
    let catalogue = [("own.toml".to_owned(), "x = 1".to_owned())];
    let new = NewJob {
        text: "t",
        catalogue: &catalogue,
        attachments: &attachments,
        listing: listing("x", "y"),
        template: false,
    };
    assert!(matches!(store.create("one", &new), Err(StoreError::Full { .. })));
    assert!(store.job("one").unwrap().is_none() && store.jobs().unwrap().is_empty());
    assert!(store.attachments("one").unwrap().is_empty());
    let new = NewJob { attachments: &attachments[..1], ..new };
    store.create("one", &new).unwrap();
    assert_eq!(store.attachment("one", "a.png").unwrap(), Some(attachments[0].clone()));
}

fn the_list_shows_status_client_and_templates(store: &dyn Store) {
    let sold = JobListing { status: "sold", client: "The owners", ..listing("Mill", "2026-05-04T09:30:00Z") };
    let new = NewJob { text: "t", catalogue: &[], attachments: &[], listing: sold, template: true };
    store.create("one", &new).unwrap();
    let shown = |store: &dyn Store| {
        let row = store.jobs().unwrap().swap_remove(0);
        (row.status, row.client, row.template)
    };
    assert_eq!(shown(store), ("sold".to_owned(), "The owners".to_owned(), true));
    let built = JobListing { status: "built", client: "", ..sold };
    store.append("one", &entry(1, "edit-1", Kind::Edit), "t2", built).unwrap();
    assert_eq!(shown(store), ("built".to_owned(), String::new(), true));
}

fn own_catalogue_files_change_with_their_entry(store: &dyn Store) {
    make(store, "one", "first");
    let files = [("c.toml".to_owned(), "c = 1\n".to_owned()), ("b.toml".to_owned(), String::new())];
    let at = listing("Court", "2026-05-04T10:00:00Z");
    let bare = Entry { patch: Edit::default(), inverse: Edit::default(), ..entry(1, "edit-1", Kind::Edit) };
    store.append_with_catalogue("one", &bare, "first", at, &files).unwrap();
    let kept = store.job("one").unwrap().unwrap();
    assert_eq!((kept.revision, kept.logged, kept.catalogue.as_slice()), (1, 1, files.as_slice()));
    assert!(kept.as_written && kept.altered.is_empty());
    assert_eq!(walked(store, "one", 0), std::slice::from_ref(&bare));
    // Whoever comes second changes neither.
    let late = store.append_with_catalogue("one", &bare, "other", at, &[]);
    assert!(matches!(late, Err(StoreError::Behind)), "{late:?}");
    assert_eq!(store.job("one").unwrap().unwrap(), kept);
    let none = store.append_with_catalogue("none", &bare, "t", at, &[]);
    assert!(matches!(none, Err(StoreError::NoJob)), "{none:?}");
    let next = Entry { revision: 2, edit_id: "edit-2".into(), ..bare };
    store.append_with_catalogue("one", &next, "first", at, &[]).unwrap();
    assert!(store.job("one").unwrap().unwrap().catalogue.is_empty());
}

fn a_firm_keeps_one_file_of_a_name(store: &dyn Store) {
    let of = |name: &str, bytes: &[u8]| FirmFile {
        name: name.into(),
        bytes: bytes.to_vec(),
        sha256: file(name, bytes).sha256,
    };
    let (logo, newer, prices) =
        (of("logo", b"\x89PNG\0"), of("logo", b"<svg/>"), of("prices.csv", b"code,price\n"));
    for kept in [&prices, &logo, &newer] {
        store.keep_of_firm(kept).unwrap();
    }
    assert_eq!(store.firm().unwrap(), [newer, prices.clone()]);
    assert!(store.drop_of_firm("logo").unwrap() && !store.drop_of_firm("logo").unwrap());
    assert_eq!(store.firm().unwrap(), [prices]);
}

fn a_job_copied_from_another_store_is_the_same(store: &dyn Store) {
    let other = SqliteStore::in_memory().unwrap();
    make(&other, "one", "first");
    for revision in 1..=5 {
        append(&other, "one", revision).unwrap();
    }
    other.append("one", &entry(6, "undo", Kind::Undo(5)), "text 6", listing("x", "y")).unwrap();
    other.attach("one", &file("plan.png", b"plan"), b"plan").unwrap();
    let row = other.jobs().unwrap().swap_remove(0);
    store.copy_in(&other, &row).unwrap();
    let there = store.jobs().unwrap();
    assert_eq!(there, std::slice::from_ref(&row));
    assert_eq!(store.job("one").unwrap(), other.job("one").unwrap());
    assert_eq!(walked(store, "one", 0), walked(&other, "one", 0));
    assert_eq!(sum_of(store, &row).unwrap(), sum_of(&other, &row).unwrap());
    assert!(matches!(store.copy_in(&other, &row), Err(StoreError::IdTaken(_))));
    // Of one that keeps more than a job may here, nothing arrives.
    make(&other, "two", "first");
    let large = vec![0; 2000];
    other.attach("two", &file("large.png", &large), &large).unwrap();
    let two = other.jobs().unwrap().into_iter().find(|j| j.id == "two").unwrap();
    assert!(store.copy_in(&other, &two).is_err());
    assert!(store.job("two").unwrap().is_none());
    // What goes on differs.
    append(store, "one", 7).unwrap();
    let later = store.jobs().unwrap().swap_remove(0);
    assert_ne!(sum_of(store, &later).unwrap(), sum_of(&other, &row).unwrap());
}
