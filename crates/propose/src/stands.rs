//! A design that stands already: where every loudspeaker is pinned and the job as it is meets the brief, nothing is missing.

use crate::api::{OptionKind, Proposed};
use crate::build::{Built, Done};
use crate::error::BriefProblem;
use crate::make::Maker;
use crate::measure::{figures, missed, reasons};
use indexmap::IndexMap;
use loamline_model::document::Matching;
use loamline_model::{Choice as _, Edit, JobFile};
use loamline_study::Study;
use std::collections::BTreeMap;

/// The job as it stands as the one design, when it meets the brief and all its loudspeakers are to stay.
///
/// # Errors
/// When the job has no results to judge.
pub(crate) fn stands(
    file: &JobFile,
    maker: &Maker<'_>,
    wanted: &[OptionKind],
) -> Result<Option<Proposed>, BriefProblem> {
    let job = file.job();
    let d = job.document();
    let all_stay = !d.loudspeakers.is_empty() && d.loudspeakers.values().all(|l| l.pinned);
    let all_fed = d.loudspeakers.values().all(|l| l.line.is_some());
    if !all_stay || !all_fed {
        return Ok(None);
    }
    let study = Study::beside(job.clone(), maker.site.prepared()?);
    let cost = maker.prices.cost(job, &study.runs())?;
    let built = Built { edit: Edit::default(), study, cost, done: Done::default() };
    let figures = figures(&built)?;
    let over = crate::budget::budget(file).is_some_and(|b| figures.price > b);
    if !missed(&built, &figures).nothing() || over {
        return Ok(None);
    }
    Ok(Some(Proposed {
        kinds: wanted.to_vec(),
        choice_cost: figures.price,
        unmet: Vec::new(),
        served: IndexMap::new(),
        matching: Matching::Mixed.word().to_owned(),
        notes: vec!["What stands meets the brief: nothing is missing.".into()],
        robust_share: None,
        reasons: reasons(&built, &BTreeMap::new())?,
        findings: built.study.findings().to_vec(),
        replaces: Vec::new(),
        figures,
        bill: built.cost.bill,
        edit: built.edit,
    }))
}
