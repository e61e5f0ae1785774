//! The limits of the brief at the neighbours, as they are measured against and written down.

use crate::finding::{Finding, Severity, Subject};
use crate::names::neighbour_words;
use loamline_model::Job;
use loamline_model::document::{Brief, Neighbour};
use loamline_terms::{Hours, Sentence, say};

/// When a limit holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// By day, another one by night.
    Day,
    /// By night, the system turned down as the brief says.
    Night,
    /// By day and, nothing else being said, by night.
    Always,
}

impl When {
    /// In words, with the hours where the brief says them: "by night (22:00 to 07:00)".
    pub fn said(self, brief: &Brief) -> String {
        self.told(brief).to_string()
    }

    /// The same, to be said in any language.
    pub fn told(self, brief: &Brief) -> Sentence {
        let in_brackets = |hours: Option<Hours>| {
            let hours = hours.map(|hours| hours.to_string());
            match hours.as_deref().and_then(|hours| hours.split_once(" to ")) {
                Some((from, until)) => say!(" ({from} to {until})", from = from, until = until),
                None => Sentence::default(),
            }
        };
        match self {
            Self::Day => say!("by day{hours}", hours = in_brackets(brief.night_hours.map(Hours::others))),
            Self::Night => say!("by night{hours}", hours = in_brackets(brief.night_hours)),
            Self::Always => say!("by day and night{hours}", hours = ""),
        }
    }
}

/// A place at a neighbour as tables and forms name it: its id, and the floor's where it has several.
pub fn neighbour_place(neighbour: &str, floor: Option<&str>) -> String {
    floor.map_or_else(|| neighbour.to_owned(), |floor| format!("{neighbour}, floor {floor}"))
}

/// What is said where a limit is quieter by night and nobody said when that is.
pub(crate) fn hours_finding(job: &Job) -> Option<Finding> {
    let d = job.document();
    let quieter = |n: &Neighbour| n.night_dba.is_some() || n.night_63hz_db.is_some();
    let (id, n) = d.neighbours.iter().find(|(_, n)| quieter(n) && d.brief.night_hours.is_none())?;
    let sentence = say!(
        "{place} has a limit of its own by night, and the brief does not say when that is.",
        place = neighbour_words(id, n, None)
    );
    let mend =
        say!("Say in the brief from when to when it is night, as was agreed or as the by-laws have it.");
    Some(Finding::new(Severity::Note, Subject::new("neighbours", id), sentence).mend(mend))
}

/// A limit at a neighbour.
#[derive(Debug, Clone, PartialEq)]
pub struct AskedLimit<'j> {
    /// Id of the neighbour.
    pub neighbour: &'j str,
    /// The floor, where it has several.
    pub floor: Option<&'j str>,
    /// When it holds.
    pub when: When,
    /// Whether it limits the 63 Hz octave, unweighted; else LAeq.
    pub octave_63_hz: bool,
    /// Highest level allowed, dBA or dB.
    pub limit_db: f64,
    /// How far the brief turns the system down when it holds, dB.
    pub turned_down_db: f64,
}

/// Every limit of the brief, a neighbour's side by side.
pub fn asked_limits(job: &Job) -> Vec<AskedLimit<'_>> {
    let d = job.document();
    let mut all = Vec::new();
    for (neighbour, n) in &d.neighbours {
        let asked = [(false, Some(n.day_dba), n.night_dba), (true, n.day_63hz_db, n.night_63hz_db)];
        let floors = n.levels_m().into_iter().map(|l| l.0);
        for (floor, (octave_63_hz, day, night)) in floors.flat_map(|f| asked.map(|a| (f, a))) {
            let of = |limit_db: f64, when: When, turned_down_db: f64| AskedLimit {
                neighbour,
                floor,
                when,
                octave_63_hz,
                limit_db,
                turned_down_db,
            };
            let by_day = if night.is_some() { When::Day } else { When::Always };
            all.extend(day.map(|l| of(l, by_day, 0.0)));
            all.extend(night.map(|l| of(l, When::Night, d.brief.night_turn_down_db)));
        }
    }
    all
}
