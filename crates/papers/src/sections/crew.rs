//! The crew pack.

use super::common::{common, plan_sheets};
use super::schedules;
use super::sheets::{self, Drawings};
use crate::pack::Material;
use loamline_study::length_rules;
use serde_json::{Value, json};

/// Height of the plan on a route sheet, as a share of the page's width.
const ROUTE_PLAN: f64 = 0.62;

/// Data and drawings of the crew pack.
pub fn crew(m: &Material<'_>) -> (Value, Vec<String>) {
    let words = &m.options.words;
    let mut drawings = Drawings(m.plans.iter().map(|p| p.svg.clone()).collect());
    let rules = length_rules(m.job);
    let mut data = common(m);
    data["plans"] = plan_sheets(m, &m.plans, 0).into();
    data["loudspeakers"] = schedules::loudspeakers(m).into();
    data["solved"] = (!m.results.loudspeakers.is_empty()).into();
    data["cables"] = schedules::cables(m).into();
    data["cables_intro"] = words
        .fill(
            "crew.cables_intro",
            &[
                ("loop", &m.options.units.length(rules.service_loop_m)),
                ("waste", &format!("{} %", schedules::plain(rules.waste_fraction * 100.0))),
            ],
        )
        .into();
    data["cuts"] = schedules::cuts(m).into();
    data["bill"] = schedules::bill(m).into();
    data["labour"] = format!("{} {}", m.quotation.labour_h, words.get("unit.hour")).into();
    let mut routes = sheets::routes(m);
    let width = m.options.paper.size_mm().0 - 2.0 * crate::drawing::MARGIN_X_MM;
    let size = (width, width * ROUTE_PLAN);
    for (route, line) in routes.iter_mut().zip(m.job.document().lines.keys()) {
        let title = words.fill("plan.title_line", &[("line", line)]);
        route["file"] = drawings.add(sheets::line_plan(m, line, &title, size)).into();
        route["width"] = size.0.into();
        route["height"] = size.1.into();
    }
    data["routes"] = routes.into();
    data["joints"] = sheets::joints(m, &mut drawings).into();
    data["sheets"] = sheets::loudspeakers(m, &mut drawings).into();
    data["marks"] = m
        .job
        .document()
        .marks
        .iter()
        .map(|(id, mark)| {
            let units = m.options.units;
            json!({
                "tag": id,
                "name": mark.name,
                "position": format!("{} / {}", units.length(mark.position.x), units.length(mark.position.y)),
            })
        })
        .collect::<Vec<_>>()
        .into();
    data["holes"] = sheets::holes(m).into();
    data["racks"] = sheets::racks(m).into();
    data["readings"] = sheets::readings(m).into();
    (data, drawings.0)
}
