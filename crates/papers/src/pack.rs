//! The pack: every paper of a job in one call.

use crate::design_options::DesignOption;
use crate::drawing::{self, Paper, PlanRequest, Reader, Sheet};
use crate::error::PapersError;
use crate::firm::FirmProfile;
use crate::quantities::{
    BillItem, GroundNeed, HoleNeed, JointNeed, Needs, bill, crossings, ground_needs, hole_needs, joint_needs,
};
use crate::quotation::{PriceBook, Quotation, quote};
use crate::results::Results;
use crate::sections;
use crate::typeset::Filling;
use crate::words::Words;
use loamline_model::{Job, Units};
use loamline_study::{LaidCable, laid_cables};

/// A part of the pack.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// What the client is offered, PDF.
    Proposal,
    /// Every price, PDF.
    Quotation,
    /// What the crew builds from, PDF.
    Crew,
    /// What stays in the rack, PDF.
    AsBuilt,
    /// Every drawing, SVG.
    Drawings,
    /// Schedules and bill, CSV.
    Tables,
    /// Everything the papers say, JSON.
    Data,
}

impl Part {
    /// Every part.
    pub const ALL: [Self; 7] = [
        Self::Proposal,
        Self::Quotation,
        Self::Crew,
        Self::AsBuilt,
        Self::Drawings,
        Self::Tables,
        Self::Data,
    ];

    /// The name it is asked for by.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Proposal => "proposal",
            Self::Quotation => "quotation",
            Self::Crew => "crew",
            Self::AsBuilt => "as-built",
            Self::Drawings => "drawings",
            Self::Tables => "tables",
            Self::Data => "data",
        }
    }

    /// The part of a name.
    ///
    /// # Errors
    /// [`PapersError::UnknownPaper`] with the names there are.
    pub fn named(name: &str) -> Result<Self, PapersError> {
        Self::ALL.into_iter().find(|p| p.name() == name).ok_or_else(|| PapersError::UnknownPaper {
            name: name.to_owned(),
            known: Self::ALL.map(Self::name).join(", "),
        })
    }
}

/// How the papers are made.
#[derive(Debug, Clone, PartialEq)]
pub struct PackOptions {
    /// Parts to make; all when empty.
    pub only: Vec<Part>,
    /// Sheet of paper.
    pub paper: Paper,
    /// Units people read.
    pub units: Units,
    /// Language.
    pub words: Words,
    /// The firm.
    pub firm: FirmProfile,
    /// Own prices.
    pub prices: PriceBook,
    /// Options to put side by side in the proposal; none where there is one design only.
    pub designs: Vec<DesignOption>,
}

impl PackOptions {
    /// Everything, on A4, metric, in English, without a letterhead, at the catalogue's prices.
    ///
    /// # Errors
    /// [`PapersError::Language`] when the language file shipped with the program is damaged.
    pub fn usual() -> Result<Self, PapersError> {
        Ok(Self {
            only: Vec::new(),
            paper: Paper::default(),
            units: Units::default(),
            words: Words::english()?,
            firm: FirmProfile::default(),
            prices: PriceBook::default(),
            designs: Vec::new(),
        })
    }

    fn wants(&self, part: Part) -> bool {
        self.only.is_empty() || self.only.contains(&part)
    }
}

/// Makes the data and the drawings of a document.
type Section = fn(&Material<'_>) -> (serde_json::Value, Vec<String>);

/// A part of the pack that is typeset.
#[derive(Clone, Copy)]
struct Document {
    part: Part,
    template: &'static str,
    section: Section,
}

/// Every part that is typeset, in the order of the pack.
const DOCUMENTS: [Document; 4] = [
    Document { part: Part::Proposal, template: "proposal.typ", section: sections::proposal },
    Document { part: Part::Quotation, template: "quotation.typ", section: sections::quotation },
    Document { part: Part::Crew, template: "crew.typ", section: sections::crew },
    Document { part: Part::AsBuilt, template: "as-built.typ", section: sections::as_built },
];

impl Document {
    fn fill<T>(
        self,
        material: &Material<'_>,
        write: impl FnOnce(&Filling<'_>) -> Result<T, PapersError>,
    ) -> Result<T, PapersError> {
        let (data, drawings) = (self.section)(material);
        let logo = material.options.firm.logo.as_ref();
        write(&Filling { template: self.template, data: &data, drawings: &drawings, logo })
    }
}

/// Typesets documents side by side, a thread each: they share nothing but the fonts.
fn typeset_all(material: &Material<'_>, documents: &[Document]) -> Vec<Result<Vec<u8>, PapersError>> {
    std::thread::scope(|scope| {
        let threads: Vec<_> =
            documents.iter().map(|d| scope.spawn(|| d.fill(material, |filling| filling.pdf()))).collect();
        let lost = |template: &str| PapersError::Template {
            template: template.to_owned(),
            reasons: "the typesetting library gave up".to_owned(),
        };
        threads
            .into_iter()
            .zip(documents)
            .map(|(thread, d)| thread.join().unwrap_or_else(|_| Err(lost(d.template))))
            .collect()
    })
}

/// A file of the pack.
#[derive(Debug, Clone, PartialEq)]
pub struct PackFile {
    /// Name, with `/` between folders.
    pub name: String,
    /// Contents.
    pub bytes: Vec<u8>,
}

/// A drawing of the pack.
#[derive(Debug, Clone)]
pub struct PackDrawing {
    /// File name without ending.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// The sheet it is for.
    pub sheet: Sheet,
    /// Tags without room for their label.
    pub without_label: Vec<String>,
    /// Tags on it.
    pub tags: Vec<String>,
    /// The drawing.
    pub svg: String,
}

/// Everything worked out once, shared by the parts.
pub struct Material<'a> {
    pub job: &'a Job,
    pub results: &'a Results,
    pub options: &'a PackOptions,
    pub laid: Vec<LaidCable>,
    pub joints: Vec<JointNeed>,
    pub cables: Vec<loamline_study::CableOrder>,
    pub ground: Vec<GroundNeed>,
    pub holes: Vec<HoleNeed>,
    pub bill: Vec<BillItem>,
    pub quotation: Quotation,
    pub plans: Vec<PackDrawing>,
}

impl<'a> Material<'a> {
    /// Works everything out.
    pub fn gather(job: &'a Job, results: &'a Results, options: &'a PackOptions) -> Result<Self, PapersError> {
        let laid = laid_cables(job, &results.runs);
        let joints = joint_needs(job, &laid);
        let cables = loamline_study::cable_orders(job, &laid)?;
        let ground = ground_needs(&results.runs, &laid);
        let holes = hole_needs(job);
        let needs = Needs {
            cables: &cables,
            joints: &joints,
            ground: &ground,
            crossings: crossings(&results.runs, &laid),
            holes: &holes,
        };
        let bill = bill(job, &options.words, options.units, needs);
        let quotation = quote(job, &bill, &options.prices)?;
        let plans = plans(job, options);
        Ok(Self { job, results, options, laid, joints, cables, ground, holes, bill, quotation, plans })
    }
}

/// Makes the papers of a job.
///
/// # Errors
/// [`PapersError`] when a run does not fit on a spool, a sum is too large, or a template does not typeset.
pub fn pack(job: &Job, results: &Results, options: &PackOptions) -> Result<Vec<PackFile>, PapersError> {
    let material = Material::gather(job, results, options)?;
    let words = &options.words;
    let wanted: Vec<Document> = DOCUMENTS.into_iter().filter(|d| options.wants(d.part)).collect();
    let mut files = Vec::new();
    for (document, pdf) in wanted.iter().zip(typeset_all(&material, &wanted)) {
        let name = words.get(&format!("file.{}", document.part.name())).to_owned();
        files.push(PackFile { name: format!("{name}.pdf"), bytes: pdf? });
    }
    if options.wants(Part::Drawings) {
        files.extend(material.plans.iter().map(|plan| PackFile {
            name: format!("drawings/{}.svg", plan.name),
            bytes: plan.svg.clone().into_bytes(),
        }));
    }
    if options.wants(Part::Tables) {
        files.extend(
            sections::tables(&material)
                .into_iter()
                .map(|(name, table)| PackFile { name: format!("{name}.csv"), bytes: table.csv() }),
        );
    }
    if options.wants(Part::Data) {
        let mut text = serde_json::to_vec_pretty(&sections::data(&material)).unwrap_or_default();
        text.push(b'\n');
        files.push(PackFile { name: format!("{}.json", words.get("file.data")), bytes: text });
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
    let material = Material::gather(job, results, options)?;
    let Some(document) = DOCUMENTS.into_iter().find(|d| d.part == part) else { return Ok(Vec::new()) };
    document.fill(&material, |filling| filling.pages())
}

fn plans(job: &Job, options: &PackOptions) -> Vec<PackDrawing> {
    let words = &options.words;
    let blank = PlanRequest {
        job,
        words,
        units: options.units,
        reader: Reader::Crew,
        centre: Default::default(),
        mm_per_m: 1.0,
        size_mm: (0.0, 0.0),
        field: None,
        only_line: None,
        parts: &[],
        key: true,
        title: "",
    };
    let mut set = drawing::sheets(&blank, options.paper, options.units);
    let one = |sheet: &Sheet, parts: &[Sheet], count: usize| {
        let count = count.to_string();
        let (name, title) = match sheet.detail {
            None => ("plan".to_owned(), words.get("plan.title").to_owned()),
            Some(n) => (
                format!("plan-{n}"),
                words.fill("plan.title_detail", &[("number", &n.to_string()), ("count", &count)]),
            ),
        };
        let plan = drawing::draw(&PlanRequest {
            centre: sheet.centre,
            mm_per_m: sheet.scale.mm_per_m(),
            size_mm: sheet.size_mm,
            title: &title,
            key: sheet.detail.is_none(),
            parts,
            ..blank
        });
        PackDrawing {
            name,
            title,
            sheet: sheet.clone(),
            without_label: plan.without_label,
            tags: plan.tags,
            svg: plan.svg,
        }
    };
    let mut overview = one(&set.overview, &set.details, 0);
    if !overview.without_label.is_empty() && set.details.is_empty() {
        set.details = drawing::detail_sheets(&blank, &set.overview, options.units);
        overview = one(&set.overview, &set.details, 0);
    }
    let count = set.details.len();
    std::iter::once(overview).chain(set.details.iter().map(|sheet| one(sheet, &[], count))).collect()
}
