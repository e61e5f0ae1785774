//! Route sheets: a plan of each line and how every cable of it lies.

use super::super::common::{Drawings, colour_of};
use crate::drawing;
use crate::pack::Material;
use loamline_model::Choice as _;
use loamline_model::document::Laying;
use loamline_study::{LaidCable, LaidRun};
use serde_json::{Value, json};

/// Height of the plan on a route sheet, as a share of the page's width.
const PLAN_SHAPE: f64 = 0.62;

/// A sheet per line: its plan, and every run with its stretches. A run that shares a cable with one of a line before
/// is described there.
pub fn routes(m: &Material<'_>, drawings: &mut Drawings) -> Vec<Value> {
    let (words, units) = (&m.options.words, m.options.units);
    let width = m.options.paper.size_mm().0 - 2.0 * drawing::MARGIN_X_MM;
    let size = (width, width * PLAN_SHAPE);
    m.job
        .lines()
        .map(|line| {
            let own: Vec<(&LaidRun, &LaidCable)> = m
                .laid
                .iter()
                .filter(|c| c.pair_of(line.id).is_some())
                .filter_map(|c| Some((m.results.runs.iter().find(|r| in_cable(r, c, line.id))?, c)))
                .collect();
            let mut totals: Vec<(Laying, f64)> = Vec::new();
            for (run, _) in own.iter().filter(|(r, c)| m.results.runs[c.lead].id == r.id) {
                for (laying, metres) in run.by_laying() {
                    let laying = laying.unwrap_or(Laying::Trench);
                    match totals.iter_mut().find(|(l, _)| *l == laying) {
                        Some((_, sum)) => *sum += metres,
                        None => totals.push((laying, metres)),
                    }
                }
            }
            let short = |laying: Laying| words.get(&format!("laying_short.{}", laying.word())).to_owned();
            let totals: Vec<String> =
                totals.into_iter().map(|(l, sum)| format!("{} {}", short(l), units.run(sum))).collect();
            let title = words.fill("plan.title_line", &[("line", line.id)]);
            let plan = line_plan(m, line.id, &title, size);
            json!({
                "file": drawings.add(plan),
                "width": size.0,
                "height": size.1,
                "title": title,
                "colour": colour_of(m.job, Some(line.id)),
                "cable": line.cable.description,
                "start": line.tree.start,
                "totals": totals.join(" · "),
                "runs": own.iter().map(|(run, cable)| described(m, run, cable)).collect::<Vec<_>>(),
            })
        })
        .collect()
}

fn in_cable(run: &LaidRun, cable: &LaidCable, line: &str) -> bool {
    run.line == line && cable.carries.iter().any(|c| c.line == run.line && c.run == run.id)
}

fn described(m: &Material<'_>, run: &LaidRun, cable: &LaidCable) -> Value {
    let (words, units, document) = (&m.options.words, m.options.units, m.job.document());
    let lead = &m.results.runs[cable.lead];
    if lead.line != run.line {
        let with = words.fill("crew.lies_in", &[("cable", &cable.tag), ("line", &lead.line)]);
        return json!({ "run": run.id, "from": run.from, "to": run.to, "with": with });
    }
    let named = |id: &str, name: &str| if name.is_empty() { id.to_owned() } else { name.to_owned() };
    let stretches: Vec<Value> = run
        .pieces
        .iter()
        .map(|p| {
            let surface = p.surface.as_deref().and_then(|id| document.surfaces.get_key_value(id));
            json!({
                "method": words.get(&format!("laying.{}", p.laying.unwrap_or(Laying::Trench).word())),
                "where": surface.map_or(String::new(), |(id, s)| named(id, &s.name)),
                "length": units.run(p.length_m),
            })
        })
        .collect();
    let sleeve = |id: &String| document.sleeves.get(id).map_or(id.clone(), |s| named(id, &s.name));
    let sleeves: Vec<String> = run.sleeves.iter().map(sleeve).collect();
    let crosses: Vec<String> = run
        .crosses
        .iter()
        .filter_map(|id| document.services.get(id).map(|s| (id, s)))
        .map(|(id, s)| {
            let kind = words.get(&format!("service.{}", s.kind.word())).to_owned();
            match s.depth_m.map(|d| units.length(d)) {
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

/// A plan of one line, as large as fits on a page beside its table. It carries a scale bar, not a scale to measure by.
fn line_plan(m: &Material<'_>, line: &str, title: &str, size_mm: (f64, f64)) -> String {
    let (low, high) = drawing::extent(m.job);
    let frame = (size_mm.0 - 8.0, size_mm.1 - 15.0);
    let mm_per_m = (frame.0 / (high.x - low.x)).min(frame.1 / (high.y - low.y));
    drawing::draw(&drawing::PlanRequest {
        job: m.job,
        words: &m.options.words,
        units: m.options.units,
        reader: drawing::Reader::Crew,
        centre: low.lerp(high, 0.5),
        mm_per_m,
        size_mm,
        field: None,
        only_line: Some(line),
        key: false,
        title,
    })
    .svg
}
