//! What every paper carries: words, firm, job, paper.

use crate::drawing::{INK, Sheet, Side, line_style};
use crate::material::{self, Material, PackDrawing};
use crate::measures;
use loamline_geometry::Point2;
use loamline_model::document::{Client, Contact};
use loamline_model::{Job, Units};
use serde_json::{Value, json};

/// Largest logo in a letterhead, millimetres.
const LOGO_MM: (f64, f64) = (55.0, 18.0);

/// Drawings under way: a template finds each by its number.
#[derive(Default)]
pub struct Drawings(pub Vec<String>);

impl Drawings {
    /// Adds a drawing; its file as templates name it.
    pub fn add(&mut self, svg: String) -> String {
        self.0.push(svg);
        format!("drawings/{}.svg", self.0.len() - 1)
    }
}

/// Colour of a line; ink for none.
pub fn colour_of(job: &Job, line: Option<&str>) -> &'static str {
    let place = line.and_then(|line| job.document().lines.get_index_of(line));
    place.map_or(INK, |i| line_style(i).colour)
}

/// A place in plan as east and north of the datum.
pub fn place(m: &Material<'_>, at: Point2) -> String {
    format!("{} / {}", m.options.units.length(at.x), m.options.units.length(at.y))
}

/// A volume to dig or to fill, as it is ordered.
pub fn volume(m: &Material<'_>, volume_m3: f64) -> String {
    let (number, unit) = measures::volume(m.options.units, volume_m3);
    format!("{}\u{a0}{}", decimal(number, 2), m.options.words.get(unit).replace(' ', "\u{a0}"))
}

/// Gravel as it is ordered; where it is sold by the cubic yard, in bags too.
pub fn gravel(m: &Material<'_>, volume_m3: f64) -> String {
    let ordered = volume(m, volume_m3);
    match m.options.units {
        Units::Metric => ordered,
        Units::Us => {
            let count = measures::bags(volume_m3).to_string();
            m.options.words.fill("crew.gravel_bags", &[("volume", &ordered), ("count", &count)])
        }
    }
}

/// A text as it begins a line of its own.
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Data every template gets.
pub fn common(m: &Material<'_>) -> Value {
    let about = &m.job.document().about;
    let (width, height) = m.options.paper.size_mm();
    json!({
        "words": m.options.words.tree(),
        "firm": m.options.firm,
        "logo": m.options.firm.logo.as_ref().map(|logo| {
            let (width, height) = logo.size_mm(LOGO_MM);
            json!({ "file": format!("logo.{}", logo.ending()), "width": width, "height": height })
        }),
        "paper": { "name": m.options.paper.name(), "width": width, "height": height },
        "job": {
            "name": about.name,
            "reference": about.reference,
            "summary": about.summary,
            "date": about.date,
            "notes": about.notes,
            "datum": m.job.document().site.datum,
        },
        "client": addressee(&m.job.document().client),
        "contacts": m.job.document().client.contacts.values().map(contact).collect::<Vec<_>>(),
    })
}

/// Whom a paper is for, in one line; none where nothing is said of the client.
fn addressee(client: &Client) -> Option<String> {
    let said = [client.name.as_str(), &client.address];
    let said: Vec<&str> = said.into_iter().filter(|s| !s.is_empty()).collect();
    (!said.is_empty()).then(|| said.join(", "))
}

/// Somebody to speak to, in one line: name, what they are, how they are reached.
fn contact(who: &Contact) -> String {
    let said = [&who.name, &who.role, &who.telephone, &who.mail];
    said.into_iter().filter(|s| !s.is_empty()).map(String::as_str).collect::<Vec<_>>().join(" \u{b7} ")
}

/// Plan sheets for a template; drawing number `first` and on.
pub fn plan_sheets(m: &Material<'_>, plans: &[PackDrawing], first: usize) -> Vec<Value> {
    let words = &m.options.words;
    plans
        .iter()
        .enumerate()
        .map(|(i, plan)| {
            let scale = [("scale", plan.sheet.scale.written.as_str()), ("paper", m.options.paper.name())];
            let elsewhere = |tag: &String| plans.iter().any(|other| other.tags.contains(tag));
            let found = plan.without_label.iter().all(elsewhere);
            let key = if found { "without_label" } else { "nowhere_labelled" };
            // The frames of the parts on the whole say where to look.
            let said = plan.sheet.detail.is_some() || !found;
            let missing = if said { plan.without_label.join(", ") } else { String::new() };
            json!({
                "file": format!("drawings/{}.svg", first + i),
                "title": plan.title,
                "scale": words.fill(if plan.sheet.detail.is_some() { "page.scale_part" } else { "page.scale_true" }, &scale),
                "beside": beside(m, plans, plan),
                "landscape": plan.sheet.landscape,
                "width": plan.sheet.size_mm.0,
                "height": plan.sheet.size_mm.1,
                "missing": if missing.is_empty() {
                    String::new()
                } else {
                    words.fill(&format!("plan.{key}"), &[("tags", &missing)])
                },
            })
        })
        .collect()
}

/// Which parts of the plan go on at the edges of one: "North: part 1. East: part 4."; empty for the overview.
fn beside(m: &Material<'_>, plans: &[PackDrawing], plan: &PackDrawing) -> String {
    if plan.sheet.detail.is_none() {
        return String::new();
    }
    let words = &m.options.words;
    let sheets: Vec<Sheet> = plans.iter().map(|p| &p.sheet).filter(|s| s.detail.is_some()).cloned().collect();
    let one = |(side, key): &(Side, &str)| {
        let number = plan.sheet.beside(*side, &sheets)?.detail?.to_string();
        Some(words.fill(&format!("plan.beside_{key}"), &[("number", &number)]))
    };
    Side::ALL.iter().filter_map(one).collect::<Vec<_>>().join(" ")
}

/// The key of the plans on a sheet of its own; null where it stands on the plan.
pub fn key_sheet(m: &Material<'_>, drawings: &mut Drawings) -> Value {
    m.key.as_ref().map_or(Value::Null, |key| {
        json!({
            "file": drawings.add(key.svg.clone()), "title": key.title,
            "width": key.size_mm.0, "height": key.size_mm.1,
        })
    })
}

/// What is on the plans without a label on any of them, and where it is.
pub fn unlabelled(m: &Material<'_>) -> Vec<Value> {
    let row = |tag: &str| {
        let cable = m.laid.iter().find(|c| c.tag == tag).map(|c| format!("{} \u{2192} {}", c.from, c.to));
        let mark = m.job.document().marks.get(tag).map(|mark| mark.position);
        let at = m.job.node(tag).map(|node| node.position()).or(mark).map(|at| place(m, at));
        json!({ "tag": tag, "where": cable.or(at) })
    };
    material::unlabelled(&m.plans).into_iter().map(row).collect()
}

/// A number with so many decimals, and a true minus sign.
pub fn decimal(value: f64, places: usize) -> String {
    let text = loamline_terms::fixed(value, places);
    match text.strip_prefix('-') {
        Some(rest) if rest.trim_matches(['0', '.']).is_empty() => rest.to_owned(),
        Some(rest) => format!("\u{2212}{rest}"),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A share of 15 W of 120 W is 12.5 %: 13 % here as on every screen.
    #[test]
    fn halves_read_on_papers_as_on_screens() {
        assert_eq!(decimal(100.0 * 15.0 / 120.0, 0), "13");
        assert_eq!((decimal(-0.04, 1), decimal(-2.25, 1)), ("0.0".to_owned(), "\u{2212}2.3".to_owned()));
    }
}
