//! Routing a job: loudspeakers joined to their lines at least installed cost, as an edit of the job.
//!
//! In the order of the work: `problem` asks the engine, `before` says what stays as it lies, `trunk` lets lines share cable,
//! `choice` takes a cable for every run, `draw` writes all of it into the job, `scored` says what it comes to, `pieces` puts joints
//! in runs that no spool holds.

mod before;
mod between;
mod choice;
mod draw;
mod pieces;
#[cfg(test)]
mod pieces_tests;
mod problem;
mod scored;
mod solution;
mod trunk;

pub(crate) use draw::point;
pub use pieces::{InPieces, in_pieces};
pub(crate) use problem::onto_wall;

use crate::finding::{Finding, Severity, Subject};
use crate::lines::SolvedLines;
use crate::needs::installed_cost;
use crate::no_way::{RouteProblem, RouteProblems};
use before::stays;
use between::cable_between;
use choice::cable_of_its_own;
use draw::Drawn;
use loamline_adapt::{LaidRun, ground_plan, laid_cables, laid_runs};
use loamline_geometry::Point2;
use loamline_limits::go_on;
use loamline_model::{Edit, Job, LineView};
use loamline_routing::{
    GroundMap, LineFinding, LineProblemError, LossLimit, Mode, RouteError, RoutedLine, RoutedLines,
    RoutedRun, RunLength,
};
use loamline_terms::say;
use pieces::divide;
use problem::{asked, mode_of, room_w};
use scored::Scored;
use serde::Serialize;
use solution::{Solution, Solved, fill};
use std::collections::BTreeMap;

/// A routed job.
#[derive(Debug, Clone, Serialize)]
pub struct Routed {
    /// Lines as solved, one group for each cable and topology; trunks and the lines behind them a group each.
    pub groups: Vec<RoutedLines>,
    /// The edit that writes the runs into the job.
    pub edit: Edit,
    /// What wants attention.
    pub findings: Vec<Finding>,
    /// What the cable then comes to as it lies, in the job's currency: cable, ground, holes and joints, each once for all
    /// that share it, material with its margin.
    pub cost: f64,
    /// Ways of starting the lines that were routed to find it: 1 where they start where they do.
    #[serde(skip)]
    pub ways: usize,
}

/// Routes every line of a job anew; runs marked as fixed stay as they are. Loudspeakers on a line stay on it. The others
/// are offered to the lines of one type of cable, that of the nearest line with room, and go there where they cost least.
///
/// Lines of one type of cable and one topology are solved together; the groups one after the other, the largest first.
/// Ground that one group opens costs the next no digging, and what it draws through a sleeve fills that sleeve. Then lines
/// that start together share a trunk where the whole cost falls by it, and behind a joint thinner cable is taken. What no spool
/// holds then gets joints.
///
/// # Errors
/// What stands in the way, sentence by sentence.
pub fn route(job: &Job) -> Result<Routed, RouteProblems> {
    route_told(job, &|_| {})
}

/// Part of the work that the search of the lines takes, about; trunks take the rest.
const LINES_PART: f64 = 0.6;

/// The same; `told` hears about which part of the work is done, 0 to 1, where there is much of it.
///
/// # Errors
/// As [`route`].
pub fn route_told(job: &Job, told: &dyn Fn(f64)) -> Result<Routed, RouteProblems> {
    let (ground, found) = solve(job, &|done| told(LINES_PART * done))?;
    let cables = laid_cables(job, &laid_runs(job));
    let scored = ground.zip(Scored::of(job, found.clone()));
    let found = match scored {
        Some((ground, scored)) => {
            let told = |done: f64| told(LINES_PART + (1.0 - LINES_PART) * done);
            trunk::share(job, &ground, scored, &cables, &told).solution
        }
        None => found,
    };
    let (routed, laid) = answer(job, thin_enough(job, found));
    Ok(with_joints(routed, laid.as_ref()))
}

/// Routes with the joints that their runs need; `laid` is the job with the routes written in.
fn with_joints(mut routed: Routed, laid: Option<&Job>) -> Routed {
    if let Some((pieces, Some(divided))) = laid.map(|laid| divide(laid, &laid_runs(laid))) {
        routed.cost = installed_cost(&divided, &laid_runs(&divided));
        routed.edit.operations.extend(pieces.edit.operations);
    }
    routed
}

/// The same, every line in cable of its own and of one type and every run in one piece: to compare starts, and for a design whose
/// cable is chosen after.
///
/// # Errors
/// As [`route`].
pub fn route_each_alone(job: &Job) -> Result<Routed, RouteProblems> {
    let (_, mut found) = solve(job, &|_| {})?;
    found.limits = job.document().lines.keys().map(|l| (l.clone(), 0.0)).collect();
    Ok(answer(job, found).0)
}

/// All lines routed, each alone behind what stays as it lies, and the ground with what stays in its sleeves where any were.
fn solve(job: &Job, told: &dyn Fn(f64)) -> Result<(Option<GroundMap>, Solution), RouteProblems> {
    let plan = ground_plan(job).ok_or_else(|| RouteProblems(vec![RouteProblem::EmptySite]))?;
    let views: Vec<LineView<'_>> = job.lines().collect();
    if views.is_empty() {
        return Err(RouteProblems(vec![RouteProblem::NoLines]));
    }
    let views: Vec<LineView<'_>> = views.into_iter().filter(|v| !stays(v.line)).collect();
    let (runs, homes) = (laid_runs(job), homes_of_the_free(job, &views));
    let cables = laid_cables(job, &runs);
    let mut solution = Solution { before: before::kept(job, &runs, &cables), ..Solution::default() };
    let mut groups: BTreeMap<(&str, u8), Vec<&LineView<'_>>> = BTreeMap::new();
    for v in &views {
        let mode = match mode_of(v, solution.before.get(v.id)) {
            Mode::Chain => 0,
            Mode::Tree => 1,
            Mode::Branching => 2,
        };
        groups.entry((cable_of_its_own(job, v).0, mode)).or_default().push(v);
    }
    if groups.is_empty() {
        return Ok((None, solution));
    }
    let bare = GroundMap::new(plan)
        .map_err(|e| RouteProblems(e.0.into_iter().map(RouteProblem::Ground).collect()))?;
    let mut sleeves = bare.plan().sleeves.clone();
    before::fill(job, &solution.before, &runs, &cables, &mut sleeves);
    // What stays as it lies fills its sleeves for every search after.
    let ground = bare.with_cable_in(&sleeves);
    let mut open = before::opened_by(job, &solution.before, &runs, &cables);
    let mut problems = Vec::new();
    // The cable with most lines first: the others find its trenches open and see what it draws through the sleeves.
    let mut in_turn: Vec<_> = groups.values().collect();
    in_turn.sort_by_key(|members| std::cmp::Reverse(members.len()));
    let limit_db = job.document().brief.loss_limit_db;
    let all = views.len().max(1) as f64;
    let mut lines_done = 0usize;
    for members in in_turn {
        let here = ground.with_cable_in(&sleeves);
        let of_all = |done: f64| told((lines_done as f64 + done * members.len() as f64) / all);
        let on = |l: &str| {
            let written = job.document().loudspeakers.get(l).and_then(|l| l.line.clone());
            let home = || homes.get(l).map(|home| ((*home).to_owned(), false));
            written.map(|line| (line, true)).or_else(home)
        };
        let Some(mut asked) = asked(job, members, &solution.before, on, &mut problems) else { continue };
        asked.problem.open.clone_from(&open);
        let limit = asked.loss.as_ref().map(|model| LossLimit { model, limit_db });
        match here.lines_told(&asked.problem, limit.filter(|l| l.limit_db > 0.0), &of_all) {
            Ok(routed) => {
                open.extend(&routed.opened());
                let cable = asked.problem.cable;
                let solved = Solved {
                    routed,
                    joints: asked.joints,
                    cable_per_m: cable.price_per_m,
                    outside_diameter_mm: cable.outside_diameter_mm,
                };
                fill(&mut sleeves, &solved);
                solution.groups.push(solved);
            }
            Err(e) => problems.extend(e.0.into_iter().map(RouteProblem::Line)),
        }
        lines_done += members.len();
    }
    if !problems.is_empty() {
        return Err(RouteProblems(one_sentence_each(job, problems)));
    }
    Ok((Some(ground), solution))
}

/// How much closer to the limit the loss may come at each look, as a fraction of it.
const CLOSER: f64 = 0.97;

/// The solution with cable thick enough for the loss that the whole line has, transformers and all, and no thinner where
/// that saves nothing.
fn thin_enough(job: &Job, mut solution: Solution) -> Solution {
    let brief_db = job.document().brief.loss_limit_db;
    for look in 0..4 {
        let drawn = draw::draw(job, &solution);
        let Some(laid) = &drawn.job else { return solution };
        let thin: Vec<&String> = job
            .lines()
            .filter_map(|v| {
                let (line, chosen) = drawn.cables.get_key_value(v.id)?;
                has_thinner(job, &v, chosen).then_some(line)
            })
            .collect();
        if thin.is_empty() {
            return solution;
        }
        let lines = SolvedLines::default().report(laid, &laid_runs(laid)).lines;
        let mut loses = false;
        for line in thin {
            let Some(solved) = lines.get(line) else { continue };
            let worst = solved.loads.iter().map(|l| l.loss_1khz_db).fold(0.0, f64::max);
            if worst > brief_db {
                let now = solution.limits.get(line).copied().unwrap_or(brief_db);
                let next = if look < 2 { now * CLOSER * brief_db / worst } else { 0.0 };
                solution.limits.insert(line.clone(), next);
                loses = true;
            }
        }
        if !loses {
            break;
        }
    }
    // Wires of two sizes may ask for dearer connectors than they save.
    let lines: Vec<String> =
        solution.groups.iter().flat_map(|g| &g.routed.lines).map(|l| l.id.clone()).collect();
    let Some(mut best) = Scored::of(job, solution.clone()) else { return solution };
    for line in lines {
        let thinner = |v: LineView<'_>| best.drawn.cables.get(v.id).is_some_and(|c| has_thinner(job, &v, c));
        if !job.line(&line).is_some_and(thinner) {
            continue;
        }
        let mut other = best.solution.clone();
        if other.limits.insert(line.clone(), 0.0) == Some(0.0) {
            continue;
        }
        if draw::draw(job, &other).cables == best.drawn.cables {
            continue;
        }
        if let Some(other) = Scored::of(job, other)
            && other.is_better_than(&best)
        {
            best = other;
        }
    }
    best.solution
}

/// Whether any of the cables chosen for a line is thinner than its own.
fn has_thinner(job: &Job, view: &LineView<'_>, chosen: &[String]) -> bool {
    let own = cable_of_its_own(job, view).1.conductor_mm2;
    let thinner = |id: &String| job.catalogue().cables.get(id).is_some_and(|c| c.conductor_mm2 < 0.99 * own);
    chosen.iter().any(thinner)
}

/// What a solution says and writes, and the job with it written in.
fn answer(job: &Job, solution: Solution) -> (Routed, Option<Job>) {
    let drawn = draw::draw(job, &solution);
    let laid = drawn.job.as_ref().map(laid_runs).unwrap_or_default();
    let cost = drawn.job.as_ref().map_or(f64::NAN, |job| installed_cost(job, &laid));
    let Solution { groups, trunks, .. } = solution;
    let trunk = |line: &RoutedLine, per_m: f64| -> Vec<(Option<RunLength>, f64)> {
        line.runs.iter().map(|r| (trunk_as_it_lies(&laid, line, r), per_m)).collect()
    };
    let behind = |line: &RoutedLine| -> Vec<(Option<RunLength>, f64)> {
        let cables = drawn.cables.get(&line.id).map(Vec::as_slice).unwrap_or_default();
        let lie = as_it_lies(&drawn, &laid, line);
        let length = |i: usize| lie.get(i).copied().flatten();
        cables.iter().enumerate().map(|(i, cable)| (length(i), price_of(job, cable))).collect()
    };
    let trunks = trunks.into_iter().map(|t| {
        let per_m = t.cable_per_m;
        as_written(t, |line| trunk(line, per_m))
    });
    let mut all: Vec<RoutedLines> = trunks.collect();
    all.extend(groups.into_iter().map(|g| as_written(g, behind)));
    let cables = drawn.job.as_ref().map(|job| laid_cables(job, &laid)).unwrap_or_default();
    let finding = |f: &LineFinding| {
        let severity = if f.is_error() { Severity::Warning } else { Severity::Note };
        let (about, told) = match f.run().and_then(|ends| cable_between(&cables, &laid, ends)) {
            Some((cable, run)) => (Subject::run(&run.line, &run.id), f.told_of(&cable.tag)),
            None => (Subject::new("lines", ""), f.told()),
        };
        Finding::new(severity, about, told.capitalised() + ".")
    };
    let left = job.lines().filter(|v| stays(v.line)).map(|v| left_as_it_lies(v.id));
    let findings = left.chain(all.iter().flat_map(|g| &g.findings).map(finding)).collect();
    (Routed { groups: all, edit: drawn.edit, findings, cost, ways: 1 }, drawn.job)
}

/// Lines with their lengths as they lie once they are written, and what their cable then costs; `lie` tells the length and the
/// price per metre of each run of a line.
fn as_written(group: Solved, lie: impl Fn(&RoutedLine) -> Vec<(Option<RunLength>, f64)>) -> RoutedLines {
    let (mut routed, searched_per_m) = (group.routed, group.cable_per_m);
    for line in &mut routed.lines {
        let lies = lie(line);
        let (mut more, mut longer) = (0.0, 0.0);
        for (run, (length, per_m)) in line.runs.iter_mut().zip(lies) {
            let searched_m = run.length.order_m;
            run.length = length.unwrap_or(run.length);
            let order_m = run.length.order_m;
            let extra = order_m * per_m - searched_m * searched_per_m;
            run.price += extra;
            more += extra;
            longer += order_m - searched_m;
        }
        for totals in [&mut line.totals, &mut routed.totals] {
            totals.order_m += longer;
            totals.cable_price += more;
            totals.price += more;
        }
    }
    routed
}

/// The length of a trunk as it lies once it is written: of the run of its line that ends at its joint.
fn trunk_as_it_lies(laid: &[LaidRun], line: &RoutedLine, run: &RoutedRun) -> Option<RunLength> {
    laid.iter().find(|r| r.line == line.id && r.to == run.to).map(|r| r.length)
}

/// The lengths of a routed line's runs as they lie once they are written: corners to the centimetre, climbs as a crew takes them.
fn as_it_lies(drawn: &Drawn, laid: &[LaidRun], line: &RoutedLine) -> Vec<Option<RunLength>> {
    let Some(written) = drawn.job.as_ref().and_then(|job| job.document().lines.get(&line.id)) else {
        return Vec::new();
    };
    // What lies before them comes first.
    let own = written.runs.keys().skip(written.runs.len().saturating_sub(line.runs.len()));
    own.map(|id| laid.iter().find(|r| r.line == line.id && r.id == *id).map(|r| r.length)).collect()
}

fn left_as_it_lies(line: &str) -> Finding {
    let what = say!(
        "Line {line} has loudspeakers in series and stays as it lies: another order of its loudspeakers would be another circuit.",
        line = line
    );
    Finding::new(Severity::Note, Subject::new("lines", line), what).mend(say!("Lead its cable by hand."))
}

fn price_of(job: &Job, cable: &str) -> f64 {
    use rust_decimal::prelude::ToPrimitive as _;
    job.catalogue().cables.get(cable).and_then(|c| c.price_per_m.to_f64()).unwrap_or(0.0)
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
    // How far each is from what is on each line already.
    let nearest = |at: Point2, on: &[Point2]| on.iter().map(|p| p.distance(at)).fold(f64::INFINITY, f64::min);
    let mut away: Vec<Vec<f64>> =
        free.iter().map(|l| reach.iter().map(|on| nearest(l.placed.position, on)).collect()).collect();
    let mut homes = BTreeMap::new();
    while !free.is_empty() {
        go_on();
        let mut best: Option<(bool, f64, usize, usize)> = None;
        for (k, l) in free.iter().enumerate() {
            let watts = l.placed.tap_w.unwrap_or(l.model.rated_w);
            for (i, room) in room.iter().enumerate() {
                let key = (watts > *room + 1e-9, away[k][i]);
                if best.is_none_or(|b| key < (b.0, b.1)) {
                    best = Some((key.0, key.1, k, i));
                }
            }
        }
        let Some((_, _, k, i)) = best else { break };
        let l = free.swap_remove(k);
        away.swap_remove(k);
        room[i] -= l.placed.tap_w.unwrap_or(l.model.rated_w);
        for (other, away) in free.iter().zip(&mut away) {
            away[i] = away[i].min(other.placed.position.distance(l.placed.position));
        }
        homes.insert(l.id, views[i].id);
    }
    homes
}
