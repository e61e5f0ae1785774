//! Writes the covering problem of a job as JSON to standard output, for checks against other solvers and for benchmarks:
//! `covering JOB PLACES CANDIDATES [AREA]`, at most so many of each; of one area only, by its place from 0.
#![expect(clippy::print_stdout, reason = "its answer is what it prints")]

use loamline_model::JobFile;
use loamline_propose::covering_problem;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [job, places, candidates, area @ ..] = arguments.as_slice() else {
        return Err("covering JOB PLACES CANDIDATES [AREA]".into());
    };
    let area = area.first().map(|a| a.parse()).transpose()?;
    let file = JobFile::open(job.as_ref()).map_err(|e| e.to_string())?;
    println!(
        "{}",
        serde_json::to_string(&covering_problem(&file, (places.parse()?, candidates.parse()?), area)?)?
    );
    Ok(())
}
