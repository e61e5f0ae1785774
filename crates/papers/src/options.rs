//! What is asked of a pack: which papers, how they look, in whose name.

use crate::design_options::DesignOption;
use crate::error::PapersError;
use crate::firm::FirmProfile;
use crate::label_stock::LabelStock;
use crate::site_photo::SitePhoto;
use crate::words::Words;
use loamline_model::document::{Language, Paper};
use loamline_model::{Job, Units};
use loamline_quotation::PriceBook;
use loamline_study::DesignChange;

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
    /// What is settled before work starts: permits, limits, access, hazards, changes, PDF.
    BeforeWork,
    /// What is done on which day, and what is loaded for it, PDF.
    WorkPlan,
    /// What an electrician decides on and tests, PDF.
    Electrical,
    /// What is signed at handover: what was wanted, expected and measured, PDF.
    Certificate,
    /// What the client keeps: what is where, how it is used, how the garden is kept, PDF.
    Guide,
    /// What whoever services it works by: warranty, checks by the season, spare parts, log, PDF.
    Service,
    /// What is stuck on cable, joints, loudspeakers and racks: sheets as PDF, a list as CSV.
    Labels,
    /// Every drawing, SVG.
    Drawings,
    /// Schedules and bill, CSV.
    Tables,
    /// Everything the papers say, JSON.
    Data,
}

impl Part {
    /// Every part.
    pub const ALL: [Self; 14] = [
        Self::Proposal,
        Self::Quotation,
        Self::Crew,
        Self::AsBuilt,
        Self::BeforeWork,
        Self::WorkPlan,
        Self::Electrical,
        Self::Certificate,
        Self::Guide,
        Self::Service,
        Self::Labels,
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
            Self::BeforeWork => "before-work",
            Self::WorkPlan => "work-plan",
            Self::Electrical => "electrical",
            Self::Certificate => "certificate",
            Self::Guide => "guide",
            Self::Service => "service",
            Self::Labels => "labels",
            Self::Drawings => "drawings",
            Self::Tables => "tables",
            Self::Data => "data",
        }
    }

    /// Whether it says how loud it is anywhere: in areas, at neighbours, at the loudest place, over the plan.
    pub const fn tells_levels(self) -> bool {
        matches!(self, Self::Proposal | Self::BeforeWork | Self::Certificate | Self::Data)
    }

    /// Whether a crew reads it: who digs, lays, joins, measures, connects or services.
    pub const fn is_for_crew(self) -> bool {
        match self {
            Self::Crew
            | Self::AsBuilt
            | Self::BeforeWork
            | Self::WorkPlan
            | Self::Electrical
            | Self::Service
            | Self::Labels
            | Self::Drawings => true,
            Self::Proposal
            | Self::Quotation
            | Self::Certificate
            | Self::Guide
            | Self::Tables
            | Self::Data => false,
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

/// What a client accepted of a job, and what of it is otherwise now.
#[derive(Debug, Clone, PartialEq)]
pub struct Accepted {
    /// Who accepted.
    pub by: String,
    /// On which day.
    pub day: String,
    /// What was to be paid, as an amount; none where no price was shown.
    pub total: Option<String>,
    /// What is to be paid now, where that is otherwise.
    pub total_now: Option<String>,
    /// What of the design differs.
    pub changes: Vec<DesignChange>,
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
    /// Language of what office and client read.
    pub words: Words,
    /// Language of what a crew reads ([`Part::is_for_crew`]); that of the others when `None`.
    pub crew_words: Option<Words>,
    /// The firm.
    pub firm: FirmProfile,
    /// Own prices.
    pub prices: PriceBook,
    /// Options to put side by side in the proposal; none where there is one design only.
    pub designs: Vec<DesignOption>,
    /// Sheets of labels; the firm's, else the usual ones of the paper when `None`.
    pub labels: Option<LabelStock>,
    /// Address under which the app opens a thing of this job once sort and tag are added (`loudspeaker/L1`); without it,
    /// that of the firm's server.
    pub app: Option<String>,
    /// Photos attached to the job: those that visits name are shown in the proposal.
    pub photos: Vec<SitePhoto>,
    /// What was accepted of it last; none where nothing was.
    pub accepted: Option<Accepted>,
}

impl PackOptions {
    /// Everything, on A4, metric, in English, without a letterhead, at the catalogue's prices.
    ///
    /// # Errors
    /// [`PapersError::Language`] when the language file shipped with the program is damaged.
    pub fn usual() -> Result<Self, PapersError> {
        Ok(Self {
            only: Vec::new(),
            paper: Paper::usual(Units::default()),
            units: Units::default(),
            words: Words::english()?,
            crew_words: None,
            firm: FirmProfile::default(),
            prices: PriceBook::default(),
            designs: Vec::new(),
            labels: None,
            app: None,
            photos: Vec::new(),
            accepted: None,
        })
    }

    /// Takes the languages a job states, else those of the firm's profile, else English; a language file of the firm's own
    /// comes before the language its profile names.
    ///
    /// # Errors
    /// [`PapersError::Language`] when a language file shipped with the program is damaged.
    pub fn speak(&mut self, job: &Job, firms_own: Option<Words>) -> Result<(), PapersError> {
        let about = &job.document().about;
        self.words = match (about.language, firms_own) {
            (None, Some(own)) => own,
            (stated, _) => Words::of(stated.or(self.firm.language).unwrap_or(Language::English))?,
        };
        let crew = about.crew_language.or(self.firm.crew_language);
        self.crew_words = crew.map(Words::of).transpose()?;
        Ok(())
    }

    /// The language of a part.
    pub fn words_of(&self, part: Part) -> &Words {
        self.crew_words.as_ref().filter(|_| part.is_for_crew()).unwrap_or(&self.words)
    }

    /// These options for the parts that one kind of reader reads, in the language of those; `None` where none of them is
    /// asked for.
    pub(crate) fn for_reader(&self, crew: bool) -> Option<Self> {
        let only: Vec<Part> =
            Part::ALL.into_iter().filter(|p| p.is_for_crew() == crew && self.wants(*p)).collect();
        let words = self.words_of(*only.first()?).clone();
        Some(Self { only, words, crew_words: None, ..self.clone() })
    }

    /// Whether a part that is asked for tells levels ([`Part::tells_levels`]).
    pub fn tells_levels(&self) -> bool {
        Part::ALL.into_iter().any(|part| part.tells_levels() && self.wants(part))
    }

    /// Whether a part is asked for.
    pub(crate) fn wants(&self, part: Part) -> bool {
        self.only.is_empty() || self.only.contains(&part)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_part_is_for_one_kind_of_reader() {
        let spanish = || Words::of(Language::Spanish).unwrap();
        let options = PackOptions { crew_words: Some(spanish()), ..PackOptions::usual().unwrap() };
        let (crew, office) = (options.for_reader(true).unwrap(), options.for_reader(false).unwrap());
        assert_eq!(crew.only.len() + office.only.len(), Part::ALL.len());
        assert_eq!((&crew.words, &office.words), (&spanish(), &options.words));
        assert_eq!(options.words_of(Part::Labels), &spanish());
        assert_eq!(options.words_of(Part::Quotation), &options.words);
        let labels = PackOptions { only: vec![Part::Labels], ..options };
        assert!(labels.for_reader(false).is_none() && labels.for_reader(true).is_some());
    }

    #[test]
    fn the_job_comes_before_the_firm() {
        let job = |about: &str| {
            let text = format!("format = 1\n[job]\nname = \"Words\"\n{about}");
            loamline_model::read_job(&loamline_model::SourceFile::new("job.toml", text.as_str()), &[])
                .unwrap()
        };
        let of = |language| Words::of(language).unwrap();
        let spoken = |about: &str, firm: FirmProfile, own: Option<Words>| {
            let mut options = PackOptions { firm, ..PackOptions::usual().unwrap() };
            options.speak(&job(about), own).unwrap();
            (options.words, options.crew_words)
        };
        let firm = || FirmProfile {
            language: Some(Language::AmericanEnglish),
            crew_language: Some(Language::Spanish),
            ..FirmProfile::default()
        };
        assert_eq!(spoken("", FirmProfile::default(), None), (of(Language::English), None));
        assert_eq!(spoken("", firm(), None), (of(Language::AmericanEnglish), Some(of(Language::Spanish))));
        let own = Words::read("base = \"en\"\n[side]\nnorth = \"up\"\n").unwrap();
        assert_eq!(spoken("", firm(), Some(own.clone())).0, own);
        let stated = "language = \"es\"\ncrew_language = \"en\"\n";
        assert_eq!(spoken(stated, firm(), Some(own)), (of(Language::Spanish), Some(of(Language::English))));
    }

    #[test]
    fn levels_are_told_by_some_parts_only() {
        let only = |only: &[Part]| PackOptions { only: only.to_vec(), ..PackOptions::usual().unwrap() };
        assert!(only(&[]).tells_levels() && only(&[Part::Labels, Part::Proposal]).tells_levels());
        assert!(!only(&[Part::Labels, Part::Tables, Part::Crew]).tells_levels());
    }
}
