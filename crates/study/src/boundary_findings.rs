//! What is said of levels at neighbours against their limits.

use crate::against_limit::{Judged, NOT_NAMED_DB, ReflectedBy};
use crate::finding::{Finding, Severity, Subject};
use crate::names::neighbour_words;
use loamline_acoustics::{Judgement, LimitQuantity, Verdict};
use loamline_model::Job;
use loamline_model::document::InStep;
use loamline_terms::{Sentence, one_after_another, say};

/// What reflects is named up to so many in a sentence: more of them and nobody reads to the end; how many follow is said.
const FACES_NAMED: usize = 3;

/// Sentences about what is in a level: reflections, and loudspeakers in step.
fn in_it(job: &Job, j: &Judged, unit: &'static str) -> Sentence {
    let x = &j.judgement;
    let mut more = Sentence::default();
    let adds = |r: &ReflectedBy| {
        say!(
            "{decibels} dB from {what}",
            decibels = loamline_terms::fixed(r.adds_db, 1),
            what = r.what.clone()
        )
    };
    let mut named: Vec<Sentence> = j.reflected_by.iter().take(FACES_NAMED).map(adds).collect();
    if let Some(others) = j.reflected_by.len().checked_sub(FACES_NAMED).filter(|n| *n > 0) {
        named.push(say!("less from {count} more", count = others.to_string()));
    }
    if !named.is_empty() {
        let adds = say!(
            " Of this, reflections add {decibels} dB: {faces}.",
            decibels = loamline_terms::fixed(x.reflected_db, 1),
            faces = one_after_another(named)
        );
        more = more + adds;
    }
    let worse_db = x.in_step_db - x.energy_db;
    if job.document().brief.neighbour_in_step == InStep::Worst {
        let in_step = say!(
            " Loudspeakers on one programme count as in step; in energy it is {level} {unit}.",
            level = loamline_terms::fixed(x.energy_db, 1),
            unit = unit
        );
        more = more + in_step;
    } else if x.quantity == LimitQuantity::Octave63Hz && worse_db >= NOT_NAMED_DB {
        let in_step = say!(
            " Were all loudspeakers on one programme in step, it would be {level} {unit}.",
            level = loamline_terms::fixed(x.in_step_db, 1),
            unit = unit
        );
        more = more + in_step;
    }
    more
}

/// The level at a neighbour beside its limit: `63.1 dBA against a limit of 45 dBA`.
fn numbers(x: &Judgement, unit: &'static str) -> Sentence {
    let (level, limit) = (loamline_terms::fixed(x.level_db, 1), loamline_terms::fixed(x.limit_db, 0));
    match x.quantity {
        LimitQuantity::TotalDba => {
            say!(
                "{level} {unit} against a limit of {limit} {unit}",
                level = level,
                limit = limit,
                unit = unit
            )
        }
        LimitQuantity::Octave63Hz => say!(
            "the 63 Hz octave at {level} {unit} against a limit of {limit} {unit}",
            level = level,
            limit = limit,
            unit = unit
        ),
    }
}

/// What is said of a limit at a neighbour that is exceeded, or nearly so.
pub(crate) fn finding(job: &Job, id: &str, when: &Sentence, j: &Judged) -> Option<Finding> {
    let place = neighbour_words(id, job.document().neighbours.get(id)?, j.floor.as_deref());
    let x = &j.judgement;
    let unit = match x.quantity {
        LimitQuantity::TotalDba => "dBA",
        LimitQuantity::Octave63Hz => "dB",
    };
    let (numbers, more) = (numbers(x, unit), in_it(job, j, unit));
    let margin = job.document().brief.neighbour_margin_db;
    let (severity, sentence) = match x.verdict {
        Verdict::Exceeds => {
            let what = say!(
                "{place} {when} is {over} dB over: {numbers}.{more}",
                place = place,
                when = when.clone(),
                over = loamline_terms::fixed(-x.margin_db, 1),
                numbers = numbers,
                more = more
            );
            (Severity::Error, what)
        }
        Verdict::WithinUncertainty => {
            let what = say!(
                "{place} {when} is below the limit by {below} dB, less than the uncertainty of {uncertainty} dB: {numbers}; \
                 {chance} % chance of being over.{more}",
                place = place,
                when = when.clone(),
                below = loamline_terms::fixed(x.margin_db, 1),
                uncertainty = loamline_terms::fixed(x.standard_uncertainty_db, 0),
                numbers = numbers,
                chance = loamline_terms::fixed(100.0 * x.chance_above, 0),
                more = more
            );
            (Severity::Warning, what)
        }
        Verdict::Fine if x.margin_db < margin => {
            let what = say!(
                "{place} {when} keeps {below} dB of the {margin} dB margin asked: {numbers}.{more}",
                place = place,
                when = when.clone(),
                below = loamline_terms::fixed(x.margin_db, 1),
                margin = loamline_terms::fixed(margin, 0),
                numbers = numbers,
                more = more
            );
            (Severity::Warning, what)
        }
        Verdict::Fine => return None,
    };
    let mend = say!(
        "Loudspeaker {loudspeaker} matters most there ({alone} {unit} alone; {without} {unit} without it): turn it away, lower \
         its tap, or move it.",
        loudspeaker = &j.loudest_loudspeaker,
        alone = loamline_terms::fixed(x.loudest_source_db, 1),
        without = loamline_terms::fixed(x.without_loudest_db, 1),
        unit = unit
    );
    Some(Finding::new(severity, Subject::new("neighbours", id), sentence).mend(mend))
}
