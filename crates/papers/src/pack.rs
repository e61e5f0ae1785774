//! The pack: every paper of a job in one call.

use crate::error::PapersError;
use crate::material::Material;
use crate::offer::Offer;
use crate::options::{PackOptions, Part};
use crate::results::Results;
use crate::sections;
use crate::typeset::Filling;
use loamline_limits::{go_on, lent};
use loamline_model::Job;

/// Makes the data and the drawings of a document.
type Section = fn(&Material<'_>) -> (serde_json::Value, Vec<String>);

/// A part of the pack that is typeset.
#[derive(Clone, Copy)]
struct Document {
    part: Part,
    template: &'static str,
    section: Section,
    /// Whether there is anything to print.
    says_something: fn(&Material<'_>) -> bool,
}

const fn always(_: &Material<'_>) -> bool {
    true
}

/// Every part that is typeset, in the order of the pack.
const DOCUMENTS: [Document; 11] = [
    Document::always(Part::Proposal, "proposal.typ", sections::proposal),
    Document::always(Part::Quotation, "quotation.typ", sections::quotation),
    Document::always(Part::Crew, "crew.typ", sections::crew),
    Document::always(Part::AsBuilt, "as-built.typ", sections::as_built),
    Document::always(Part::BeforeWork, "before-work.typ", sections::before_work),
    Document {
        says_something: sections::has_work,
        ..Document::always(Part::WorkPlan, "work-plan.typ", sections::work_plan)
    },
    Document::always(Part::Electrical, "electrical.typ", sections::electrical),
    Document::always(Part::Certificate, "certificate.typ", sections::certificate),
    Document::always(Part::Guide, "guide.typ", sections::guide),
    Document::always(Part::Service, "service.typ", sections::service),
    Document {
        says_something: sections::has_labels,
        ..Document::always(Part::Labels, "labels.typ", sections::labels)
    },
];

impl Document {
    const fn always(part: Part, template: &'static str, section: Section) -> Self {
        Self { part, template, section, says_something: always }
    }

    fn fill<T>(
        self,
        material: &Material<'_>,
        write: impl FnOnce(&Filling<'_>) -> Result<T, PapersError>,
    ) -> Result<T, PapersError> {
        let (data, drawings) = (self.section)(material);
        // The last moment at which it can be stopped: the typesetting library knows of nobody who leaves.
        go_on();
        let options = material.options;
        let logo = options.firm.logo.as_ref();
        // Only the proposal shows any.
        let photos = if self.part == Part::Proposal { options.photos.as_slice() } else { &[] };
        let tagged = self.part != Part::Crew || !material.is_large();
        let template = self.template;
        write(&Filling { template, data: &data, drawings: &drawings, logo, photos, tagged })
    }
}

/// Typesets documents side by side, a thread each: they share nothing but the fonts.
fn typeset_all(material: &Material<'_>, documents: &[Document]) -> Vec<Result<Vec<u8>, PapersError>> {
    let leave = lent();
    let set = &|d: &Document| leave.lend(|| d.fill(material, |filling| filling.pdf()));
    let typeset = std::thread::scope(|scope| {
        let threads: Vec<_> = documents.iter().map(|d| scope.spawn(move || set(d))).collect();
        let lost = |template: &str| PapersError::Template {
            template: template.to_owned(),
            reasons: "the typesetting library gave up".to_owned(),
        };
        threads
            .into_iter()
            .zip(documents)
            .map(|(thread, d)| thread.join().unwrap_or_else(|_| Err(lost(d.template))))
            .collect()
    });
    // A thread that left off is no fault of the library.
    go_on();
    typeset
}

/// A file of the pack.
#[derive(Debug, Clone, PartialEq)]
pub struct PackFile {
    /// Name in the language of its reader, with `/` between folders.
    pub name: String,
    /// What it is, as its reader calls it.
    pub title: String,
    /// The part it belongs to.
    pub part: Part,
    /// Whether it tells prices, or else what is agreed with the client.
    pub for_office: bool,
    /// Contents.
    pub bytes: Vec<u8>,
}

/// Makes the papers of a job.
///
/// # Errors
/// [`PapersError`] when a run does not fit on a spool, a sum is too large, or a template does not typeset.
pub fn pack(job: &Job, results: &Results, options: &PackOptions) -> Result<Vec<PackFile>, PapersError> {
    let two = options.crew_words.as_ref().is_some_and(|crew| *crew != options.words);
    if !two {
        return in_one_language(job, results, options);
    }
    let mut made = Vec::new();
    for one in [true, false].into_iter().filter_map(|crew| options.for_reader(crew)) {
        made.extend(in_one_language(job, results, &one)?);
    }
    // In the order of a pack in one language; files of a part stay as they come.
    made.sort_by_key(|file| Part::ALL.iter().position(|part| *part == file.part));
    Ok(made)
}

/// The job with its equipment described in the language of the papers.
fn described(job: &Job, options: &PackOptions) -> Job {
    options.words.language().map_or_else(|| job.clone(), |language| job.described(language))
}

/// The papers that are asked for, all in the language of `options.words`.
fn in_one_language(
    job: &Job,
    results: &Results,
    options: &PackOptions,
) -> Result<Vec<PackFile>, PapersError> {
    let job = &described(job, options);
    let material = Material::gather(job, results, options)?;
    let words = &options.words;
    let wanted: Vec<Document> =
        DOCUMENTS.into_iter().filter(|d| options.wants(d.part) && (d.says_something)(&material)).collect();
    let mut files = Vec::new();
    // A name is spared the letters a file system may not take; a title has them.
    let titled = |key: &str| words.get(&format!("paper.{key}")).to_owned();
    let file = |part: Part, name: String, title: String, bytes: Vec<u8>| PackFile {
        name,
        title,
        part,
        for_office: !part.is_for_crew(),
        bytes,
    };
    for (document, pdf) in wanted.iter().zip(typeset_all(&material, &wanted)) {
        let name = words.get(&format!("file.{}", document.part.name())).to_owned();
        files.push(file(document.part, format!("{name}.pdf"), titled(document.part.name()), pdf?));
    }
    if options.wants(Part::Labels) {
        let name = format!("{}.csv", words.get("file.labels"));
        files.push(file(Part::Labels, name, titled("labels"), sections::label_list(&material).csv()));
    }
    if options.wants(Part::Drawings) {
        files.extend(material.plans.iter().map(|plan| {
            let name = format!("drawings/{}.svg", plan.name);
            file(Part::Drawings, name, plan.title.clone(), plan.svg.clone().into_bytes())
        }));
    }
    if let Some(key) = material.key.as_ref().filter(|_| options.wants(Part::Drawings)) {
        let name = "drawings/plan-key.svg".to_owned();
        let title = words.get("plan.key_title").to_owned();
        files.push(file(Part::Drawings, name, title, key.svg.clone().into_bytes()));
    }
    if options.wants(Part::Tables) {
        files.extend(sections::tables(&material).into_iter().map(|(key, table)| {
            let name = format!("{}.csv", words.get(&format!("file.{key}")));
            let made = file(Part::Tables, name, titled(key), table.csv());
            PackFile { for_office: key == "bill", ..made }
        }));
    }
    if options.wants(Part::Data) {
        let mut text = serde_json::to_vec_pretty(&sections::data(&material)).unwrap_or_default();
        text.push(b'\n');
        files.push(file(Part::Data, format!("{}.json", words.get("file.data")), titled("data"), text));
    }
    Ok(files)
}

/// The pages of a part for a screen, an SVG drawing each, letters as outlines; none for a part that is not typeset.
///
/// # Errors
/// As [`pack`].
pub fn pages(
    job: &Job,
    results: &Results,
    options: &PackOptions,
    part: Part,
) -> Result<Vec<String>, PapersError> {
    let Some(document) = DOCUMENTS.into_iter().find(|d| d.part == part) else { return Ok(Vec::new()) };
    let spoken = PackOptions { words: options.words_of(part).clone(), ..options.clone() };
    let job = &described(job, &spoken);
    let material = Material::gather(job, results, &spoken)?;
    document.fill(&material, |filling| filling.pages())
}

/// What the proposal says of a job, for a screen: finished texts, and the plan with the sound as SVG.
///
/// # Errors
/// [`PapersError`] when a run does not fit on a spool, or a sum is too large.
pub fn offer(job: &Job, results: &Results, options: &PackOptions) -> Result<Offer, PapersError> {
    let job = &described(job, options);
    let material = Material::gather(job, results, options)?;
    let (data, drawings) = sections::proposal(&material);
    Offer::of(data, drawings)
        .map_err(|e| PapersError::Template { template: "proposal.typ".to_owned(), reasons: e.to_string() })
}
