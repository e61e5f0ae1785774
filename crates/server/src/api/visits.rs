//! Everything a phone takes along to a place without a network.

use super::extract::In;
use super::lines::{RunAnswer, run_answers};
use super::rules::{ReadingRules, reading_rules};
use crate::app::App;
use crate::background::Work;
use crate::clock::now;
use crate::error::{ApiError, ErrorBody, not_yet};
use crate::firm::Firm;
use crate::told::Told;
use axum::extract::State;
use indexmap::IndexMap;
use loamline_faults::{Table, Tolerances};
use loamline_model::catalogue::Catalogue;
use loamline_model::document::Language;
use loamline_model::{Choice as _, Job};
use loamline_processing::OrderOfWork;
use loamline_quotation::{HoleNeed, hole_needs};
use loamline_study::{ExpectedLine, JudgedReading, Measured, meter_frequencies_hz};
use loamline_terms::Phrases;
use loamline_tune::tuned;
use serde::Serialize;
use serde_json::Value;
use std::sync::Arc;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(visit_pack))
}

/// Raised whenever a phone that knows an earlier form would make something else of the pack. 2 brought the rules, 3 has one name
/// for a run's length and resistance, 4 brought readings that are open, which are no number.
const PACK_FORMAT: u32 = 5;

/// What a phone needs to measure, rank explanations and tick off work without a network.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct VisitPack {
    /// Form of what is sent: 4. A phone that keeps a pack of another form judges nothing by it until it has taken the job along
    /// again.
    format: u32,
    /// The job's name.
    name: String,
    /// Revision of the job it is of.
    revision: u64,
    /// When it was made, by this machine's clock.
    at: String,
    /// The job as typed: what edits address.
    #[schema(value_type = Object)]
    document: Value,
    /// The job as checked: SI numbers, defaults filled in.
    #[schema(value_type = Object)]
    resolved: Value,
    /// Equipment and cables the job draws on.
    #[schema(value_type = Object)]
    catalogue: Catalogue,
    /// Every run as it lies.
    runs: Vec<RunAnswer>,
    /// What every line should read, by line.
    expect: IndexMap<String, ExpectedLine>,
    /// Every reading of the visits with its verdict, the oldest first.
    readings: Vec<JudgedReading>,
    /// Explanations of readings by line, with the rule of crates/faults/src/weigh.rs.
    #[schema(value_type = HashMap<String, Object>)]
    tables: IndexMap<String, Table>,
    /// The numbers of the rules readings are weighed, ranked and judged by.
    rules: ReadingRules,
    /// Why there are no explanations, in a sentence.
    no_tables: Option<String>,
    /// Holes to dig, room and gravel in them.
    holes: Vec<HoleToDig>,
    /// The order of work at the rack, in English: by its words a step that was ticked off is known again.
    order: Vec<OrderOfWork>,
    /// The language of the crew, by its name: `en`, `en-us` or `es`.
    language: &'static str,
    /// The order of work in that language, stage by stage and step by step.
    order_spoken: Vec<OrderOfWork>,
}

/// A hole as the crew pack has it.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct HoleToDig {
    /// Tag of the loudspeaker that goes into it.
    loudspeaker: String,
    /// Length to dig, m.
    length_m: f64,
    /// Width to dig, m.
    width_m: f64,
    /// Depth to dig, m.
    depth_m: f64,
}

impl From<HoleNeed> for HoleToDig {
    fn from(h: HoleNeed) -> Self {
        Self { loudspeaker: h.loudspeaker, length_m: h.length_m, width_m: h.width_m, depth_m: h.depth_m }
    }
}

/// Frequencies a phone is asked for: those of the job's meter and whatever was read so far.
fn frequencies(job: &Job, judged: &[JudgedReading]) -> Vec<f64> {
    let mut all = meter_frequencies_hz(job);
    for r in judged {
        if let Measured::Loop(hz) = r.measured
            && !all.contains(&hz)
        {
            all.push(hz);
        }
    }
    all
}

/// The language a crew reads a job in: the job's, else the firm's, else that of the papers, else English.
fn crew_language(job: &Job, firm: &Firm) -> Language {
    let (about, profile) = (&job.document().about, firm.profile());
    let named = Language::named;
    let language = about.crew_language.or_else(|| named(&profile.crew_language));
    let language = language.or(about.language).or_else(|| named(&profile.language));
    language.unwrap_or(Language::English)
}

/// A table with its explanations in a language.
fn spoken(mut table: Table, phrases: &Phrases) -> Table {
    for h in &mut table.hypotheses {
        h.sentence = h.sentence.spoken(phrases);
        h.measures = h.sentence.placed();
    }
    table
}

/// Everything a phone takes along to a place without a network.
#[utoipa::path(get, path = "/api/jobs/{id}/visit-pack", tag = "Visits",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = VisitPack), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn visit_pack(State(app): State<App>, In(id): In<String>) -> Result<Told, ApiError> {
    let firms = Arc::clone(&app.jobs);
    // The order of work takes what the processing takes.
    app.shared(Work::Settings, "visit-pack", id, move |job| {
        // A snapshot: what is worked out and what is read are of one revision, whatever is edited meanwhile.
        let seen = job.now();
        let (study, usual) = (&seen.study, Tolerances::default());
        let judged = study.judged();
        let expected = study.expected(&frequencies(study.job(), &judged), &usual);
        let expect = expected.as_ref().as_ref().map_err(|why| not_yet(why.told()))?;
        let tables = study.fault_tables(&usual);
        let (tables, no_tables) = match &*tables {
            Ok(tables) => (tables.clone(), None),
            Err(why) => (IndexMap::new(), Some(why.clone())),
        };
        let language = crew_language(seen.file.job(), &Firm::of(firms.store())?);
        let phrases = Phrases::of(language.word());
        // A job that cannot be tuned yet can be measured all the same.
        let tuned = tuned(study);
        let order = tuned.as_ref().as_ref().map_or(&[][..], |t| &t.order_as_written);
        let document = seen.file.job().document();
        Ok(VisitPack {
            format: PACK_FORMAT,
            name: document.about.name.clone(),
            revision: seen.revision,
            at: now(),
            document: seen.file.raw().clone(),
            resolved: serde_json::to_value(document).unwrap_or_default(),
            catalogue: seen.file.catalogue().described(language),
            runs: run_answers(seen.file.job(), &study.runs(), &study.lines()),
            expect: expect.clone(),
            readings: judged.iter().map(|reading| reading.clone().spoken(phrases)).collect(),
            tables: tables.into_iter().map(|(line, table)| (line, spoken(table, phrases))).collect(),
            rules: reading_rules(&usual),
            no_tables: no_tables.map(|why| why.told().spoken(phrases).to_string()),
            holes: hole_needs(seen.file.job()).into_iter().map(HoleToDig::from).collect(),
            order_spoken: order.iter().map(|stage| stage.spoken(phrases)).collect(),
            order: order.to_vec(),
            language: language.word(),
        })
    })
    .await
}
