//! Proposals as they are sent.

use indexmap::IndexMap;
use loamline_propose::{Figures, Proposal, Proposed};
use loamline_quotation::amount;
use serde::Serialize;
use utoipa::ToSchema;

/// A proposal being made or made; nothing is carried out: send the edit of one of its options.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ProposalAnswer {
    /// Its id.
    pub run: String,
    /// Revision of the job it is for.
    pub revision: u64,
    /// Whether it is finished.
    pub done: bool,
    /// Whether it was stopped before it was finished.
    pub stopped: bool,
    /// The proposal; absent until it is finished.
    pub proposal: Option<Proposal>,
    /// Its options in words, in the same order.
    pub words: Vec<DesignWords>,
}

/// A design in words.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct DesignWords {
    /// In a sentence.
    pub summary: String,
    /// Figures for people, by what they are.
    pub figures: IndexMap<String, String>,
}

impl ProposalAnswer {
    /// A finished proposal.
    pub fn made(id: &str, revision: u64, proposal: Proposal) -> Self {
        let words = proposal.options.iter().map(|o| words_of(o, &proposal.currency)).collect();
        Self { run: id.to_owned(), revision, done: true, stopped: false, proposal: Some(proposal), words }
    }

    /// One that has no outcome: being made, or stopped.
    pub fn unfinished(id: &str, revision: u64, stopped: bool) -> Self {
        Self { run: id.to_owned(), revision, done: stopped, stopped, proposal: None, words: Vec::new() }
    }
}

fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

/// `1 loudspeaker`, `2 loudspeakers`.
fn count(n: usize, one: &str) -> String {
    format!("{n} {one}{}", if n == 1 { "" } else { "s" })
}

fn summary(f: &Figures) -> String {
    let subwoofers = match f.subwoofers {
        0 => String::new(),
        n => format!(" and {}", count(n, "subwoofer")),
    };
    format!(
        "{}{subwoofers}; at least {} of every area lies within its band, spread at most {:.1} dB.",
        count(f.loudspeakers, "loudspeaker"),
        percent(f.worst_share_within),
        f.worst_spread_db
    )
}

fn words_of(p: &Proposed, currency: &str) -> DesignWords {
    let f = &p.figures;
    let summary = summary(f);
    let mut figures = IndexMap::new();
    let mut add = |what: &str, value: String| figures.insert(what.to_owned(), value);
    add("Price with tax", amount(currency, f.price));
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
    DesignWords { summary, figures }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_loudspeaker_is_no_several() {
        let of = |loudspeakers, subwoofers| Figures {
            price: 1996.0,
            net: 1996.0,
            areas: IndexMap::new(),
            worst_share_within: 0.97,
            worst_spread_db: 2.5,
            neighbour_margin_db: None,
            loudest_dba: None,
            loudspeakers,
            subwoofers,
            amplifiers: 1,
            watts: 30.0,
            cable_m: 17.0,
            digging_m: 12.0,
        };
        let said = |loudspeakers, subwoofers| summary(&of(loudspeakers, subwoofers));
        let tail = "; at least 97 % of every area lies within its band, spread at most 2.5 dB.";
        assert_eq!(said(1, 0), format!("1 loudspeaker{tail}"));
        assert_eq!(said(2, 1), format!("2 loudspeakers and 1 subwoofer{tail}"));
        assert_eq!(said(1, 2), format!("1 loudspeaker and 2 subwoofers{tail}"));
    }
}
