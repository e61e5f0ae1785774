//! For holding the phone's copy of the rules of readings to the engine: random cases, and what the engine says of each.
//!
//! `phone_readings JOB COUNT` writes JSON: reading sets with what explains them and what to measure next (`sets`), readings
//! of several years with their drift (`trends`), books of visits with every reading judged and every series (`books`); at
//! least COUNT of each kind. The tables and limits are not among it: a phone has them from the server. Always the same cases.
#![expect(clippy::unwrap_used, reason = "a tool of the checks may stop at the first surprise")]
#![expect(clippy::print_stdout, reason = "its answer is what it prints")]

mod books;
mod sets;
mod trends;

use loamline_faults::Tolerances;
use loamline_model::JobFile;
use loamline_study::{Study, fault_tables};
use serde_json::json;

fn main() {
    let mut arguments = std::env::args().skip(1);
    let file = JobFile::open(std::path::Path::new(&arguments.next().unwrap())).unwrap();
    let count: usize = arguments.next().unwrap().parse().unwrap();
    let study = Study::new(file.job().clone());
    let runs = study.runs();
    let tables = fault_tables(study.job(), &runs, &Tolerances::default()).unwrap();
    println!(
        "{}",
        json!({
            "sets": sets::sets(count, study.job(), &runs, &tables),
            "trends": trends::trends(count),
            "books": books::books(count, &file),
        })
    );
}
