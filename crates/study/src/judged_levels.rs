//! Sound levels of visits, held against what was asked where they were taken: the level wanted in a listening area, the limit at
//! a neighbour.
//!
//! - In an area a level is as wanted within what the area allows about its target. What was measured there turned down as by
//!   night is held against nothing: nobody says what is wanted then.
//! - At a neighbour a level is kept up to the limit of the day; with everything turned down as by night, up to that of the night
//!   where there is one.
//! - A level stands until the same is measured again at the same place: findings are of levels that stand.

use crate::asked_limits::When;
use crate::boundary::NeighbourLevels;
use crate::finding::{Finding, Severity, Subject};
use crate::levels::LevelsReport;
use crate::names::{area_words, neighbour_words};
use indexmap::IndexMap;
use loamline_acoustics::LimitQuantity;
use loamline_model::Job;
use loamline_model::document::{MeasuredLevel, Visit};
use loamline_terms::{Sentence, say};
use serde::Serialize;
use std::fmt::Display;

/// Levels nearer to what is asked for than this are as asked for, dB: sums of decimals are none.
const ROUNDING_DB: f64 = 1e-9;

/// A sound level of a visit with what is to be said of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct JudgedLevel {
    /// The visit.
    pub visit: String,
    /// Its day.
    pub date: String,
    /// Id of the level.
    pub level: String,
    /// Listening area it was measured in.
    pub area: Option<String>,
    /// Neighbour it was measured at.
    pub neighbour: Option<String>,
    /// Floor of the neighbour, where it says one.
    pub floor: Option<String>,
    /// Whether everything was turned down as it is by night.
    pub night: bool,
    /// Whether it is of the 63 Hz octave, unweighted; else LAeq.
    pub octave_63_hz: bool,
    /// What was measured, dBA or dB.
    pub measured_db: f64,
    /// The level wanted in the area, or the highest allowed at the neighbour, dBA or dB.
    pub asked_db: f64,
    /// Of an area, how far from it a place may be, dB.
    pub within_db: Option<f64>,
    /// Whether it is as it was asked for.
    pub kept: bool,
    /// Whether the same was measured again later.
    pub superseded: bool,
    /// The verdict in a few words: `as wanted`, `12.0 dB louder than wanted`, `5.0 dB over the limit of 55 dBA`.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub verdict: Sentence,
}

impl JudgedLevel {
    /// How far it lies above what is wanted or allowed, dB; negative below.
    #[must_use]
    pub fn over_db(&self) -> f64 {
        self.measured_db - self.asked_db
    }

    /// Whether another is of the same at the same place.
    #[must_use]
    pub fn is_of_same(&self, other: &Self) -> bool {
        (&self.area, &self.neighbour, &self.floor) == (&other.area, &other.neighbour, &other.floor)
            && (self.night, self.octave_63_hz) == (other.night, other.octave_63_hz)
    }

    fn put_into_words(&mut self) {
        let off = loamline_terms::fixed(self.over_db().abs(), 1);
        self.verdict = match (self.kept, self.within_db) {
            (true, Some(_)) => say!("as wanted"),
            (true, None) => say!("within the limit of {limit}", limit = self.in_words(self.asked_db)),
            (false, Some(_)) if self.over_db() > 0.0 => say!("{off} dB louder than wanted", off = off),
            (false, Some(_)) => say!("{off} dB quieter than wanted", off = off),
            (false, None) => {
                let limit = self.in_words(self.asked_db);
                say!("{off} dB over the limit of {limit}", off = off, limit = limit)
            }
        };
    }

    /// A level of its kind with its unit; what was asked for has the digits it was written with.
    fn in_words(&self, db: impl Display) -> String {
        format!("{db} {}", if self.octave_63_hz { "dB" } else { "dBA" })
    }

    /// The same of what was measured or worked out.
    fn to_a_tenth(&self, db: f64) -> String {
        self.in_words(format_args!("{db:.1}"))
    }
}

/// Every sound level of every visit that something is asked of, the oldest visit first.
#[must_use]
pub fn judged_levels(job: &Job) -> Vec<JudgedLevel> {
    let mut order: Vec<(&String, &Visit)> = job.document().visits.iter().collect();
    order.sort_by(|a, b| a.1.date.cmp(&b.1.date));
    let mut all: Vec<JudgedLevel> = Vec::new();
    for (id, visit) in order {
        for (key, taken) in &visit.levels {
            for (octave_63_hz, measured) in [(false, taken.level_dba), (true, taken.octave_63hz_db)] {
                let Some(measured_db) = measured else { continue };
                let Some((asked_db, within_db)) = asked(job, taken, octave_63_hz) else { continue };
                let over_db = measured_db - asked_db;
                let kept = within_db.map_or(over_db, |within| over_db.abs() - within) <= ROUNDING_DB;
                let mut one = JudgedLevel {
                    visit: id.clone(),
                    date: visit.date.clone(),
                    level: key.clone(),
                    area: taken.area.clone(),
                    neighbour: taken.neighbour.clone(),
                    floor: taken.floor.clone(),
                    night: taken.night,
                    octave_63_hz,
                    measured_db,
                    asked_db,
                    within_db,
                    kept,
                    superseded: false,
                    verdict: Sentence::default(),
                };
                one.put_into_words();
                all.push(one);
            }
        }
    }
    for k in 0..all.len() {
        let again = all[k + 1..].iter().any(|later| later.is_of_same(&all[k]));
        all[k].superseded = again;
    }
    all
}

/// What is asked where a level was taken: the level wanted with what is allowed about it, or the limit alone.
fn asked(job: &Job, taken: &MeasuredLevel, octave_63_hz: bool) -> Option<(f64, Option<f64>)> {
    let d = job.document();
    if let Some(area) = taken.area.as_ref().and_then(|id| d.areas.get(id)) {
        return (!taken.night && !octave_63_hz).then_some((area.target_dba, Some(area.within_db)));
    }
    let n = d.neighbours.get(taken.neighbour.as_ref()?)?;
    let (day, night) =
        if octave_63_hz { (n.day_63hz_db, n.night_63hz_db) } else { (Some(n.day_dba), n.night_dba) };
    let limit_db = if taken.night { night.or(day) } else { day };
    Some((limit_db?, None))
}

/// What was worked out beside which a level is told, where it was.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct WorkedOut<'h> {
    /// Levels in the areas.
    pub(crate) areas: Option<&'h LevelsReport>,
    /// Levels at the neighbours.
    pub(crate) neighbours: Option<&'h IndexMap<String, NeighbourLevels>>,
}

/// Findings of levels that stand and are not as they were asked for.
pub(crate) fn level_findings(job: &Job, worked_out: WorkedOut<'_>) -> Vec<Finding> {
    let all = judged_levels(job);
    let told = all.iter().filter(|l| !l.kept && !l.superseded);
    told.filter_map(|l| match &l.area {
        Some(area) => of_area(job, area, l, worked_out),
        None => of_neighbour(job, l.neighbour.as_ref()?, l, worked_out),
    })
    .collect()
}

/// `; 61.2 dBA was worked out`, at the end of a sentence; nothing where it was not.
fn beside(l: &JudgedLevel, expected_db: Option<f64>) -> Sentence {
    match expected_db.filter(|db| *db > 0.0) {
        Some(db) => say!("; {level} was worked out", level = l.to_a_tenth(db)),
        None => Sentence::default(),
    }
}

fn of_area(job: &Job, id: &str, l: &JudgedLevel, worked_out: WorkedOut<'_>) -> Option<Finding> {
    let name = area_words(id, job.document().areas.get(id)?);
    let expected = worked_out.areas.and_then(|report| report.areas.get(id));
    let (off, wanted) = (loamline_terms::fixed(l.over_db().abs(), 1), l.asked_db.to_string());
    let (level, within) = (l.to_a_tenth(l.measured_db), l.within_db?.to_string());
    let more = beside(l, expected.map(|area| area.statistics.mean_dba));
    let (sentence, mend) = if l.over_db() > 0.0 {
        let sentence = say!(
            "{area}: {level} was measured on {date}, {off} dB above the {wanted} dBA wanted, give or take {within} dB{more}.",
            area = name,
            level = level,
            date = &l.date,
            off = off,
            wanted = wanted,
            within = within,
            more = more
        );
        (sentence, say!("Turn its channels down, or lower the taps; then measure again."))
    } else {
        let sentence = say!(
            "{area}: {level} was measured on {date}, {off} dB below the {wanted} dBA wanted, give or take {within} dB{more}.",
            area = name,
            level = level,
            date = &l.date,
            off = off,
            wanted = wanted,
            within = within,
            more = more
        );
        (
            sentence,
            say!(
                "Look for loudspeakers that are silent, taps and gains that are set lower; then measure again."
            ),
        )
    };
    Some(Finding::new(Severity::Warning, Subject::new("areas", id), sentence).mend(mend))
}

/// A warning and no error: whatever else is heard there is in what a meter reads.
fn of_neighbour(job: &Job, id: &str, l: &JudgedLevel, worked_out: WorkedOut<'_>) -> Option<Finding> {
    let d = job.document();
    let n = d.neighbours.get(id)?;
    let own_night = if l.octave_63_hz { n.night_63hz_db } else { n.night_dba };
    let when = match (own_night, l.night) {
        (None, _) => When::Always,
        (Some(_), true) => When::Night,
        (Some(_), false) => When::Day,
    };
    let measured = l.to_a_tenth(l.measured_db);
    let level: Sentence =
        if l.octave_63_hz { say!("{level} in the 63 Hz octave", level = measured) } else { measured.into() };
    let sentence = say!(
        "{place}: {level} was measured on {date}, {over} dB over the limit of {limit} {when}{more}.",
        place = neighbour_words(id, n, l.floor.as_deref()),
        level = level,
        date = &l.date,
        over = loamline_terms::fixed(l.over_db(), 1),
        limit = l.in_words(l.asked_db),
        when = when.told(&d.brief),
        more = beside(l, expected_at_neighbour(worked_out, id, l))
    );
    let mend = say!(
        "Measure there again with everything off, to know how much of it is the system's; then turn it down, or turn away what \
         is loudest there."
    );
    Some(Finding::new(Severity::Warning, Subject::new("neighbours", id), sentence).mend(mend))
}

/// What was worked out for a place at a neighbour; of several floors the loudest, where the level does not say which.
fn expected_at_neighbour(worked_out: WorkedOut<'_>, id: &str, l: &JudgedLevel) -> Option<f64> {
    let levels = worked_out.neighbours?.get(id)?;
    let quantity = if l.octave_63_hz { LimitQuantity::Octave63Hz } else { LimitQuantity::TotalDba };
    let judged = if l.night { &levels.night } else { &levels.day };
    judged
        .iter()
        .filter(|j| j.judgement.quantity == quantity && (l.floor.is_none() || j.floor == l.floor))
        .map(|j| j.judgement.level_db)
        .reduce(f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job};

    /// A terrace of 68 dBA within 3 dB, a house above with 42 dBA by night, one to the west with 55 dBA by day.
    fn job(visits: &str) -> Job {
        let text = format!(
            "format = 1\n[job]\nname = \"Levels\"\n[areas.terrace]\nname = \"Terrace\"\ntarget = \"68 dBA\"\n\
             outline = [[0, 0], [4, 0], [4, 4], [0, 4]]\n\
             [neighbours.above]\nname = \"House above\"\nday = \"50 dBA\"\nnight = \"42 dBA\"\nday_63hz = \"60 dB\"\n\
             floors = {{ bedroom = {{ name = \"Bedroom\", height = 4 }} }}\npoints = [[40, 0]]\n\
             [neighbours.west]\nday = \"55 dBA\"\npoints = [[-40, 0]]\n{visits}"
        );
        read_job(&SourceFile::new("job.toml", text), &[]).unwrap_or_else(|e| panic!("{e}"))
    }

    fn told(visits: &str) -> Vec<String> {
        level_findings(&job(visits), WorkedOut::default())
            .into_iter()
            .map(|f| f.sentence.to_string())
            .collect()
    }

    /// Differences by hand: 43 - 42, 60 - 55, 80 - 68 and 68 - 64.
    #[test]
    fn a_level_over_its_limit_or_off_its_target_is_told_with_the_figures() {
        let found = told(
            "[visits.V1]\ndate = \"2026-05-02\"\nkind = \"handover\"\n\
             levels.a = { neighbour = \"above\", floor = \"bedroom\", level = \"43 dBA\", night = true }\n\
             levels.w = { neighbour = \"west\", level = \"60 dBA\" }\n\
             levels.t = { area = \"terrace\", level = \"80 dBA\" }\n",
        );
        assert_eq!(
            found,
            [
                "House above, Bedroom: 43.0 dBA was measured on 2026-05-02, 1.0 dB over the limit of 42 dBA by night.",
                "Neighbour west: 60.0 dBA was measured on 2026-05-02, 5.0 dB over the limit of 55 dBA by day and night.",
                "Terrace: 80.0 dBA was measured on 2026-05-02, 12.0 dB above the 68 dBA wanted, give or take 3 dB.",
            ]
        );
        let quiet = told(
            "[visits.V1]\ndate = \"2026-05-02\"\nlevels.t = { area = \"terrace\", level = \"64 dBA\" }\n",
        );
        assert!(quiet.len() == 1 && quiet[0].contains("4.0 dB below the 68 dBA wanted"), "{quiet:?}");
    }

    #[test]
    fn what_keeps_to_what_was_asked_is_not_told() {
        let found = told(
            "[visits.V1]\ndate = \"2026-05-02\"\n\
             levels.a = { neighbour = \"above\", level = \"42 dBA\", octave_63hz = \"60 dB\", night = true }\n\
             levels.d = { neighbour = \"above\", level = \"50 dBA\" }\n\
             levels.t = { area = \"terrace\", level = \"71 dBA\" }\n\
             levels.n = { area = \"terrace\", level = \"55 dBA\", night = true }\n",
        );
        assert_eq!(found, Vec::<String>::new());
    }

    #[test]
    fn a_level_stands_until_it_is_measured_again_and_the_octave_has_a_limit_of_its_own() {
        let found = told(
            "[visits.V2]\ndate = \"2026-06-02\"\nlevels.w = { neighbour = \"west\", level = \"54 dBA\" }\n\
             [visits.V1]\ndate = \"2026-05-02\"\nlevels.w = { neighbour = \"west\", level = \"60 dBA\" }\n\
             levels.a = { neighbour = \"above\", octave_63hz = \"61.5 dB\" }\n",
        );
        assert_eq!(
            found,
            [
                "House above: 61.5 dB in the 63 Hz octave was measured on 2026-05-02, 1.5 dB over the limit of 60 dB by day and night."
            ]
        );
        let job = job(
            "[visits.V1]\ndate = \"2026-05-02\"\nlevels.w = { neighbour = \"west\", level = \"60 dBA\" }\n",
        );
        assert_eq!(judged_levels(&job)[0].verdict.to_string(), "5.0 dB over the limit of 55 dBA");
    }
}
