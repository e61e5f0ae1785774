//! Edits of an example: done, compared, undone.
//!
//! Bytes become operations on places that are there (or nearly), with values taken from the document itself, numbers at the
//! ends of what there is, and things of a kind. Bytes that begin with `[` are read as JSON Patch as it is sent.

use crate::examples::files;
use arbitrary::Unstructured;
use loamline_model::{Edit, EditError, JobFile, Operation, SourceFile};
use loamline_terms::pointer::child;
use serde_json::{Value, json};

/// Operations of an edit made here, at most.
const OPERATIONS: u8 = 6;
/// Words a job is made of, and words it is not.
const WORDS: [&str; 24] = [
    "L1",
    "A",
    "west",
    "bar",
    "paving",
    "12 ft 6 in",
    "open",
    "low impedance",
    "70.7 V",
    "satellite-100",
    "burial-2x2.5mm2",
    "2026-02-30",
    "0/0",
    "-1 m",
    "1e400",
    "",
    " ",
    "~",
    "/",
    "é\u{301}",
    "\u{0}",
    "a.b",
    "\"",
    "22:00 to 06:00",
];
const NUMBERS: [f64; 12] =
    [0.0, -0.0, 1.0, -1.0, 0.5, 90.0, 360.0, 1e-9, 1e9, 1e308, -1e308, 2_147_483_648.0];

pub fn edits(bytes: &[u8]) {
    if bytes.starts_with(b"[") {
        if let Ok(edit) = serde_json::from_slice::<Edit>(bytes) {
            files().iter().for_each(|file| tried(file, &edit));
        }
        return;
    }
    let [which, rest @ ..] = bytes else { return };
    let file = &files()[usize::from(which % 2)];
    let mut u = Unstructured::new(rest);
    if which % 8 >= 6 {
        return taken_out(file, &mut u);
    }
    let mut edit = Edit::default();
    let count = 1 + u.arbitrary::<u8>().unwrap_or_default() % OPERATIONS;
    for _ in 0..count {
        match operation(file.raw(), &mut u) {
            Ok(operation) => edit.operations.push(operation),
            Err(_) => break,
        }
    }
    tried(file, &edit);
}

fn operation(document: &Value, u: &mut Unstructured<'_>) -> arbitrary::Result<Operation> {
    let path = place(document, u)?;
    Ok(match u.arbitrary::<u8>()? % 8 {
        0 | 1 => Operation::Remove { path },
        2 => Operation::Add { path, value: value(document, u, 0)?, before: before(u)? },
        3 | 4 => Operation::Replace { path, value: value(document, u, 0)? },
        5 => Operation::Move { from: place(document, u)?, path, before: before(u)? },
        6 => Operation::Copy { from: place(document, u)?, path, before: before(u)? },
        _ => {
            let value = document.pointer(&path).cloned().unwrap_or(Value::Null);
            Operation::Test { path, value }
        }
    })
}

/// A place of the document, or one beside it.
fn place(document: &Value, u: &mut Unstructured<'_>) -> arbitrary::Result<String> {
    let (mut path, mut here) = (String::new(), document);
    for _ in 0..8 {
        let choice = usize::from(u.arbitrary::<u8>()?);
        match here {
            // The higher the place the rarer one stops there: whole sections are soon told.
            _ if choice >= 250 => return Ok(child(&path, WORDS[choice % WORDS.len()])),
            _ if choice >= 240 && !path.is_empty() => return Ok(path),
            Value::Object(map) if !map.is_empty() => {
                let Some((key, value)) = map.iter().nth(choice % map.len()) else { return Ok(path) };
                path = child(&path, key);
                here = value;
            }
            Value::Array(items) => {
                let at = choice % (items.len() + 2);
                let key = if at > items.len() { "-".to_owned() } else { at.to_string() };
                path = child(&path, &key);
                match items.get(at) {
                    Some(value) => here = value,
                    None => return Ok(path),
                }
            }
            _ => return Ok(path),
        }
    }
    Ok(path)
}

fn before(u: &mut Unstructured<'_>) -> arbitrary::Result<Option<String>> {
    let n = usize::from(u.arbitrary::<u8>()?);
    Ok(WORDS.get(n).map(|word| (*word).to_owned()))
}

fn value(document: &Value, u: &mut Unstructured<'_>, depth: u8) -> arbitrary::Result<Value> {
    Ok(match u.arbitrary::<u8>()? % 10 {
        // Something that fits somewhere.
        0..=2 => document.pointer(&place(document, u)?).cloned().unwrap_or(json!({})),
        3 => json!(NUMBERS[usize::from(u.arbitrary::<u8>()?) % NUMBERS.len()]),
        4 => json!(f64::from(u.arbitrary::<i16>()?) / 64.0),
        5 => json!(WORDS[usize::from(u.arbitrary::<u8>()?) % WORDS.len()]),
        6 => json!(u.arbitrary::<bool>()?),
        7 => match u.arbitrary::<u8>()? % 4 {
            0 => Value::Null,
            1 => json!(u.arbitrary::<i64>()?),
            _ => json!(u.arbitrary::<&str>()?.chars().take(40).collect::<String>()),
        },
        n if depth < 3 => {
            let count = u.arbitrary::<u8>()? % 4;
            let items = (0..count).map(|_| value(document, u, depth + 1));
            if n == 8 {
                Value::Array(items.collect::<Result<_, _>>()?)
            } else {
                let items = items.collect::<Result<Vec<_>, _>>()?;
                let key = |i: usize| WORDS[(i * 7 + usize::from(depth)) % WORDS.len()].to_owned();
                Value::Object(items.into_iter().enumerate().map(|(i, v)| (key(i), v)).collect())
            }
        }
        _ => json!([0, 0]),
    })
}

fn tried(file: &JobFile, edit: &Edit) {
    let sent = serde_json::to_string(edit).expect("an edit has a JSON form");
    if let Ok(read) = serde_json::from_str::<Edit>(&sent) {
        assert!(&read == edit, "an edit went out and came in as another: {sent}");
    }
    let mut open = file.clone();
    let preview = file.preview(edit);
    let (whole, inverse) = match open.carry_out(edit) {
        Ok(done) => done,
        Err(error) => {
            drop(error.to_string());
            assert!(
                open.text() == file.text() && open.raw() == file.raw(),
                "refused, and yet changed: {sent}"
            );
            // A preview writes no text; otherwise both are of one mind.
            let of_text = matches!(error, EditError::CannotWrite | EditError::TooLarge(_));
            assert!(of_text || preview.is_err(), "refused, and yet previewed: {sent}");
            return;
        }
    };
    let preview = preview.expect("what can be done can be previewed");
    // Documents, not what follows from them: an entry put back into a section may stand behind its neighbours there.
    assert!(preview.document() == open.job().document(), "the preview shows another job: {sent}");
    let text = SourceFile::new("job.toml", open.text());
    let again = JobFile::from_text(&text, open.catalogue().clone()).expect("what was written is read");
    assert!(
        again.job().document() == open.job().document() && again.raw() == open.raw(),
        "the file says another job: {sent}"
    );
    // What was carried out, carried out by somebody else, makes the same job.
    let mut theirs = file.clone();
    theirs.carry_out(&whole).expect("what was carried out can be carried out elsewhere");
    assert!(theirs.raw() == open.raw(), "somebody else has another job: {sent}");
    open.apply(&inverse).expect("what was done can be undone");
    let (now, then) = (open.job().document(), file.job().document());
    assert!(open.raw() == file.raw() && now == then, "undoing left another job: {sent}");
    assert!(order(open.raw()) == order(file.raw()), "undoing left another order: {sent}");
}

/// Keys of the document and of each of its sections, in their order: of two surfaces the later one wins.
fn order(document: &Value) -> Vec<Vec<&String>> {
    let things = |v: &Value| v.as_object().is_some_and(|m| m.values().all(Value::is_object));
    let sections = document.as_object().into_iter().flatten().filter(|(_, v)| things(v));
    sections.filter_map(|(_, v)| Some(v.as_object()?.keys().collect())).collect()
}

/// Whatever is taken out leaves a job that makes sense, or is refused with a reason.
fn taken_out(file: &JobFile, u: &mut Unstructured<'_>) {
    let mut open = file.clone();
    for _ in 0..3 {
        let Ok(path) = place(open.raw(), u) else { return };
        let mut keys = path.split('/').skip(1);
        let (table, id) = (keys.next().unwrap_or_default(), keys.next().unwrap_or_default());
        let out = if table == "loudspeakers" && u.arbitrary::<bool>().unwrap_or_default() {
            open.unhook(id)
        } else {
            open.take_out(table, id)
        };
        let Ok(out) = out else { continue };
        tried(&open, &out.edit);
        match open.apply(&out.edit) {
            Ok(_) => {}
            Err(error) => {
                let words = error.to_string();
                assert!(words.is_empty(), "{table} {id} cannot be taken out: {words}");
            }
        }
    }
}
