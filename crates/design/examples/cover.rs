//! Reads a covering problem as JSON from standard input and prints the answer and the bound as JSON; for checks
//! against other solvers.

use loamline_design::{Effort, Problem, lower_bound, solve};
use std::io::Read;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut text = String::new();
    std::io::stdin().read_to_string(&mut text)?;
    let problem: Problem = serde_json::from_str(&text)?;
    let bound = lower_bound(&problem);
    let answer = solve(&problem, Effort::default(), &bound.guide, &|_| true)?;
    let out = serde_json::json!({ "bound": bound.cost, "answer": answer });
    std::io::Write::write_all(&mut std::io::stdout(), out.to_string().as_bytes())?;
    Ok(())
}
