//! What the routing engine is asked of some lines of a job.

use super::before::Before;
use super::choice::cable_of_its_own;
use crate::no_way::RouteProblem;
use loamline_adapt::{Pricing, inside_a_building, length_rules, pair, wall_thickness_m};
use loamline_geometry::{Point2, Segment, project_on_segment};
use loamline_model::document::{Mount, Topology};
use loamline_model::{ChannelView, Job, LineView};
use loamline_routing::{
    ConstantVoltage, Feed, FixedRun, LineCable, LineProblem, Mode, Opened, StubOut, Terminal,
};
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeMap;

/// Cables that may leave a rack on one line of a chain: a line may start both ways.
pub(super) const HOME_RUNS: usize = 2;
/// Search effort: patient enough that a second look seldom finds better, and still quick.
const EFFORT: usize = 100;
/// Price of a branch box where the price book has none (task `box`).
const BOX_PRICE: f64 = 25.0;

/// Some lines to route together, and what is known of their ends.
pub(super) struct Asked {
    /// The problem.
    pub problem: LineProblem,
    /// Joints that runs a person fixed end at, each with the name it has in the problem.
    pub joints: BTreeMap<String, String>,
    /// Loss along their cable; none for low impedance.
    pub loss: Option<ConstantVoltage>,
}

/// Where a line may branch: as its document says, or as the runs a person fixed have it.
pub(super) fn mode_of(view: &LineView<'_>, before: Option<&Before>) -> Mode {
    if view.line.topology == Topology::Tree {
        return Mode::Tree;
    }
    let start = before.map_or(view.tree.start.as_str(), |b| &b.end);
    let fixed = || fixed_runs(view, before);
    let meets = |end: &str| fixed().filter(|r| r.from == end || r.to == end).count();
    let branches = |end: &String| meets(end) > if end == start { HOME_RUNS } else { 2 };
    if fixed().any(|r| branches(&r.from) || branches(&r.to)) { Mode::Branching } else { Mode::Chain }
}

/// Runs a person decided, without those the line starts with.
fn fixed_runs<'v>(
    view: &LineView<'v>,
    before: Option<&'v Before>,
) -> impl Iterator<Item = &'v loamline_model::document::Run> {
    let line = view.line;
    let start_run = move |id: &String| before.is_some_and(|b| b.kept.contains(id));
    line.runs.iter().filter(move |(id, r)| (r.fixed || r.existing) && !start_run(id)).map(|(_, r)| r)
}

/// The problem of lines with one type of cable and one way of branching. `on` says which loudspeakers hang on a line;
/// what cannot be asked goes to `problems`.
pub(super) fn asked(
    job: &Job,
    members: &[&LineView<'_>],
    before: &BTreeMap<String, Before>,
    on: impl Fn(&str) -> Option<(String, bool)>,
    problems: &mut Vec<RouteProblem>,
) -> Option<Asked> {
    let first = members.first()?;
    let prices = Pricing::of(job);
    let mut feeds = Vec::new();
    for v in members {
        let Some(at) = v.start_position() else {
            problems.push(RouteProblem::NoStart { line: v.id.to_owned() });
            continue;
        };
        feeds.push(feed(job, v, at, before.get(v.id)));
    }
    let mut terminals: Vec<Terminal> = Vec::new();
    for l in job.loudspeakers() {
        let Some((line, must)) = on(l.id).filter(|(line, _)| members.iter().any(|v| v.id == line)) else {
            continue;
        };
        terminals.push(Terminal {
            id: l.id.to_owned(),
            at: match l.mount {
                Mount::Bracket | Mount::Eaves => onto_wall(job, l.placed.position),
                Mount::Stake | Mount::Surface | Mount::InGround | Mount::Base => l.placed.position,
            },
            rise_m: l.height_m.max(0.0),
            watts: l.placed.tap_w.unwrap_or(l.model.rated_w),
            line: must.then_some(line),
        });
    }
    let mut joints = BTreeMap::new();
    let mut fixed = Vec::new();
    for v in members {
        let own_before = before.get(v.id);
        let start = own_before.map_or(v.tree.start.as_str(), |b| &b.end);
        let mut named: BTreeMap<String, String> = BTreeMap::new();
        let mut name = |end: &String| {
            let Some(joint) = job.document().joints.get(end).filter(|_| end != start) else {
                return if end == start { v.id.to_owned() } else { end.clone() };
            };
            if let Some(name) = named.get(end) {
                return String::clone(name);
            }
            // A joint that several lines meet in is a place of each.
            let taken = terminals.iter().any(|t| t.id == *end);
            let name = if taken { format!("{end} of line {}", v.id) } else { end.clone() };
            named.insert(end.clone(), name.clone());
            joints.insert(name.clone(), end.clone());
            terminals.push(Terminal {
                id: name.clone(),
                at: joint.position,
                rise_m: 0.0,
                watts: 0.0,
                line: Some(v.id.to_owned()),
            });
            name
        };
        for r in fixed_runs(v, own_before) {
            let (from, to) = (name(&r.from), name(&r.to));
            fixed.push(FixedRun { from, to, via: r.via.clone() });
        }
    }
    let box_price = match prices.task("box") {
        p if p > 0.0 => p,
        _ => BOX_PRICE,
    };
    let (id, cable) = cable_of_its_own(job, first);
    let ohm = pair(id, cable).ok().map(|p| p.loop_resistance_ohm_per_m);
    let loss =
        first.line_v().zip(ohm).map(|(volts, loop_ohm_per_m)| ConstantVoltage { volts, loop_ohm_per_m });
    let problem = LineProblem {
        mode: mode_of(first, before.get(first.id)),
        terminals,
        feeds,
        cable: LineCable {
            price_per_m: cable.price_per_m.to_f64().unwrap_or(1.0),
            outside_diameter_mm: 1000.0 * cable.outside_diameter_m,
        },
        lengths: length_rules(job),
        joint_price: prices.task("joint"),
        box_price,
        home_runs: HOME_RUNS,
        fixed,
        open: Opened::default(),
        effort: EFFORT,
    };
    Some(Asked { problem, joints, loss })
}

/// Where a line starts: at its rack or stub, or behind what comes before.
pub(super) fn feed(job: &Job, v: &LineView<'_>, at: Point2, before: Option<&Before>) -> Feed {
    let stub = v.stub.map(|(id, s)| stub_out(job, v.id, id, s));
    let (id, max_w, opening_price) = (v.id.to_owned(), room_w(job, v), 0.0);
    if let Some(b) = before {
        let before_ohm = b.ohm + stub.map_or(0.0, |s| s.loop_ohm);
        return Feed { id, at: b.at, rise_m: 0.0, max_w, opening_price, before_ohm, stub_out: None };
    }
    Feed {
        id,
        at: match v.stub {
            // A stub drawn a little inside the wall it comes out of.
            Some(_) => out_of_the_wall(job, at),
            None if inside_a_building(job, at) => at,
            None => onto_wall(job, at),
        },
        rise_m: if v.stub.is_some() { 0.0 } else { v.rack.map_or(0.0, |(_, r)| r.height_m) },
        max_w,
        opening_price,
        before_ohm: 0.0,
        stub_out: stub,
    }
}

/// How near a wall a rack or a bracket is taken to be on it, metres.
const ON_WALL_M: f64 = 0.6;

/// Where cable arrives at something fixed to a building or wall: the foot of the face, when one is near.
pub(crate) fn onto_wall(job: &Job, at: Point2) -> Point2 {
    let d = job.document();
    let houses = d.buildings.values().filter(|b| b.clip).map(|b| b.outline.nearest_on_outline(at));
    let walls = d.walls.values().filter(|w| w.clip).flat_map(|w| {
        w.line.windows(2).map(|piece| {
            let piece = Segment::new(piece[0], piece[1]);
            let on_line = project_on_segment(at, piece).0;
            let (off, along) = (at - on_line, piece.b - piece.a);
            // The face it stands on; for a place on the middle line, the one to the left.
            let out = if off.norm() > 1e-6 { off } else { Point2::new(-along.y, along.x) };
            on_line + out * (0.5 * wall_thickness_m(w.kind) / out.norm().max(1e-9))
        })
    });
    houses
        .chain(walls)
        .min_by(|a, b| a.distance(at).total_cmp(&b.distance(at)))
        .filter(|f| f.distance(at) <= ON_WALL_M)
        .unwrap_or(at)
}

/// Where a stub that is drawn a little inside a building comes out of it; any other stub where it is.
fn out_of_the_wall(job: &Job, at: Point2) -> Point2 {
    let mut buildings = job.document().buildings.values().map(|b| &b.outline);
    let wall = buildings.find(|o| o.contains(at) && o.distance_to_outline(at) <= ON_WALL_M);
    wall.map_or(at, |o| o.nearest_on_outline(at))
}

pub(super) fn stub_out(job: &Job, line: &str, id: &str, s: &loamline_model::document::Stub) -> StubOut {
    let cable = job.catalogue().cables.get(&s.cable);
    let ohm_per_m = cable.and_then(|c| pair(&s.cable, c).ok()).map_or(0.0, |p| p.loop_resistance_ohm_per_m);
    let in_parallel = job.existing_cable(line).map_or(1, |c| c.pairs.len().max(1)) as f64;
    StubOut {
        id: id.to_owned(),
        conductors: 2 * u32::try_from(job.document().most_pairs_of_stub(s, job.catalogue())).unwrap_or(0),
        // Where its length is not known the lines are led as if nothing were lost in it; that is told at the stub.
        loop_ohm: ohm_per_m * s.length_m.unwrap_or(0.0) / in_parallel,
        tail_m: s.tail_m,
    }
}

/// Watts of taps a line may carry: its channel's share, less what the channel's other lines carry.
pub(super) fn room_w(job: &Job, v: &LineView<'_>) -> f64 {
    let share = job.document().brief.load_share;
    let taps = |line: &str| job.loudspeakers_of_line(line).iter().filter_map(|l| l.placed.tap_w).sum::<f64>();
    let room = |c: ChannelView<'_>| {
        let others: f64 = c.lines.iter().filter(|l| **l != v.id).map(|l| taps(l)).sum();
        c.model.line_power_w.map(|w| w * share - others)
    };
    match (v.line_v(), v.line.channel.as_deref().and_then(|c| job.channel(c)).and_then(room)) {
        // What hangs on it already must fit, whatever the channel: too much is for the electrics to tell.
        (Some(_), Some(w)) => w.max(taps(v.id)).max(1.0),
        _ => 1.0e6,
    }
}
