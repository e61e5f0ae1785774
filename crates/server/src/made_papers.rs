//! Papers that were made, kept for whoever looks at them next.

use crate::error::ApiError;
use crate::firm::Firm;
use crate::jobs::OpenJob;
use loamline_limits::PAPERS_KEPT;
use loamline_model::Units;
use serde::Deserialize;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use utoipa::{IntoParams, ToSchema};

/// How papers are wanted.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct PapersQuery {
    /// Sheet of paper: A4, A3, Letter or Tabloid; the job's when absent (A4, in US units Letter, where it says none).
    #[serde(default)]
    paper: Option<String>,
    /// Units people read; the job's when absent.
    #[serde(default)]
    #[param(inline)]
    units: Option<UnitsWord>,
    /// Sheets of labels, for example `70 mm x 36 mm, 3 x 8`; the usual ones of the paper when absent.
    #[serde(default)]
    labels: Option<String>,
    /// Only this zone of the job, by its id or its name.
    #[serde(default)]
    zone: Option<String>,
    /// Only this phase of the job, by its id or its name.
    #[serde(default)]
    phase: Option<String>,
    /// A name made up by whoever asks, under which `/api/queues` tells the place of this request while it waits.
    #[serde(default)]
    pub ticket: Option<String>,
}

impl PapersQuery {
    /// Papers as they are made where nobody says how.
    #[cfg(feature = "papers")]
    pub fn usual() -> Self {
        Self { paper: None, units: None, labels: None, zone: None, phase: None, ticket: None }
    }

    /// What papers differ by.
    fn sort(&self) -> (Option<UnitsWord>, [Option<&str>; 4]) {
        let words = [&self.paper, &self.labels, &self.zone, &self.phase];
        (self.units, words.map(|word| word.as_deref()))
    }
}

/// Units people read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum UnitsWord {
    /// Metres, degrees Celsius, kilograms.
    Metric,
    /// Feet and inches, degrees Fahrenheit, pounds.
    Us,
}

impl From<UnitsWord> for Units {
    fn from(u: UnitsWord) -> Self {
        match u {
            UnitsWord::Metric => Self::Metric,
            UnitsWord::Us => Self::Us,
        }
    }
}

/// A file of the papers with its contents.
pub struct Paper {
    /// Its name.
    pub name: String,
    /// What it is, in the language of its reader.
    pub title: String,
    /// The part of the pack it belongs to, such as `guide`.
    pub part: &'static str,
    /// Whether it tells prices, or else what is agreed with the client.
    pub for_office: bool,
    /// What it holds.
    pub bytes: Vec<u8>,
}

/// Papers that were made, by job.
#[derive(Clone, Default)]
pub struct MadePapers(Arc<Mutex<HashMap<String, Slot>>>);

/// The papers of one job; held while they are made, so that whoever else wants them meanwhile waits and makes none.
type Slot = Arc<Mutex<Option<Kept>>>;

struct Kept {
    revision: u64,
    query: PapersQuery,
    /// The firm they are of.
    firm: String,
    papers: Arc<Vec<Paper>>,
    asked: Instant,
}

impl MadePapers {
    /// The papers of a job as it now is, in the firm's name, and its revision; made when they are not at hand. `at` is where
    /// telephones find the app, for the codes on labels.
    ///
    /// # Errors
    /// When there is no such sheet, or they cannot be made.
    pub fn of(
        &self,
        job: &OpenJob,
        query: &PapersQuery,
        at: Option<&str>,
        firm: &Firm,
    ) -> Result<(u64, Arc<Vec<Paper>>), ApiError> {
        let slot = self.slot(job.id());
        let mut kept = slot.lock().unwrap_or_else(PoisonError::into_inner);
        // What was accepted stands on the certificate: accepted anew, it is another.
        let accepted = job.last_accepted()?.map_or_else(String::new, |a| a.sha256);
        let (revision, sum) = (job.now().revision, firm.sum() + &accepted);
        let is_it = |k: &&mut Kept| k.revision == revision && k.query.sort() == query.sort() && k.firm == sum;
        if let Some(k) = kept.as_mut().filter(is_it) {
            k.asked = Instant::now();
            return Ok((revision, Arc::clone(&k.papers)));
        }
        let (revision, papers) = make(job, query, at, firm)?;
        let (papers, query, asked) = (Arc::new(papers), query.clone(), Instant::now());
        *kept = Some(Kept { revision, query, firm: sum, papers: Arc::clone(&papers), asked });
        Ok((revision, papers))
    }

    /// Lets go of papers nobody has asked for so long, and of what typesetting keeps for the next ones.
    pub fn let_go(&self, unused_for: Duration) {
        let is_wanted = |slot: &Slot| {
            // One that is made now has more than one holder.
            Arc::strong_count(slot) > 1
                || slot
                    .lock()
                    .unwrap_or_else(PoisonError::into_inner)
                    .as_ref()
                    .is_some_and(|k| k.asked.elapsed() < unused_for)
        };
        self.0.lock().unwrap_or_else(PoisonError::into_inner).retain(|_, slot| is_wanted(slot));
        #[cfg(feature = "papers")]
        loamline_papers::let_go_of_typesetting(unused_for);
    }

    fn slot(&self, job: &str) -> Slot {
        let mut slots = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if slots.len() >= PAPERS_KEPT.most() && !slots.contains_key(job) {
            // Those being made now stay, so that nobody makes them twice.
            slots.retain(|_, slot| Arc::strong_count(slot) > 1);
        }
        Arc::clone(slots.entry(job.to_owned()).or_default())
    }
}

#[cfg(feature = "papers")]
fn make(
    job: &OpenJob,
    query: &PapersQuery,
    at: Option<&str>,
    firm: &Firm,
) -> Result<(u64, Vec<Paper>), ApiError> {
    use crate::accepted::since_last;
    use crate::error::{cannot, shown};
    use loamline_model::document::Paper as Sheet;
    use loamline_papers::{Accepted, LabelStock, PackFile, PackOptions, PapersError, Results, pack};
    use loamline_study::PartStudy;
    use loamline_terms::{capitalised, say};
    let mut options = PackOptions::usual().map_err(cannot)?;
    let now = job.now();
    firm.put_on(&mut options, now.file.job())?;
    options.units = query.units.map_or_else(|| now.file.job().document().units(), Units::from);
    options.paper = match &query.paper {
        None => now.file.job().document().paper(options.units),
        Some(name) => Sheet::named(name).ok_or_else(|| {
            let asked = shown(name);
            ApiError::field(
                "?paper",
                say!("\"{sheet}\" is no sheet here: A4, A3, Letter and Tabloid are.", sheet = asked),
            )
        })?,
    };
    let refused = |e: PapersError| match e {
        PapersError::Labels { reason } => {
            ApiError::field("?labels", say!("No labels can be printed so: {reason}.", reason = reason))
        }
        e => cannot(e),
    };
    options.labels = query.labels.as_deref().map(LabelStock::read).transpose().map_err(refused)?;
    options.app = at.map(|at| format!("{at}#tag/{}/", job.id()));
    options.accepted = since_last(job, &now)?.map(|since| Accepted {
        day: since.day().to_owned(),
        total_now: since.now.filter(|now| Some(now) != since.then.as_ref()),
        by: since.by,
        total: since.then,
        changes: since.changes,
    });
    let part = now.file.job().document().part(query.zone.as_deref(), query.phase.as_deref());
    let part = part.map_err(|why| {
        let field = if why.is_of_a_zone() { "?zone" } else { "?phase" };
        ApiError::field(field, format!("{}.", shown(&capitalised(&why.to_string()))))
    })?;
    let part = PartStudy::of(&now.study, part);
    options.photos = photos(job, part.own().job())?;
    let files = pack(part.own().job(), &Results::for_part(&part, &options), &options).map_err(refused)?;
    let paper = |f: PackFile| Paper {
        name: f.name,
        title: f.title,
        part: f.part.name(),
        for_office: f.for_office,
        bytes: f.bytes,
    };
    Ok((now.revision, files.into_iter().map(paper).collect()))
}

/// The photos that visits name, of those kept with the job. What is no picture a paper can print is left out: it is no reason to
/// have no papers.
#[cfg(feature = "papers")]
fn photos(job: &OpenJob, now: &loamline_model::Job) -> Result<Vec<loamline_papers::SitePhoto>, ApiError> {
    let mut names: Vec<&str> = Vec::new();
    for photo in now.document().visits.values().flat_map(|v| v.photos.values()) {
        if !names.contains(&photo.file.as_str()) {
            names.push(&photo.file);
        }
    }
    let mut photos = Vec::new();
    for name in names {
        let Some(bytes) = job.attachment(name)? else { continue };
        photos.extend(loamline_papers::SitePhoto::read(name, bytes).ok());
    }
    Ok(photos)
}

#[cfg(not(feature = "papers"))]
fn make(_: &OpenJob, _: &PapersQuery, _: Option<&str>, _: &Firm) -> Result<(u64, Vec<Paper>), ApiError> {
    Err(ApiError::new(
        axum::http::StatusCode::NOT_FOUND,
        crate::error_code::ErrorCode::NotBuilt,
        loamline_terms::say!("The papers are not in this program: it was built without them."),
    ))
}
