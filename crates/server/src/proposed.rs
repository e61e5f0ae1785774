//! Proposals as they are sent.

use indexmap::IndexMap;
use loamline_propose::{Figures, Proposal, Proposed};
use loamline_quotation::amount;
use loamline_terms::{InLanguage, Sentence, Told, each_of, say};
use serde::Serialize;
use std::collections::BTreeMap;
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
    #[schema(value_type = String)]
    pub summary: Sentence,
    /// The same in the languages that say it otherwise, by their names; none where none does.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub spoken: BTreeMap<String, InLanguage>,
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
    format!("{} %", loamline_terms::fixed(100.0 * share, 0))
}

fn summary(f: &Figures) -> Sentence {
    let loudspeakers = match f.loudspeakers {
        1 => say!("1 loudspeaker"),
        n => say!("{count} loudspeakers", count = n.to_string()),
    };
    let subwoofers = match f.subwoofers {
        0 => None,
        1 => Some(say!("1 subwoofer")),
        n => Some(say!("{count} subwoofers", count = n.to_string())),
    };
    say!(
        "{loudspeakers}; at least {share} of every area lies within its band, spread at most {spread} dB.",
        loudspeakers = each_of(std::iter::once(loudspeakers).chain(subwoofers)),
        share = percent(f.worst_share_within),
        spread = loamline_terms::fixed(f.worst_spread_db, 1)
    )
}

fn words_of(p: &Proposed, currency: &str) -> DesignWords {
    let f = &p.figures;
    let Told { sentence: summary, spoken, .. } = summary(f).into();
    let mut figures = IndexMap::new();
    let mut add = |what: &str, value: String| figures.insert(what.to_owned(), value);
    add("Price with tax", amount(currency, f.price));
    add("Loudspeakers", f.loudspeakers.to_string());
    add("Subwoofers", f.subwoofers.to_string());
    add("Amplifiers", f.amplifiers.to_string());
    add("Taps together", format!("{} W", loamline_terms::fixed(f.watts, 0)));
    add("Within the band, worst area", percent(f.worst_share_within));
    add("Spread, worst area", format!("{} dB", loamline_terms::fixed(f.worst_spread_db, 1)));
    if let Some(margin) = f.neighbour_margin_db {
        add("Margin at the neighbours", format!("{} dB", loamline_terms::fixed(margin, 1)));
    }
    if let Some(loudest) = f.loudest_dba {
        add("Loudest place", format!("{} dBA", loamline_terms::fixed(loudest, 0)));
    }
    add("Cable", format!("{} m", loamline_terms::fixed(f.cable_m, 0)));
    add("Digging", format!("{} m", loamline_terms::fixed(f.digging_m, 0)));
    DesignWords { summary, spoken, figures }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_loudspeaker_is_no_several() {
        let of = |loudspeakers, subwoofers| Figures {
            price: 1996.0,
            net: 1996.0,
            tax: 0.0,
            rounding: 0.0,
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
        let spanish = said(2, 1).spoken(loamline_terms::Phrases::of("es"));
        assert!(spanish.starts_with("2 altavoces y 1 subwoofer; "), "{spanish}");
    }
}
