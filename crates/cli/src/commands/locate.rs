//! `loamline locate JOB --line A --reading z@1kHz=61ohm --reading dc=2.9ohm`

use super::expect::{meter, sees_text};
use super::open::{self, section, shown};
use super::reading::reading;
use super::stub_cable;
use super::tolerances::tolerances;
use crate::args::LocateArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Column, Format, Progress, Table};
use loamline_adapt::laid_runs;
use loamline_faults::{Grade, NextTest, Test};
use loamline_limits::{ANSWERS_LISTED, MEMBERS_LISTED};
use loamline_model::Quantity;
use loamline_study::{Located, Question, SoFar, Spot, explain, so_far, visit_asks};
use serde_json::json;

pub fn run(arguments: &LocateArguments, format: Format) -> Result<Verdict, Failure> {
    let line = match (&arguments.stub, &arguments.line) {
        (Some(stub), _) => return stub_cable::run(stub, arguments, format),
        (None, Some(line)) => line.as_str(),
        (None, None) => return Err(Failure::input("say which --line or --stub was measured")),
    };
    let study = open::study(&arguments.job)?;
    let format = format.of(study.job());
    let mut question = Question {
        readings: arguments.reading.iter().map(|r| reading(r)).collect::<Result<_, _>>()?,
        opened: arguments.opened.clone(),
        insulation: None,
        tolerances: tolerances(&arguments.tolerances)?,
        ground_temperature_c: None,
        pairs: arguments.pairs,
    };
    let mut asked_of = study.job().clone();
    let mut built = None;
    if let Some(id) = &arguments.visit {
        let visits = &study.job().document().visits;
        let Some(visit) = visits.get(id) else {
            let known: Vec<&str> = visits.keys().map(String::as_str).collect();
            return Err(Failure::input(format!(
                "there is no visit \"{id}\"; the visits are: {}",
                known.join(", ")
            )));
        };
        let (was, asks) = visit_asks(study.job(), visit, line).map_err(Failure::study)?;
        // What is asked beside the visit is of the line as drawn.
        if question.readings.is_empty() {
            built = so_far(&study.judged(), id, line);
        }
        question.readings.extend(asks.readings);
        question.opened.extend(asks.opened);
        question.insulation = asks.insulation;
        question.ground_temperature_c = asks.ground_temperature_c;
        asked_of = was;
    }
    if let Some(text) = &arguments.ground_temperature {
        let wrong = |e| Failure::input(format!("--ground-temperature {text}: {e}"));
        question.ground_temperature_c = Some(Quantity::Temperature.parse(text).map_err(wrong)?);
    }
    let progress = Progress::start("Weighing what would explain the readings");
    let runs = laid_runs(&asked_of);
    let located = explain(&asked_of, &runs, line, &question).map_err(Failure::study)?;
    progress.finish();
    if format.json {
        output::json(&json!({
            "job": open::job_json(&study), "line": line, "so_far": built, "located": located,
        }))?;
    } else {
        output::data(&text(line, &located, built.as_ref(), format))?;
    }
    Ok(Verdict::Fine)
}

fn text(line: &str, located: &Located, built: Option<&SoFar>, format: Format) -> String {
    let d = &located.diagnosis;
    let on_plan = |spot: Option<&Spot>| {
        spot.map_or_else(String::new, |s| {
            let metres = |m: f64| shown(format, Quantity::Length, m);
            format!(" On the plan: x {}, y {}.", metres(s.at.x), metres(s.at.y))
        })
    };
    let one = |index: usize| {
        format!("{}{}", format.tell(&d.explanations[index].sentence), on_plan(located.places[index].as_ref()))
    };
    let mut ranking = Table::new([Column::right("chance"), Column::wrapped("explanation")]);
    for answer in d.answers.iter().filter(|a| a.probability >= 0.005).take(ANSWERS_LISTED.most()) {
        let chance = percent(answer.probability);
        match answer.members.as_slice() {
            [only] => ranking.row([chance, one(*only)]),
            members => {
                ranking.row([chance, format.tell(&answer.sentence)]);
                for &member in members.iter().take(MEMBERS_LISTED.most()) {
                    let share = percent(d.explanations[member].probability);
                    ranking.row([String::new(), format!("- {share}: {}", one(member))]);
                }
                if let more @ 1.. = members.len().saturating_sub(MEMBERS_LISTED.most()) {
                    ranking.row([String::new(), format!("- and {more} more")]);
                }
            }
        }
    }
    let unexplained = d
        .unexplained
        .as_ref()
        .map_or_else(String::new, |u| format!("{}\n", output::paragraph(&format.tell(&u.sentence))));
    let ranking = match &d.unexplained {
        // Of explanations none of which fits, the nearest is not likely.
        Some(_) if d.pairs.is_none() => String::from("To weigh two faults at once, add --pairs.\n\n"),
        Some(_) => String::new(),
        None => section(&format!("Line {line}, most likely first"), &ranking.to_string()),
    };
    let mut suspects = Table::new([Column::right("chance"), Column::wrapped("alone or with another fault")]);
    let places = located.suspect_places.iter().map(Option::as_ref);
    for (suspect, spot) in d.suspects.iter().zip(places).take_while(|(s, _)| s.probability >= 0.02) {
        suspects.row([
            percent(suspect.probability),
            format!("{}{}", format.tell(&suspect.sentence), on_plan(spot)),
        ]);
    }
    let counted = d.pairs.filter(|_| !d.suspects.is_empty() && d.unexplained.is_none());
    let suspects = counted.map_or_else(String::new, |count| {
        let of = format!("Line {line}, each fault on its own");
        let left = if count.left_out >= 0.01 {
            format!("; the others together are {} of what pairs explain", percent(count.left_out))
        } else {
            String::new()
        };
        format!(
            "{}{} pairs of faults were weighed, the {} likeliest of them in full{left}.\n\n",
            section(&of, &suspects.to_string()),
            count.weighed,
            count.kept
        )
    });
    let next = match built.map_or_else(|| d.grade(), |b| b.grade) {
        // Nobody digs at a line that is good.
        Grade::Good => "The line is good: nothing is to be done.\n\n".to_owned(),
        Grade::Doubtful | Grade::Bad => next_text(&d.next, format),
    };
    let sees = sees_text(d.sees.iter().copied());
    let built = built.map_or_else(String::new, |b| format!("{}\n", output::paragraph(&b.sentence)));
    format!("{built}{unexplained}{ranking}{suspects}{next}{sees}{}", output::paragraph(d.blind_spot))
}

/// A probability, never rounded to certainty.
fn percent(p: f64) -> String {
    match p {
        _ if p > 0.995 => "> 99 %".to_owned(),
        _ if p < 0.005 => "< 1 %".to_owned(),
        _ => format!("{} %", loamline_terms::fixed(100.0 * p, 0)),
    }
}

fn next_text(next: &[NextTest], format: Format) -> String {
    let Some((best, rest)) = next.split_first() else {
        return "Nothing further to measure would tell more.\n\n".to_owned();
    };
    let mut outcomes = Table::new([Column::right("chance"), Column::wrapped("it shows")]);
    for outcome in &best.outcomes {
        outcomes.row([percent(outcome.probability), format.tell(&outcome.sentence)]);
    }
    let heading = format!(
        "Measure next: {} (about {} min)",
        what(&best.test, format),
        loamline_terms::fixed(best.minutes, 0)
    );
    let mut text = section(&heading, &outcomes.to_string());
    if !rest.is_empty() {
        let mut others =
            Table::new([Column::right("minutes"), Column::right("good line"), Column::wrapped("otherwise")]);
        for t in rest {
            let good =
                t.good_ohm.map_or_else(|| "open".to_owned(), |o| shown(format, Quantity::Impedance, o));
            others.row([loamline_terms::fixed(t.minutes, 0), good, what(&t.test, format)]);
        }
        text.push_str(&section("Other tests, most telling for their time first", &others.to_string()));
    }
    text
}

fn what(test: &Test, format: Format) -> String {
    match test {
        Test::AtRack(hz) => format!("at the rack, {}", meter(*hz, format)),
        Test::OpenJoint { joint, frequency_hz } => format!(
            "open {joint}, look, take off the run towards the rack and read away from it at {}",
            meter(*frequency_hz, format)
        ),
    }
}
