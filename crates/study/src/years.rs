//! A job's meter readings over the years: how each line drifts, and what fails when.

use crate::error::StudyError;
use crate::finding::{Finding, Severity, Subject};
use crate::judged::{Blamed, JudgedReading};
use crate::measured::{Measured, ohms};
use crate::meter::expect;
use indexmap::IndexMap;
use loamline_adapt::LaidRun;
use loamline_electrics::COPPER_COEFFICIENT_PER_K;
use loamline_faults::rules::AHEAD_YEARS;
use loamline_faults::{
    Drift, DriftWarning, ExpectedReading, Grade, LEAKAGE_MOHM, Place, Says, Tolerances, YearReading, drift,
};
use loamline_model::Job;
use loamline_terms::{OPEN, Sentence, say};
use serde::Serialize;

/// One reading of a series.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Dated {
    /// The visit.
    pub visit: String,
    /// Its day.
    pub date: String,
    /// What was read, ohm; absent where the meter showed an open line, which has no part in the drift.
    pub ohm: Option<f64>,
    /// The meter showed more than this; such a reading has no part in the drift.
    pub above: bool,
    /// How good it is; absent where nothing can be told.
    pub grade: Option<Grade>,
    /// On which side of what is expected it lies.
    pub says: Option<Says>,
    /// The reading in words: what was read, what was expected, the verdict and what explains it.
    pub sentence: Sentence,
    /// Of a loop, what explains the readings of its line on that visit, where one that stands is not good.
    pub blamed: Option<Blamed>,
}

impl Dated {
    /// What was read in words; `more` stands before the end of a meter's range.
    #[must_use]
    pub fn read(&self, more: &str) -> String {
        let more = if self.above { more } else { "" };
        self.ohm.map_or_else(|| OPEN.to_owned(), |ohm| format!("{more}{}", ohms(ohm)))
    }
}

/// One quantity of a line at the rack, oldest reading first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Series {
    /// What was measured.
    pub measured: Measured,
    /// The readings.
    pub readings: Vec<Dated>,
    /// What it must not pass, ohm: of the loop the end of what 95 of 100 good lines read that it moves towards, of leakage
    /// what a dry line has; absent where a good line reads open.
    pub limit_ohm: Option<f64>,
    /// Day of the first reading that counts, where those before it were of a fault that has been mended since.
    pub since: Option<String>,
    /// How it moves; absent with fewer than two days that count.
    pub drift: Option<Drift>,
    /// What it comes to if it goes on so, where it is not sure to move at all: then nobody is warned yet.
    pub may_pass: Option<MayPass>,
}

/// A limit passed within ten years by a series that goes on as it did.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MayPass {
    /// The limit, ohm.
    pub limit_ohm: f64,
    /// Likeliest, in years from the last reading.
    pub years: f64,
}

impl MayPass {
    fn of(drift: &Drift, limit_ohm: f64) -> Option<Self> {
        // Towards either limit: both logarithms have one sign.
        let years = (limit_ohm / drift.now_ohm).ln() / drift.per_year.ln_1p();
        let near = drift.warning.is_none() && years > 0.0 && years <= AHEAD_YEARS;
        near.then_some(Self { limit_ohm, years })
    }
}

/// Deviation of an insulation tester's reading, relative: the ground's wetness of the day more than the tester (from
/// memory).
pub const LEAKAGE_DEVIATION: f64 = 0.2;
/// Days of a year, between leap years and others.
pub const DAYS_A_YEAR: f64 = 365.25;

/// Every line's series, for lines that were read at the rack, from the readings as they were judged. Readings of a line
/// that has been replaced since are of another line and have no part in it, nor have those taken while it was being built. Where
/// equipment on it was changed its loop reads otherwise from then on, and that series begins anew; its insulation does not.
///
/// # Errors
/// A date that is none; what the engine finds wrong with a line.
pub fn years(
    job: &Job,
    runs: &[LaidRun],
    judged: &[JudgedReading],
    tolerances: &Tolerances,
) -> Result<IndexMap<String, Vec<Series>>, StudyError> {
    let mut all: IndexMap<String, Vec<Series>> = IndexMap::new();
    for (id, visit) in &job.document().visits {
        if day_number(&visit.date).is_none() {
            return Err(StudyError::NoDay { visit: id.clone(), date: visit.date.clone() });
        }
    }
    // A line that was being built is not yet the one that drifts.
    let of_line = |r: &&JudgedReading| match r.measured {
        Measured::Leakage => !r.replaced,
        Measured::Loop(_) => !r.replaced && !r.other_equipment,
    };
    let of_series = |r: &&JudgedReading| r.at.is_none() && of_line(r) && r.stage.is_none();
    for one in judged.iter().filter(of_series) {
        let line = all.entry(one.line.clone()).or_default();
        let dated = Dated {
            visit: one.visit.clone(),
            date: one.date.clone(),
            ohm: one.ohm,
            above: one.above,
            grade: one.grade,
            says: one.says,
            sentence: one.sentence.clone(),
            blamed: blamed(judged, one),
        };
        match line.iter_mut().find(|series| series.measured == one.measured) {
            Some(series) => {
                // Measured again on the same visit: the later one counts.
                series.readings.retain(|other| other.visit != one.visit);
                series.readings.push(dated);
            }
            None => line.push(Series {
                measured: one.measured,
                readings: vec![dated],
                limit_ohm: None,
                since: None,
                drift: None,
                may_pass: None,
            }),
        }
    }
    if all.is_empty() {
        return Ok(all);
    }
    let mut frequencies: Vec<f64> = Vec::new();
    for series in all.values().flatten() {
        if let Measured::Loop(hz) = series.measured
            && !frequencies.contains(&hz)
        {
            frequencies.push(hz);
        }
    }
    let expected =
        if frequencies.is_empty() { IndexMap::new() } else { expect(job, runs, &frequencies, tolerances)? };
    for (line, series) in &mut all {
        let readings = expected.get(line).map_or(&[][..], |expected| &expected.readings);
        series.iter_mut().for_each(|one| fit(one, readings, tolerances));
    }
    Ok(all)
}

/// What explains the readings of a line on a visit, for one of its loop: another may show the fault that this one hides.
fn blamed(judged: &[JudgedReading], one: &JudgedReading) -> Option<Blamed> {
    if one.measured == Measured::Leakage {
        return None;
    }
    let with =
        |r: &&JudgedReading| (&r.visit, &r.line, &r.as_it_was) == (&one.visit, &one.line, &one.as_it_was);
    judged.iter().filter(with).find_map(|r| r.blamed.clone())
}

/// The readings that tell how a line moves, and whether a mended fault parts them from earlier ones. What was
/// bad until a good reading was a fault that somebody mended: all that was read before is of another state, and the series begins
/// anew. What was doubtful until then is left out. What is not good now counts: nobody has mended it. But a loop that was good and reads bad
/// once, at last, has jumped: that is a fault, which its reading tells, and no rate.
fn counted(readings: &[Dated], is_loop: bool) -> (Vec<&Dated>, bool) {
    let Some(last_good) = readings.iter().rposition(|r| r.grade == Some(Grade::Good)) else {
        return (readings.iter().collect(), false);
    };
    let mended = readings[..last_good].iter().rposition(|r| r.grade == Some(Grade::Bad));
    let jump = is_loop && last_good + 2 == readings.len();
    let counts = |k: usize, r: &Dated| match r.grade {
        None | Some(Grade::Good) => true,
        Some(Grade::Bad) if jump => false,
        Some(_) => k > last_good,
    };
    let from = mended.map_or(0, |k| k + 1);
    let all = readings.iter().enumerate().skip(from).filter(|(k, r)| counts(*k, r));
    (all.map(|(_, r)| r).collect(), mended.is_some())
}

fn fit(series: &mut Series, expected: &[ExpectedReading], tolerances: &Tolerances) {
    let (counted, mended) = counted(&series.readings, series.measured != Measured::Leakage);
    let since = counted.first().filter(|_| mended).map(|first| first.date.clone());
    let days: Vec<(i64, f64)> = counted
        .into_iter()
        .filter(|reading| !reading.above)
        .filter_map(|reading| Some((day_number(&reading.date)?, reading.ohm?)))
        .collect();
    series.since = since;
    let first = days.first().map_or(0, |day| day.0);
    let read: Vec<YearReading> = days
        .iter()
        .map(|&(day, ohm)| YearReading { year: (day - first) as f64 / DAYS_A_YEAR, ohm })
        .collect();
    let mean = read.iter().map(|r| r.ohm).sum::<f64>() / read.len().max(1) as f64;
    // No reading is brought to one temperature: the ground's is a deviation of each.
    let warm = COPPER_COEFFICIENT_PER_K * tolerances.temperature_k;
    let floor = tolerances.meter_floor_ohm / mean.max(1e-9);
    let deviation = match series.measured {
        Measured::Leakage => LEAKAGE_DEVIATION,
        Measured::Loop(_) => tolerances.meter.hypot(warm).hypot(floor),
    };
    // What it must not pass, and whether from below: a loop has two sides.
    let limits = match series.measured {
        Measured::Leakage => vec![(1e6 * LEAKAGE_MOHM, false)],
        Measured::Loop(hz) => {
            let at_rack = |e: &&ExpectedReading| e.place == Place::Rack && (e.frequency_hz - hz).abs() < 1e-9;
            let here = expected.iter().find(at_rack);
            let high = here.and_then(|e| e.high_ohm).map(|limit| (limit, true));
            let low = here.and_then(|e| e.low_ohm).map(|limit| (limit, false));
            high.into_iter().chain(low).collect()
        }
    };
    for (k, (limit, rising_is_bad)) in limits.into_iter().enumerate() {
        let drift = drift(&read, limit, rising_is_bad, deviation);
        if k == 0 || drift.is_some_and(|d| d.warning.is_some()) {
            (series.limit_ohm, series.drift) = (Some(limit), drift);
        }
        if drift.is_some_and(|d| d.warning.is_some()) {
            series.may_pass = None;
            break;
        }
        series.may_pass = series.may_pass.or_else(|| MayPass::of(&drift?, limit));
    }
}

impl Series {
    /// The last reading.
    #[must_use]
    pub fn last(&self) -> Option<&Dated> {
        self.readings.last()
    }

    /// What a drift towards the limit comes from: what `locate` says of the last visit, where its readings show a fault
    /// already, else what usually does it (common practice, no source).
    #[must_use]
    pub fn cause(&self) -> Sentence {
        let blamed = self.last().and_then(|r| r.blamed.as_ref()).filter(|b| !b.healthy);
        match (blamed, self.measured) {
            (Some(blamed), _) => blamed.sentence.clone(),
            (None, Measured::Leakage) => say!("Water is getting in."),
            (None, Measured::Loop(_)) if self.drift.is_some_and(|d| d.per_year < 0.0) => {
                say!("Usually water in a joint.")
            }
            (None, Measured::Loop(_)) => say!("Usually a splice that is going high."),
        }
    }
}

/// Warnings before failure. Of a series whose last reading is not good already, the reading itself is told.
pub(crate) fn years_findings(job: &Job, runs: &[LaidRun], judged: &[JudgedReading]) -> Vec<Finding> {
    if job.document().visits.len() < 2 {
        return Vec::new();
    }
    let all = match years(job, runs, judged, &Tolerances::default()) {
        Ok(all) => all,
        Err(e) => {
            let told = Finding::new(Severity::Warning, Subject::new("visits", ""), e.told() + ".");
            return vec![match e.hint() {
                Some(hint) => told.mend(hint),
                None => told,
            }];
        }
    };
    let of_line = |(line, series): (&String, &Vec<Series>)| -> Vec<Finding> {
        series.iter().filter_map(|one| warning(line, one)).collect()
    };
    all.iter().flat_map(of_line).collect()
}

fn warning(line: &str, series: &Series) -> Option<Finding> {
    let (drift, limit, last) = (series.drift?, series.limit_ohm?, series.last()?);
    if last.grade.is_some_and(|g| g != Grade::Good) {
        return None;
    }
    let what = match series.measured {
        Measured::Leakage => say!("leakage resistance"),
        Measured::Loop(0.0) => say!("loop resistance"),
        Measured::Loop(_) => say!("impedance"),
    };
    let when = match drift.warning? {
        DriftWarning::Beyond => say!("passed by it already"),
        DriftWarning::Within { years, earliest } => say!(
            "passed in about {years} years, {earliest} at the earliest",
            years = loamline_terms::fixed(years, 1),
            earliest = loamline_terms::fixed(earliest, 1)
        ),
    };
    let sentence = say!(
        "Line {line}: its {what} moves by {drift}; it read {read} on {date}, the trend gives {trend}, and its limit of {limit} is \
         {when}.",
        line = line,
        what = what,
        drift = a_year_told(&drift),
        read = match last.ohm {
            Some(ohm) if last.above => say!("more than {value}", value = ohms(ohm)),
            _ => last.read("").into(),
        },
        date = &last.date,
        trend = ohms(drift.now_ohm),
        limit = ohms(limit),
        when = when
    );
    let mend = say!("Look into its joints before then. {cause}", cause = series.cause());
    Some(Finding::new(Severity::Warning, Subject::new("lines", line), sentence).mend(mend))
}

/// A drift with its interval: `+4.1 % a year (+2.9 to +5.3)`.
#[must_use]
pub fn a_year(drift: &Drift) -> String {
    a_year_told(drift).to_string()
}

/// The same, to be said in any language.
fn a_year_told(drift: &Drift) -> Sentence {
    let percent = |x: f64| format!("{:+.1}", 100.0 * x);
    say!(
        "{change} % a year ({low} to {high})",
        change = percent(drift.per_year),
        low = percent(drift.low),
        high = percent(drift.high)
    )
}

/// Days since 1970-01-01 of a year-month-day of the Gregorian calendar; `None` for a day that is none.
fn day_number(text: &str) -> Option<i64> {
    let mut parts = text.trim().split('-');
    let mut number = || parts.next().and_then(|part| part.parse::<i64>().ok());
    let (year, month, day) = (number()?, number()?, number()?);
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let long = [31, 28 + i64::from(leap), 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
    let within = *long.get(usize::try_from(month - 1).ok()?)?;
    if parts.next().is_some() || !(1..=within).contains(&day) || !(1..=9999).contains(&year) {
        return None;
    }
    let before = year - 1;
    let days = 365 * before + before / 4 - before / 100 + before / 400;
    let months: i64 = long.iter().take(usize::try_from(month - 1).ok()?).sum();
    Some(days + months + day - 719_163)
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_faults::Sees;

    #[test]
    fn days_are_counted_by_the_calendar() {
        // POSIX: 2000-03-01 is 951868800 s after the epoch, 11017 days; 2026-11-25 is 20782.
        assert_eq!(day_number("1970-01-01"), Some(0));
        assert_eq!(day_number("2000-03-01"), Some(11_017));
        assert_eq!(day_number("2026-11-25"), Some(20_782));
        assert_eq!(day_number("2026-02-29"), None);
        assert_eq!(day_number("17 April"), None);
    }

    /// 50.2 ohm and a year later 52.0: by the closed form ln(57.7 / 52) / ln(52 / 50.2) = 2.95 years more; 49 to 47.8 ohm
    /// falls to 45 in ln(45 / 47.8) / ln(47.8 / 49) = 2.43 years. Two readings are too few to warn (3 % each).
    #[test]
    fn what_may_pass_its_limit_is_told_though_it_is_not_sure_to_move() {
        let course = |ohms: [f64; 2], limit: f64, rising: bool| {
            let read = [(0.0, ohms[0]), (1.0, ohms[1])].map(|(year, ohm)| YearReading { year, ohm });
            let drift = drift(&read, limit, rising, 0.033).unwrap();
            assert_eq!(drift.warning, None);
            MayPass::of(&drift, limit).map(|m| m.years)
        };
        assert!((course([50.2, 52.0], 57.7, true).unwrap() - 2.95).abs() < 0.01);
        assert!((course([49.0, 47.8], 45.0, false).unwrap() - 2.43).abs() < 0.01);
        assert_eq!(course([50.2, 52.0], 45.0, false), None, "away from it");
        assert_eq!(course([50.2, 50.3], 57.7, true), None, "in more than ten years");
        assert_eq!(course([50.2, 50.2], 57.7, true), None, "never");
    }

    /// Readings of insulation, megohms with their grades, on the first of May of years after another.
    fn leakage(readings: &[(f64, Grade)]) -> Series {
        course(Measured::Leakage, readings)
    }

    fn course(measured: Measured, readings: &[(f64, Grade)]) -> Series {
        let dated = |(k, (mohm, grade)): (usize, &(f64, Grade))| Dated {
            visit: format!("V{k}"),
            date: format!("{}-05-01", 2026 + k),
            ohm: Some(1e6 * mohm),
            above: false,
            grade: Some(*grade),
            says: None,
            sentence: Sentence::default(),
            blamed: None,
        };
        let mut series = Series {
            measured,
            readings: readings.iter().enumerate().map(dated).collect(),
            limit_ohm: None,
            since: None,
            drift: None,
            may_pass: None,
        };
        let expected = ExpectedReading {
            place: Place::Rack,
            frequency_hz: 0.0,
            sees: Sees::PrimaryCopper,
            ohm: Some(300e6),
            low_ohm: Some(250e6),
            high_ohm: Some(350e6),
            far_low_ohm: None,
            far_high_ohm: None,
            short_ohm: None,
        };
        fit(&mut series, &[expected], &Tolerances::default());
        series
    }

    /// 283 and then 422 is a loudspeaker gone, no rise of a tenth a year; two that are bad are a course, and one that is doubtful.
    #[test]
    fn a_single_jump_of_a_loop_is_a_fault_and_no_course() {
        use Grade::{Bad, Doubtful, Good};
        let a_year =
            |readings: &[(f64, Grade)]| course(Measured::Loop(0.0), readings).drift.map(|d| d.per_year);
        assert_eq!(a_year(&[(283.0, Good), (422.0, Bad)]), None);
        let before = a_year(&[(280.0, Good), (283.0, Good), (422.0, Bad)]).unwrap();
        assert!((before - 3.0 / 280.0).abs() < 1e-3, "that of the good ones alone: {before}");
        assert!(a_year(&[(283.0, Good), (330.0, Bad), (422.0, Bad)]).is_some_and(|rate| rate > 0.1));
        assert!(a_year(&[(283.0, Good), (355.0, Doubtful)]).is_some_and(|rate| rate > 0.1));
    }

    /// Rates by hand from the readings that count: 38 of 40 is 5 % less, 40 of 40 is none.
    #[test]
    fn a_mended_fault_is_no_course() {
        use Grade::{Bad, Doubtful, Good};
        let a_year = |readings: &[(f64, Grade)]| leakage(readings).drift.map(|d| d.per_year);
        let mended = leakage(&[(0.2, Bad), (40.0, Good)]);
        assert_eq!((mended.drift, mended.since.as_deref()), (None, Some("2027-05-01")));
        let after = a_year(&[(90.0, Good), (0.2, Bad), (40.0, Good), (38.0, Good)]).unwrap();
        assert!((after + 0.05).abs() < 1e-3, "{after}");
        let without = leakage(&[(40.0, Good), (0.7, Doubtful), (40.0, Good)]);
        assert!(without.drift.unwrap().per_year.abs() < 1e-9 && without.since.is_none());
        // Nobody has mended what is bad now.
        assert!(a_year(&[(40.0, Good), (0.2, Bad)]).unwrap() < -0.9);
    }

    #[test]
    fn ohms_have_three_digits() {
        assert_eq!(
            [1.234, 14.56, 140.2, 12_340.0, 2.5e6].map(ohms),
            ["1.23 ohm", "14.6 ohm", "140 ohm", "12.3 kohm", "2.50 Mohm"]
        );
    }
}
