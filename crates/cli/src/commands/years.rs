//! `loamline years JOB`

use super::expect::{meter, read_text};
use super::open;
use super::open::section;
use super::tolerances::tolerances;
use crate::args::YearsArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Progress, Table};
use loamline_faults::DriftWarning;
use loamline_faults::Grade;
use loamline_study::{Measured, Series, a_year, judged, ohms, years};
use serde_json::json;

pub fn run(arguments: &YearsArguments, format: Format) -> Result<Verdict, Failure> {
    let tolerances = tolerances(&arguments.tolerances)?;
    let study = open::study(&arguments.job)?;
    let format = format.of(study.job());
    let progress = Progress::start("Holding the readings against the drawing");
    let runs = study.runs();
    let readings = judged(study.job(), &runs, &tolerances);
    let all = years(study.job(), &runs, &readings, &tolerances).map_err(Failure::study)?;
    progress.finish();
    if format.json {
        output::json(&json!({ "job": open::job_json(&study), "lines": all, "readings": readings }))?;
        return Ok(Verdict::Fine);
    }
    if all.is_empty() && readings.is_empty() {
        output::data("No visit of the job holds a reading of a line.\n")?;
        return Ok(Verdict::Fine);
    }
    let mut text = String::new();
    for (line, series) in &all {
        let mut table = Table::new([
            Column::left("reading"),
            Column::right("times"),
            Column::right("first"),
            Column::right("latest"),
            Column::wrapped("how it moves"),
        ]);
        for one in series {
            let shown =
                |reading: Option<&loamline_study::Dated>| reading.map_or_else(String::new, |r| r.read("> "));
            let what = match one.measured {
                Measured::Leakage => "to earth".to_owned(),
                Measured::Loop(hz) => meter(hz, format),
            };
            let count = one.readings.len().to_string();
            table.row([
                what,
                count,
                shown(one.readings.first()),
                shown(one.readings.last()),
                course(one, format),
            ]);
        }
        text.push_str(&section(&format!("Line {line}"), &table.to_string()));
    }
    text.push_str(&read_text(&readings));
    if readings.iter().any(|r| r.as_it_was.is_some()) {
        text.push_str(&output::paragraph(
            "\"Before\" marks readings of a line as it was before it was replaced or changed: they are held against the line as \
             it was then. How its loop moves is told from the last change of equipment on.",
        ));
    }
    text.push_str(&output::paragraph(
        "A drift stands with the interval that holds it 95 times in 100. Meter, temperature and the scatter of the readings \
         are in it. A warning needs a drift that is surely the wrong way and passes its limit within ten years.",
    ));
    output::data(&text)?;
    Ok(Verdict::Fine)
}

fn course(series: &Series, format: Format) -> String {
    // What is wrong already is no question of years.
    if let Some(last) = series.last().filter(|r| r.grade.is_some_and(|g| g != Grade::Good)) {
        return format.tell(&last.sentence);
    }
    let Some(drift) = &series.drift else {
        return match &series.since {
            Some(_) => "one reading since a fault was mended: the next visit shows how it moves".to_owned(),
            None => "one reading so far: the next visit shows how it moves".to_owned(),
        };
    };
    let limit = series.limit_ohm.map_or_else(String::new, ohms);
    let warning = match drift.warning {
        None if series.last().is_some_and(|r| r.grade.is_none()) => {
            "the last reading cannot be judged".to_owned()
        }
        None => match series.may_pass {
            Some(may) => format!(
                "good so far; if it goes on so it passes its limit of {} in about {} years, but these readings do not show \
                 for sure that it moves: read it again before then",
                ohms(may.limit_ohm),
                loamline_terms::fixed(may.years, 1)
            ),
            None => "good; on this course nothing to fear within ten years".to_owned(),
        },
        Some(DriftWarning::Beyond) => format!(
            "the trend gives {}, past its limit of {limit}: look at it now. {}",
            ohms(drift.now_ohm),
            format.tell(&series.cause())
        ),
        Some(DriftWarning::Within { years, earliest }) => format!(
            "on this course past its limit of {limit} in {years} years, {earliest} at the earliest. {}",
            format.tell(&series.cause()),
            years = loamline_terms::fixed(years, 1),
            earliest = loamline_terms::fixed(earliest, 1)
        ),
    };
    format!("{}; {warning}", a_year(drift))
}
