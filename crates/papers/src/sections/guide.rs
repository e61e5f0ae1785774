//! The client's guide, two pages: what is where, how it is used, what the garden needs, whom to call.

use super::common::{Drawings, common};
use super::crew::source_name;
use super::limits;
use crate::drawing::{self, PlanRequest, Reader};
use crate::material::Material;
use crate::tags::listed;
use loamline_adapt::{LaidCable, on_lawn_edge};
use loamline_model::PlacedLoudspeaker;
use loamline_model::catalogue::LoudspeakerKind;
use loamline_model::document::{Laying, Mount};
use serde_json::{Value, json};

/// Height of the plan: what the first page has room for beside the facts and the first steps, millimetres below the height
/// of the sheet.
const BESIDE_PLAN_MM: f64 = 132.0;
/// Room above and below a site that is much wider than high, for tags on their leaders, millimetres. Less leaves tags out, more
/// pushes the facts of a large site to the next page.
const TAGS_MM: f64 = 30.0;

/// Data and drawings of the guide.
pub fn guide(m: &Material<'_>) -> (Value, Vec<String>) {
    let words = &m.options.words;
    let mut drawings = Drawings::default();
    let mut data = common(m);
    let (width, height) = m.options.paper.size_mm();
    let most = (width - 2.0 * drawing::MARGIN_X_MM, height - BESIDE_PLAN_MM);
    let title = words.get("guide.plan");
    let request = PlanRequest {
        job: m.job,
        laid: &m.laid,
        words,
        units: m.options.units,
        reader: Reader::Owner,
        centre: Default::default(),
        mm_per_m: 1.0,
        size_mm: most,
        field: None,
        only_line: None,
        parts: &[],
        numbered: &[],
        key: true,
        title,
    };
    let size = (most.0, most.1.min(drawing::height_filled_mm(&request) + TAGS_MM));
    let plan = drawing::draw(&drawing::filled(PlanRequest { size_mm: size, ..request }));
    let missing = plan.without_label.join(", ");
    data["plan"] = json!({
        "file": drawings.add(plan.svg), "width": size.0, "height": size.1, "title": title,
        "missing": if missing.is_empty() {
            String::new()
        } else {
            words.fill("guide.without_tag", &[("tags", &missing)])
        },
    });
    data["facts"] = facts(m).into();
    data["neighbours"] = limits::steps(m, words.get("guide.neighbour_limit")).into();
    let night = limits::turned_down(m);
    data["night"] = if night.is_empty() { words.get("guide.night_none").to_owned() } else { night }.into();
    data["garden"] = garden(m).iter().map(|key| words.get(key)).collect::<Vec<_>>().into();
    (data, drawings.0)
}

/// What there is and where: a name and a text each.
fn facts(m: &Material<'_>) -> Vec<Value> {
    let (words, document) = (&m.options.words, m.job.document());
    let fact = |key: &str, text: String| {
        (!text.is_empty()).then(|| json!([words.get(&format!("guide.{key}")), text]))
    };
    let named = |tag: &str, name: &str| match name {
        "" => tag.to_owned(),
        name => words.fill("guide.rack_named", &[("name", name), ("tag", tag)]),
    };
    let racks: Vec<String> = document.racks.iter().map(|(id, r)| named(id, &r.name)).collect();
    let sources: Vec<&str> = document.sources.iter().map(|(id, s)| source_name(id, s)).collect();
    let areas = document.areas.iter().map(|(id, a)| {
        let name = if a.name.is_empty() { id } else { &a.name };
        name.as_str()
    });
    let is_sub = |l: &PlacedLoudspeaker<'_>| l.model.kind == LoudspeakerKind::Subwoofer;
    let tags = |subs: bool| {
        let of_kind: Vec<&str> = m.job.loudspeakers().filter(|l| is_sub(l) == subs).map(|l| l.id).collect();
        listed(&of_kind, words.get("number.to"))
    };
    let known = |c: &&LaidCable| m.results.runs[c.lead].existing.as_ref().is_none_or(|e| e.length_known);
    let metres: f64 = m.laid.iter().filter(known).map(|c| c.laid_m).sum();
    let cable = if m.laid.is_empty() {
        String::new()
    } else {
        words.fill("guide.cable_lies", &[("length", &m.options.units.run(metres))])
    };
    [
        fact("rack", racks.join(", ")),
        fact("sources", sources.join(", ")),
        fact("areas", areas.collect::<Vec<_>>().join(", ")),
        fact("loudspeakers", tags(false)),
        fact("subwoofers", tags(true)),
        fact("cable", cable),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// What the garden needs, by what is in it: keys of the language file.
fn garden(m: &Material<'_>) -> Vec<&'static str> {
    let lies = |laying: Laying| m.ground.iter().any(|g| g.laying == laying);
    let has = |f: fn(&PlacedLoudspeaker<'_>) -> bool| m.job.loudspeakers().any(|l| f(&l));
    let edge = m.job.loudspeakers().any(|l| on_lawn_edge(m.job, l.placed.position));
    let told = [
        (!m.laid.is_empty(), "guide.garden_digging"),
        (has(|l| matches!(l.mount, Mount::Stake | Mount::Surface | Mount::Base)), "guide.garden_mowing"),
        (lies(Laying::Slit), "guide.garden_lawn"),
        (edge, "guide.garden_edge"),
        (lies(Laying::Staked), "guide.garden_mulch"),
        (lies(Laying::Trench), "guide.garden_trench"),
        (lies(Laying::LiftedPaving), "guide.garden_paving"),
        (lies(Laying::Clipped), "guide.garden_clipped"),
        (has(|_| true), "guide.garden_water"),
        (has(|_| true), "guide.garden_aim"),
        (has(|l| l.mount == Mount::InGround), "guide.garden_sub"),
        (has(|_| true), "guide.garden_clean"),
    ];
    told.into_iter().filter(|(there, _)| *there).map(|(_, key)| key).collect()
}
