//! Options to put side by side in a proposal: plain figures of each, from whatever worked them out, or as a proposal of
//! designs prints them.

use crate::error::PapersError;
use crate::words::Words;
use indexmap::IndexMap;
use loamline_limits::{Exceeded, OPTIONS_SHOWN};
use loamline_model::{Edit, Job};
use loamline_quotation::{BillItem, PriceBook, quote};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// Fewest options: one is no choice.
const FEWEST: usize = 2;

/// One option. Figures that are not known are left out.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct DesignOption {
    /// Its name for the client.
    pub name: String,
    /// What it is, in a sentence.
    pub summary: String,
    /// Price with tax, in the job's currency; in JSON a text or a number.
    #[serde(deserialize_with = "money")]
    pub price: Option<Decimal>,
    /// Loudspeakers and subwoofers.
    pub loudspeakers: Option<u32>,
    /// Levels in the least even area: 90th percentile less 10th, dB. At least 0.
    pub evenness_db: Option<f64>,
    /// Bass (31.5 to 125 Hz octaves) against the mid bands in the area with least bass, dB.
    pub bass_db: Option<f64>,
    /// Least margin under a limit at a neighbour, dB; negative above the limit.
    pub neighbour_margin_db: Option<f64>,
    /// Sum of all taps and loads, watts. At least 0.
    pub watts: Option<f64>,
    /// Cable to buy, metres. At least 0.
    pub cable_m: Option<f64>,
    /// Ground opened, metres. At least 0.
    pub digging_m: Option<f64>,
    /// Whether it is the one this proposal is drawn for.
    pub chosen: bool,
    /// What it takes, where a proposal lists it: it is then priced as this job's own bill is, whatever `price` says.
    #[serde(skip)]
    pub bill: Option<Vec<BillItem>>,
    /// The edit that makes the job so, where a proposal says it.
    #[serde(skip)]
    pub edit: Option<Edit>,
    /// What it looks like: a picture of [`OPTION_PICTURE_MM`], SVG, made by whoever has the job to edit.
    #[serde(skip)]
    pub picture: Option<String>,
}

/// Width and height of the picture of an option, millimetres; papers make it as small as its column.
pub const OPTION_PICTURE_MM: (f64, f64) = (90.0, 62.0);

impl DesignOption {
    /// Its price in a job's currency, with the price book the papers are made with.
    ///
    /// # Errors
    /// [`PapersError::Quotation`] when a sum does not fit into a decimal.
    pub(crate) fn price_in(&self, job: &Job, book: &PriceBook) -> Result<Option<Decimal>, PapersError> {
        let Some(bill) = &self.bill else { return Ok(self.price) };
        Ok(Some(quote(job, bill, book)?.total))
    }

    /// Reads options from JSON: what `loamline propose --json` prints, named by the language file; or
    /// `{"options": [{"name": "...", "price": "12345.00", "evenness_db": 2.1, ...}, ...]}` with the fields of
    /// [`DesignOption`], where `name` must be there.
    ///
    /// # Errors
    /// [`PapersError::Options`] when it is not such JSON, or naming every value that makes no sense.
    pub fn read(text: &str, words: &Words) -> Result<Vec<Self>, PapersError> {
        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        struct File {
            options: Vec<DesignOption>,
        }
        #[derive(Deserialize)]
        struct Printed {
            proposal: Proposal,
        }
        let fail = |problems: Vec<String>| PapersError::Options { problems };
        let json = |e: serde_json::Error| fail(vec![e.to_string()]);
        let value: serde_json::Value = serde_json::from_str(text).map_err(json)?;
        let proposed = value.get("proposal").is_some();
        let file = if proposed {
            let printed: Printed = serde_json::from_value(value).map_err(json)?;
            File { options: printed.proposal.options.iter().map(|o| o.named(words)).collect() }
        } else {
            serde_json::from_str(text).map_err(json)?
        };
        let mut problems = Vec::new();
        let count = file.options.len();
        if proposed && count < FEWEST {
            return Err(fail(vec![format!(
                "the proposal holds {}: there is nothing to put side by side, and the papers want no options",
                if count == 0 { "no design" } else { "one design, whatever is preferred" }
            )]));
        }
        if count < FEWEST || OPTIONS_SHOWN.check(count).is_err() {
            let found = u64::try_from(count).unwrap_or(u64::MAX);
            problems.push(Exceeded { bound: &OPTIONS_SHOWN, found }.to_string());
        }
        if file.options.iter().filter(|o| o.chosen).count() > 1 {
            problems.push("more than one option is chosen; the proposal is drawn for one".to_owned());
        }
        for (i, option) in file.options.iter().enumerate() {
            let of = if option.name.is_empty() { format!("option {}", i + 1) } else { option.name.clone() };
            if option.name.is_empty() {
                problems.push(format!("{of} has no name"));
            }
            if option.price.is_some_and(|p| p.is_sign_negative() && !p.is_zero()) {
                problems.push(format!("{of}: the price is below zero"));
            }
            for (field, value) in [
                ("evenness_db", option.evenness_db),
                ("watts", option.watts),
                ("cable_m", option.cable_m),
                ("digging_m", option.digging_m),
            ] {
                if value.is_some_and(|v| v < 0.0) {
                    problems.push(format!("{of}: {field} is below zero"));
                }
            }
        }
        if problems.is_empty() { Ok(file.options) } else { Err(fail(problems)) }
    }
}

/// Designs as `loamline propose --json` prints them; only what a client compares.
#[derive(Deserialize)]
struct Proposal {
    options: Vec<Proposed>,
}

#[derive(Deserialize)]
struct Proposed {
    kinds: Vec<String>,
    figures: Figures,
    bill: Vec<BillItem>,
    #[serde(default)]
    edit: Option<Edit>,
}

#[derive(Deserialize)]
struct Figures {
    #[serde(deserialize_with = "money")]
    price: Option<Decimal>,
    areas: IndexMap<String, Area>,
    worst_spread_db: f64,
    neighbour_margin_db: Option<f64>,
    loudspeakers: u32,
    subwoofers: u32,
    watts: f64,
    cable_m: f64,
    digging_m: f64,
}

#[derive(Deserialize)]
struct Area {
    bass_over_mid_db: f64,
    bass_wanted_db: Option<f64>,
}

impl Proposed {
    /// The option under the name and the summary that the language file has for its kinds.
    fn named(&self, words: &Words) -> DesignOption {
        let both = |of: &str| {
            let texts = self.kinds.iter().map(|kind| words.get(&format!("option.{of}.{kind}")).to_owned());
            texts.collect::<Vec<_>>().join(words.get("option.and"))
        };
        let figures = &self.figures;
        let with_bass = figures.areas.values().filter(|a| a.bass_wanted_db.is_some());
        DesignOption {
            name: both("kind"),
            summary: both("summary"),
            price: figures.price,
            loudspeakers: Some(figures.loudspeakers.saturating_add(figures.subwoofers)),
            evenness_db: Some(figures.worst_spread_db),
            bass_db: with_bass.map(|a| a.bass_over_mid_db).reduce(f64::min),
            neighbour_margin_db: figures.neighbour_margin_db,
            watts: Some(figures.watts),
            cable_m: Some(figures.cable_m),
            // A sum of nothing may come as -0.
            digging_m: Some(figures.digging_m + 0.0),
            chosen: false,
            bill: Some(self.bill.clone()),
            edit: self.edit.clone(),
            picture: None,
        }
    }
}

/// Money as a text, which keeps every cent, or as a number, taken at the digits it is written with.
fn money<'de, D: serde::Deserializer<'de>>(deserializer: D) -> Result<Option<Decimal>, D::Error> {
    let text = match serde_json::Value::deserialize(deserializer)? {
        serde_json::Value::Null => return Ok(None),
        serde_json::Value::String(text) => text,
        other => other.to_string(),
    };
    text.parse().map(Some).map_err(|_| serde::de::Error::custom(format!("the price is not a number: {text}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn options_are_read_and_every_wrong_value_named() {
        let text = r#"{"options": [{"name": "Even", "price": "18400.50", "evenness_db": 2.1, "chosen": true},
            {"name": "Lean", "price": 12900, "neighbour_margin_db": -0.5}]}"#;
        let words = Words::english().unwrap();
        let read = |text: &str| DesignOption::read(text, &words);
        let options = read(text).unwrap();
        assert_eq!(options[0].price, Some("18400.50".parse().unwrap()));
        assert_eq!((options[1].price, options[1].watts), (Some("12900".parse().unwrap()), None));
        let text = r#"{"options": [{"price": -1, "cable_m": -2, "chosen": true}, {"name": "B", "watts": -3, "chosen": true}]}"#;
        let error = read(text).unwrap_err().to_string();
        for part in [
            "option 1 has no name",
            "option 1: the price is below zero",
            "option 1: cable_m is",
            "B: watts is",
            "more than one option is chosen",
        ] {
            assert!(error.contains(part), "{error}");
        }
        let error = read(r#"{"options": [{"name": "A"}]}"#).unwrap_err().to_string();
        assert!(error.contains("there are 1 options; a proposal shows 2 to 5"), "{error}");
        let error = read(r#"{"options": [{"name": "A", "cost": 3}]}"#).unwrap_err().to_string();
        assert!(error.contains("unknown field `cost`"), "{error}");
    }

    /// As `loamline propose --json` prints it, shortened to what is read and one thing that is not.
    #[test]
    fn a_printed_proposal_is_read_with_names_of_the_language() {
        let design = |kinds: &str, price: f64| {
            format!(
                r#"{{"kinds": [{kinds}], "choice_cost": 1.0, "bill": [], "figures": {{"price": {price}, "net": 1.0,
                "areas": {{"a": {{"target_dba": 70.0, "bass_over_mid_db": -7.5, "bass_wanted_db": null}},
                          "b": {{"bass_over_mid_db": -1.5, "bass_wanted_db": 0.0}}, "c": {{"bass_over_mid_db": -2.5, "bass_wanted_db": 0.0}}}},
                "worst_share_within": 0.99, "worst_spread_db": 1.65, "neighbour_margin_db": null, "loudspeakers": 7,
                "subwoofers": 1, "watts": 322.0, "cable_m": 145.7, "digging_m": -0.0}}}}"#
            )
        };
        let file = |designs: &[String]| {
            format!(r#"{{"job": {{}}, "proposal": {{"options": [{}]}}}}"#, designs.join(","))
        };
        let words = Words::english().unwrap();
        let text = file(&[design("\"least-cost\"", 6524.5), design("\"balanced\", \"most-even\"", 9250.75)]);
        let options = DesignOption::read(&text, &words).unwrap();
        let names: Vec<&str> = options.iter().map(|o| o.name.as_str()).collect();
        assert_eq!(names, ["Least cost", "Balanced and Most even"]);
        assert_eq!((options[0].loudspeakers, options[0].bass_db), (Some(8), Some(-2.5)));
        assert_eq!(options[0].neighbour_margin_db, None);
        assert!(options[0].digging_m.is_some_and(|d| d.is_sign_positive()));
        let error =
            DesignOption::read(&file(&[design("\"least-cost\"", 1.0)]), &words).unwrap_err().to_string();
        assert!(error.contains("the proposal holds one design"), "{error}");
    }
}
