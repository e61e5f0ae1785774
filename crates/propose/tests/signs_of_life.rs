//! What a watcher is told while a design is searched for: a proven bound stands only beside a design, and never above
//! what that one costs; no number from outside is needed for it.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use loamline_model::{Edit, JobFile, Operation, SourceFile, shipped_catalogue};
use loamline_propose::{OptionKind, Proposal, ProposeOptions, ProposeProgress, propose};
use serde_json::json;
use std::sync::Mutex;

const COURTYARD: &str = include_str!("../../../examples/walled-courtyard/job.toml");

/// A proposal for the cafe with one value of its brief set, and all that was told meanwhile.
fn watched(path: &str, value: serde_json::Value) -> (Proposal, Vec<ProposeProgress>) {
    let mut file =
        JobFile::from_text(&SourceFile::new("job.toml", COURTYARD), shipped_catalogue().unwrap()).unwrap();
    let set = Operation::Add { path: path.to_owned(), value, before: None };
    file.apply(&Edit::new([set])).unwrap();
    let options = ProposeOptions {
        wanted: vec![OptionKind::LeastCost],
        work_s: Some(0.5),
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
