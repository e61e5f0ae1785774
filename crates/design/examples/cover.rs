//! Reads a covering problem as JSON from standard input and prints the answer and the bound as JSON; for checks
//! against other solvers. `cover [DRAWS [WALKS [SEED]]]` for another effort than usual; times go to standard error.
#![expect(clippy::print_stderr, reason = "times are beside the answer")]

use loamline_design::{Effort, Problem, lower_bound, solve};
use std::io::Read;
use std::time::Instant;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut text = String::new();
    std::io::stdin().read_to_string(&mut text)?;
    let problem: Problem = serde_json::from_str(&text)?;
    let given: Vec<usize> = std::env::args().skip(1).map(|a| a.parse()).collect::<Result<_, _>>()?;
    let usual = Effort::default();
    let or = |k: usize, usual: usize| given.get(k).copied().unwrap_or(usual);
    let effort = Effort {
        draws: or(0, usual.draws),
        walks: or(1, usual.walks),
        seed: or(2, usual.seed as usize) as u64,
    };
    let start = Instant::now();
    let bound = lower_bound(&problem);
    let bounded = start.elapsed().as_secs_f64();
    let answer = solve(&problem, effort, &bound.guide, &|_| true)?;
    eprintln!("bound {bounded:.2} s, search {:.2} s", start.elapsed().as_secs_f64() - bounded);
    let out = serde_json::json!({ "bound": bound.cost, "answer": answer });
    std::io::Write::write_all(&mut std::io::stdout(), out.to_string().as_bytes())?;
    Ok(())
}
