//! The pack: every paper of a job in one call.

use crate::drawing::{self, Paper, PlanRequest, Reader, Sheet};
use crate::error::PapersError;
use crate::firm::FirmProfile;
use crate::quantities::{
    BillItem, CableNeed, HoleNeed, JointNeed, bill, cable_needs, hole_needs, joint_needs,
};
use crate::quotation::{PriceBook, Quotation, quote};
use crate::results::Results;
use crate::sections;
use crate::typeset::typeset;
use crate::words::Words;
use loamline_model::{Job, Units};

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
        })
    }

    fn wants(&self, part: Part) -> bool {
        self.only.is_empty() || self.only.contains(&part)
    }
}

/// Makes the data and the drawings of a document.
type Section = fn(&Material<'_>) -> (serde_json::Value, Vec<String>);

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
    pub joints: Vec<JointNeed>,
    pub cables: Vec<CableNeed>,
    pub holes: Vec<HoleNeed>,
    pub bill: Vec<BillItem>,
    pub quotation: Quotation,
    pub plans: Vec<PackDrawing>,
}

impl<'a> Material<'a> {
    /// Works everything out.
    pub fn gather(job: &'a Job, results: &'a Results, options: &'a PackOptions) -> Result<Self, PapersError> {
        let runs = &results.runs;
        let joints = joint_needs(job, runs);
        let cables = cable_needs(job, runs)?;
        let holes = hole_needs(job);
        let bill = bill(job, &options.words, runs, &cables, &joints, &holes);
        let quotation = quote(job, &bill, &options.prices)?;
        let plans = plans(job, options);
        Ok(Self { job, results, options, joints, cables, holes, bill, quotation, plans })
    }
}

/// Makes the papers of a job.
///
/// # Errors
/// [`PapersError`] when a run does not fit on a spool, a sum is too large, or a template does not typeset.
pub fn pack(job: &Job, results: &Results, options: &PackOptions) -> Result<Vec<PackFile>, PapersError> {
    let material = Material::gather(job, results, options)?;
    let words = &options.words;
    let mut files = Vec::new();
    let documents: [(Part, &'static str, Section); 4] = [
        (Part::Proposal, "proposal.typ", sections::proposal),
        (Part::Quotation, "quotation.typ", sections::quotation),
        (Part::Crew, "crew.typ", sections::crew),
        (Part::AsBuilt, "as-built.typ", sections::as_built),
    ];
    for (part, template, section) in documents {
        if options.wants(part) {
            let (data, drawings) = section(&material);
            let pdf = typeset(template, &data, &drawings)?;
            let name = words.get(&format!("file.{}", part.name())).to_owned();
            files.push(PackFile { name: format!("{name}.pdf"), bytes: pdf });
        }
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
        key: true,
        title: "",
    };
    let mut set = drawing::sheets(&blank, options.paper, options.units);
    let one = |sheet: &Sheet, count: usize| {
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
    let overview = one(&set.overview, 0);
    if !overview.without_label.is_empty() && set.details.is_empty() {
        set.details = drawing::detail_sheets(&blank, &set.overview, options.units);
    }
    let count = set.details.len();
    std::iter::once(overview).chain(set.details.iter().map(|sheet| one(sheet, count))).collect()
}
