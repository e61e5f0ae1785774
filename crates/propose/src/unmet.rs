//! What of a brief a design does not meet, in sentences.

use crate::api::{Constraint, Figures, UnmetWish};
use crate::attempt::Made;
use crate::build::Built;
use crate::measure::{BASS_SHORT_DB, Missed};
use crate::types::SHARE_WITHIN;
use loamline_model::Job;
use loamline_quotation::amount;
use loamline_study::{Severity, area_words, named};
use loamline_terms::{say, template};

/// Every wish of the brief that a design does not meet, and by how much.
pub(crate) fn unmet(job: &Job, made: &Made, budget: Option<f64>) -> Vec<UnmetWish> {
    unmet_of(job, (&made.built, &made.figures, &made.missed), budget)
}

/// The same of a design as it is built.
pub(crate) fn unmet_of(
    job: &Job,
    (built, f, missed): (&Built, &Figures, &Missed),
    budget: Option<f64>,
) -> Vec<UnmetWish> {
    let d = job.document();
    let mut all = of_areas(job, f);
    if missed.neighbours_db > 0.0 {
        all.extend(of_neighbours(built, d.brief.neighbour_margin_db));
    }
    if let Some(most) = d.brief.wishes.at_most.filter(|_| missed.too_many > 0) {
        let n = f.loudspeakers + f.subwoofers;
        let (n, most) = (n.to_string(), most.to_string());
        let sentence = match most.as_str() {
            "1" => say!("{count} loudspeakers, 1 is allowed.", count = n),
            _ => say!("{count} loudspeakers, {most} are allowed.", count = n, most = most),
        };
        all.push(UnmetWish::new(Constraint::AtMost, missed.too_many as f64, sentence));
    }
    if let Some(over) = budget.filter(|b| f.price > *b) {
        let money = |value: f64| amount(&d.about.currency, value);
        let by = f.price - over;
        let sentence = say!("{over} over the budget of {budget}.", over = money(by), budget = money(over));
        all.push(UnmetWish::new(Constraint::Budget, by, sentence));
    }
    let findings = built.study.findings();
    let errors = findings.iter().filter(|f| f.severity == Severity::Error);
    all.extend(errors.map(|f| UnmetWish::new(Constraint::Checks, 1.0, f.sentence.clone())));
    all
}

fn of_areas(job: &Job, f: &Figures) -> Vec<UnmetWish> {
    let mut all = Vec::new();
    for (id, a) in &f.areas {
        let Some(area) = job.document().areas.get(id) else { continue };
        let (named, within) = (area_words(id, area), area.within_db);
        if a.share_within < SHARE_WITHIN - 1e-9 {
            let sentence = say!(
                "{area}: {share} % lies within {within} dB of {target} dBA, {wanted} % is wanted; it plays {mean} dBA in the mean.",
                area = named.clone(),
                share = loamline_terms::fixed(100.0 * a.share_within, 0),
                within = loamline_terms::fixed(within, 1),
                target = loamline_terms::fixed(a.target_dba, 0),
                wanted = loamline_terms::fixed(100.0 * SHARE_WITHIN, 0),
                mean = loamline_terms::fixed(a.mean_dba, 1)
            );
            all.push(UnmetWish::new(Constraint::Area(id.clone()), SHARE_WITHIN - a.share_within, sentence));
        }
        let short = a.bass_wanted_db.map_or(0.0, |w| w - a.bass_over_mid_db);
        if short > BASS_SHORT_DB {
            let sentence = say!(
                "{area}: a bass of {reached} dB is reached, {wanted} dB is wanted: {short} dB short.",
                area = named,
                reached = format!("{:+.1}", a.bass_over_mid_db),
                wanted = format!("{:+.1}", a.bass_over_mid_db + short),
                short = loamline_terms::fixed(short, 1)
            );
            all.push(UnmetWish::new(Constraint::Area(id.clone()), short, sentence));
        }
    }
    all
}

fn of_neighbours(built: &Built, margin_db: f64) -> Vec<UnmetWish> {
    let heard = built.study.heard();
    let mut all = Vec::new();
    for (id, n) in &heard.neighbours {
        let least = n.day.iter().chain(&n.night).map(|j| j.judgement.margin_db).reduce(f64::min);
        let Some(least) = least.filter(|m| *m < margin_db - 0.05) else { continue };
        let by = margin_db - least;
        let place = named(&n.name, template!("Neighbour {id}"), id);
        let margin = loamline_terms::fixed(margin_db, 1);
        let sentence = if least < 0.0 {
            say!(
                "{place}: {over} dB over its limit; {margin} dB below it is wanted.",
                place = place,
                over = loamline_terms::fixed(-least, 1),
                margin = margin
            )
        } else {
            say!(
                "{place}: {below} dB below its limit, {margin} dB is wanted.",
                place = place,
                below = loamline_terms::fixed(least, 1),
                margin = margin
            )
        };
        all.push(UnmetWish::new(Constraint::Neighbour(id.clone()), by, sentence));
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::api::ProposedArea;
    use indexmap::IndexMap;
    use loamline_model::{JobFile, SourceFile, shipped_catalogue};

    /// An area has the name that findings call it by; the id stays with what is sent beside it.
    #[test]
    fn an_area_is_called_by_its_name() {
        let text = include_str!("../../../examples/guesthouse-garden/job.toml");
        let job = |text: &str| {
            let source = SourceFile::new("job.toml", text);
            JobFile::from_text(&source, shipped_catalogue().unwrap()).unwrap().job().clone()
        };
        let area = ProposedArea {
            target_dba: 70.0,
            mean_dba: 66.4,
            share_within: 0.5,
            spread_db: 3.0,
            bass_over_mid_db: -4.0,
            bass_wanted_db: Some(2.0),
        };
        let figures = Figures {
            price: 100.0,
            net: 100.0,
            tax: 0.0,
            rounding: 0.0,
            areas: IndexMap::from([("terrace".to_owned(), area)]),
            worst_share_within: 0.5,
            worst_spread_db: 3.0,
            neighbour_margin_db: None,
            loudest_dba: None,
            loudspeakers: 1,
            subwoofers: 0,
            amplifiers: 1,
            watts: 30.0,
            cable_m: 10.0,
            digging_m: 10.0,
        };
        let told = of_areas(&job(text), &figures);
        assert_eq!(told.len(), 2);
        for unmet in &told {
            assert!(unmet.sentence.starts_with("Dining terrace: "), "{}", unmet.sentence);
            assert_eq!(unmet.constraint, Constraint::Area("terrace".to_owned()));
        }
        let nameless = job(&text.replace("name = \"Dining terrace\"\n", ""));
        assert!(of_areas(&nameless, &figures)[0].sentence.starts_with("Area terrace: "));
    }
}
