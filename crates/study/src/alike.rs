//! Findings that say the same of different things: 36 notes on echoes are one, with its 36 places.
//!
//! Two findings are alike when they matter as much, are about things of one sort and differ in nothing but figures, tags and the
//! names of what they are about, in what is the matter and in what would mend it.

use crate::finding::{Finding, Severity, Subject};
use indexmap::IndexMap;
use loamline_model::Job;
use loamline_model::document::JobDocument;
use serde::Serialize;

/// Findings that are alike, by their places among all of them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Alike {
    /// How much they matter.
    pub severity: Severity,
    /// The map all they are about stands in.
    pub table: &'static str,
    /// Places among the findings, from 0, in their order: the first speaks for all.
    pub findings: Vec<usize>,
}

/// Every finding once, those that are alike together, in the order of the first of each.
pub fn alike(job: &Job, findings: &[Finding]) -> Vec<Alike> {
    let mut groups: IndexMap<(Severity, &'static str, String), Vec<usize>> = IndexMap::new();
    for (place, finding) in findings.iter().enumerate() {
        let mend = finding.mend.as_ref().map_or("", |mend| mend.as_str());
        let own = words_of(job.document(), &finding.about);
        let form = format!("{} | {}", form(&finding.sentence, &own), form(mend, &own));
        groups.entry((finding.severity, finding.about.table, form)).or_default().push(place);
    }
    groups.into_iter().map(|((severity, table, _), findings)| Alike { severity, table, findings }).collect()
}

/// What a thing is called: the keys of its id, and the name somebody gave it.
fn words_of<'a>(d: &'a JobDocument, about: &'a Subject) -> Vec<&'a str> {
    let id = about.id.split('/').next().unwrap_or_default();
    let name = match about.table {
        "areas" => d.areas.get(id).map(|x| &x.name),
        "neighbours" => d.neighbours.get(id).map(|x| &x.name),
        "surfaces" => d.surfaces.get(id).map(|x| &x.name),
        "walls" => d.walls.get(id).map(|x| &x.name),
        "buildings" => d.buildings.get(id).map(|x| &x.name),
        "sleeves" => d.sleeves.get(id).map(|x| &x.name),
        "passages" => d.passages.get(id).map(|x| &x.name),
        "stubs" => d.stubs.get(id).map(|x| &x.name),
        "racks" => d.racks.get(id).map(|x| &x.name),
        "zones" => d.zones.get(id).map(|x| &x.name),
        "phases" => d.phases.get(id).map(|x| &x.name),
        _ => None,
    };
    let name = name.map(|name| name.trim()).filter(|name| !name.is_empty());
    name.into_iter().chain(about.id.split('/').filter(|key| !key.is_empty())).collect()
}

/// A sentence with a sign in place of each figure, tag and name: lists of them are one sign.
fn form(sentence: &str, own: &[&str]) -> String {
    const SIGN: &str = "#";
    let mut text = sentence.to_owned();
    for name in own.iter().filter(|name| name.contains(char::is_whitespace)) {
        text = text.replace(name, SIGN);
    }
    let mut words: Vec<&str> = Vec::new();
    for word in text.split_whitespace() {
        let bare = word.trim_matches(|c: char| !c.is_alphanumeric() && c != '#');
        let is_sign =
            bare.contains('#') || bare.contains(|c: char| c.is_ascii_digit()) || own.contains(&bare);
        let after_sign = words.last() == Some(&SIGN);
        match (is_sign, after_sign) {
            (true, true) => {}
            (true, false) => words.push(SIGN),
            // "L1, L2 and L3" is one list.
            (false, true) if word == "and" => {}
            (false, _) => words.push(word),
        }
    }
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job};

    fn job() -> Job {
        let area = |id: &str, name: &str, x: u32| {
            format!(
                "[areas.{id}]\nname = \"{name}\"\noutline = [[{x}, 0], [{}, 0], [{x}, 3]]\ntarget = 66\n",
                x + 3
            )
        };
        let areas = area("a", "Lower terrace", 0) + &area("b", "Upper terrace", 10) + &area("c", "Deck", 20);
        let text = format!("format = 1\n[job]\nname = \"Alike\"\n{areas}");
        read_job(&SourceFile::new("job.toml", text), &[]).unwrap()
    }

    fn echoes(id: &str, name: &str, share: u32, apart: u32) -> Finding {
        let what =
            format!("Echoes may be heard over {share} % of {name}: sound arrives up to {apart} ms apart.");
        Finding::new(Severity::Note, Subject::new("areas", id), what).mend("Delay the nearer loudspeakers.")
    }

    #[test]
    fn notes_that_differ_in_figures_and_places_are_one() {
        let all = [
            echoes("a", "Lower terrace", 12, 61),
            Finding::new(Severity::Note, Subject::new("areas", "b"), "Upper terrace has no bass."),
            echoes("b", "Upper terrace", 7, 55),
            echoes("c", "Deck", 31, 80),
        ];
        let groups: Vec<Vec<usize>> = alike(&job(), &all).into_iter().map(|g| g.findings).collect();
        assert_eq!(groups, [vec![0, 2, 3], vec![1]]);
    }

    #[test]
    fn what_matters_more_or_is_mended_otherwise_stands_by_itself() {
        let mut worse = echoes("b", "Upper terrace", 7, 55);
        worse.severity = Severity::Warning;
        let otherwise = echoes("c", "Deck", 31, 80).mend("Turn far ones away.");
        let all = [echoes("a", "Lower terrace", 12, 61), worse, otherwise];
        assert_eq!(alike(&job(), &all).len(), 3);
    }

    #[test]
    fn lists_of_tags_are_one_sign_however_long() {
        let one = form("L1 and L2 lie on the lawn.", &[]);
        assert_eq!(one, form("L1, L2, L13-2 and S4 lie on the lawn.", &[]));
        assert_ne!(one, form("L1 and L2 lie on the path.", &[]));
    }

    #[test]
    fn every_finding_is_told_once() {
        let all: Vec<Finding> = (0..20).map(|i| echoes("a", "Lower terrace", i, 2 * i)).collect();
        let places: Vec<usize> = alike(&job(), &all).into_iter().flat_map(|g| g.findings).collect();
        assert_eq!(places, (0..20).collect::<Vec<_>>());
    }
}
