//! What of a brief a design does not meet, in sentences.

use crate::api::{Constraint, Figures, UnmetWish};
use crate::attempt::Made;
use crate::measure::BASS_SHORT_DB;
use crate::types::SHARE_WITHIN;
use loamline_model::Job;
use loamline_quotation::decimals;
use loamline_study::Severity;

/// Every wish of the brief that a design does not meet, and by how much.
pub(crate) fn unmet(job: &Job, made: &Made, budget: Option<f64>) -> Vec<UnmetWish> {
    let (f, d) = (&made.figures, job.document());
    let mut all = of_areas(job, f);
    if made.missed.neighbours_db > 0.0 {
        all.extend(of_neighbours(made, d.brief.neighbour_margin_db));
    }
    if let Some(most) = d.brief.wishes.at_most.filter(|_| made.missed.too_many > 0) {
        let n = f.loudspeakers + f.subwoofers;
        all.push(UnmetWish {
            constraint: Constraint::AtMost,
            by: made.missed.too_many as f64,
            sentence: format!("{n} loudspeakers, {most} are allowed."),
        });
    }
    if let Some(over) = budget.filter(|b| f.price > *b) {
        let (currency, cents) = (&d.about.currency, decimals(&d.about.currency) as usize);
        let by = f.price - over;
        all.push(UnmetWish {
            constraint: Constraint::Budget,
            by,
            sentence: format!("{by:.cents$} {currency} over the budget of {over:.cents$} {currency}."),
        });
    }
    let findings = made.built.study.findings();
    let errors = findings.iter().filter(|f| f.severity == Severity::Error);
    all.extend(errors.map(|f| UnmetWish {
        constraint: Constraint::Checks,
        by: 1.0,
        sentence: f.sentence.to_string(),
    }));
    all
}

fn of_areas(job: &Job, f: &Figures) -> Vec<UnmetWish> {
    let mut all = Vec::new();
    for (id, a) in &f.areas {
        let within = job.document().areas.get(id).map_or(3.0, |x| x.within_db);
        if a.share_within < SHARE_WITHIN - 1e-9 {
            all.push(UnmetWish {
                constraint: Constraint::Area(id.clone()),
                by: SHARE_WITHIN - a.share_within,
                sentence: format!(
                    "{id}: {:.0} % lies within {within:.1} dB of {:.0} dBA, {:.0} % are wanted; it plays {:.1} dBA in the mean.",
                    100.0 * a.share_within,
                    a.target_dba,
                    100.0 * SHARE_WITHIN,
                    a.mean_dba
                ),
            });
        }
        let short = a.bass_wanted_db.map_or(0.0, |w| w - a.bass_over_mid_db);
        if short > BASS_SHORT_DB {
            all.push(UnmetWish {
                constraint: Constraint::Area(id.clone()),
                by: short,
                sentence: format!(
                    "{id}: a bass of {:+.1} dB is reached, {:+.1} dB is wanted: {short:.1} dB short.",
                    a.bass_over_mid_db,
                    a.bass_over_mid_db + short
                ),
            });
        }
    }
    all
}

fn of_neighbours(made: &Made, margin_db: f64) -> Vec<UnmetWish> {
    let heard = made.built.study.heard();
    let mut all = Vec::new();
    for (id, n) in &heard.neighbours {
        let least = n.day.iter().chain(&n.night).map(|j| j.judgement.margin_db).reduce(f64::min);
        let Some(least) = least.filter(|m| *m < margin_db - 0.05) else { continue };
        let by = margin_db - least;
        let sentence = if least < 0.0 {
            format!("{id}: {:.1} dB over its limit; {margin_db:.1} dB below it are wanted.", -least)
        } else {
            format!("{id}: {least:.1} dB below its limit, {margin_db:.1} dB are wanted.")
        };
        all.push(UnmetWish { constraint: Constraint::Neighbour(id.clone()), by, sentence });
    }
    all
}
