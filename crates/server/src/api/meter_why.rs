//! How a reading to expect, and the likelihood of an explanation, came about.

use super::extract::{Asked, In};
use super::why::WhyView;
use crate::app::App;
use crate::background::Work;
use crate::error::{ApiError, ErrorBody, not_yet};
use axum::Json;
use axum::extract::State;
use loamline_adapt::CONDUCTOR_TEMPERATURE_C;
use loamline_faults::{Answer, Cause, Diagnosis, Explanation, Place, Predicted, Sees, Shown, Tolerances};
use loamline_limits::EXPLANATIONS_WORKED;
use loamline_model::Units;
use loamline_study::{ReadingWorking, expect_why};
use loamline_terms::{listed, meter_digits};
use serde::Deserialize;
use utoipa::IntoParams;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(expected_why))
}

/// Which reading.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ReadingQuery {
    /// The line.
    line: String,
    /// The joint at which the run towards the rack is taken off; the rack when absent.
    at: Option<String>,
    /// Meter frequency, Hz; 0 for direct current.
    frequency_hz: f64,
}

/// How a reading to expect came about, and what makes good lines differ from it.
#[utoipa::path(get, path = "/api/jobs/{id}/expect/why", tag = "Visits",
    params(("id" = String, Path, description = "The job"), ReadingQuery),
    responses((status = 200, body = WhyView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn expected_why(
    State(app): State<App>,
    In(id): In<String>,
    Asked(asked): Asked<ReadingQuery>,
) -> Result<Json<WhyView>, ApiError> {
    if !(0.0..=40_000.0).contains(&asked.frequency_hz) {
        let message = format!("{} Hz is out of range: from 0 Hz to 40000 Hz.", asked.frequency_hz);
        return Err(ApiError::field("?frequency_hz", message));
    }
    app.results(Work::Results, id, move |job| {
        let study = job.now().study;
        let (place, tolerances) = (asked.at.map_or(Place::Rack, Place::Downstream), Tolerances::default());
        let found =
            expect_why(study.job(), &study.runs(), &asked.line, &place, asked.frequency_hz, &tolerances);
        found
            .map(|w| Json(reading_why(&asked.line, &w, &tolerances, study.job().document().units())))
            .map_err(|why| not_yet(why.told()))
    })
    .await
}

fn with(frequency_hz: f64) -> String {
    if frequency_hz > 0.0 {
        format!("at {frequency_hz} Hz", frequency_hz = loamline_terms::fixed(frequency_hz, 0))
    } else {
        "with direct current".to_owned()
    }
}

fn from(place: &Place) -> String {
    match place {
        Place::Rack => "at the rack".to_owned(),
        Place::Downstream(joint) => format!("at {joint}, looking away from the rack"),
    }
}

/// Ohms as a meter shows them.
fn ohms(ohm: Option<f64>) -> String {
    ohm.map_or_else(|| "an open line".to_owned(), |ohm| format!("{} ohm", meter_digits(ohm)))
}

/// A temperature in whole degrees.
fn warmth(celsius: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{} °C", loamline_terms::fixed(celsius, 0)),
        Units::Us => format!("{} °F", loamline_terms::fixed(celsius * 1.8 + 32.0, 0)),
    }
}

/// A difference of temperatures.
fn warmer(kelvin: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{} K", loamline_terms::fixed(kelvin, 0)),
        Units::Us => format!("{} °F", loamline_terms::fixed(kelvin * 1.8, 0)),
    }
}

fn of_cause(cause: Cause, t: &Tolerances, units: Units) -> String {
    match cause {
        Cause::Length => format!(
            "lengths ({} % a run, {} % all together)",
            loamline_terms::fixed(100.0 * t.length, 0),
            loamline_terms::fixed(100.0 * t.length_common, 0)
        ),
        Cause::CableMake => format!(
            "the cable's inductance and capacitance ({} % and {} %)",
            loamline_terms::fixed(100.0 * t.cable_inductance, 0),
            loamline_terms::fixed(100.0 * t.cable_capacitance, 0)
        ),
        Cause::Temperature => format!("the temperature of copper ({})", warmer(t.temperature_k, units)),
        Cause::Loudspeakers => "voice coils, resonances and transformers".to_owned(),
        Cause::Windings => {
            "how the transformers' loss is shared between primary, core and secondary, and their leakage"
                .to_owned()
        }
        Cause::Meter => format!(
            "the meter ({} % and {} ohm)",
            loamline_terms::fixed(100.0 * t.meter, 0),
            t.meter_floor_ohm
        ),
    }
}

/// A cause that moves a reading by less is not told: it would show as 0.0 %.
const LEAST_TOLD: f64 = 0.0005;

fn reading_why(line: &str, w: &ReadingWorking, t: &Tolerances, units: Units) -> WhyView {
    let r = &w.spread.reading;
    let (at, how) = (from(&r.place), with(r.frequency_hz));
    let mut steps = vec![format!(
        "Line {line} as it lies: {} on {} of cable, {} ohm there and back with its copper at {}, the amplifier \
         disconnected.",
        match w.loudspeakers {
            1 => "one loudspeaker".to_owned(),
            n => format!("{n} loudspeakers"),
        },
        units.run(w.cable_m),
        loamline_terms::fixed(w.cable_ohm, 2),
        warmth(CONDUCTOR_TEMPERATURE_C, units)
    )];
    steps.push(r.sees.sentence().to_owned());
    steps.push(format!("Solved as one network {at} {how}, a meter shows {}.", ohms(r.ohm)));
    if let (Some(_), Some(low), Some(high)) = (r.ohm, r.low_ohm, r.high_ohm) {
        let causes: Vec<String> = w
            .spread
            .causes
            .iter()
            .filter(|(_, d)| *d >= LEAST_TOLD)
            .map(|(cause, d)| {
                format!("{} {} %", of_cause(*cause, t, units), loamline_terms::fixed(100.0 * d, 1))
            })
            .collect();
        steps.push(format!("Good lines usually differ from it by: {}.", listed(&causes)));
        steps.push(format!(
            "Squared and added that makes {} %; 95 of 100 good lines lie within 1.96 times that: {} to {}.",
            loamline_terms::fixed(100.0 * w.spread.deviation, 1),
            ohms(Some(low)),
            ohms(Some(high))
        ));
    }
    WhyView {
        about: String::new(),
        steps,
        source: "nodal analysis of the line; wire resistance by IEC 60228 and ASTM B258; spread to first order by Tellegen's \
                 sensitivities; what differs by how much is common practice, no source"
            .to_owned(),
    }
}

/// How the likelihood of an answer came about: each explanation it joins, the first of them one by one.
pub fn answer_why(d: &Diagnosis, a: &Answer) -> Vec<WhyView> {
    let members: Vec<&Explanation> = a.members.iter().filter_map(|&m| d.explanations.get(m)).collect();
    let most = EXPLANATIONS_WORKED.most();
    let mut all: Vec<WhyView> = members.iter().take(most).map(|e| explanation_why(e, &d.sees)).collect();
    if let (Some(last), more @ 1..) = (all.last_mut(), members.len().saturating_sub(most)) {
        let rest: f64 = members.iter().skip(most).map(|e| e.probability).sum();
        last.steps.push(format!(
            "These readings cannot tell {more} more from it; together they have {}.",
            percent(rest)
        ));
    }
    all
}

fn percent(share: f64) -> String {
    if share >= 0.1 {
        format!("{} %", loamline_terms::fixed(100.0 * share, 0))
    } else {
        format!("{} %", loamline_terms::fixed(100.0 * share, 1))
    }
}

fn explanation_why(e: &Explanation, sees: &[Sees]) -> WhyView {
    let mut steps = vec![format!("Before any reading it was {} likely.", percent(e.prior))];
    steps.extend(e.predicted.iter().map(predicted));
    steps.extend(Sees::distinct(sees.iter().copied()).into_iter().map(|s| s.sentence().to_owned()));
    if e.predicted.len() > 1 {
        steps.push(format!(
            "All readings together, with what moves them alike, are {} times the usual difference away.",
            loamline_terms::fixed(e.deviations, 1)
        ));
    }
    steps.push(format!(
        "Weighed by that against everything else that can be wrong, it is {} likely now.",
        percent(e.probability)
    ));
    WhyView {
        about: e.sentence.to_string(),
        steps,
        source: "Bayes' rule over what can be wrong; readings by nodal analysis with their spread to first order; how often \
                 things go wrong and how much good lines differ: common practice, no source"
            .to_owned(),
    }
}

fn predicted(p: &Predicted) -> String {
    let shown = match p.shown {
        Shown::Ohm(ohm) => ohms(Some(ohm)),
        Shown::Open => ohms(None),
    };
    let off = match p.deviations {
        Some(d) if d.abs() < 0.05 => ", as predicted".to_owned(),
        Some(d) => {
            format!(
                ", {} times the usual difference {}",
                loamline_terms::fixed(d.abs(), 1),
                if d > 0.0 { "above" } else { "below" }
            )
        }
        None => String::new(),
    };
    format!(
        "{}, {}, a meter would show {} with it; it showed {shown}{off}.",
        capital(&from(&p.place)),
        with(p.frequency_hz),
        ohms(p.ohm)
    )
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
