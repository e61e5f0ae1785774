//! The stages a job is built in: what each phase takes, for the plan of work and the days of the proposal.

use crate::error::PapersError;
use crate::wording::PaperWording;
use crate::words::Words;
use loamline_adapt::{LaidRun, laid_runs};
use loamline_model::{Job, Part};
use loamline_quotation::{BillItem, Counted, bill, task_of};
use loamline_study::part_alone;

/// What is built at one time.
#[derive(Debug, Clone)]
pub struct Stage {
    /// The phase as people call it; nothing where the job is built at one time.
    pub name: String,
    /// The first day, as it should be printed; nothing where nobody named it.
    pub first_day: String,
    /// What it takes.
    pub bill: Vec<BillItem>,
}

/// The stages of a job in their order, those without work left out: what belongs to no phase, then phase by phase. One of
/// everything where work is done in no more than one.
pub fn stages(
    job: &Job,
    (runs, all): (&[LaidRun], &[BillItem]),
    words: &Words,
) -> Result<Vec<Stage>, PapersError> {
    let d = job.document();
    let whole = || vec![Stage { name: String::new(), first_day: String::new(), bill: all.to_vec() }];
    if d.phases.is_empty() {
        return Ok(whole());
    }
    let billed = |part: &Job| -> Result<Vec<BillItem>, PapersError> {
        let counted = Counted::of(part, &laid_runs(part))?;
        Ok(bill(part, &PaperWording { words }, &counted))
    };
    let mut stages = vec![Stage {
        name: words.get("work.before_phases").to_owned(),
        first_day: d.work.first_day.clone(),
        bill: billed(&job.before_phases())?,
    }];
    for (id, phase) in &d.phases {
        let part = Part { phase: Some(id.clone()), ..Part::default() };
        stages.push(Stage {
            name: d.part_name(&part),
            first_day: phase.first_day.clone(),
            bill: billed(&part_alone(job, runs, &part))?,
        });
    }
    stages.retain(|stage| has_work(&stage.bill));
    Ok(if stages.len() > 1 { stages } else { whole() })
}

/// Whether there is work in a bill to lay into days.
pub fn has_work(bill: &[BillItem]) -> bool {
    bill.iter().any(|i| task_of(&i.code).is_some() && !i.labour_h.is_zero())
}
