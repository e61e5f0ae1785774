//! Proposals timed: every offer for the examples, where the time goes, and the first design; side by side with their bound.
//!
//! `cargo run --release -p loamline-bench --bin propose`. Limits on two idle cores: all offers for a garden within 5 s
//! with the first design within 1 s, all offers for the waterfront within 60 s; the bound within 10 % of what is chosen for a
//! garden, within 25 % for the waterfront.

#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use loamline_model::{JobFile, SourceFile, shipped_catalogue};
use loamline_propose::{OptionKind, Phase, ProposeOptions, ProposeProgress, propose};
use std::error::Error;
use std::sync::Mutex;
use std::time::Instant;

/// Name, job, seconds for all offers and for the first, and how far below what is chosen the bound may lie.
const CASES: [(&str, &str, f64, f64, f64); 3] = [
    ("walled-courtyard", include_str!("../../../examples/walled-courtyard/job.toml"), 5.0, 1.0, 0.10),
    ("guesthouse-garden", include_str!("../../../examples/guesthouse-garden/job.toml"), 5.0, 1.0, 0.10),
    ("quayside-hotel", include_str!("../../../examples/quayside-hotel/job.toml"), 60.0, 60.0, 0.25),
];

/// Seconds that went into each phase of each offer, by the signs of life.
#[derive(Default)]
struct Spent {
    by: Vec<((Option<OptionKind>, Phase), f64, usize)>,
    now: Option<((Option<OptionKind>, Phase), f64)>,
}

impl Spent {
    fn goes_on(&mut self, what: (Option<OptionKind>, Phase), at_s: f64) {
        if let Some((before, since_s)) = self.now {
            let found = self.by.iter_mut().find(|b| b.0 == before);
            let entered = usize::from(before != what);
            match found {
                Some(b) => (b.1, b.2) = (b.1 + at_s - since_s, b.2 + entered),
                None => self.by.push((before, at_s - since_s, entered)),
            }
        }
        self.now = Some((what, at_s));
    }

    fn print(&self) {
        for ((option, phase), s, times) in &self.by {
            let option = option.map_or("-", |o| o.word());
            println!("    {option:<18} {:<12} {s:>7.2} s in {times:>3} turns", format!("{phase:?}"));
        }
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    println!(
        "{:<16} {:<28} {:>9} {:>9} {:>9} {:>7} {:>8} {:>8}",
        "case", "offer", "price", "chosen", "bound", "robust", "first s", "all s"
    );
    let mut late = Vec::new();
    for (name, text, all_limit_s, first_limit_s, below) in CASES {
        let file = JobFile::from_text(&SourceFile::new("job.toml", text), shipped_catalogue()?)?;
        let options = ProposeOptions { wanted: OptionKind::ALL.to_vec(), ..ProposeOptions::default() };
        let start = Instant::now();
        let first = Mutex::new(None);
        let spent: Mutex<Spent> = Mutex::new(Spent::default());
        let watch = |p: &ProposeProgress| {
            if let Ok(mut spent) = spent.lock() {
                spent.goes_on((p.option, p.phase), start.elapsed().as_secs_f64());
            }
            // A price that was quoted: the first sign after a design was checked.
            if let (Ok(mut first), Phase::Checking, Some(_)) = (first.lock(), p.phase, p.best_cost) {
                first.get_or_insert_with(|| start.elapsed().as_secs_f64());
            }
            true
        };
        let proposal = propose(&file, &options, &watch)?;
        let all_s = start.elapsed().as_secs_f64();
        let first_s = first.into_inner().ok().flatten().unwrap_or(all_s);
        assert!(!proposal.options.is_empty(), "{name} has a design");
        for o in &proposal.options {
            let kinds: Vec<&str> = o.kinds.iter().map(|k| k.word()).collect();
            println!(
                "{name:<16} {:<28} {:>9.0} {:>9.0} {:>9.0} {:>6.0}% {first_s:>8.2} {all_s:>8.2}",
                kinds.join(", "),
                o.figures.price,
                o.choice_cost,
                proposal.bound.unwrap_or(f64::NAN),
                100.0 * o.robust_share.unwrap_or(0.0),
            );
        }
        // Proven of loudspeakers as the first design has them: mixed ones may cost less.
        let first = &proposal.options[0];
        let like = proposal.options.iter().filter(|o| o.matching == first.matching);
        for (bound, o) in proposal.bound.into_iter().flat_map(|b| like.clone().map(move |o| (b, o))) {
            assert!(bound <= o.choice_cost && bound <= o.figures.price, "{name}: a bound above a price");
        }
        match proposal.bound {
            Some(bound) if bound >= (1.0 - below) * first.choice_cost => {}
            bound => late.push(format!("{name}: bound {bound:?}, chosen {:.0}", first.choice_cost)),
        }
        if let Ok(spent) = spent.into_inner() {
            spent.print();
        }
        if all_s > all_limit_s || first_s > first_limit_s {
            late.push(format!("{name}: first {first_s:.2} s, all {all_s:.2} s"));
        }
    }
    if late.is_empty() { Ok(()) } else { Err(late.join("\n").into()) }
}
