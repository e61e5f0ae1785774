//! Proposals as they are sent.

use super::findings::{FindingView, finding_views};
use super::patch::PatchOperation;
use indexmap::IndexMap;
use loamline_model::Edit;
use loamline_propose::{Proposal, Proposed};
use serde::Serialize;
use utoipa::ToSchema;

/// A proposal.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RunView {
    /// Its id.
    run: String,
    /// Revision of the job it is for.
    revision: u64,
    /// Whether it is finished.
    done: bool,
    /// Whether it was stopped before it was finished.
    stopped: bool,
    /// Currency of all amounts.
    currency: String,
    /// Designs that meet the brief, cheapest first.
    options: Vec<ProposalView>,
    /// Why none does.
    failure: Option<FailureView>,
    /// Proven: no choice among the candidates looked at costs less, tax included.
    bound: Option<f64>,
    /// Places looked at.
    places: usize,
    /// Ways of using them looked at: model, aim and tap.
    candidates: usize,
}

/// A proposed design; not carried out: send the patch as an edit.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ProposalView {
    /// `least-cost`, `balanced`, `most-even`: those it is the answer to.
    kinds: Vec<String>,
    /// What the client pays, tax included.
    cost: f64,
    /// The same before tax.
    net: f64,
    /// Loudspeakers, their mounting, their share of cable and amplification, as the search saw it, tax included: what
    /// `bound` is the least of.
    choice_cost: f64,
    /// In a sentence.
    summary: String,
    /// Figures for people, by what they are.
    figures: IndexMap<String, String>,
    /// Areas by id.
    areas: IndexMap<String, ProposedArea>,
    /// What each loudspeaker is for.
    reasons: Vec<ReasonView>,
    /// Lines that were measured or worked on and that it replaces.
    replaces: Vec<ReplacedView>,
    /// What wants attention in the finished design.
    findings: Vec<FindingView>,
    /// The edit that writes it into the job.
    #[schema(value_type = Vec<PatchOperation>)]
    patch: Edit,
}

/// An area in a design.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ProposedArea {
    /// Level wanted, dBA.
    target_dba: f64,
    /// Mean level, dBA.
    mean_dba: f64,
    /// Share within the band, 0 to 1.
    share_within: f64,
    /// 90th less 10th percentile, dB.
    spread_db: f64,
}

/// A line that a design replaces or takes away although something was measured or done on it: the visits keep all of it,
/// with the line as it was.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReplacedView {
    /// The line.
    line: String,
    /// Visits at which something was measured or done on it.
    visits: Vec<String>,
    /// Readings that were taken of it.
    readings: usize,
    /// Things ticked off on it.
    done: usize,
    /// Photos of it.
    photos: usize,
    /// The same as a sentence.
    sentence: String,
}

/// What a loudspeaker is for.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReasonView {
    /// Which.
    loudspeaker: String,
    /// What would be lost without it.
    sentence: String,
}

/// Why no design meets the brief.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FailureView {
    /// What stands in the way, with the numbers.
    sentence: String,
    /// The nearest brief that one meets.
    nearest: Option<String>,
    /// The edit of the brief that makes it so.
    #[schema(value_type = Option<Vec<PatchOperation>>)]
    relax: Option<Edit>,
}

fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

fn proposal_view(p: &Proposed, currency: &str) -> ProposalView {
    let f = &p.figures;
    let subwoofers = match f.subwoofers {
        0 => String::new(),
        1 => " and 1 subwoofer".to_owned(),
        n => format!(" and {n} subwoofers"),
    };
    let summary = format!(
        "{} loudspeakers{subwoofers}; at least {} of every area lies within its band, spread at most {:.1} dB.",
        f.loudspeakers,
        percent(f.worst_share_within),
        f.worst_spread_db
    );
    let mut figures = IndexMap::new();
    let mut add = |what: &str, value: String| figures.insert(what.to_owned(), value);
    add("Price with tax", format!("{:.2} {currency}", f.price));
    add("Loudspeakers", f.loudspeakers.to_string());
    add("Subwoofers", f.subwoofers.to_string());
    add("Amplifiers", f.amplifiers.to_string());
    add("Taps together", format!("{:.0} W", f.watts));
    add("Within the band, worst area", percent(f.worst_share_within));
    add("Spread, worst area", format!("{:.1} dB", f.worst_spread_db));
    if let Some(margin) = f.neighbour_margin_db {
        add("Margin at the neighbours", format!("{margin:.1} dB"));
    }
    if let Some(loudest) = f.loudest_dba {
        add("Loudest place", format!("{loudest:.0} dBA"));
    }
    add("Cable", format!("{:.0} m", f.cable_m));
    add("Digging", format!("{:.0} m", f.digging_m));
    let area = |a: &loamline_propose::AreaFigures| ProposedArea {
        target_dba: a.target_dba,
        mean_dba: a.mean_dba,
        share_within: a.share_within,
        spread_db: a.spread_db,
    };
    ProposalView {
        kinds: p.kinds.iter().map(|k| k.word().to_owned()).collect(),
        cost: f.price,
        net: f.net,
        choice_cost: p.choice_cost,
        summary,
        figures,
        areas: f.areas.iter().map(|(id, a)| (id.clone(), area(a))).collect(),
        reasons: p
            .reasons
            .iter()
            .map(|r| ReasonView { loudspeaker: r.loudspeaker.clone(), sentence: r.sentence.clone() })
            .collect(),
        replaces: p
            .replaces
            .iter()
            .map(|r| ReplacedView {
                line: r.line.clone(),
                visits: r.visits.clone(),
                readings: r.readings,
                done: r.done,
                photos: r.photos,
                sentence: r.sentence.clone(),
            })
            .collect(),
        findings: finding_views(&p.findings),
        patch: p.edit.clone(),
    }
}

/// A finished proposal.
pub fn run_view(id: &str, revision: u64, p: &Proposal) -> RunView {
    RunView {
        run: id.to_owned(),
        revision,
        done: true,
        stopped: false,
        currency: p.currency.clone(),
        options: p.options.iter().map(|o| proposal_view(o, &p.currency)).collect(),
        failure: p.failure.as_ref().map(|f| FailureView {
            sentence: f.sentence.clone(),
            nearest: f.nearest.clone(),
            relax: f.relax.clone(),
        }),
        bound: Some(p.bound),
        places: p.places,
        candidates: p.candidates,
    }
}

/// A run that has no outcome: being made, or stopped.
pub fn unfinished(id: &str, revision: u64, stopped: bool) -> RunView {
    RunView {
        run: id.to_owned(),
        revision,
        done: stopped,
        stopped,
        currency: String::new(),
        options: Vec::new(),
        failure: None,
        bound: None,
        places: 0,
        candidates: 0,
    }
}
