//! What a client accepted last of a job, held against the job as it now is: what of the design differs, and both prices.

use crate::error::ApiError;
use crate::firm::Firm;
use crate::jobs::{OpenJob, Snapshot};
use crate::store::Acceptance;
use loamline_quotation::{amount, decimals, quotation};
use loamline_study::{DesignChange, Finding, Severity, Subject, design_changes, worst_first};
use loamline_terms::{Sentence, say};
use serde_json::Value;

/// Differences that a sentence names; the rest are counted.
const NAMED: usize = 4;

/// How a job differs from what was accepted of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Since {
    /// Who accepted.
    pub by: String,
    /// When, RFC 3339.
    pub at: String,
    /// What was to be paid; none where no price was shown.
    pub then: Option<String>,
    /// What is to be paid now; none where no price was shown, or none can be worked out.
    pub now: Option<String>,
    /// What of the design differs.
    pub changes: Vec<DesignChange>,
}

impl Since {
    /// The day it was accepted on.
    pub fn day(&self) -> &str {
        self.at.get(..10).unwrap_or(&self.at)
    }

    /// Whether anything is otherwise.
    pub fn is_otherwise(&self) -> bool {
        !self.changes.is_empty() || self.costs_otherwise()
    }

    fn costs_otherwise(&self) -> bool {
        matches!((&self.then, &self.now), (Some(then), Some(now)) if then != now)
    }

    fn finding(&self, prices: bool) -> Finding {
        let (by, day) = (&self.by, self.day());
        let accepted = match self.then.as_ref().filter(|_| prices) {
            Some(then) => {
                say!("{name} accepted this job on {day} for {price}.", name = by, day = day, price = then)
            }
            None => say!("{name} accepted this job on {day}.", name = by, day = day),
        };
        let mut sentence = accepted;
        if !self.changes.is_empty() {
            sentence =
                sentence + " " + say!("It has changed since: {changes}.", changes = named(&self.changes));
        }
        if let Some(now) = self.now.as_ref().filter(|_| prices && self.costs_otherwise()) {
            sentence = sentence + " " + say!("It comes to {price} now.", price = now);
        }
        Finding::new(Severity::Warning, Subject::new("job", ""), sentence)
            .mend(say!("Have the client accept it as it is now: their link shows what changed."))
    }
}

/// The first differences one after another, and how many more there are.
fn named(changes: &[DesignChange]) -> Sentence {
    let mut told = Sentence::default();
    for (k, change) in changes.iter().take(NAMED).enumerate() {
        told = if k == 0 { change.told() } else { told + "; " + change.told() };
    }
    match changes.len().saturating_sub(NAMED) {
        0 => told,
        more => told + say!("; and {count} more", count = more.to_string()),
    }
}

/// How a job differs from what was accepted of it last; none where nothing was, or nothing is otherwise.
///
/// # Errors
/// When the store cannot be read.
pub fn since_last(job: &OpenJob, now: &Snapshot) -> Result<Option<Since>, ApiError> {
    let Some(accepted) = job.last_accepted()? else { return Ok(None) };
    Ok(Some(since(job, now, &accepted)?).filter(Since::is_otherwise))
}

/// How a job differs from what was accepted of it once.
///
/// # Errors
/// When the firm's prices cannot be read.
pub fn since(job: &OpenJob, now: &Snapshot, accepted: &Acceptance) -> Result<Since, ApiError> {
    // A log that cannot be followed back, or a catalogue that has lost a model since: what differs is then not known.
    let was = job.design_at(now, accepted.revision).ok().flatten();
    let changes = was.map(|was| design_changes(&was, now.file.job())).unwrap_or_default();
    let then = total_of(&accepted.content);
    let price_now = match &then {
        None => None,
        Some(_) => {
            let prices = Firm::of(job.store())?.prices()?;
            quotation(now.file.job(), &now.study.runs(), &prices).ok()
        }
    };
    let price_now = price_now.and_then(|q| Some(amount(&q.currency, q.total.to_string().parse().ok()?)));
    Ok(Since { by: accepted.name.clone(), at: accepted.at.clone(), then, now: price_now, changes })
}

/// The total of what was accepted, as amounts are written in sentences whatever language the page was in.
fn total_of(content: &str) -> Option<String> {
    let content: Value = serde_json::from_str(content).ok()?;
    let text = content["offer"]["total"].as_str()?;
    let currency: String = text.chars().take_while(char::is_ascii_alphabetic).collect();
    let digits: String = text.chars().filter(char::is_ascii_digit).collect();
    let units: f64 = digits.parse().ok()?;
    Some(amount(&currency, units / f64::from(10_u32.pow(decimals(&currency)))))
}

/// The findings of a job with what it says of what was accepted; with prices for those who see them.
pub fn findings_with_accepted(job: &OpenJob, now: &Snapshot, prices: bool) -> Vec<Finding> {
    let mut findings = now.study.findings().to_vec();
    // A store that cannot be read now keeps nobody from the findings of the job itself.
    let since = since_last(job, now).ok().flatten();
    if let Some(since) = since.filter(|s| prices || !s.changes.is_empty()) {
        findings.push(since.finding(prices));
        worst_first(&mut findings);
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The amounts of a page in English and in Spanish, read as one.
    #[test]
    fn the_price_that_was_accepted_reads_alike_in_every_language() {
        for text in ["USD 3 760.00", "USD 3\u{202f}760,00", "USD 3.760,00"] {
            let content = serde_json::json!({ "offer": { "total": text } }).to_string();
            assert_eq!(total_of(&content).as_deref(), Some("USD 3 760.00"), "{text}");
        }
        // Without prices there is no amount; yen have no parts (ISO 4217).
        assert_eq!(total_of(r#"{ "offer": { "total": "" } }"#), None);
        assert_eq!(total_of(r#"{ "offer": { "total": "JPY 376 000" } }"#).as_deref(), Some("JPY 376 000"));
    }

    #[test]
    fn the_finding_says_both_prices_to_whoever_sees_prices() {
        let change = |k: usize| DesignChange::NewLine { line: format!("A{k}") };
        let since = Since {
            by: "Cleo".into(),
            at: "2026-05-02T08:00:00Z".into(),
            then: Some("USD 3 760.00".into()),
            now: Some("USD 3 930.00".into()),
            changes: (1..=6).map(change).collect(),
        };
        assert_eq!(
            since.finding(true).sentence.as_str(),
            "Cleo accepted this job on 2026-05-02 for USD 3 760.00. It has changed since: line A1 is new; line A2 is new; \
             line A3 is new; line A4 is new; and 2 more. It comes to USD 3 930.00 now."
        );
        assert!(!since.finding(false).sentence.as_str().contains("USD"));
        let same = Since { now: since.then.clone(), changes: Vec::new(), ..since };
        assert!(!same.is_otherwise());
    }
}
