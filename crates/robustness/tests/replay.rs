//! Every kept input and every input that ever hurt, and some thousands of seeded changes to the kept ones, through every
//! door: none may panic, take more than its time, or the process more than 1 GB.
//!
//! The bounds are those of the hostile checks and of the fuzzing programs; coverage-guided inputs are `fuzz/run`'s.
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test may stop at the first surprise, and tells figures"
)]

mod mutation;

use loamline_chance::Draws;
use loamline_robustness::TARGETS;
use mutation::changed;
use std::path::Path;
use std::time::{Duration, Instant};

/// Longest one input may take, on a loaded machine.
const LONGEST: Duration = Duration::from_secs(20);
/// Longest input made here, bytes: what is larger is in [`hurt`].
const MOST: usize = 8192;
/// Most memory the process may ever have had, megabytes.
const MOST_MB: u64 = 1024;

/// The kept inputs of a door, in the order of their names.
fn kept(target: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fuzz/corpus").join(target);
    let mut paths: Vec<_> = std::fs::read_dir(&folder).unwrap().map(|e| e.unwrap().path()).collect();
    paths.sort();
    let inputs: Vec<_> = paths.iter().map(|p| std::fs::read(p).unwrap()).collect();
    assert!(inputs.len() >= 5, "{} holds {} inputs", folder.display(), inputs.len());
    inputs
}

/// Runs one input and holds its time against the bound.
fn held(target: &str, bytes: &[u8]) -> Duration {
    let target = TARGETS.iter().find(|t| t.name == target).unwrap();
    let begun = Instant::now();
    (target.run)(bytes);
    let took = begun.elapsed();
    assert!(took < LONGEST, "{} took {took:?} for {} bytes", target.name, bytes.len());
    took
}

/// Megabytes the process has had at most, where the system tells.
fn most_mb() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM"))?;
    Some(line.split_whitespace().nth(1)?.parse::<u64>().ok()? / 1024)
}

/// Where the changes begin: the same in every run, unless `LOAMLINE_SEED` names another number.
fn seed() -> u64 {
    match std::env::var("LOAMLINE_SEED") {
        Ok(text) => text.parse().unwrap(),
        Err(_) => 0x10a3_11e5,
    }
}

/// The kept inputs and `count` changes to them.
fn replayed(target: &str, count: usize) {
    let inputs = kept(target);
    let mut longest = Duration::ZERO;
    for bytes in &inputs {
        longest = longest.max(held(target, bytes));
    }
    let seed = seed();
    let mut draw = Draws::new(seed);
    for n in 0..count {
        let bytes = changed(&inputs, &mut draw, MOST);
        let run = std::panic::catch_unwind(|| held(target, &bytes));
        assert!(
            run.is_ok(),
            "{target}: change number {n} from {seed}: {:?}",
            String::from_utf8_lossy(&bytes)
        );
        longest = longest.max(run.unwrap());
    }
    if let Some(mb) = most_mb() {
        println!("{target}: {} inputs, the longest took {longest:?}, {mb} MB", inputs.len() + count);
        assert!(mb < MOST_MB, "{mb} MB");
    }
}

macro_rules! doors {
    ($($name:ident: $count:literal,)*) => {
        $(#[test]
        fn $name() {
            replayed(stringify!($name), $count);
        })*

        #[test]
        fn every_door_is_replayed() {
            let here = [$(stringify!($name)),*];
            assert_eq!(TARGETS.map(|t| t.name).to_vec(), here.to_vec());
        }
    };
}

doors! {
    quantities: 60_000,
    readings: 600,
    price_book: 4_000,
    recording: 20_000,
    listening: 40,
    folder: 2_000,
    ground: 400,
    edits: 300,
    calculators: 8_000,
    catalogue: 1_000,
    job: 1_000,
    bodies: 4_000,
}

/// `fuzz/` is a workspace of its own, which nothing else builds.
#[test]
fn every_door_has_its_fuzzing_program() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fuzz");
    let programs = std::fs::read_dir(folder.join("fuzz_targets")).unwrap().count();
    assert_eq!(programs, TARGETS.len());
    let manifest = std::fs::read_to_string(folder.join("Cargo.toml")).unwrap();
    for door in TARGETS.map(|t| t.name) {
        assert!(manifest.contains(&format!("path = \"fuzz_targets/{door}.rs\"")), "{door}");
        let program =
            std::fs::read_to_string(folder.join("fuzz_targets").join(format!("{door}.rs"))).unwrap();
        assert!(program.contains(&format!("loamline_robustness::run(\"{door}\", bytes)")), "{door}");
    }
}

/// Inputs that once took all memory or time, in their full size; by command line and HTTP they are in checks/test_hostile.py.
fn hurt() -> Vec<(&'static str, &'static str, Vec<u8>)> {
    const HEAD: &str = "format = 1\n[job]\nname = \"x\"\n";
    let lines = |n: usize, of: &dyn Fn(usize) -> String| (0..n).map(of).collect::<String>();
    let one_line =
        format!("format = 1\njob = {{ name = \"x\"{} }}\n", lines(20_000, &|i| format!(", k{i:05}=1")));
    let own_lines = format!("{HEAD}{}", lines(50_000, &|i| format!("k{i} = 1\n")));
    let nested_keys = format!("a = {}1{}", format!("{{{}a = ", "a.".repeat(30)).repeat(31), "}".repeat(31));
    let long_key =
        format!("{HEAD}[areas.\"{}\"]\n{}", "k".repeat(3_000_000), lines(50_000, &|i| format!("k{i} = 1\n")));
    let rings = format!(
        "{HEAD}[racks.R]\nposition = [0, 0]\n[joints]\n{}{}",
        lines(1000, &|i| format!("J{i} = {{position = [1, {i}]}}\n")),
        lines(12, &|n| format!(
            "[lines.A{n}]\ncable = \"burial-2x14awg\"\nstart = \"R\"\n[lines.A{n}.runs]\n{}",
            lines(1500, &|i| format!("r{i} = {{from = \"J{}\", to = \"J{}\"}}\n", i % 999, (i + 1) % 999))
        ))
    );
    let copies = |n: usize| {
        lines(n, &|i| format!(",{{\"op\":\"copy\",\"from\":\"/surfaces\",\"path\":\"/surfaces/s{i}\"}}"))
    };
    let swallow = lines(60, &|i| {
        format!(
            ",{{\"op\":\"copy\",\"from\":\"/x\",\"path\":\"/surfaces/n{i}\"}},\
             {{\"op\":\"copy\",\"from\":\"/surfaces\",\"path\":\"/x/n{i}\"}}"
        )
    });
    let notes =
        format!("[{{\"op\":\"add\",\"path\":\"/job/notes\",\"value\":\"{}\"}}", "n".repeat(1_500_000));
    let again =
        lines(4000, &|_| ",{\"op\":\"copy\",\"from\":\"/job/notes\",\"path\":\"/job/summary\"}".to_owned());
    let moves = lines(1025, &|_| {
        ",{\"op\":\"move\",\"from\":\"/surfaces\",\"path\":\"/x\"},{\"op\":\"move\",\"from\":\"/x\",\"path\":\"/surfaces\"}".to_owned()
    });
    let list = |operations: &str| format!("[{}]", operations.trim_start_matches(','));
    let line = format!(
        "loudspeakers = {{ {} }}",
        lines(9_000, &|i| format!("k{i} = {{}}, ")).trim_end_matches(", ")
    );
    let body = |text: &str| format!("\0\0{text}").into_bytes();
    vec![
        ("job", "20 000 problems in one line", one_line.into_bytes()),
        ("job", "50 000 problems on lines of their own", own_lines.into_bytes()),
        ("job", "4 MB of brackets", "]".repeat(3_900_000).into_bytes()),
        ("job", "2 MB of quotes", "\"\n".repeat(900_000).into_bytes()),
        ("job", "lines without values", "a\n".repeat(19_000).into_bytes()),
        ("job", "lists in lists", format!("a = {}{}", "[".repeat(100_000), "]".repeat(100_000)).into_bytes()),
        ("job", "tables in tables", format!("a{} = 1\n", ".a".repeat(100_000)).into_bytes()),
        ("job", "tables in tables in tables", nested_keys.into_bytes()),
        ("job", "one table 150 000 times", "[job]\n".repeat(150_000).into_bytes()),
        ("job", "a key of 3 MB with things under it", long_key.into_bytes()),
        ("job", "lines of 1500 runs in rings", rings.into_bytes()),
        ("catalogue", "9000 models in one line", line.into_bytes()),
        ("edits", "a copy into itself, 16 times", list(&copies(16)).into_bytes()),
        ("edits", "two that swallow each other", format!(
            "[{{\"op\":\"add\",\"path\":\"/x\",\"value\":{{}}}},{{\"op\":\"copy\",\"from\":\"/surfaces\",\"path\":\"/x/a\"}}{swallow}]"
        ).into_bytes()),
        ("edits", "the same large thing put and put again", format!("{notes}{again}]").into_bytes()),
        ("edits", "2050 moves", list(&moves).into_bytes()),
        ("price_book", "900 000 wrong lines", format!("code,price\n{}", "x,y\n".repeat(900_000)).into_bytes()),
        ("bodies", "a body of nothing but values", body(&format!("[{}0]", "0,".repeat(900_000)))),
        ("bodies", "a body of nothing but brackets", body(&format!("{}{}", "[".repeat(100_000), "]".repeat(100_000)))),
        ("quantities", "a megabyte of digits", format!("\0\0{}", "9".repeat(1_000_000)).into_bytes()),
        ("quantities", "a megabyte of parts", format!("\0\0{}", "1 ft ".repeat(200_000)).into_bytes()),
        ("quantities", "a unit of a megabyte", format!("\0\01 k{}", "m".repeat(1_000_000)).into_bytes()),
    ]
}

#[test]
fn what_ever_hurt_does_so_no_longer() {
    let mut longest = (Duration::ZERO, "");
    for (target, what, bytes) in hurt() {
        let took = held(target, &bytes);
        println!("{target}, {what}: {took:?}");
        longest = longest.max((took, what));
    }
    if let Some(mb) = most_mb() {
        println!("longest {longest:?}, {mb} MB");
        assert!(mb < MOST_MB, "{mb} MB");
    }
}
