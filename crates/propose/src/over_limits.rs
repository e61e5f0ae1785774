//! A brief that the neighbours' limits keep from being met: by how much they are overrun, and what would do.

use crate::edits::set;
use crate::error::BriefProblem;
use crate::farther::{Kind, least};
use crate::make::Maker;
use crate::types::{Choice, LevelBand};
use loamline_model::Edit;
use loamline_study::{area_words, neighbour_place, neighbour_within, neighbour_words};
use loamline_terms::pointer::escape;
use loamline_terms::{Sentence, each_of, say};
use serde_json::json;

/// How far a target is lowered and a limit raised at most, dB, and the lowest target: below that nothing is heard outdoors.
pub(crate) const TARGET_MOST_DB: usize = 25;
const RAISED_MOST_DB: usize = 40;
const LOWEST_TARGET_DBA: f64 = 30.0;
/// Highest limit a brief may state, dB.
const HIGHEST_LIMIT_DB: f64 = 120.0;
/// Farther than this a system is not turned down at night, dB: hardly anything is heard then.
const TURNED_DOWN_MOST_DB: f64 = 30.0;
/// Other loudspeakers may do with so much less than those a limit was overrun by, dB, about.
const LESS_DB: usize = 3;

/// What stands in the way at the neighbours.
pub(crate) struct OverLimits {
    /// The neighbour whose limit is overrun most.
    pub id: String,
    /// By how much, dB; none of it where this is below 0.
    pub over_db: f64,
    pub sentence: Sentence,
    /// What would do.
    pub changes: Vec<Kind>,
}

/// A limit as a neighbour states it.
struct Stated {
    neighbour: String,
    /// The neighbour as sentences name it.
    named: Sentence,
    key: &'static str,
    night: bool,
    octave_63: bool,
    limit_db: f64,
    /// By how much it is overrun, with the margin of the brief; below 0 what is left.
    over_db: f64,
}

impl Stated {
    /// Another number in its place.
    fn words(&self, limit_db: f64) -> Sentence {
        let limit = loamline_terms::fixed(limit_db, 0);
        match (self.octave_63, self.night) {
            (true, true) => say!("{limit} dB in the 63 Hz octave at night", limit = limit),
            (true, false) => say!("{limit} dB in the 63 Hz octave by day", limit = limit),
            (false, true) => say!("{limit} dBA at night", limit = limit),
            (false, false) => say!("{limit} dBA by day", limit = limit),
        }
    }
}

/// What a choice that no limit holds back overruns; none where nobody has a limit.
pub(crate) fn over_limits(
    maker: &Maker<'_>,
    free: &Choice,
    band: &LevelBand,
    can: impl Fn(&LevelBand) -> Result<Choice, BriefProblem>,
) -> Option<OverLimits> {
    let site = &maker.site;
    // Which limit the free choice overruns most, and whose sound it is.
    let rows = site.exact(&site.coarse, &free.poses, None).unwrap_or_default();
    let share = |l: usize, z: Option<usize>| -> f64 {
        let of = free.poses.iter().zip(&rows).filter(|(p, _)| z.is_none_or(|z| p.zone == z));
        of.map(|(p, r)| free.gains.of(p) * p.tap_w * f64::from(r.limits[l])).sum()
    };
    let limits = (0..site.limits.len()).filter(|&l| site.limits[l].neighbour);
    let l = limits.max_by(|&a, &b| share(a, None).total_cmp(&share(b, None)))?;
    let over_db = 10.0 * share(l, None).max(1e-9).log10();
    let zones = 0..site.zones.len();
    let z = zones.max_by(|&a, &b| share(l, Some(a)).total_cmp(&share(l, Some(b)))).unwrap_or(0);
    let stated = stated(maker, free, |l| share(l, None));
    let most_db = stated.iter().map(|s| s.over_db).fold(f64::NEG_INFINITY, f64::max).max(over_db);
    let limit = &site.limits[l];
    // Where only the night's limits bind, what is played by day may stay.
    let by_night = limit.night && stated.iter().all(|s| s.night || s.over_db <= 0.0);
    let turned_down = by_night.then(|| turned_down(maker, most_db));
    let changes = turned_down.into_iter().chain([lowered(maker, band, (z, most_db), can), raised(&stated)]);
    Some(OverLimits {
        id: limit.id.clone(),
        over_db,
        sentence: sentence(maker, l, z, over_db),
        changes: changes.collect(),
    })
}

fn sentence(maker: &Maker<'_>, l: usize, z: usize, over_db: f64) -> Sentence {
    let (site, limit) = (&maker.site, &maker.site.limits[l]);
    let d = site.job.document();
    let zone = &site.zones[z];
    let what = match d.brief.night_hours.filter(|_| limit.night) {
        Some(hours) => {
            let (from, until) = hours.ends();
            say!("night ({from} to {until}) limit", from = from, until = until)
        }
        None if limit.night => say!("night limit"),
        None => say!("day limit"),
    };
    let what = if limit.octave_63 { say!("{limit} of the 63 Hz octave", limit = what) } else { what };
    let floor = limit.floor.as_deref();
    let place = match d.neighbours.get(&limit.id) {
        Some(n) => neighbour_within(&limit.id, n, floor),
        None => neighbour_place(&limit.id, floor).into(),
    };
    let margin = d.brief.neighbour_margin_db;
    let kept = if margin > 0.0 {
        say!(", which counts the margin of {margin} dB", margin = loamline_terms::fixed(margin, 0))
    } else {
        Sentence::default()
    };
    say!(
        "{area} at {target} dBA puts {place} {over} dB over its {what} of {limit} {unit}{kept}.",
        area = area_words(zone.id, zone.area),
        target = loamline_terms::fixed(zone.area.target_dba, 0),
        place = place,
        over = loamline_terms::fixed(over_db, 1),
        what = what,
        limit = loamline_terms::fixed(limit.stated_db, 0),
        unit = if limit.octave_63 { "dB" } else { "dBA" },
        kept = kept
    )
}

/// Every limit that is stated, with what a choice puts there: `share` is that of a limit, subwoofers and what is pinned left out.
fn stated(maker: &Maker<'_>, free: &Choice, share: impl Fn(usize) -> f64) -> Vec<Stated> {
    let site = &maker.site;
    let d = site.job.document();
    let (margin_db, down_db) = (d.brief.neighbour_margin_db, d.brief.night_turn_down_db);
    let pinned = |l: usize| -> f64 {
        let all = maker.fixed.poses.iter().zip(&maker.fixed.coarse);
        all.map(|(p, r)| free.gains.of(p) * p.tap_w * f64::from(r.limits[l])).sum()
    };
    // What is heard by day, dB.
    let heard_db = |l: usize| {
        let shares = share(l) + pinned(l) + maker.fixed.limits.get(l).copied().unwrap_or(0.0);
        10.0 * (shares.max(1e-9) * site.limits[l].energy).log10()
    };
    let mut all = Vec::new();
    for (id, n) in &d.neighbours {
        let most_db = |octave_63: bool| {
            let own = (0..site.limits.len()).filter(|&l| {
                let limit = &site.limits[l];
                limit.neighbour && limit.id == *id && limit.octave_63 == octave_63
            });
            own.map(heard_db).fold(f64::NEG_INFINITY, f64::max)
        };
        let (whole_db, low_db) = (most_db(false), most_db(true));
        for (key, limit_db, day_db, night, octave_63) in [
            ("day", Some(n.day_dba), whole_db, false, false),
            ("night", n.night_dba, whole_db, true, false),
            ("day_63hz", n.day_63hz_db, low_db, false, true),
            ("night_63hz", n.night_63hz_db, low_db, true, true),
        ] {
            let Some(limit_db) = limit_db else { continue };
            let heard_db = if night { day_db - down_db } else { day_db };
            all.push(Stated {
                neighbour: id.clone(),
                named: neighbour_words(id, n, None),
                key,
                night,
                octave_63,
                limit_db,
                over_db: heard_db + margin_db - limit_db,
            });
        }
    }
    all
}

/// Turned down farther at night.
fn turned_down(maker: &Maker<'_>, over_db: f64) -> Kind {
    let now_db = maker.site.job.document().brief.night_turn_down_db;
    let first_db = now_db.floor() + 1.0;
    let all = (0..).map(|k: u32| first_db + f64::from(k)).take_while(|d| *d <= TURNED_DOWN_MOST_DB);
    let all = all.map(|d| {
        let told = say!("Turned down by {down} dB at night it is met.", down = loamline_terms::fixed(d, 0));
        (told, set("/brief/night_turn_down", json!(d)))
    });
    let should = steps_of(now_db + over_db - first_db);
    Kind::Farther { all: all.collect(), may: should.saturating_sub(LESS_DB), should }
}

/// How many whole decibels beyond the first of some steps so much is.
fn steps_of(db: f64) -> usize {
    (db - 1e-9).ceil().max(0.0) as usize
}

/// The target of the area that is heard most lowered.
fn lowered(
    maker: &Maker<'_>,
    band: &LevelBand,
    (z, over_db): (usize, f64),
    can: impl Fn(&LevelBand) -> Result<Choice, BriefProblem>,
) -> Kind {
    let met = |db: usize| {
        let mut b = band.clone();
        b.lower_db[z] = db as f64;
        can(&b).is_ok_and(|c| c.meets)
    };
    // What plays lower by as much as it is over is within the limit.
    let sure = steps_of(over_db - 1.0);
    let quick = least(TARGET_MOST_DB, met).map(|db| db - 1);
    let may = quick.unwrap_or(sure.saturating_sub(LESS_DB));
    Kind::Farther { all: lower_targets(maker, z), may, should: may.max(sure) }
}

/// Lower targets of an area, decibel by decibel.
pub(crate) fn lower_targets(maker: &Maker<'_>, z: usize) -> Vec<(Sentence, Edit)> {
    let zone = &maker.site.zones[z];
    let named = area_words(zone.id, zone.area);
    let path = format!("/areas/{}/target", escape(zone.id));
    let meets = |t: f64| {
        say!("{area} at {target} dBA meets it.", area = named.clone(), target = loamline_terms::fixed(t, 0))
    };
    (1..=TARGET_MOST_DB)
        .map(|db| zone.area.target_dba - db as f64)
        .take_while(|t| *t >= LOWEST_TARGET_DBA)
        .map(|t| (meets(t), set(&path, json!(t))))
        .collect()
}

/// Limits raised: the one overrun most first, others once it is no more over than they are, so that each is raised as far as it
/// takes.
fn raised(stated: &[Stated]) -> Kind {
    let most_db = stated.iter().map(|s| s.over_db).fold(f64::NEG_INFINITY, f64::max);
    let all: Vec<(Sentence, Edit)> = (1..=RAISED_MOST_DB)
        .map(|by| {
            let up = |s: &Stated| s.over_db - most_db + by as f64;
            let over = stated.iter().filter(|s| up(s) > 1e-9);
            over.map(|s| (s, (s.limit_db + up(s) - 1e-9).ceil())).collect::<Vec<_>>()
        })
        .take_while(|limits| limits.iter().all(|(_, db)| *db <= HIGHEST_LIMIT_DB))
        .map(|limits| one_raised(&limits))
        .collect();
    let should = steps_of(most_db - 1.0);
    Kind::Farther { all, may: should.saturating_sub(LESS_DB), should }
}

/// Limits with the numbers they are raised to, as a sentence and an edit.
fn one_raised(limits: &[(&Stated, f64)]) -> (Sentence, Edit) {
    let mut told: Vec<(&Sentence, Vec<Sentence>)> = Vec::new();
    let mut operations = Vec::new();
    for (s, db) in limits {
        let path = format!("/neighbours/{}/{}", escape(&s.neighbour), s.key);
        operations.extend(set(&path, json!(db)).operations);
        match told.iter_mut().find(|(named, _)| **named == s.named) {
            Some((_, parts)) => parts.push(s.words(*db)),
            None => told.push((&s.named, vec![s.words(*db)])),
        }
    }
    let each = told.into_iter().map(|(named, parts)| match parts.len() {
        1 => say!("{place}: a limit of {limit}", place = named.clone(), limit = each_of(parts)),
        _ => say!("{place}: limits of {limits}", place = named.clone(), limits = each_of(parts)),
    });
    let joined = |all: Sentence, one: Sentence| if all.is_empty() { one } else { all + "; " + one };
    let each = each.fold(Sentence::default(), joined);
    let told = match limits.len() {
        1 => say!("{limit} meets it.", limit = each),
        _ => say!("{limits} meet it.", limits = each),
    };
    (told, Edit { operations })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limit(key: &'static str, limit_db: f64, over_db: f64) -> Stated {
        let (night, octave_63) = (key.starts_with("night"), key.ends_with("63hz"));
        let (neighbour, named) = ("flat".to_owned(), Sentence::from("Flat above"));
        Stated { neighbour, named, key, night, octave_63, limit_db, over_db }
    }

    /// By hand: a night's limit of 46 dBA overrun by 9.9 dB and a day's of 58 dBA by 7.9 dB are met at 56 and 66 dBA.
    #[test]
    fn each_limit_is_raised_as_far_as_it_takes() {
        let kind = raised(&[limit("day", 58.0, 7.9), limit("night", 46.0, 9.9)]);
        let Kind::Farther { all, may, should } = kind else { panic!("a limit may be raised ever farther") };
        assert_eq!((may, should), (6, 9));
        assert_eq!(all[should].0, "Flat above: limits of 66 dBA by day and 56 dBA at night meet it.");
        let both = [set("/neighbours/flat/day", json!(66.0)), set("/neighbours/flat/night", json!(56.0))];
        assert_eq!(all[should].1, Edit { operations: both.into_iter().flat_map(|e| e.operations).collect() });
        assert_eq!(
            all[0].0, "Flat above: a limit of 47 dBA at night meets it.",
            "the day's is not over by as much"
        );
        assert_eq!(all.len(), RAISED_MOST_DB);
        let Kind::Farther { all, .. } = raised(&[limit("day_63hz", 110.5, 4.0)]) else { panic!("the same") };
        assert_eq!(all[0].0, "Flat above: a limit of 112 dB in the 63 Hz octave by day meets it.");
        assert_eq!(all.len(), 9, "no limit above 120 dB");
    }
}
