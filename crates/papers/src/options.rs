//! What is asked of a pack: which papers, how they look, in whose name.

use crate::design_options::DesignOption;
use crate::drawing::Paper;
use crate::error::PapersError;
use crate::firm::FirmProfile;
use crate::label_stock::LabelStock;
use crate::site_photo::SitePhoto;
use crate::words::Words;
use loamline_model::Units;
use loamline_quotation::PriceBook;

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
    /// Sheets of labels; the firm's, else the usual ones of the paper when `None`.
    pub labels: Option<LabelStock>,
    /// Address under which the app opens a thing of this job once sort and tag are added (`loudspeaker/L1`); without it,
    /// that of the firm's server.
    pub app: Option<String>,
    /// Photos attached to the job: those that visits name are shown in the proposal.
    pub photos: Vec<SitePhoto>,
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
            labels: None,
            app: None,
            photos: Vec::new(),
        })
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
    fn levels_are_told_by_some_parts_only() {
        let only = |only: &[Part]| PackOptions { only: only.to_vec(), ..PackOptions::usual().unwrap() };
        assert!(only(&[]).tells_levels() && only(&[Part::Labels, Part::Proposal]).tells_levels());
        assert!(!only(&[Part::Labels, Part::Tables, Part::Crew]).tells_levels());
    }
}
