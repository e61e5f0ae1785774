//! Writes the covering problem of a job as JSON to standard output, for checks against other solvers and for benchmarks:
//! `covering JOB PLACES CANDIDATES [AREA]`, of single loudspeakers, at most so many of each; of one area only, by its place from 0.
//! `covering JOB rows` writes that of whole rows as it is, as `problem`, with the cost of the choice found for it as `chosen`.
#![expect(clippy::print_stdout, reason = "its answer is what it prints")]

use loamline_model::JobFile;
use loamline_propose::{covering_problem, rows_problem};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let open = |job: &String| JobFile::open(job.as_ref()).map_err(|e| e.to_string());
    let text = match arguments.as_slice() {
        [job, rows] if rows == "rows" => {
            let (problem, chosen) = rows_problem(&open(job)?)?;
            serde_json::json!({ "problem": problem, "chosen": chosen }).to_string()
        }
        [job, places, candidates, area @ ..] => {
            let area = area.first().map(|a| a.parse()).transpose()?;
            let sizes = (places.parse()?, candidates.parse()?);
            serde_json::to_string(&covering_problem(&open(job)?, sizes, area)?)?
        }
        _ => return Err("covering JOB PLACES CANDIDATES [AREA], or covering JOB rows".into()),
    };
    println!("{text}");
    Ok(())
}
