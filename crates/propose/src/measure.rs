//! A built design held against the brief, and what each loudspeaker is for.

use crate::api::{Figures, ProposedArea, Reason};
use crate::build::Built;
use crate::error::BriefProblem;
use crate::types::SHARE_WITHIN;
use loamline_acoustics::{Points, SILENCE_DB, Weighting, db_from_energy, energy_from_db, energy_matrix};
use loamline_model::catalogue::LoudspeakerKind;
use loamline_study::{Severity, named};
use loamline_terms::{Sentence, Told, say, template};
use std::collections::BTreeMap;

/// A margin this much short is rounding, dB.
const ROUNDING_DB: f64 = 0.05;
/// Bass this much below what is asked is still as asked, dB.
pub(crate) const BASS_SHORT_DB: f64 = 1.0;

/// What a design gives and takes.
pub(crate) fn figures(built: &Built) -> Result<Figures, BriefProblem> {
    let heard = built.study.heard();
    let Some(levels) = &heard.levels else {
        return Err(BriefProblem::NothingHeard);
    };
    let lines = built.study.lines();
    let job = built.study.job();
    let d = job.document();
    let areas: indexmap::IndexMap<String, ProposedArea> = levels
        .areas
        .iter()
        .map(|(id, a)| {
            let s = &a.statistics;
            let figures = ProposedArea {
                target_dba: a.target_dba,
                mean_dba: s.mean_dba,
                share_within: s.share_within,
                spread_db: s.spread_db,
                bass_over_mid_db: s.bass_over_mid_db,
                bass_wanted_db: d.areas.get(id).and_then(|x| x.bass_db),
            };
            (id.clone(), figures)
        })
        .collect();
    let margins = heard.neighbours.values().flat_map(|n| n.day.iter().chain(&n.night));
    let neighbour = margins.map(|j| j.judgement.margin_db).reduce(f64::min);
    let subwoofers = job.loudspeakers().filter(|l| l.model.kind == LoudspeakerKind::Subwoofer).count();
    let watts = job.loudspeakers().map(|l| match l.placed.tap_w {
        Some(w) => w,
        None => lines.loudspeakers.get(l.id).map_or(0.0, |a| a.power_1khz_w),
    });
    Ok(Figures {
        price: built.cost.total,
        net: built.cost.net,
        tax: built.cost.tax,
        rounding: built.cost.rounding,
        worst_share_within: areas.values().map(|a| a.share_within).fold(1.0, f64::min),
        worst_spread_db: areas.values().map(|a| a.spread_db).fold(0.0, f64::max),
        areas,
        neighbour_margin_db: neighbour,
        loudest_dba: levels.loudest.as_ref().map(|l| l.level_dba),
        loudspeakers: d.loudspeakers.len() - subwoofers,
        subwoofers,
        amplifiers: d.amplifiers.len(),
        watts: watts.sum(),
        cable_m: built.cost.cable_m,
        digging_m: built.cost.opened_m,
    })
}

/// What a built design misses.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Missed {
    /// Areas, by id, whose share within the band is too small.
    pub areas: Vec<String>,
    /// What they are short of together, as shares.
    pub share: f64,
    /// Most that a neighbour's margin is short, dB.
    pub neighbours_db: f64,
    /// Most that an area's bass is short, dB; 0 when none is.
    pub bass_db: f64,
    /// How many loudspeakers there are beyond those allowed.
    pub too_many: usize,
    /// Findings of severity error.
    pub errors: usize,
}

impl Missed {
    /// How far it is from the brief, for comparing two that miss it: a hundredth of an area counts like a tenth of a decibel
    /// at a neighbour.
    pub fn worse_by(&self) -> f64 {
        100.0 * self.share
            + 10.0 * self.neighbours_db
            + 5.0 * self.bass_db
            + 20.0 * (self.too_many + self.errors) as f64
    }

    pub fn nothing(&self) -> bool {
        self.areas.is_empty()
            && self.neighbours_db <= 0.0
            && self.bass_db <= 0.0
            && self.too_many == 0
            && self.errors == 0
    }
}

/// Holds a design against the brief.
pub(crate) fn missed(built: &Built, figures: &Figures) -> Missed {
    let errors = built.study.findings().iter().filter(|f| f.severity == Severity::Error).count();
    let brief = &built.study.job().document().brief;
    let margin = brief.neighbour_margin_db;
    let placed = figures.loudspeakers + figures.subwoofers;
    let short = figures.neighbour_margin_db.map_or(0.0, |m| margin - m);
    let low = figures
        .areas
        .values()
        .filter_map(|a| Some(a.bass_wanted_db? - a.bass_over_mid_db))
        .fold(0.0, f64::max);
    let ids = |test: &dyn Fn(&ProposedArea) -> bool| {
        figures.areas.iter().filter(|(_, a)| test(a)).map(|(id, _)| id.clone()).collect()
    };
    Missed {
        areas: ids(&|a| a.share_within < SHARE_WITHIN - 1e-9),
        share: figures.areas.values().map(|a| (SHARE_WITHIN - a.share_within).max(0.0)).sum(),
        neighbours_db: if short > ROUNDING_DB { short } else { 0.0 },
        bass_db: if low > BASS_SHORT_DB { low } else { 0.0 },
        too_many: brief.wishes.at_most.map_or(0, |n| placed.saturating_sub(n as usize)),
        errors,
    }
}

/// An area that loses no more than this share of its places keeps its share, people would say.
pub(crate) const SHARE_STAYS: f64 = 0.004;

/// Why a loudspeaker stays without which nothing seems to leave its band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Kept {
    /// Built without it, the design misses the brief.
    Brief,
    /// Built without it, the design is less even than was paid for.
    Evenness { spread_db: f64 },
    /// Built without it, the design costs no less.
    Price,
    /// Not built without it: so many others were.
    Untried { tried: usize },
    /// The row it stands in would be uneven.
    Row,
}

/// What each loudspeaker is for: what would be lost without it, energies added up; `kept` says why some stay.
pub(crate) fn reasons(built: &Built, kept: &BTreeMap<String, Kept>) -> Result<Vec<Reason>, BriefProblem> {
    let heard = built.study.heard();
    let (Some(sound), Some(levels)) = (&heard.sound, &heard.levels) else { return Ok(Vec::new()) };
    let job = built.study.job();
    let a = Weighting::A.band_gains_db().map(energy_from_db);
    // Bass: third octaves 25 to 160 Hz, by their places from 20 Hz on.
    let low: [f64; 31] = std::array::from_fn(|b| if (1..=9).contains(&b) { 1.0 } else { 0.0 });
    let is_sub = |tag: &str| job.loudspeaker(tag).is_some_and(|l| l.model.kind == LoudspeakerKind::Subwoofer);
    // Subwoofers are there for the areas that ask for bass, if any does.
    let asked = |id: &str| job.document().areas.get(id).is_some_and(|x| x.bass_db.is_some());
    let any_asked = levels.areas.keys().any(|id| asked(id));
    let mut best: Vec<Option<Reason>> = vec![None; sound.sources.len()];
    for (id, area) in &levels.areas {
        let places: Vec<_> = area.points.iter().map(|p| p.0).collect();
        let points = Points::new(&sound.scene, places)?;
        let matrix = energy_matrix(&sound.scene, &points)?;
        let energy = |p: usize, s: usize, w: &[f64; 31]| -> f64 {
            matrix.band_energies(p, s).iter().zip(w).map(|(e, g)| f64::from(*e) * g).sum()
        };
        let n = points.len();
        let all = 0..sound.sources.len();
        for weights in [&a, &low] {
            let rows: Vec<Vec<f64>> =
                (0..n).map(|p| all.clone().map(|s| energy(p, s, weights)).collect()).collect();
            let total: Vec<f64> = rows.iter().map(|r| r.iter().sum()).collect();
            let inside = |e: f64| (db_from_energy(e) - area.target_dba).abs() <= area.within_db;
            let bass = std::ptr::eq(weights, &low);
            if bass && any_asked && !asked(id) {
                continue;
            }
            for s in all.clone().filter(|s| is_sub(&sound.sources[*s]) == bass) {
                let (mut lost, mut most) = (0usize, 0.0f64);
                for p in 0..n {
                    let without = total[p] - rows[p][s];
                    let counts = std::ptr::eq(weights, &a);
                    lost += usize::from(counts && inside(total[p]) && !inside(without));
                    let drop = if without <= 0.0 {
                        99.0
                    } else {
                        db_from_energy(total[p]) - db_from_energy(without)
                    };
                    if total[p] > energy_from_db(SILENCE_DB) {
                        most = most.max(drop);
                    }
                }
                let share_lost = lost as f64 / n.max(1) as f64;
                let better =
                    best[s].as_ref().is_none_or(|b| (share_lost, most) > (b.share_lost, b.most_lost_db));
                if better {
                    let tag = sound.sources[s].clone();
                    let place = named(&area.name, template!("area {id}"), id);
                    let told = sentence(&tag, place, (share_lost, most), kept.get(&tag), bass);
                    let Told { sentence, spoken, .. } = Told::from(told);
                    best[s] = Some(Reason {
                        loudspeaker: tag,
                        area: id.clone(),
                        share_lost,
                        most_lost_db: most,
                        sentence,
                        spoken,
                    });
                }
            }
        }
    }
    Ok(best.into_iter().flatten().collect())
}

fn sentence(
    tag: &str,
    area: Sentence,
    (share, most_db): (f64, f64),
    kept: Option<&Kept>,
    bass: bool,
) -> Sentence {
    let most = loamline_terms::fixed(most_db, 1);
    if bass && most_db > 30.0 {
        return say!("Without {tag}, {area} has no bass.", tag = tag, area = area);
    }
    if bass {
        return say!(
            "Without {tag}, {area} loses up to {most} dB of its bass.",
            tag = tag,
            area = area,
            most = most
        );
    }
    if share > SHARE_STAYS {
        return say!(
            "Without {tag}, {share} % of {area} drops out of its band, by up to {most} dB.",
            tag = tag,
            share = loamline_terms::fixed(100.0 * share, 0),
            area = area,
            most = most
        );
    }
    let why = match kept {
        Some(Kept::Brief) => say!("a design made without it misses the brief"),
        Some(Kept::Evenness { spread_db }) => {
            say!(
                "a design made without it has a spread of {spread} dB",
                spread = loamline_terms::fixed(spread_db, 1)
            )
        }
        Some(Kept::Price) => say!("a design made without it costs no less"),
        Some(Kept::Untried { tried }) => {
            say!("a design without it was not made, after {count} without others", count = tried.to_string())
        }
        Some(Kept::Row) => say!("it keeps its row even"),
        None => say!("its share within the band stays"),
    };
    say!(
        "Without {tag}, {area} loses up to {most} dB; {why}.",
        tag = tag,
        area = area,
        most = most,
        why = why
    )
}
