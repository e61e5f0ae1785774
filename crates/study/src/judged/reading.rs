//! A reading with what is to be said of it, in words as well.

use crate::measured::{Measured, measured_words, ohms};
use crate::names::visit_words;
use loamline_faults::{Grade, LEAKAGE_MOHM, Says};
use loamline_terms::{Phrases, Sentence, say};
use serde::Serialize;

/// What explains a reading that is not good.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Blamed {
    /// What `locate` ranks first for the readings of the visit on that line, in words.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
    /// How likely it is, 0 to 1; absent where no explanation comes near.
    pub probability: Option<f64>,
    /// Whether it is that nothing is wrong.
    pub healthy: bool,
    /// What all readings of the loop together say of the line.
    pub grade: Grade,
}

/// A reading with what is to be said of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct JudgedReading {
    /// The visit.
    pub visit: String,
    /// Its day.
    pub date: String,
    /// Id of the reading.
    pub reading: String,
    /// Line it was taken of.
    pub line: String,
    /// Where the line has been changed, replaced or removed since: the id under which the visit keeps it as it was.
    pub as_it_was: Option<String>,
    /// Whether what it was taken of is there no more: another line or none came in its place, or its joint is gone.
    pub replaced: bool,
    /// Whether the line has other equipment on it by now: its loop then reads otherwise, and a course over the years begins anew.
    pub other_equipment: bool,
    /// What became of the line since, in words: `L3 was taken out since`; absent where it is what it was.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>))]
    pub since: Option<Sentence>,
    /// Joint or loudspeaker it was taken at; absent at the rack.
    pub at: Option<String>,
    /// What was measured.
    pub measured: Measured,
    /// What was read, ohm; absent where the meter showed an open line.
    pub ohm: Option<f64>,
    /// The meter showed more than this.
    pub above: bool,
    /// What it should have read, ohm; absent for leakage and where an open line is expected.
    pub expected_ohm: Option<f64>,
    /// 95 of 100 good lines read at least this, ohm; of leakage the limit.
    pub low_ohm: Option<f64>,
    /// 95 of 100 good lines read at most this, ohm.
    pub high_ohm: Option<f64>,
    /// The joint the line was built to then, where it was not finished.
    pub stage: Option<String>,
    /// How good it is; absent where nothing can be told, see `why_not`.
    pub grade: Option<Grade>,
    /// On which side it lies.
    pub says: Option<Says>,
    /// Why nothing can be told.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>))]
    pub why_not: Option<Sentence>,
    /// Whether the same was read again later.
    pub superseded: bool,
    /// What explains it, where it stands and is not good.
    pub blamed: Option<Blamed>,
    /// What was expected in words: `3.04 to 3.69 ohm`, `at least 1.00 Mohm`, `open`; empty where nothing can be told.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub expected: Sentence,
    /// The verdict in a few words: `good`, `bad: too low, as a short reads`, `good as far as L1`, `not judged`.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub verdict: Sentence,
    /// All of it in a sentence.
    #[cfg_attr(feature = "schema", schema(value_type = String))]
    pub sentence: Sentence,
}

impl JudgedReading {
    /// Whether something is wrong with it, or may be.
    #[must_use]
    pub fn in_doubt(&self) -> bool {
        self.grade.is_some_and(|g| g != Grade::Good)
    }

    /// Whether it is the last word about a line that is there, though something on it may have been changed since.
    #[must_use]
    pub fn stands(&self) -> bool {
        !self.superseded && !self.replaced
    }

    /// Whether another reads the same at the same place of a line of the same id.
    #[must_use]
    pub fn is_of_same(&self, other: &Self) -> bool {
        (&self.line, &self.at, self.measured) == (&other.line, &other.at, other.measured)
    }

    /// What was read in words: `0.40 ohm`, `open`, `more than 200 Mohm`.
    #[must_use]
    pub fn read(&self) -> Sentence {
        match (self.ohm, self.above, self.measured) {
            (None, _, _) => say!("open"),
            (_, true, Measured::Loop(_)) if self.says == Some(Says::Open) => say!("open"),
            (Some(ohm), true, _) => say!("more than {value}", value = ohms(ohm)),
            (Some(ohm), false, _) => ohms(ohm).into(),
        }
    }

    /// What it says in a language.
    #[must_use]
    pub fn spoken(mut self, phrases: &Phrases) -> Self {
        for said in [&mut self.expected, &mut self.verdict, &mut self.sentence] {
            *said = said.spoken(phrases);
        }
        self.why_not = self.why_not.map(|why| why.spoken(phrases));
        self.since = self.since.map(|since| since.spoken(phrases));
        self.blamed = self.blamed.map(|b| Blamed { sentence: b.sentence.spoken(phrases), ..b });
        self
    }

    fn expected_words(&self) -> Sentence {
        match (self.measured, self.low_ohm, self.high_ohm) {
            (Measured::Leakage, _, _) => say!("at least {value}", value = ohms(1e6 * LEAKAGE_MOHM)),
            (_, Some(low), Some(high)) => {
                let (low, high) = (ohms(low), ohms(high));
                let unit = |text: &str| text.rsplit_once(' ').map(|x| x.1.to_owned());
                // The unit stands once where it is the same.
                let low = if unit(&low) == unit(&high) {
                    low.split_once(' ').map_or(low.as_str(), |x| x.0).to_owned()
                } else {
                    low
                };
                say!("{low} to {high}", low = low, high = high)
            }
            _ if self.why_not.is_some() => Sentence::default(),
            _ => say!("open"),
        }
    }

    fn verdict_words(&self) -> Sentence {
        let Some(grade) = self.grade else { return say!("not judged") };
        let grade_words = grade_words(grade);
        let so_far = match &self.stage {
            None => Sentence::default(),
            Some(joint) => say!(" as far as {joint}", joint = joint),
        };
        let why = match (self.says, self.measured) {
            // Right as far as a joint, and nobody ticked off that the line ends there.
            (Some(Says::Within), _) if grade != Grade::Good => {
                return say!("{grade}: right only{so_far}", grade = grade_words, so_far = so_far);
            }
            (Some(Says::Within) | None, _) => return grade_words + so_far,
            (Some(_), Measured::Leakage) => say!("it leaks"),
            (Some(Says::Low), _) => say!("too low"),
            (Some(Says::High), _) => say!("too high"),
            (Some(Says::Short), _) => say!("too low, as a short reads"),
            (Some(Says::Open), _) => say!("open"),
        };
        grade_words + so_far + ": " + why
    }

    /// What was expected, the verdict and the sentence, from all the rest.
    pub(super) fn put_into_words(&mut self) {
        self.expected = self.expected_words();
        self.verdict = self.verdict_words();
        self.sentence = sentence(self);
    }
}

fn grade_words(grade: Grade) -> Sentence {
    match grade {
        Grade::Good => say!("good"),
        Grade::Doubtful => say!("doubtful"),
        Grade::Bad => say!("bad"),
    }
}

fn sentence(one: &JudgedReading) -> Sentence {
    let at = match &one.at {
        None => say!("at the rack"),
        Some(joint) => say!("at {joint}, looking away from the rack", joint = joint),
    };
    let line = match &one.as_it_was {
        None => say!("Line {line}", line = &one.line),
        Some(_) => say!("Line {line} as it was then", line = &one.line),
    };
    let (read, visit) = (one.read(), visit_words(&one.visit, &one.date));
    let said = match one.measured {
        Measured::Leakage => say!(
            "{line} leaks to earth through {read} {at} ({visit})",
            line = line,
            read = read,
            at = at,
            visit = visit
        ),
        what => say!(
            "{line} reads {read} {at}, {measured} ({visit})",
            line = line,
            read = read,
            at = at,
            measured = measured_words(what),
            visit = visit
        ),
    };
    if let Some(why) = &one.why_not {
        return say!("{said}; it cannot be judged: {reason}.", said = said, reason = why.clone());
    }
    let stage = match &one.stage {
        None => Sentence::default(),
        Some(joint) => say!(" of one built as far as {joint}", joint = joint),
    };
    let blamed = one.blamed.as_ref().filter(|_| one.in_doubt());
    // The word that the line has where its readings are explained.
    let together = match blamed.map(|b| b.grade).filter(|grade| Some(*grade) > one.grade) {
        Some(grade) => {
            say!(" All readings of the line together say: {grade}.", grade = grade_words(grade))
        }
        None => Sentence::default(),
    };
    let blamed = together + blamed.map_or_else(Sentence::default, blamed_words);
    say!(
        "{said}, where {expected} is expected{stage}. {verdict}.{blamed}",
        said = said,
        expected = one.expected.clone(),
        stage = stage,
        verdict = one.verdict.clone().capitalised(),
        blamed = blamed
    )
}

/// ` Likeliest (99 %): ...`
fn blamed_words(blamed: &Blamed) -> Sentence {
    match blamed.probability {
        None => Sentence::from(" ") + blamed.sentence.clone(),
        Some(p) => {
            let share = match p {
                _ if p > 0.995 => "> 99 %".to_owned(),
                _ => format!("{} %", loamline_terms::fixed(100.0 * p, 0)),
            };
            say!(" Likeliest ({share}): {cause}", share = share, cause = blamed.sentence.clone())
        }
    }
}
