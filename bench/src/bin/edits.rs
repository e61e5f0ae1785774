//! What an edit costs: from its being acknowledged to the first map that shows it, on an idle server and while everything
//! else about the same job is being made at once; and what is worked out again, counted.
//!
//!     cargo run --release -p loamline-bench --bin edits -- [PROGRAM ...]
//!
//! Every PROGRAM is a built `loamline`; with two, the same edits go to both in turn and the ratio of the medians is printed.
//! Without one it is the one beside this program. Every map is checked: it is of the revision asked for, and the moved
//! loudspeaker's level has moved with it.
#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use loamline_bench::server::{BenchError, Server};
use loamline_model::load_job;
use loamline_study::Study;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Edits timed for each figure.
const EDITS: usize = 15;

/// Readers, edits a second and how long: an office on a busy day.
const READERS: usize = 10;
const EDITS_PER_S: f64 = 20.0;
const READING: Duration = Duration::from_secs(30);

/// An example, a loudspeaker of it that can be moved, and the spacing of its map, m: what the app asks for at 1440 by 900.
const EXAMPLES: [(&str, &str, f64); 2] = [("quayside-hotel", "MP6", 2.1), ("guesthouse-garden", "L8", 0.5)];

fn main() -> Result<(), BenchError> {
    let mut programs: Vec<PathBuf> = std::env::args().skip(1).map(PathBuf::from).collect();
    if programs.is_empty() {
        let here = std::env::current_exe().map_err(BenchError::Io)?;
        programs.push(here.with_file_name("loamline"));
    }
    for (name, tag, spacing_m) in EXAMPLES {
        println!("{name}: {tag} moved by 0.1 m, map every {spacing_m} m, {EDITS} edits");
        for busy in [false, true] {
            let mut medians = Vec::new();
            for program in &programs {
                let mut server = Server::start(program, &example(name))?;
                let mut waits = Vec::new();
                let _work = busy.then(|| server.keep_busy());
                server.map(spacing_m)?;
                for i in 0..EDITS {
                    waits.push(server.edit_to_map(tag, i, spacing_m)?);
                }
                waits.sort();
                medians.push(waits[EDITS / 2]);
                let while_what =
                    if busy { "papers, findings, processing, visit pack made at once" } else { "idle" };
                println!(
                    "  {:9} {while_what}: median {:.0} ms, slowest {:.0} ms",
                    program.file_name().map_or("", |n| n.to_str().unwrap_or("")),
                    millis(waits[EDITS / 2]),
                    millis(waits[EDITS - 1])
                );
            }
            if let [first, second] = medians[..] {
                println!("  second to first: {:.2}", second.as_secs_f64() / first.as_secs_f64());
            }
        }
        counted(name, tag)?;
        if let Some(program) = programs.last() {
            readers(program, name, tag)?;
        }
    }
    Ok(())
}

fn example(name: &str) -> PathBuf {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../examples")).join(name)
}

fn millis(d: Duration) -> f64 {
    1000.0 * d.as_secs_f64()
}

/// Readers of every result while a loudspeaker is moved over and over.
fn readers(program: &Path, name: &str, tag: &str) -> Result<(), BenchError> {
    let server = Server::start(program, &example(name))?;
    let (reads, edits) = server.readers(tag, READERS, EDITS_PER_S, READING)?;
    println!("  {READERS} readers of every result for {} s, {edits} edits meanwhile:", READING.as_secs());
    for r in reads {
        let at =
            |share: f64| r.waits.get((share * r.waits.len() as f64) as usize).copied().unwrap_or_default();
        println!(
            "    {:13} {:5} answers, median {:.0} ms, slowest {:.0} ms",
            if r.what.is_empty() { "job" } else { r.what.trim_start_matches('/') },
            r.answers,
            millis(at(0.5)),
            millis(r.waits.last().copied().unwrap_or_default())
        );
        assert!(r.answers > 0, "{} was never answered while somebody edited", r.what);
    }
    Ok(())
}

/// What is worked out again after words and after one loudspeaker moved.
fn counted(name: &str, tag: &str) -> Result<(), BenchError> {
    let job = load_job(&example(name)).map_err(|e| BenchError::Answer(e.to_string()))?;
    let mut file =
        loamline_model::JobFile::open(&example(name)).map_err(|e| BenchError::Answer(e.to_string()))?;
    let study = Study::new(job);
    study.findings();
    let edit = |file: &mut loamline_model::JobFile, patch: serde_json::Value| -> Result<(), BenchError> {
        let edit = serde_json::from_value(patch).map_err(|e| BenchError::Answer(e.to_string()))?;
        file.apply(&edit).map(drop).map_err(|e| BenchError::Answer(e.to_string()))
    };
    let before = study.worked();
    edit(&mut file, serde_json::json!([{ "op": "add", "path": "/job/notes", "value": "Mind the roses." }]))?;
    let study = study.next(file.job().clone());
    study.findings();
    println!("  after a note: {}", made_since(&before, &study.worked()));
    assert_eq!(study.worked(), before, "words work nothing out");
    let from = study.sound();
    let at = file.job().document().loudspeakers[tag].position;
    let patch = serde_json::json!([{ "op": "replace", "path": format!("/loudspeakers/{tag}/position"),
        "value": [at.x + 0.1, at.y] }]);
    edit(&mut file, patch)?;
    let study = study.next(file.job().clone());
    let to = study.sound();
    let moved = match (&*from, &*to) {
        (Ok(a), Ok(b)) => (0..b.sources.len()).filter(|&i| a.scene.source(i) != b.scene.source(i)).count(),
        _ => return Err(BenchError::Answer("the example cannot be heard".into())),
    };
    println!("  after {tag} moved: {moved} of the loudspeakers of the scene differ");
    Ok(())
}

fn made_since(before: &loamline_study::Worked, after: &loamline_study::Worked) -> String {
    format!(
        "{} lines solved, {} scenes, {} areas, {} neighbours",
        after.lines - before.lines,
        after.scenes - before.scenes,
        after.areas - before.areas,
        after.neighbours - before.neighbours
    )
}
