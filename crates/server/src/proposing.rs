//! Making a proposal, and what is told of it meanwhile: the same by whoever is asked and by a worker elsewhere.

use crate::error::{ApiError, FieldProblem};
use crate::jobs::OpenJob;
use crate::proposed::ProposalAnswer;
use crate::told::Told;
use loamline_limits::Leave;
use loamline_propose::{
    BriefProblem, OptionKind, Phase, ProposeError, ProposeOptions, ProposeProgress, propose,
};
use loamline_quotation::PriceBook;
use loamline_terms::{Sentence, say};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

/// What proposal is wanted, as it is handed on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProposalWish {
    /// Options wanted.
    pub wanted: Vec<OptionKind>,
    /// Work allowed, s; what suits the site where absent.
    pub work_s: Option<f64>,
    /// Seed of the search.
    pub seed: u64,
}

impl ProposalWish {
    /// With the firm's own prices, which the papers are reckoned with too.
    pub fn at(self, prices: PriceBook) -> ProposeOptions {
        ProposeOptions { wanted: self.wanted, work_s: self.work_s, seed: self.seed, prices }
    }
}

/// What is told before there is anything to tell.
pub const fn first_sign() -> ProposeProgress {
    ProposeProgress { phase: Phase::Candidates, option: None, done: 0.0, best_cost: None, bound: None }
}

/// How far a proposal is, as everybody looking at the job is told.
pub fn sign(run: &str, p: &ProposeProgress, done: bool) -> Value {
    json!({
        "kind": "propose", "run": run, "phase": p.phase.words(), "option": p.option.map(OptionKind::word),
        "share": p.done, "best_cost": p.best_cost, "bound": p.bound, "done": done,
    })
}

/// That a proposal waits for others to be made.
pub fn waiting(run: &str, place: usize) -> Value {
    json!({
        "kind": "propose", "run": run, "phase": format!("Waiting, place {place}"), "place": place, "option": null,
        "share": 0.0, "best_cost": null, "bound": null, "done": false,
    })
}

/// Makes a proposal for a job as it now is, and the revision that is.
pub fn made(
    job: &OpenJob,
    run: &str,
    leave: &Leave,
    options: &ProposeOptions,
    watch: &(dyn Fn(&ProposeProgress) -> bool + Sync),
) -> (u64, Result<Told, ApiError>) {
    let now = job.now();
    let in_time = Leave::within(options.most());
    let outcome = match leave.scope(|| in_time.scope(|| propose(&now.file, options, watch))) {
        Ok(Ok(Ok(p))) => Told::of(&ProposalAnswer::made(run, now.revision, p)),
        Err(_) | Ok(Ok(Err(ProposeError::Cancelled))) => {
            Told::of(&ProposalAnswer::unfinished(run, now.revision, true))
        }
        Ok(Err(over)) => Err(ApiError::out_of_time(say!("The proposal is left"), over)),
        Ok(Ok(Err(ProposeError::Brief(why)))) => {
            let problems = why.iter().map(|w| FieldProblem::new("/brief", w.told())).collect();
            let joined = |all: Sentence, one: Sentence| if all.is_empty() { one } else { all + " " + one };
            let told = why.iter().map(BriefProblem::told).fold(Sentence::default(), joined);
            Err(ApiError::invalid(told, problems))
        }
    };
    (now.revision, outcome)
}
