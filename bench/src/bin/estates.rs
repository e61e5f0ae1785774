//! What an estate costs: time and memory of every command at 30, 100, 300 and 1000 loudspeakers, and by which power of
//! their number each grows. The goal from 100 to 1000 is 1.2 at most.
//!
//!     cargo run --release -p loamline-bench --bin estates -- [--program PROGRAM] [--sizes 30,100] [--seed N]
//!                                                            [--most SECONDS] [COMMAND ...]
//!     cargo run --release -p loamline-bench --bin estates -- write LOUDSPEAKERS FOLDER [--seed N]
//!
//! The first form measures a built `loamline`, the one beside this program unless another is named; commands are the
//! names in the table that it prints, all of them when none is named. A command that takes longer than `--most` (600 s)
//! is ended and not tried on larger estates. The second form writes an estate as a job folder.
#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use loamline_bench::estates::estate;
use loamline_bench::server::BenchError;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

/// What is measured: a name, and the arguments, with `JOB` for the job's folder and `OUT` for one to write into.
const COMMANDS: [(&str, &[&str]); 18] = [
    ("predict", &["predict", "JOB"]),
    ("predict-json", &["predict", "JOB", "--json"]),
    ("at", &["predict", "JOB", "--at", "30,28"]),
    ("predict-zone", &["predict", "JOB", "--zone", "Z1"]),
    ("check", &["check", "JOB"]),
    ("check-phase", &["check", "JOB", "--phase", "first"]),
    ("bass", &["bass", "JOB"]),
    ("tune", &["tune", "JOB"]),
    ("lines", &["lines", "JOB"]),
    ("expect", &["expect", "JOB"]),
    ("expect-line", &["expect", "JOB", "--line", "V1"]),
    ("locate", &["locate", "JOB", "--line", "V1", "--reading", "z@1kHz=55ohm"]),
    ("sources", &["sources", "JOB"]),
    ("route", &["route", "JOB", "--dry"]),
    ("pack", &["pack", "JOB", "--out", "OUT"]),
    ("pack-zone", &["pack", "JOB", "--out", "OUT", "--zone", "Z1"]),
    ("pack-tables", &["pack", "JOB", "--out", "OUT", "--only", "tables"]),
    ("pack-labels", &["pack", "JOB", "--out", "OUT", "--only", "labels"]),
];

/// How often a program's memory is looked at.
const LOOKED_EVERY: Duration = Duration::from_millis(2);

/// What is asked of this program.
struct Asked {
    program: Option<PathBuf>,
    sizes: Vec<usize>,
    seed: u64,
    most: Duration,
    words: Vec<String>,
}

/// What a command took.
#[derive(Clone, Copy)]
struct Took {
    time: Duration,
    /// Most that it held, MB; none where the system does not say.
    memory_mb: Option<f64>,
    /// How it ended; none where it was ended for its time.
    code: Option<i32>,
}

fn main() -> Result<(), BenchError> {
    let asked = asked()?;
    if let Some(("write", rest)) = asked.words.split_first().map(|(first, rest)| (first.as_str(), rest)) {
        let [size, folder] = rest else {
            return Err(BenchError::Answer("write takes a number of loudspeakers and a folder".to_owned()));
        };
        return written(Path::new(folder), number(size)?, asked.seed);
    }
    let program = match &asked.program {
        Some(program) => program.clone(),
        None => std::env::current_exe()?.with_file_name("loamline"),
    };
    let wanted: Vec<&(&str, &[&str])> = COMMANDS
        .iter()
        .filter(|c| asked.words.is_empty() || asked.words.iter().any(|word| word == c.0))
        .collect();
    if let Some(unknown) = asked.words.iter().find(|w| COMMANDS.iter().all(|c| c.0 != w.as_str())) {
        return Err(BenchError::Answer(format!("there is no command {unknown}")));
    }
    let folder = tempfile::tempdir()?;
    for &size in &asked.sizes {
        written(&folder.path().join(size.to_string()), size, asked.seed)?;
    }
    println!("{:<13} {:>6} {:>9} {:>8} {:>6} {:>6}", "command", "size", "s", "MB", "power", "exit");
    for (name, arguments) in wanted {
        let mut before: Option<(usize, Took)> = None;
        for &size in &asked.sizes {
            let job = folder.path().join(size.to_string());
            let out = folder.path().join(format!("out-{size}"));
            let took = measured(&program, arguments, (&job, &out), asked.most)?;
            row(name, size, &took, before);
            // Findings of severity error are an answer; bad input is none.
            assert!(matches!(took.code, None | Some(0 | 1)), "{name} of {size} ended with {:?}", took.code);
            if took.code.is_none() {
                break;
            }
            before = Some((size, took));
        }
    }
    Ok(())
}

fn row(name: &str, size: usize, took: &Took, before: Option<(usize, Took)>) {
    let seconds = took.time.as_secs_f64();
    let memory = took.memory_mb.map_or_else(|| "-".to_owned(), |mb| format!("{mb:.0}"));
    let power = before.map_or_else(String::new, |(fewer, less)| {
        let power = (seconds / less.time.as_secs_f64()).ln() / (size as f64 / fewer as f64).ln();
        format!("{power:.2}")
    });
    let code = took.code.map_or_else(|| "ended".to_owned(), |code| code.to_string());
    println!("{name:<13} {size:>6} {seconds:>9.3} {memory:>8} {power:>6} {code:>6}");
}

/// The arguments, options anywhere among the words.
fn asked() -> Result<Asked, BenchError> {
    let mut asked = Asked {
        program: None,
        sizes: vec![30, 100, 300, 1000],
        seed: 1,
        most: Duration::from_secs(600),
        words: Vec::new(),
    };
    let mut given = std::env::args().skip(1);
    while let Some(word) = given.next() {
        let mut value = || given.next().ok_or_else(|| BenchError::Answer(format!("{word} takes a value")));
        match word.as_str() {
            "--program" => asked.program = Some(PathBuf::from(value()?)),
            "--sizes" => {
                asked.sizes = value()?.split(',').map(number).collect::<Result<Vec<usize>, BenchError>>()?;
            }
            "--seed" => asked.seed = number(&value()?)? as u64,
            "--most" => asked.most = Duration::from_secs(number(&value()?)? as u64),
            _ => asked.words.push(word),
        }
    }
    Ok(asked)
}

fn number(text: &str) -> Result<usize, BenchError> {
    text.trim().parse().map_err(|_| BenchError::Answer(format!("{text} is no number")))
}

/// Writes an estate as a job folder.
fn written(folder: &Path, loudspeakers: usize, seed: u64) -> Result<(), BenchError> {
    std::fs::create_dir_all(folder)?;
    std::fs::write(folder.join("job.toml"), estate(loudspeakers, seed))?;
    Ok(())
}

/// Runs a command to its end, or until it has taken too long; what it prints is thrown away.
fn measured(
    program: &Path,
    arguments: &[&str],
    (job, out): (&Path, &Path),
    most: Duration,
) -> Result<Took, BenchError> {
    let mut command = Command::new(program);
    for argument in arguments {
        match *argument {
            "JOB" => command.arg(job),
            "OUT" => command.arg(out),
            other => command.arg(other),
        };
    }
    let begun = Instant::now();
    let mut child = command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn()?;
    let mut memory_mb = None;
    loop {
        if let Some(ended) = child.try_wait()? {
            return Ok(Took { time: begun.elapsed(), memory_mb, code: Some(ended.code().unwrap_or(-1)) });
        }
        memory_mb = held_mb(child.id()).or(memory_mb);
        if begun.elapsed() > most {
            child.kill()?;
            child.wait()?;
            return Ok(Took { time: begun.elapsed(), memory_mb, code: None });
        }
        thread::sleep(LOOKED_EVERY);
    }
}

/// The most memory a process has held until now, MB (Linux: `VmHWM` of /proc/PID/status).
fn held_mb(process: u32) -> Option<f64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    let kb: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kb / 1000.0)
}
