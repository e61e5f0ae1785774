//! Routing a job: loudspeakers joined to their lines at least installed cost, as an edit of the job.

use crate::error::{RouteProblem, RouteProblems};
use crate::finding::{Finding, Severity, Subject};
use loamline_adapt::{Pricing, ground_plan, inside_a_building, length_rules, pair, wall_thickness_m};
use loamline_geometry::{Point2, Segment, project_on_segment};
use loamline_model::document::{Mount, Topology};
use loamline_model::{ChannelView, Edit, Job, LineView, Operation};
use loamline_routing::{
    ConstantVoltage, Feed, FixedRun, GroundMap, LineCable, LineProblem, LineProblemError, LossLimit, Mode,
    RouteError, RoutedLine, RoutedLines, RoutedRun, StubOut, Terminal,
};
use loamline_terms::capitalised;
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// A routed job.
#[derive(Debug, Clone, Serialize)]
pub struct Routed {
    /// Lines as solved, one group for each cable and topology.
    pub groups: Vec<RoutedLines>,
    /// The edit that writes the runs into the job.
    pub edit: Edit,
    /// What wants attention.
    pub findings: Vec<Finding>,
}

/// Cables that may leave a rack on one line of a chain: a line may start both ways.
const HOME_RUNS: usize = 2;
/// Search effort: patient enough that a second look seldom finds better, and still quick.
const EFFORT: usize = 100;
/// Price of a branch box where the price book has none (task `box`).
const BOX_PRICE: f64 = 25.0;

/// Routes every line of a job anew; runs marked as fixed stay as they are. Loudspeakers on a line stay on it. The others
/// are offered to the lines of one type of cable, that of the nearest line with room, and go there where they cost least.
///
/// Lines of one type of cable and one topology are solved together; the groups one after the other, the largest first.
/// Ground that one group opens costs the next no digging, and what it draws through a sleeve fills that sleeve.
///
/// # Errors
/// What stands in the way, sentence by sentence.
pub fn route(job: &Job) -> Result<Routed, RouteProblems> {
    let mut plan = ground_plan(job).ok_or_else(|| RouteProblems(vec![RouteProblem::EmptySite]))?;
    let views: Vec<LineView<'_>> = job.lines().collect();
    if views.is_empty() {
        return Err(RouteProblems(vec![RouteProblem::NoLines]));
    }
    let mut groups: BTreeMap<(String, bool), Vec<&LineView<'_>>> = BTreeMap::new();
    for v in &views {
        groups.entry((v.line.cable.clone(), v.line.topology == Topology::Tree)).or_default().push(v);
    }
    let homes = homes_of_the_free(job, &views);
    let mut open_ways: Vec<Vec<Point2>> = Vec::new();
    let mut out = Routed { groups: Vec::new(), edit: Edit::default(), findings: Vec::new() };
    let mut problems = Vec::new();
    let mut names = Names::of(job);
    // The cable with most lines first: the others find its trenches open and see what it draws through the sleeves.
    let mut in_turn: Vec<_> = groups.values().collect();
    in_turn.sort_by_key(|members| std::cmp::Reverse(members.len()));
    for members in in_turn {
        let ground = GroundMap::new(plan.clone())
            .map_err(|e| RouteProblems(e.0.into_iter().map(RouteProblem::Ground).collect()))?;
        let Some(mut problem) = line_problem(job, members, &homes, &mut problems) else { continue };
        problem.open_ways.clone_from(&open_ways);
        let loss = loss_model(members);
        let limit =
            loss.as_ref().map(|m| LossLimit { model: m, limit_db: job.document().brief.loss_limit_db });
        match ground.lines(&problem, limit.filter(|l| l.limit_db > 0.0)) {
            Ok(lines) => {
                write_back(job, &lines, &mut names, &mut out.edit);
                out.findings.extend(lines.findings.iter().map(|f| {
                    let severity = if f.is_error() { Severity::Warning } else { Severity::Note };
                    Finding::new(
                        severity,
                        Subject::new("lines", ""),
                        format!("{}.", capitalised(&f.to_string())),
                    )
                }));
                let runs = lines.lines.iter().flat_map(|l| &l.runs);
                let legs = runs.flat_map(|r| r.path.waypoints.windows(2));
                let opened = legs.filter(|w| w[1].method.opens_ground());
                open_ways.extend(opened.map(|w| vec![w[0].at, w[1].at]));
                for used in &lines.sleeves {
                    if let Some(sleeve) = plan.sleeves.iter_mut().find(|s| s.id == used.sleeve) {
                        let more = used.runs.iter().map(|_| problem.cable.outside_diameter_mm);
                        sleeve.occupants_mm.extend(more);
                    }
                }
                out.groups.push(lines);
            }
            Err(e) => problems.extend(e.0.into_iter().map(RouteProblem::Line)),
        }
    }
    if !problems.is_empty() {
        return Err(RouteProblems(one_sentence_each(job, problems)));
    }
    drop_unused_joints(job, &out.groups, &mut out.edit);
    Ok(out)
}

/// One reason for all loudspeakers that the same barriers keep from the same line, with existing cable that would lead out
/// if its length were known.
fn one_sentence_each(job: &Job, problems: Vec<RouteProblem>) -> Vec<RouteProblem> {
    let d = job.document();
    let mut out: Vec<RouteProblem> = Vec::new();
    for problem in problems {
        let RouteProblem::Line(LineProblemError::Route(RouteError::NoWay { from, to, barriers })) = problem
        else {
            out.push(problem);
            continue;
        };
        let alike = out.iter_mut().find_map(|p| match p {
            RouteProblem::CutOff { from: f, to, barriers: b, .. } if *f == from && *b == barriers => Some(to),
            _ => None,
        });
        match alike {
            Some(others) => others.push(to),
            None => {
                let unmeasured = |s: &&loamline_model::document::Stub| {
                    s.length_m.is_none() && d.most_pairs_of_stub(s, job.catalogue()) > 0
                };
                let unmeasured = d.stubs.iter().filter(|(_, s)| unmeasured(s)).map(|(id, _)| id.clone());
                let unmeasured = unmeasured.collect();
                out.push(RouteProblem::CutOff { from, to: vec![to], barriers, unmeasured });
            }
        }
    }
    out
}

/// For each loudspeaker on no line yet, a line of the group it is offered to: that which starts or has a loudspeaker
/// nearest, of those with room for its tap. Grown one by one, nearest first, as a line would be.
fn homes_of_the_free<'j>(job: &'j Job, views: &[LineView<'j>]) -> BTreeMap<&'j str, &'j str> {
    let mut room: Vec<f64> = Vec::new();
    let mut reach: Vec<Vec<Point2>> = Vec::new();
    for v in views {
        let own = job.loudspeakers_of_line(v.id);
        room.push(room_w(job, v) - own.iter().filter_map(|l| l.placed.tap_w).sum::<f64>());
        reach.push(v.start_position().into_iter().chain(own.iter().map(|l| l.placed.position)).collect());
    }
    let mut free: Vec<_> = job.loudspeakers().filter(|l| l.placed.line.is_none()).collect();
    let mut homes = BTreeMap::new();
    while !free.is_empty() {
        let mut best: Option<(bool, f64, usize, usize)> = None;
        for (k, l) in free.iter().enumerate() {
            let watts = l.placed.tap_w.unwrap_or(l.model.rated_w);
            for (i, points) in reach.iter().enumerate() {
                let away = points.iter().map(|p| p.distance(l.placed.position)).fold(f64::INFINITY, f64::min);
                let full = watts > room[i] + 1e-9;
                if best.is_none_or(|b| (full, away) < (b.0, b.1)) {
                    best = Some((full, away, k, i));
                }
            }
        }
        let Some((_, _, k, i)) = best else { break };
        let l = free.swap_remove(k);
        room[i] -= l.placed.tap_w.unwrap_or(l.model.rated_w);
        reach[i].push(l.placed.position);
        homes.insert(l.id, views[i].id);
    }
    homes
}

fn line_problem(
    job: &Job,
    members: &[&LineView<'_>],
    homes: &BTreeMap<&str, &str>,
    problems: &mut Vec<RouteProblem>,
) -> Option<LineProblem> {
    let first = members.first()?;
    let prices = Pricing { job, book: job.catalogue().prices.as_ref() };
    let mut feeds = Vec::new();
    for v in members {
        let Some(at) = v.start_position() else {
            problems.push(RouteProblem::NoStart { line: v.id.to_owned() });
            continue;
        };
        feeds.push(Feed {
            id: v.id.to_owned(),
            at: match v.stub {
                // A stub drawn a little inside the wall it comes out of.
                Some(_) => out_of_the_wall(job, at),
                None if inside_a_building(job, at) => at,
                None => onto_wall(job, at),
            },
            rise_m: if v.stub.is_some() { 0.0 } else { v.rack.map_or(0.0, |(_, r)| r.height_m) },
            max_w: room_w(job, v),
            opening_price: 0.0,
            stub_out: v.stub.map(|(id, s)| stub_out(job, v.id, id, s)),
        });
    }
    let terminals: Vec<Terminal> = job
        .loudspeakers()
        .filter(|l| match l.placed.line.as_deref() {
            Some(line) => members.iter().any(|v| v.id == line),
            None => homes.get(l.id).is_some_and(|home| members.iter().any(|v| v.id == *home)),
        })
        .map(|l| Terminal {
            id: l.id.to_owned(),
            at: match l.mount {
                Mount::Bracket | Mount::Eaves => onto_wall(job, l.placed.position),
                Mount::Stake | Mount::Surface | Mount::InGround | Mount::Base => l.placed.position,
            },
            rise_m: l.height_m.max(0.0),
            watts: l.placed.tap_w.unwrap_or(l.model.rated_w),
            line: l.placed.line.clone(),
        })
        .collect();
    let fixed = members
        .iter()
        .flat_map(|v| v.line.runs.values().map(move |r| (v, r)))
        .filter(|(_, r)| r.fixed || r.existing)
        .map(|(v, r)| FixedRun {
            from: if r.from == v.tree.start { v.id.to_owned() } else { r.from.clone() },
            to: r.to.clone(),
            via: r.via.clone(),
        })
        .collect();
    let box_price = match prices.task("box") {
        p if p > 0.0 => p,
        _ => BOX_PRICE,
    };
    Some(LineProblem {
        mode: if first.line.topology == Topology::Tree { Mode::Tree } else { Mode::Chain },
        terminals,
        feeds,
        cable: LineCable {
            price_per_m: first.cable.price_per_m.to_f64().unwrap_or(1.0),
            outside_diameter_mm: 1000.0 * first.cable.outside_diameter_m,
        },
        lengths: length_rules(job),
        joint_price: prices.task("joint"),
        box_price,
        home_runs: HOME_RUNS,
        fixed,
        open_ways: Vec::new(),
        effort: EFFORT,
    })
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

fn stub_out(job: &Job, line: &str, id: &str, s: &loamline_model::document::Stub) -> StubOut {
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
fn room_w(job: &Job, v: &LineView<'_>) -> f64 {
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

fn loss_model(members: &[&LineView<'_>]) -> Option<ConstantVoltage> {
    let first = members.first()?;
    let volts = first.line_v()?;
    let ohm = pair(&first.line.cable, first.cable).ok()?.loop_resistance_ohm_per_m;
    Some(ConstantVoltage { volts, loop_ohm_per_m: ohm })
}

/// Tags in use, so that new joints get free ones.
struct Names {
    next_joint: usize,
    taken: Vec<String>,
}

impl Names {
    fn of(job: &Job) -> Self {
        let d = job.document();
        let taken = d.loudspeakers.keys().chain(d.racks.keys()).chain(d.stubs.keys()).chain(d.joints.keys());
        Self { next_joint: 1, taken: taken.cloned().collect() }
    }

    fn joint(&mut self) -> String {
        loop {
            let name = format!("J{}", self.next_joint);
            self.next_joint += 1;
            if !self.taken.contains(&name) {
                return name;
            }
        }
    }
}

fn write_back(job: &Job, lines: &RoutedLines, names: &mut Names, edit: &mut Edit) {
    let d = job.document();
    let made = |o: &Operation| matches!(o, Operation::Add { path, .. } if path == "/joints");
    let mut has_joints = !d.joints.is_empty() || edit.operations.iter().any(made);
    let mut add =
        |path: String, value: Value| edit.operations.push(Operation::Add { path, value, before: None });
    for line in &lines.lines {
        let Some(view) = job.line(&line.id) else { continue };
        let mut tags: BTreeMap<&str, String> = BTreeMap::new();
        let start =
            if view.tree.start.is_empty() { view.rack.map_or("", |(id, _)| id) } else { &view.tree.start };
        tags.insert(&line.id, start.to_owned());
        for b in &line.boxes {
            let tag = names.joint();
            if !has_joints {
                add("/joints".into(), json!({}));
                has_joints = true;
            }
            add(format!("/joints/{tag}"), json!({ "position": point(b.at), "kind": "box" }));
            tags.insert(&b.id, tag);
        }
        let runs: Map<String, Value> = line
            .runs
            .iter()
            .enumerate()
            .map(|(i, r)| (format!("{}{}", line.id, i + 1), run_value(r, &tags, view.line.runs.values())))
            .collect();
        add(format!("/lines/{}/runs", line.id), Value::Object(runs));
        for r in line.runs.iter().filter(|r| d.loudspeakers.get(&r.to).is_some_and(|l| l.line.is_none())) {
            add(format!("/loudspeakers/{}/line", r.to), json!(line.id));
        }
    }
}

fn run_value<'r>(
    r: &RoutedRun,
    tags: &BTreeMap<&str, String>,
    old: impl Iterator<Item = &'r loamline_model::document::Run>,
) -> Value {
    let tag = |name: &str| tags.get(name).cloned().unwrap_or_else(|| name.to_owned());
    let (from, to) = (tag(&r.from), tag(&r.to));
    let mut run = Map::new();
    run.insert("from".into(), json!(from));
    run.insert("to".into(), json!(to));
    let inner = r.path.waypoints.len().saturating_sub(2);
    let via: Vec<Value> = r.path.waypoints.iter().skip(1).take(inner).map(|w| point(w.at)).collect();
    if !via.is_empty() {
        run.insert("via".into(), Value::Array(via));
    }
    if !r.path.sleeves.is_empty() {
        run.insert("sleeves".into(), json!(r.path.sleeves));
    }
    let same =
        |o: &&loamline_model::document::Run| (o.from == from && o.to == to) || (o.from == to && o.to == from);
    let mut old = old;
    let old = old.find(same);
    // Cable that is there already, or that a person chose for these two ends, stays what it is.
    if let Some(cable) = old.and_then(|o| o.cable.as_ref()) {
        run.insert("cable".into(), json!(cable));
    }
    if r.fixed {
        // A fixed run keeps what a person measured.
        if old.is_none_or(|o| o.fixed) {
            run.insert("fixed".into(), json!(true));
        }
        if let Some(length) = old.and_then(|o| o.length_m) {
            run.insert("length".into(), json!(length));
        }
        if old.is_some_and(|o| o.existing) {
            run.insert("existing".into(), json!(true));
        }
    }
    Value::Object(run)
}

/// A point to the centimetre, as a crew lays it.
pub(crate) fn point(p: Point2) -> Value {
    let cm = |v: f64| (v * 100.0).round() / 100.0;
    json!([cm(p.x), cm(p.y)])
}

/// Takes joints out that no run ends at any more.
fn drop_unused_joints(job: &Job, groups: &[RoutedLines], edit: &mut Edit) {
    let routed: Vec<&RoutedLine> = groups.iter().flat_map(|g| &g.lines).collect();
    let kept = |joint: &str| {
        let unrouted = job.document().lines.iter().filter(|(id, _)| !routed.iter().any(|r| &r.id == *id));
        unrouted.into_iter().any(|(_, l)| l.runs.values().any(|r| r.from == joint || r.to == joint))
            || routed.iter().any(|l| l.runs.iter().any(|r| r.from == joint || r.to == joint))
    };
    for id in job.document().joints.keys().filter(|id| !kept(id)) {
        edit.operations.push(Operation::Remove { path: format!("/joints/{id}") });
    }
}
