//! A design as it would be written into the job: what it then costs, whether it changes anything, and what it does to lines
//! that were measured. Said before anybody takes it over.

use crate::api::{Proposed, Replaced};
use crate::error::BriefProblem;
use crate::price::cost;
use indexmap::IndexMap;
use loamline_adapt::laid_runs;
use loamline_model::{Edit, Job, JobFile};
use loamline_quotation::PriceBook;
use loamline_study::{Finding, Severity, Subject, worst_first};
use loamline_terms::{Sentence, Told, each_of, say, template};
use std::collections::BTreeMap;

/// Completes a design by what the job would be with it. One that the job has already changes nothing, not even the way
/// people wrote it down.
///
/// # Errors
/// When the design cannot be carried out on the job, or has no price.
pub(crate) fn as_written(
    file: &JobFile,
    proposed: &mut Proposed,
    book: &PriceBook,
) -> Result<(), BriefProblem> {
    if file.preview(&proposed.edit)?.document() == file.job().document() {
        proposed.edit = Edit::default();
    }
    let written = file.preview(&proposed.edit)?;
    let cost = cost(&written, &laid_runs(&written), book)?;
    (proposed.figures.price, proposed.figures.net) = (cost.total, cost.net);
    (proposed.figures.cable_m, proposed.figures.digging_m) = (cost.cable_m, cost.opened_m);
    proposed.bill = cost.bill;
    say_what_is_replaced(file, proposed)
}

/// Says of a design which measured lines it replaces, in `replaces` and among its findings.
///
/// # Errors
/// When the design cannot be carried out on the job.
fn say_what_is_replaced(file: &JobFile, proposed: &mut Proposed) -> Result<(), BriefProblem> {
    proposed.replaces = replaced(file, &proposed.edit)?;
    let warn = |r: &Replaced| {
        Finding::new(Severity::Warning, Subject::new("lines", &r.line), r.sentence.clone())
            .mend(say!("Pin its loudspeakers and keep the line if it is to stay in the ground."))
    };
    proposed.findings.extend(proposed.replaces.iter().map(warn));
    worst_first(&mut proposed.findings);
    Ok(())
}

fn replaced(file: &JobFile, edit: &Edit) -> Result<Vec<Replaced>, BriefProblem> {
    let before = file.job().document();
    if before.visits.is_empty() {
        return Ok(Vec::new());
    }
    let after: Job = file.preview(edit)?;
    let mut all: IndexMap<String, Replaced> = IndexMap::new();
    for (id, visit) in &after.document().visits {
        let earlier = before.visits.get(id);
        for (key, kept) in &visit.lines {
            if earlier.is_some_and(|v| v.lines.contains_key(key)) {
                continue;
            }
            let one = all.entry(kept.line.clone()).or_insert_with(|| Replaced {
                line: kept.line.clone(),
                visits: Vec::new(),
                readings: 0,
                done: 0,
                photos: 0,
                sentence: Sentence::default(),
                spoken: BTreeMap::new(),
            });
            one.visits.push(id.clone());
            one.readings += kept.readings.len();
            one.done += kept.done.len();
            one.photos += kept.photos.len();
        }
    }
    let mut all: Vec<Replaced> = all.into_values().collect();
    for r in &mut all {
        Told { sentence: r.sentence, spoken: r.spoken, .. } = Told::from(sentence(r));
    }
    Ok(all)
}

fn sentence(r: &Replaced) -> Sentence {
    let several =
        |template: &'static str, n: usize| Sentence::of(template, vec![("count", n.to_string().into())]);
    let readings = match r.readings {
        0 => None,
        1 => Some(say!("1 reading")),
        n => Some(several(template!("{count} readings"), n)),
    };
    let ticks = match r.done {
        0 => None,
        1 => Some(say!("1 tick")),
        n => Some(several(template!("{count} ticks"), n)),
    };
    let photos = match r.photos {
        0 => None,
        1 => Some(say!("1 photo")),
        n => Some(several(template!("{count} photos"), n)),
    };
    let parts: Vec<Sentence> = [readings, ticks, photos].into_iter().flatten().collect();
    let had = if parts.is_empty() { say!("nothing") } else { each_of(parts) };
    let ids = r.visits.join(", ");
    let visits = match r.visits.len() {
        1 => say!("visit {visit}", visit = ids),
        _ => say!("visits {visits}", visits = ids),
    };
    say!(
        "Line {line} was measured or worked on ({had}, {visits}), and this design replaces it. What was recorded stays, with the line as it was.",
        line = r.line.clone(),
        had = had,
        visits = visits
    )
}
