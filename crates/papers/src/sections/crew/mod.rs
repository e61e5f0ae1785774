//! The crew pack, in the order a crew needs it: safety, order of work, what to load, plan, setting out, cutting,
//! laying, ground details, digging, joints, readings, rack. Everything stands in it once.

mod details;
mod index;
mod inputs;
mod joints;
mod loudspeakers;
mod order;
mod racks;
mod routes;
mod stubs;
mod taped;
mod wiring;

pub use inputs::source_name;
pub use racks::{power, settings};

use super::common::{Drawings, colour_of, common, key_sheet, place, plan_sheets, unlabelled};
use super::{readings, schedules};
use crate::material::Material;
use crate::measures::dimension;
use crate::taping::{fixed_points, tape, written};
use loamline_adapt::{length_rules, run_conductors};
use loamline_model::{Choice as _, Units};
use loamline_quotation::{GRAVEL_M, OVERDIG_M, opens_ground};
use serde_json::{Value, json};

/// Data and drawings of the crew pack.
pub fn crew(m: &Material<'_>) -> (Value, Vec<String>) {
    let words = &m.options.words;
    let mut drawings = Drawings(m.plans.iter().map(|p| p.svg.clone()).collect());
    let rules = length_rules(m.job);
    let large = m.is_large();
    let mut data = common(m);
    data["large"] = large.into();
    data["order"] = order::order(m).into();
    data["bill"] = schedules::bill(m).into();
    data["labour"] = format!("{} {}", m.quotation.labour_h, words.get("unit.hour")).into();
    data["plans"] = plan_sheets(m, &m.plans, 0).into();
    data["key"] = key_sheet(m, &mut drawings);
    data["unlabelled"] = unlabelled(m).into();
    data["index"] = if large { index::index(m) } else { Vec::new() }.into();
    data["marks"] = marks(m).into();
    data["joint_places"] = joint_places(m).into();
    data["sheets"] = loudspeakers::loudspeakers(m, &mut drawings, !large).into();
    data["cuts"] = schedules::cuts(m).into();
    let waste = format!("{} %", schedules::plain(rules.waste_fraction * 100.0));
    data["cuts_intro"] = words
        .fill(
            "crew.cuts_intro",
            &[("loop", &m.options.units.length(rules.service_loop_m)), ("waste", &waste)],
        )
        .into();
    data["routes"] = routes::routes(m, &mut drawings, large).into();
    data["how_deep"] = routes::how_deep(m).into();
    data["locating"] = locating(m).into();
    data["routes_intro"] = if order::staked(m) { words.get("crew.routes_staked") } else { "" }.into();
    data["details"] = details::details(m, &mut drawings).into();
    data["holes"] = loudspeakers::holes(m).into();
    let (room, bed) = (dimension(m.options.units, OVERDIG_M), dimension(m.options.units, GRAVEL_M));
    let holes_intro = words.fill("crew.holes_intro", &[("room", &room), ("bed", &bed)]);
    data["holes_intro"] = match m.options.units {
        Units::Metric => holes_intro,
        Units::Us => format!("{holes_intro} {}", words.get("crew.gravel_bag")),
    }
    .into();
    data["stubs"] = stubs::stubs(m).into();
    let joints_existing =
        if m.job.document().stubs.is_empty() { "" } else { words.get("crew.joints_existing") };
    data["joints_existing"] = joints_existing.into();
    data["joints_green"] = if uses_green(m) { words.get("crew.joints_green") } else { "" }.into();
    data["joints"] = joints::joints(m, &mut drawings, large).into();
    data["meters"] = readings::meters(m).into();
    data["readings"] = readings::readings(m).into();
    data["insulation"] = readings::insulation(m);
    data["racks"] = racks::racks(m, &mut drawings).into();
    (data, drawings.0)
}

/// The request that services be located, for the cover: as the job states it, a line to write it on where the ground is opened
/// and it states none, nothing where nobody digs.
fn locating(m: &Material<'_>) -> String {
    let (words, stated) = (&m.options.words, &m.job.document().site.locating);
    let line = words.get("crew.locating_line");
    let or_line = |text: &str| if text.is_empty() { line.to_owned() } else { text.to_owned() };
    let digs = !m.holes.is_empty() || m.ground.iter().any(|g| opens_ground(g.laying));
    if stated.number.is_empty() && stated.until.is_empty() && !digs {
        return String::new();
    }
    let values = [("number", &*or_line(&stated.number)), ("until", &*or_line(&stated.until))];
    words.fill("crew.locating_text", &values)
}

/// Whether a conductor that carries a line is green, by the catalogue.
fn uses_green(m: &Material<'_>) -> bool {
    m.results.runs.iter().any(|run| {
        let used = run_conductors(m.job, run);
        used.positive.iter().chain(&used.negative).any(|c| c.to_lowercase().contains("green"))
    })
}

/// What is there to tape from, and existing cable ends to pick up.
fn marks(m: &Material<'_>) -> Vec<Value> {
    let document = m.job.document();
    let marks = document.marks.iter().map(|(id, mark)| (id, &mark.name, mark.position));
    let stubs = document.stubs.iter().map(|(id, stub)| (id, &stub.name, stub.position));
    marks
        .chain(stubs)
        .map(|(id, name, at)| json!({ "tag": id, "name": name, "position": place(m, at) }))
        .collect()
}

/// Joints away from loudspeakers, taped in as loudspeakers are.
fn joint_places(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let document = m.job.document();
    let points = fixed_points(m.job, |_, _, _, _| String::new());
    let joints = document.joints.iter();
    joints
        .map(|(id, joint)| {
            let line = m.job.lines().find(|l| l.tree.nodes().any(|n| n == id)).map(|l| l.id);
            let taped = tape(joint.position, &points, m.options.units);
            let how = taped.map(|t| {
                let (first, second) =
                    (written(t.first_m, m.options.units), written(t.second_m, m.options.units));
                let side = taped::side_of(m, &t);
                let side = match t.off_m.map(|off| written(off, m.options.units)) {
                    Some(off) => words.fill("crew.side_and_off", &[("side", &side), ("off", &off)]),
                    None => side,
                };
                json!({
                    "first": words.fill("crew.tape", &[("from", &t.first.id), ("distance", &first)]),
                    "second": words.fill("crew.tape", &[("from", &t.second.id), ("distance", &second)]),
                    "side": side,
                })
            });
            json!({
                "tag": id,
                "colour": colour_of(m.job, line),
                "kind": words.get(&format!("plan.joint.{}", joint.kind.word())),
                "how": how,
                "position": place(m, joint.position),
            })
        })
        .collect()
}
