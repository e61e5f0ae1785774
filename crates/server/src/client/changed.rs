//! What was accepted, held against what a link shows now: every figure of the offer that differs, as both were shown.

use super::shown::Shown;
use loamline_papers::{Offer, OfferAmount, OfferArea, OfferItem, OfferNeighbour};
use serde::Deserialize;

/// What is read back of what was accepted.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Accepted {
    name: String,
    summary: String,
    offer: Offer,
    plan_sha256: String,
}

/// A figure of the offer that is otherwise now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    /// What it is called, as the offer has it.
    pub name: String,
    /// Key of its name in the language file, where the offer has none of its own.
    pub word: Option<&'static str>,
    /// What was accepted; none where there was no such thing.
    pub was: Option<String>,
    /// What stands now; none where there is no such thing any more.
    pub now: Option<String>,
}

/// What of the offer differs from what was accepted; none where exactly what stands was accepted, whatever else of the job has
/// changed: a note, a reading. No figures where the picture alone differs.
pub fn since_accepted(content: &str, shown: &Shown) -> Option<Vec<Changed>> {
    // What cannot be read any more was accepted, and is not what stands.
    let was: Accepted = serde_json::from_str(content).unwrap_or_default();
    let mut changed = Vec::new();
    for (was, now) in [(&was.name, &shown.name), (&was.summary, &shown.summary)] {
        one(String::new(), Some("client_page.job"), Some(was), Some(now), &mut changed);
    }
    figures(&was.offer, &shown.offer, &mut changed);
    let same = changed.is_empty() && was.plan_sha256 == shown.plan_sha256;
    (!same).then_some(changed)
}

fn one(
    name: String,
    word: Option<&'static str>,
    was: Option<&String>,
    now: Option<&String>,
    changed: &mut Vec<Changed>,
) {
    let full = |text: Option<&String>| text.filter(|t| !t.is_empty()).cloned();
    let (was, now) = (full(was), full(now));
    if was != now {
        changed.push(Changed { name, word, was, now });
    }
}

/// Those of two lists that differ, by what each is called: those of now in their order, then what is gone.
fn each<T>(
    was: &[T],
    now: &[T],
    name: impl Fn(&T) -> &String,
    text: impl Fn(&T) -> String,
    changed: &mut Vec<Changed>,
) {
    for n in now {
        let before = was.iter().find(|w| name(w) == name(n)).map(&text);
        one(name(n).clone(), None, before.as_ref(), Some(&text(n)), changed);
    }
    for w in was.iter().filter(|w| !now.iter().any(|n| name(n) == name(w))) {
        one(name(w).clone(), None, Some(&text(w)), None, changed);
    }
}

fn figures(was: &Offer, now: &Offer, changed: &mut Vec<Changed>) {
    let level = |a: &OfferArea| {
        let level = a.mean.as_deref().unwrap_or(&a.target);
        format!("{level}: {}", a.words)
    };
    each(&was.areas, &now.areas, |a| &a.name, level, changed);
    each(&was.neighbours, &now.neighbours, |n: &OfferNeighbour| &n.name, |n| n.text.clone(), changed);
    each(&was.equipment, &now.equipment, |i: &OfferItem| &i.description, |i| i.quantity.clone(), changed);
    each(&was.groups, &now.groups, |g: &OfferAmount| &g.name, |g| g.amount.clone(), changed);
    let allowance = [was.allowance.as_ref(), now.allowance.as_ref()];
    one(String::new(), Some("quotation.allowance"), allowance[0], allowance[1], changed);
    one(String::new(), Some("client_page.total"), Some(&was.total), Some(&now.total), changed);
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_papers::Words;

    fn shown(offer: Offer, revision: u64) -> Shown {
        Shown {
            name: "Garden".into(),
            summary: String::new(),
            revision,
            offer,
            job_sha256: revision.to_string(),
            plan_sha256: "plan".into(),
            plan_svg: String::new(),
            words: Words::english().unwrap(),
        }
    }

    fn offer(spikes: &str, total: &str) -> Offer {
        let item =
            |quantity: &str, what: &str| OfferItem { quantity: quantity.into(), description: what.into() };
        Offer {
            equipment: vec![item(spikes, "Spike"), item("1", "Amplifier")],
            total: total.into(),
            ..Offer::default()
        }
    }

    /// A job that went on in words alone is what was accepted; another model and another price are not, and both are shown.
    #[test]
    fn what_differs_of_the_offer_is_shown_as_it_was_and_as_it_is() {
        let accepted = shown(offer("3", "USD 3 760.00"), 106).content().unwrap();
        assert_eq!(since_accepted(&accepted, &shown(offer("3", "USD 3 760.00"), 120)), None);
        let changed = since_accepted(&accepted, &shown(offer("2", "USD 3 930.00"), 120)).unwrap();
        let told: Vec<_> =
            changed.iter().map(|c| (c.name.as_str(), c.was.as_deref(), c.now.as_deref())).collect();
        assert_eq!(told, [("Spike", Some("3"), Some("2")), ("", Some("USD 3 760.00"), Some("USD 3 930.00"))]);
        assert_eq!(changed[1].word, Some("client_page.total"));
        // The picture alone: changed, without a figure.
        let moved = Shown { plan_sha256: "another".into(), ..shown(offer("3", "USD 3 760.00"), 120) };
        assert_eq!(since_accepted(&accepted, &moved), Some(Vec::new()));
    }
}
