//! Jobs looked over again after something changed that all of them lean on: what there is to put right in each now, and what it
//! costs now. On a store that several servers share this is handed on and done whenever nobody waits for anything; on a file it is
//! done here, one job after the other.

use crate::app::App;
use crate::background::{Work, blocking};
use crate::checked::{Checked, Found};
use crate::error::ApiError;
use crate::firm::Firm;
use crate::jobs::Jobs;
use crate::store::TaskKind;
use loamline_quotation::{decimals, grouped, quotation};
use loamline_terms::Severity;
use std::collections::BTreeMap;
use std::sync::Arc;

/// What there is to tell of all jobs that were looked over.
pub struct Overall {
    /// By the job's id, with the revision it was found in.
    pub found: BTreeMap<String, (u64, Found)>,
    /// How many are still to be looked over.
    pub waiting: usize,
}

/// Looks a job over as it now is; the revision that is, and what was found.
///
/// # Errors
/// When there is no such job, or it or the firm's price book cannot be read.
pub fn checked(jobs: &Jobs, id: &str) -> Result<(u64, Found), ApiError> {
    let book = Firm::of(jobs.store())?.prices()?;
    let now = jobs.open(id)?.now();
    let findings = now.study.findings();
    let of = |severity: Severity| {
        u32::try_from(findings.iter().filter(|f| f.severity == severity).count()).unwrap_or(u32::MAX)
    };
    let job = now.file.job();
    let currency = &job.document().about.currency;
    let shown = |total| format!("{currency} {}", grouped(total, decimals(currency), " ", "."));
    let price = quotation(job, &now.study.runs(), &book).ok().map(|q| shown(q.total));
    Ok((now.revision, Found { errors: of(Severity::Error), warnings: of(Severity::Warning), price }))
}

/// Asks for all jobs to be looked over; how many there are to look over now.
///
/// # Errors
/// When the store cannot be read or written.
pub async fn look_over_all(app: &App) -> Result<usize, ApiError> {
    let (jobs, own) = (Arc::clone(&app.jobs), app.checked.clone());
    let asked = blocking(move || {
        if let Some(tasks) = jobs.store().tasks() {
            tasks.ask_for_all(TaskKind::Check)?;
            return Ok((tasks.not_done(TaskKind::Check)?, false));
        }
        let ids: Vec<String> = jobs.list()?.into_iter().filter(|j| !j.template).map(|j| j.id).collect();
        Ok((ids.len(), own.ask_for(ids)))
    });
    let (waiting, begins) = asked.await?;
    if begins {
        tokio::spawn(look_over_here(app.clone()));
    }
    Ok(waiting)
}

/// Looks over what there is to look over, until nothing is left.
async fn look_over_here(app: App) {
    while let Some(id) = app.checked.take_next() {
        let (jobs, job) = (Arc::clone(&app.jobs), id.clone());
        let looked = app.background.run_named(Work::Settings, None, move || checked(&jobs, &job)).await;
        match looked {
            Ok(found) => app.checked.keep(id, found),
            Err(why) => tracing::warn!(why = %why.problem.message, "a job was not looked over"),
        }
    }
}

/// What was found, of all jobs that were looked over and are there still.
///
/// # Errors
/// When the store cannot be read.
pub fn overall(jobs: &Jobs, own: &Checked) -> Result<Overall, ApiError> {
    let Some(tasks) = jobs.store().tasks() else {
        let (found, waiting) = own.so_far();
        return Ok(Overall { found, waiting });
    };
    let mut found = BTreeMap::new();
    for task in tasks.last_done(TaskKind::Check)? {
        // A refusal has no figures.
        let told = task.outcome.and_then(|o| serde_json::from_str::<Found>(&o.body).ok());
        if let Some(told) = told {
            found.insert(task.job, (task.revision, told));
        }
    }
    Ok(Overall { found, waiting: tasks.not_done(TaskKind::Check)? })
}
