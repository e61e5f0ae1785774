//! What the proposal says, as data: the texts of its template, read back so that a screen says the same as the paper.

use serde::{Deserialize, Serialize};
use serde_json::Value;

/// An offer to a client.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Offer {
    /// The plan with the sound, SVG.
    #[serde(skip)]
    pub plan_svg: String,
    /// What the plan is.
    pub plan: OfferPlan,
    /// Levels where people listen.
    pub areas: Vec<OfferArea>,
    /// What neighbours are promised.
    pub neighbours: Vec<OfferNeighbour>,
    /// That the system is turned down by night; empty where it is not.
    pub turned_down: String,
    /// What is put in.
    pub equipment: Vec<OfferItem>,
    /// Designs side by side, where there are several.
    pub options: Option<OfferOptions>,
    /// What each part comes to.
    pub groups: Vec<OfferAmount>,
    /// Set aside for things not listed; none where nothing is.
    pub allowance: Option<String>,
    /// Before tax.
    pub net: String,
    /// What the tax is called.
    pub tax_name: String,
    /// Tax.
    pub tax: String,
    /// What rounding to the smallest amount paid adds or takes; none where it does nothing.
    pub rounding: Option<String>,
    /// What the client pays.
    pub total: String,
}

/// The plan of an offer.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct OfferPlan {
    /// Its title.
    pub title: String,
    /// Whether the sound is on it.
    pub sound: bool,
}

/// Levels in an area.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct OfferArea {
    /// Its name.
    pub name: String,
    /// The level wanted.
    pub target: String,
    /// The level expected.
    pub mean: Option<String>,
    /// From where it is quietest to where it is loudest.
    pub range: Option<String>,
    /// What that is like.
    pub words: String,
}

/// What a neighbour is promised.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct OfferNeighbour {
    /// Who.
    pub name: String,
    /// What.
    pub text: String,
}

/// Something that is put in.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct OfferItem {
    /// How many.
    pub quantity: String,
    /// Of what.
    pub description: String,
}

/// Designs side by side.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct OfferOptions {
    /// Each design.
    pub heads: Vec<OfferDesign>,
    /// Each figure, with that of every design.
    pub rows: Vec<OfferRow>,
}

/// A design among others.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct OfferDesign {
    /// Its name.
    pub name: String,
    /// What it is best at.
    pub summary: String,
    /// Whether the offer is drawn for it.
    pub chosen: bool,
}

/// A figure of every design.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct OfferRow {
    /// What it is.
    pub name: String,
    /// Whether it is the price.
    pub strong: bool,
    /// That of each.
    pub cells: Vec<String>,
}

/// An amount of money.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct OfferAmount {
    /// For what.
    pub name: String,
    /// How much, with its currency.
    pub amount: String,
}

impl Offer {
    /// From the data of the proposal's template and its drawings.
    ///
    /// # Errors
    /// When the data is not that of the template any more.
    pub(crate) fn of(data: Value, drawings: Vec<String>) -> Result<Self, serde_json::Error> {
        let plan_svg = drawings.into_iter().next().unwrap_or_default();
        Ok(Self { plan_svg, ..serde_json::from_value(data)? })
    }

    /// The same without prices.
    #[must_use]
    pub fn without_prices(self) -> Self {
        let options = self.options.map(|mut options| {
            options.rows.retain(|row| !row.strong);
            options
        });
        Self {
            options,
            groups: Vec::new(),
            allowance: None,
            net: String::new(),
            tax_name: String::new(),
            tax: String::new(),
            rounding: None,
            total: String::new(),
            ..self
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn without_prices_no_amount_is_left() {
        let data = json!({ "plan": { "file": "a", "title": "Plan", "sound": true }, "total": "EUR 9", "net": "EUR 8",
            "rounding": "EUR 0.02", "allowance": "EUR 1",
            "groups": [{ "name": "Cable", "amount": "EUR 3" }], "options": { "heads": [{ "name": "A", "summary": "s" }],
            "rows": [{ "name": "Price", "strong": true, "cells": ["EUR 9"] }, { "name": "Cable", "cells": ["90 m"] }] } });
        let offer = Offer::of(data, vec!["<svg/>".into()]).unwrap();
        assert_eq!(
            (offer.total.as_str(), offer.plan_svg.as_str(), offer.plan.sound),
            ("EUR 9", "<svg/>", true)
        );
        assert_eq!(
            (offer.rounding.as_deref(), offer.allowance.as_deref()),
            (Some("EUR 0.02"), Some("EUR 1"))
        );
        let shown = serde_json::to_string(&offer.without_prices()).unwrap();
        assert!(!shown.contains("EUR") && shown.contains("90 m"), "{shown}");
    }
}
