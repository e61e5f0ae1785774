//! The crew pack.

use super::common::{common, plan_sheets};
use super::schedules;
use crate::laid::length_rules;
use crate::pack::Material;
use serde_json::Value;

/// Data and drawings of the crew pack.
pub fn crew(m: &Material<'_>) -> (Value, Vec<String>) {
    let words = &m.options.words;
    let drawings: Vec<String> = m.plans.iter().map(|p| p.svg.clone()).collect();
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
    (data, drawings)
}
