//! What a watcher is told while a design is searched for: a proven bound stands only beside a design, and never above
//! what that one costs; no number from outside is needed for it.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use loamline_limits::{Leave, Over};
use loamline_model::{Edit, JobFile, Operation, SourceFile, shipped_catalogue};
use loamline_propose::{
    OptionKind, Phase, Proposal, ProposeOptions, ProposeProgress, SoFar, propose, propose_keeping,
};
use serde_json::json;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

const COURTYARD: &str = include_str!("../../../examples/walled-courtyard/job.toml");

/// A proposal for the cafe with one value of its brief set, and all that was told meanwhile.
fn watched(path: &str, value: serde_json::Value) -> (Proposal, Vec<ProposeProgress>) {
    let mut file =
        JobFile::from_text(&SourceFile::new("job.toml", COURTYARD), shipped_catalogue().unwrap()).unwrap();
    let set = Operation::Add { path: path.to_owned(), value, before: None };
    file.apply(&Edit::new([set])).unwrap();
    let options = ProposeOptions {
        wanted: vec![OptionKind::LeastCost],
        // Time enough for one quoted design on a machine that does other work as well.
        work_s: Some(2.0),
        ..ProposeOptions::default()
    };
    let signs = Mutex::new(Vec::new());
    let watch = |p: &ProposeProgress| {
        signs.lock().unwrap().push(p.clone());
        true
    };
    let proposal = propose(&file, &options, &watch).unwrap();
    (proposal, signs.into_inner().unwrap())
}

#[test]
fn a_bound_stands_beside_a_design_and_never_above_it() {
    let (proposal, signs) = watched("/brief/budget", json!(9000));
    assert!(proposal.failure.is_none());
    assert!(signs.iter().any(|s| s.bound.is_some()), "a bound is told of a brief that can be met");
    // What is told is a price of a design that was quoted: while the first is chosen there is none, and the last is that of the
    // cheapest offer, to the cent.
    let first = signs.iter().position(|s| s.phase == Phase::Checking).unwrap();
    assert!(signs[..first].iter().all(|s| s.best_cost.is_none()), "no estimate is told as a price");
    let least = proposal.options.iter().map(|o| o.figures.price).fold(f64::INFINITY, f64::min);
    assert!(signs.iter().filter_map(|s| s.best_cost).all(|cost| cost >= least - 0.005), "{least}");
    for o in &proposal.options {
        let f = &o.figures;
        assert!((f.net + f.tax + f.rounding - f.price).abs() < 0.005, "{f:?}");
    }
    for s in signs {
        if let Some(bound) = s.bound {
            assert!(s.best_cost.is_some_and(|cost| bound <= cost), "{s:?}");
        }
    }
}

#[test]
fn where_nothing_meets_the_brief_no_bound_is_told() {
    // A neighbour's night at 20 dBA: no choice is quiet enough, and any number would be a bound.
    let (proposal, signs) = watched("/neighbours/flat/night", json!("20 dBA"));
    assert!(proposal.failure.is_some() && proposal.bound.is_none());
    let told: Vec<_> = signs.iter().filter(|s| s.bound.is_some() && s.best_cost.is_none()).collect();
    assert!(told.is_empty(), "{told:?}");
}

#[test]
fn a_search_that_is_left_has_its_best_whole_design() {
    let file =
        JobFile::from_text(&SourceFile::new("job.toml", COURTYARD), shipped_catalogue().unwrap()).unwrap();
    let options = ProposeOptions { wanted: vec![OptionKind::LeastCost], ..ProposeOptions::default() };
    let (leave, so_far, checked) = (Leave::unbounded(), SoFar::default(), AtomicBool::new(false));
    assert!(so_far.proposal(&file, &options).is_none(), "nothing was made yet");
    // Somebody stops it when the first whole design has just been held against the brief.
    let watch = |p: &ProposeProgress| {
        if checked.load(Ordering::Relaxed) {
            leave.stop();
        }
        if p.phase == Phase::Checking {
            checked.store(true, Ordering::Relaxed);
        }
        true
    };
    let left = leave.scope(|| propose_keeping(&file, &options, &watch, &so_far));
    assert!(matches!(left, Err(Over::Stopped)));
    let proposal = so_far.proposal(&file, &options).unwrap();
    assert!(proposal.unfinished && proposal.failure.is_none() && proposal.options.len() == 1);
    let design = &proposal.options[0];
    let written = file.preview(&design.edit).unwrap();
    let placed = written.document().loudspeakers.len();
    assert_eq!(placed, design.figures.loudspeakers + design.figures.subwoofers);
    assert!(placed > 0 && design.figures.price > 0.0 && !design.bill.is_empty());
}
