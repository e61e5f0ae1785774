//! What is settled before work starts: permits and services, the neighbours' limits, background levels, access, hazards filled
//! from the job, a change order.

use super::common::{common, decimal};
use super::limits;
use crate::material::Material;
use crate::measures::{depth, mass};
use crate::tags::listed;
use indexmap::IndexMap;
use loamline_model::Choice as _;
use loamline_model::PlacedLoudspeaker;
use loamline_model::document::{Laying, Mount, Service, SurfaceKind};
use serde_json::{Value, json};

/// What is lifted by one person without a word, kilograms (common practice, no source). Lower lists every stake, higher leaves out
/// what hurts a back.
const LIFTED_ALONE_KG: f64 = 15.0;
/// What is reached from the ground, metres (common practice, no source).
const REACHED_M: f64 = 2.0;

/// Data of the sheets.
pub fn before_work(m: &Material<'_>) -> (Value, Vec<String>) {
    let words = &m.options.words;
    let mut data = common(m);
    let opened: f64 = m.ground.iter().filter(|g| opens(g.laying)).map(|g| g.length_m).sum();
    data["services_intro"] =
        words.fill("before.services_intro", &[("opened", &m.options.units.run(opened))]).into();
    data["services"] = services(m).into();
    data["ticket"] = ticket(m).into();
    data["limits"] = limits::steps(m, words.get("guide.neighbour_limit")).into();
    data["places"] = places(m).into();
    data["hazards"] = hazards(m).into();
    (data, Vec::new())
}

/// What the job knows of the request that services be located, in the order of the names on the sheet; an empty text is a line to
/// write on.
fn ticket(m: &Material<'_>) -> Vec<String> {
    let stated = &m.job.document().site.locating;
    let mut known = vec![
        joined(&[&stated.number, &stated.made], ", "),
        joined(&[&stated.from, &stated.until], " \u{2013} "),
    ];
    known.resize(m.options.words.list("before.ticket").len(), String::new());
    known
}

/// Those of two texts that say something.
fn joined(texts: &[&String; 2], between: &str) -> String {
    texts.iter().filter(|t| !t.is_empty()).map(|t| t.as_str()).collect::<Vec<_>>().join(between)
}

/// Whether the ground is opened for a way of laying.
const fn opens(laying: Laying) -> bool {
    matches!(laying, Laying::Slit | Laying::Trench | Laying::LiftedPaving)
}

/// Tags of the cables that cross a service, each once.
fn crossed_by<'m>(m: &'m Material<'_>, service: Option<&str>) -> Vec<&'m str> {
    let crosses = |c: &str| service.is_none_or(|s| s == c);
    let mut tags: Vec<&str> = Vec::new();
    for run in m.results.runs.iter().filter(|r| r.crosses.iter().any(|c| crosses(c))) {
        let cable = m.laid.iter().find(|c| c.holds(&run.line, &run.id));
        let tag = cable.map_or(run.id.as_str(), |c| c.tag.as_str());
        if !tags.contains(&tag) {
            tags.push(tag);
        }
    }
    tags
}

/// Every service that is known: id, what it carries, depth, what crosses it.
fn services(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let row = |(id, service): (&String, &Service)| {
        let deep = service.depth_m.map(|d| depth(m.options.units, d));
        json!({
            "id": id,
            "carries": words.get(&format!("service.{}", service.kind.word())),
            "depth": deep.unwrap_or_else(|| words.get("before.depth_unknown").to_owned()),
            "crossed": listed(&crossed_by(m, Some(id.as_str())), words.get("number.to")),
        })
    };
    m.job.document().services.iter().map(row).collect()
}

/// Where the background is measured: areas and neighbours by name.
fn places(m: &Material<'_>) -> Vec<String> {
    let d = m.job.document();
    let named = |id: &String, name: &String| if name.is_empty() { id.clone() } else { name.clone() };
    let areas = d.areas.iter().map(|(id, a)| named(id, &a.name));
    areas.chain(d.neighbours.iter().map(|(id, n)| named(id, &n.name))).collect()
}

/// Hazards of this job: what, where, what is done.
fn hazards(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let mut rows: Vec<Value> = Vec::new();
    let mut add = |key: &str, place: String| {
        let text = |part: &str| words.get(&format!("before.{key}{part}")).to_owned();
        rows.push(json!([text(""), place, text("_done")]));
    };
    let own = |key: &str| words.get(&format!("before.{key}")).to_owned();
    let d = m.job.document();
    if let Some(place) = voltage(m) {
        add("voltage", place);
    }
    if !m.ground.is_empty() || !m.holes.is_empty() {
        add("digging", digging(m));
    }
    for place in lifting(m) {
        add("lifting", place);
    }
    if let Some(place) = height(m) {
        add("height", place);
    }
    if !d.racks.is_empty() {
        let racks = d.racks.keys().map(String::as_str).collect::<Vec<_>>().join(", ");
        add("mains", words.fill("before.mains_where", &[("racks", &racks)]));
    }
    if d.surfaces.values().any(|s| s.kind == SurfaceKind::Water) {
        add("water", own("water_where"));
    }
    let trench: f64 = m.ground.iter().filter(|g| g.laying == Laying::Trench).map(|g| g.length_m).sum();
    if !m.holes.is_empty() || trench > 0.0 {
        let values = [("count", &*m.holes.len().to_string()), ("trench", &m.options.units.run(trench))];
        let key = if trench > 0.0 { "before.dust_where" } else { "before.dust_holes" };
        add("dust", words.fill(key, &values));
    }
    add(
        "hearing",
        match &m.results.loudest {
            Some((level_dba, tag, _)) => {
                words.fill("before.hearing_where", &[("level", &decimal(*level_dba, 0)), ("tag", tag)])
            }
            None => own("hearing_unknown"),
        },
    );
    add("eyes", own("eyes_where"));
    add("heat", own("heat_where"));
    rows
}

/// Lines that carry a voltage of their own, and the highest.
fn voltage(m: &Material<'_>) -> Option<String> {
    let fed: Vec<(&str, f64)> = m.job.lines().filter_map(|l| Some((l.id, l.supply.line_v()?))).collect();
    let volts = fed.iter().map(|(_, volts)| *volts).reduce(f64::max)?;
    let lines: Vec<&str> = fed.iter().map(|(line, _)| *line).collect();
    let values = [("lines", &*lines.join(", ")), ("volts", &super::schedules::plain(volts))];
    Some(m.options.words.fill("before.voltage_where", &values))
}

fn digging(m: &Material<'_>) -> String {
    let words = &m.options.words;
    let services: Vec<&str> = m.job.document().services.keys().map(String::as_str).collect();
    if services.is_empty() {
        return words.get("before.digging_unknown").to_owned();
    }
    let runs = listed(&crossed_by(m, None), words.get("number.to"));
    let key = if runs.is_empty() { "before.digging_beside" } else { "before.digging_where" };
    words.fill(key, &[("services", &services.join(", ")), ("runs", &runs)])
}

/// What is heavy, a model each: by tag, with its mass from the catalogue.
fn lifting(m: &Material<'_>) -> Vec<String> {
    let words = &m.options.words;
    let mut models: IndexMap<&str, (f64, Vec<&str>)> = IndexMap::new();
    for l in m.job.loudspeakers() {
        if let Some(mass_kg) = l.model.mass_kg.filter(|kg| *kg >= LIFTED_ALONE_KG) {
            models.entry(&l.placed.model).or_insert((mass_kg, Vec::new())).1.push(l.id);
        }
    }
    let said = |(mass_kg, tags): &(f64, Vec<&str>)| {
        let (tags, mass) = (listed(tags, words.get("number.to")), mass(m.options.units, *mass_kg));
        words.fill("before.lifting_where", &[("tags", &tags), ("mass", &mass)])
    };
    models.values().map(said).collect()
}

/// What is put up out of reach, and how high.
fn height(m: &Material<'_>) -> Option<String> {
    let words = &m.options.words;
    let high = |l: &PlacedLoudspeaker<'_>| {
        matches!(l.mount, Mount::Bracket | Mount::Eaves) && l.height_m > REACHED_M
    };
    let all: Vec<PlacedLoudspeaker<'_>> = m.job.loudspeakers().filter(high).collect();
    let highest = all.iter().map(|l| l.height_m).reduce(f64::max)?;
    let tags: Vec<&str> = all.iter().map(|l| l.id).collect();
    let (tags, height) = (listed(&tags, words.get("number.to")), m.options.units.length(highest));
    Some(words.fill("before.height_where", &[("tags", &tags), ("height", &height)]))
}
