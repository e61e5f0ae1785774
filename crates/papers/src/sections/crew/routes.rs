//! Route sheets: a plan of each line and how every cable of it lies.

use super::super::common::{Drawings, colour_of, sentence};
use super::super::conductors::written;
use crate::depths::Depths;
use crate::drawing;
use crate::material::Material;
use crate::measures::depth;
use loamline_adapt::{LaidCable, LaidRun, WallOpening, run_conductors};
use loamline_geometry::Point2;
use loamline_model::Choice as _;
use loamline_model::document::Laying;
use serde_json::{Value, json};

/// Height of the plan on a route sheet, as a share of the page's width: least and most. At the most it takes less than half a
/// page with its heading, so that no page before it stays emptier than that.
const PLAN_SHAPE: (f64, f64) = (0.36, 0.5);
/// What stands round the map of a route sheet, millimetres: figures of the grid, scale bar.
const ROUND_MAP_MM: (f64, f64) = (7.3, 13.8);
/// Ground shown round a line, metres, and as a share of its size: enough to see where it is.
const ROUND_LINE: (f64, f64) = (4.0, 0.15);

/// A sheet per line: its plan, and every run with its stretches. A run that shares a cable with one of a line before
/// is described there. Where lines are `listed` each names the parts of the plan that show it instead of a plan of its own.
pub fn routes(m: &Material<'_>, drawings: &mut Drawings, listed: bool) -> Vec<Value> {
    let (words, units) = (&m.options.words, m.options.units);
    let width = m.options.paper.size_mm().0 - 2.0 * drawing::MARGIN_X_MM;
    m.job
        .lines()
        .map(|line| {
            let own: Vec<(&LaidRun, &LaidCable)> = m
                .laid
                .iter()
                .filter(|c| c.pair_of(line.id).is_some())
                .filter_map(|c| {
                    let held = |r: &&LaidRun| r.line == line.id && c.holds(&r.line, &r.id);
                    Some((m.results.runs.iter().find(held)?, c))
                })
                .collect();
            let mut totals: Vec<(Laying, f64)> = Vec::new();
            for (run, _) in own.iter().filter(|(r, c)| m.results.runs.get(c.lead) == Some(*r)) {
                for (laying, metres) in run.by_laying() {
                    let laying = laying.unwrap_or(Laying::Trench);
                    match totals.iter_mut().find(|(l, _)| *l == laying) {
                        Some((_, sum)) => *sum += metres,
                        None => totals.push((laying, metres)),
                    }
                }
            }
            let ways: Vec<Laying> = totals.iter().map(|(laying, _)| *laying).collect();
            let short = |laying: Laying| words.get(&format!("laying_short.{}", laying.word())).to_owned();
            let totals: Vec<String> =
                totals.into_iter().map(|(l, sum)| format!("{} {}", short(l), units.run(sum))).collect();
            let title = words.fill("plan.title_line", &[("line", line.id)]);
            let ground = ground_of(m, line.id);
            let map = (width - ROUND_MAP_MM.0) * (ground.1.y - ground.0.y) / (ground.1.x - ground.0.x);
            let shape = ((map + ROUND_MAP_MM.1) / width).clamp(PLAN_SHAPE.0, PLAN_SHAPE.1);
            let size = (width, width * shape);
            let file = (!listed).then(|| drawings.add(line_plan(m, line.id, &title, size, ground)));
            let cables: Vec<&str> = own.iter().map(|(_, cable)| cable.tag.as_str()).collect();
            json!({
                "line": line.id,
                "file": file,
                "shown": if listed { shown_on(m, &cables) } else { String::new() },
                "width": size.0,
                "height": size.1,
                "title": title,
                "colour": colour_of(m.job, Some(line.id)),
                "cable": m.cable_names().written(&line),
                "start": line.tree.start,
                "totals": totals.join(" · "),
                "depths": depths(m).line(ways),
                "runs": own.iter().map(|(run, cable)| described(m, run, cable)).collect::<Vec<_>>(),
            })
        })
        .collect()
}

/// Which parts of the plan show some cables, in words.
fn shown_on(m: &Material<'_>, cables: &[&str]) -> String {
    let words = &m.options.words;
    let parts: Vec<String> = m
        .plans
        .iter()
        .filter(|plan| cables.iter().any(|tag| plan.tags.iter().any(|on| on == tag)))
        .filter_map(|plan| Some(plan.sheet.detail?.to_string()))
        .collect();
    match parts.as_slice() {
        [] => words.get("crew.on_plan").to_owned(),
        parts => words.fill("crew.on_plans", &[("parts", &parts.join(", "))]),
    }
}

/// How deep cable lies, for every way of laying the job has: as laid, and as the local code asks.
pub fn how_deep(m: &Material<'_>) -> Vec<Value> {
    let (words, depths) = (&m.options.words, depths(m));
    let mut ways: Vec<Laying> = Vec::new();
    for (laying, _) in m.results.runs.iter().filter(|r| !r.is_existing()).flat_map(LaidRun::by_laying) {
        let laying = laying.unwrap_or(Laying::Trench);
        if laying != Laying::Indoors && !ways.contains(&laying) {
            ways.push(laying);
        }
    }
    let row = |laying: Laying| {
        let way = sentence(words.get(&format!("laying.{}", laying.word())));
        json!([way, depths.lies(laying), depths.asked(laying)])
    };
    ways.into_iter().map(row).collect()
}

fn depths<'a>(m: &Material<'a>) -> Depths<'a> {
    Depths { words: &m.options.words, units: m.options.units, local: &m.job.document().site.local }
}

fn described(m: &Material<'_>, run: &LaidRun, cable: &LaidCable) -> Value {
    let (words, units, document) = (&m.options.words, m.options.units, m.job.document());
    if let Some(existing) = &run.existing {
        let conductors = written(m, &run_conductors(m.job, run));
        let values = [("conductors", conductors.as_str()), ("length", &units.run(run.length.path_m))];
        let key = if existing.length_known { "crew.existing" } else { "crew.existing_unknown" };
        let with = words.fill(key, &values);
        return json!({ "run": cable.tag, "from": run.from, "to": run.to, "with": with });
    }
    let lead = &m.results.runs[cable.lead];
    if lead.line != run.line {
        let with = words.fill("crew.lies_in", &[("line", &lead.line)]);
        return json!({ "run": cable.tag, "from": run.from, "to": run.to, "with": with });
    }
    let named = |id: &str, name: &str| if name.is_empty() { id.to_owned() } else { name.to_owned() };
    // Pieces that are laid the same way one after the other are one stretch to whoever lays them.
    let mut stretches: Vec<(Laying, f64, Vec<String>)> = Vec::new();
    for piece in &run.pieces {
        let laying = piece.laying.unwrap_or(Laying::Trench);
        let surface = piece.surface.as_deref().and_then(|id| document.surfaces.get_key_value(id));
        if stretches.last().is_none_or(|(last, ..)| *last != laying) {
            stretches.push((laying, 0.0, Vec::new()));
        }
        if let Some((_, length_m, places)) = stretches.last_mut() {
            *length_m += piece.length_m;
            places.extend(surface.map(|(id, s)| named(id, &s.name)).filter(|name| !places.contains(name)));
        }
    }
    let stretches: Vec<Value> = stretches
        .into_iter()
        .map(|(laying, length_m, places)| {
            json!({
                "method": words.get(&format!("laying.{}", laying.word())),
                "where": places.join("; "),
                "length": units.run(length_m),
            })
        })
        .collect();
    let sleeve = |id: &String| document.sleeves.get(id).map_or(id.clone(), |s| named(id, &s.name));
    let opening =
        |o: &WallOpening| match o.passage.as_ref().and_then(|id| document.passages.get_key_value(id)) {
            Some((id, passage)) => words.fill("crew.passage", &[("passage", &named(id, &passage.name))]),
            None => {
                let building = document.buildings.get(&o.building);
                let name = building.map_or_else(|| o.building.clone(), |b| named(&o.building, &b.name));
                words.fill("crew.new_hole", &[("building", &name)])
            }
        };
    let sleeves: Vec<String> =
        run.sleeves.iter().map(sleeve).chain(run.through.iter().map(opening)).collect();
    let crosses: Vec<String> = run
        .crosses
        .iter()
        .filter_map(|id| document.services.get(id).map(|s| (id, s)))
        .map(|(id, s)| {
            let kind = words.get(&format!("service.{}", s.kind.word())).to_owned();
            match s.depth_m.map(|d| depth(units, d)) {
                Some(depth) => {
                    words.fill("crew.crosses_at", &[("id", id), ("kind", &kind), ("depth", &depth)])
                }
                None => words.fill("crew.crosses", &[("id", id), ("kind", &kind)]),
            }
        })
        .collect();
    json!({
        "run": cable.tag, "from": run.from, "to": run.to,
        "stretches": stretches,
        "sleeves": sleeves.join("; "),
        "crosses": crosses.join("; "),
    })
}

/// South-west and north-east corner of what a route sheet shows: the line and what is round it, within the site.
fn ground_of(m: &Material<'_>, line: &str) -> (Point2, Point2) {
    let (low, high) = drawing::extent(m.job);
    let (mut a, mut b) = (high, low);
    for p in m.job.runs(line).into_iter().flat_map(|run| run.way.to_vec()) {
        a = Point2::new(a.x.min(p.x), a.y.min(p.y));
        b = Point2::new(b.x.max(p.x), b.y.max(p.y));
    }
    if a.x > b.x || a.y > b.y {
        return (low, high);
    }
    let round = |size: f64| (size * ROUND_LINE.1).max(ROUND_LINE.0);
    let round = Point2::new(round(b.x - a.x), round(b.y - a.y));
    let (a, b) = (a - round, b + round);
    (Point2::new(a.x.max(low.x), a.y.max(low.y)), Point2::new(b.x.min(high.x), b.y.min(high.y)))
}

/// A plan of one line, as large as fits on a page beside its table. It carries a scale bar, not a scale to measure by.
fn line_plan(
    m: &Material<'_>,
    line: &str,
    title: &str,
    size_mm: (f64, f64),
    (low, high): (Point2, Point2),
) -> String {
    let request = drawing::PlanRequest {
        job: m.job,
        laid: &m.laid,
        words: &m.options.words,
        units: m.options.units,
        reader: drawing::Reader::Crew,
        centre: Default::default(),
        mm_per_m: 1.0,
        size_mm,
        field: None,
        only_line: Some(line),
        parts: &[],
        numbered: &[],
        key: false,
        title,
    };
    drawing::draw(&drawing::filled_with(request, low, high)).svg
}
