//! Trunks: one cable for several lines, from where they start to a joint where they part.
//!
//! Drawn trunks are tried as they are drawn, then every two lines of one type of cable and one start are tried where they
//! would best part ([`loamline_routing::Parting`]), with all ground closed and with all open that is open now, the most
//! promising first. A trial lays the trunk, then each line anew from its end, and is kept where the whole cost falls: a cable
//! with a pair for each line instead of one for each, laid, staked and drawn through once, against another joint. No bound
//! is proven; a line is tried with its [`PARTNERS`] most promising partners.
//!
//! What a trial comes to is told by drawing and pricing the job. Where that has many lines ([`TRUNKS_JUDGED_TOGETHER`]), by
//! those of one start after the other, and by the whole once at the end: what lines of other starts share with them is left out
//! on both sides of a comparison.

use super::before::Before;
use super::choice::{cable_of_its_own, common_cable, loop_ohm};
use super::draw::{Names, run_of};
use super::problem::{asked, feed};
use super::scored::Scored;
use super::solution::{Solution, Solved, fill};
use loamline_adapt::{LaidCable, Pricing, length_rules};
use loamline_geometry::Point2;
use loamline_limits::TRUNKS_JUDGED_TOGETHER;
use loamline_model::{Job, LineView};
use loamline_routing::{
    Bundle, BundledLine, GroundMap, LineCable, LineProblem, LossLimit, Mode, Opened, Parting, RoutedLine,
    Terminal,
};
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeMap;

/// How many partners a line is tried with, the most promising first.
const PARTNERS: usize = 2;

/// A trunk to try.
struct Trial<'j> {
    views: Vec<LineView<'j>>,
    cable: String,
    at: Point2,
    /// Its joint, where the document has it.
    joint: Option<String>,
}

/// Who tries trunks, and what trials are drawn in.
struct Judge<'a> {
    job: &'a Job,
    ground: &'a GroundMap,
    /// The lines that are judged, and the job in which no others have runs; all lines in the job itself where there is none.
    some: Option<(&'a Job, &'a [&'a str])>,
}

/// Lets lines share trunks where that costs less; `told` hears which part of the work is done, 0 to 1, on large jobs.
pub(super) fn share(
    job: &Job,
    ground: &GroundMap,
    found: Scored,
    cables: &[LaidCable],
    told: &dyn Fn(f64),
) -> Scored {
    if TRUNKS_JUDGED_TOGETHER.check(job.document().lines.len()).is_ok() {
        return Judge { job, ground, some: None }.share(found, cables);
    }
    let mut starts: Vec<&str> = job.lines().map(|v| v.tree.start.as_str()).collect();
    starts.sort_unstable();
    starts.dedup();
    let mut solution = found.solution.clone();
    for (k, start) in starts.iter().enumerate() {
        told(k as f64 / starts.len() as f64);
        let lines: Vec<&str> = job.lines().filter(|v| v.tree.start == *start).map(|v| v.id).collect();
        if lines.len() < 2 {
            continue;
        }
        let Some(alone) = with_runs_of(job, &lines) else { continue };
        let judge = Judge { job, ground, some: Some((&alone, lines.as_slice())) };
        if let Some(now) = judge.scored(solution.clone()) {
            solution = judge.share(now, cables).solution;
        }
    }
    Scored::of(job, solution).filter(|with| with.is_better_than(&found)).unwrap_or(found)
}

/// A job in which only some lines have runs.
fn with_runs_of(job: &Job, lines: &[&str]) -> Option<Job> {
    let mut document = job.document().clone();
    for (id, line) in &mut document.lines {
        if !lines.contains(&id.as_str()) {
            line.runs.clear();
        }
    }
    job.with_lines_of(document)
}

impl Judge<'_> {
    fn is_judged(&self, line: &str) -> bool {
        self.some.is_none_or(|(_, lines)| lines.contains(&line))
    }

    fn scored(&self, solution: Solution) -> Option<Scored> {
        match self.some {
            None => Scored::of(self.job, solution),
            Some((alone, lines)) => Scored::of_lines(alone, solution, lines),
        }
    }

    /// The better of what there is and a trunk more.
    fn try_out(&self, best: Scored, trial: &Trial<'_>) -> Scored {
        let with = with_trunk(self.job, self.ground, &best.solution, trial).and_then(|s| self.scored(s));
        match with {
            Some(with) if with.is_better_than(&best) => with,
            _ => best,
        }
    }

    fn share(&self, found: Scored, cables: &[LaidCable]) -> Scored {
        let (job, mut best) = (self.job, found);
        let free = |best: &Scored, view: &LineView<'_>| {
            let settled = view.line.runs.values().any(|r| r.fixed || r.existing || r.in_series);
            self.is_judged(view.id) && !settled && !best.solution.before.contains_key(view.id)
        };
        for cable in cables.iter().filter(|c| !c.existing && c.lines().len() > 1) {
            let views: Vec<LineView<'_>> = cable.lines().iter().filter_map(|l| job.line(l)).collect();
            let Some(joint) = job.document().joints.get(&cable.to) else { continue };
            let starts = views.iter().all(|v| v.tree.start == cable.from && free(&best, v));
            if starts {
                let (cable, tag) = (cable.cable.clone(), cable.to.clone());
                best = self.try_out(best, &Trial { views, cable, at: joint.position, joint: Some(tag) });
            }
        }
        let mut tried: BTreeMap<&str, usize> = BTreeMap::new();
        let views: Vec<LineView<'_>> = job.lines().filter(|v| free(&best, v)).collect();
        for (a, b, parting) in promising(job, self.ground, &best.solution, &views) {
            let views = [views[a], views[b]];
            let often = views.iter().any(|v| tried.get(v.id).is_some_and(|n| *n >= 2 * PARTNERS));
            let Some((cable, _)) = common_cable(job, &[&views[0], &views[1]]).filter(|_| !often) else {
                continue;
            };
            if !views.iter().all(|v| free(&best, v)) {
                continue;
            }
            views.iter().for_each(|v| *tried.entry(v.id).or_default() += 1);
            let here = |p: &Point2| p.distance(parting.at) < 0.005;
            let joint =
                job.document().joints.iter().find(|(_, j)| here(&j.position)).map(|(id, _)| id.clone());
            let trial = Trial { views: views.to_vec(), cable: cable.to_owned(), at: parting.at, joint };
            best = self.try_out(best, &trial);
        }
        best
    }
}

/// Every two lines that could share a trunk, by their places among the views, and where they would part; the most
/// promising first.
fn promising(
    job: &Job,
    ground: &GroundMap,
    solution: &Solution,
    views: &[LineView<'_>],
) -> Vec<(usize, usize, Parting)> {
    let mut bundles: BTreeMap<(&str, &str, Option<u64>), Vec<usize>> = BTreeMap::new();
    for (i, v) in views.iter().enumerate() {
        let volts = v.line_v().map(f64::to_bits);
        bundles.entry((&v.tree.start, cable_of_its_own(job, v).0, volts)).or_default().push(i);
    }
    let prices = Pricing::of(job);
    let waste = 1.0 + length_rules(job).waste_fraction;
    let joint = prices.task("joint") + 3.0 * prices.task("strain-tie");
    let mut found = Vec::new();
    let ground = solution.filled(ground);
    for members in bundles.values().filter(|m| m.len() > 1) {
        let pair: Vec<&LineView<'_>> = members.iter().take(2).filter_map(|&i| views.get(i)).collect();
        let Some((_, common)) = common_cable(job, &pair) else { continue };
        let Some(start) = views[members[0]].start_position() else { continue };
        let lines: Vec<(usize, BundledLine)> = members
            .iter()
            .filter_map(|&i| {
                let routed = routed(solution, views[i].id)?;
                let own = cable_of_its_own(job, &views[i]).1.price_per_m.to_f64()?;
                Some((i, BundledLine { cable_per_m: own * waste, branches: branches(job, routed) }))
            })
            .collect();
        for open in [Opened::default(), solution.open()] {
            let bundle = Bundle {
                start: feed(job, &views[members[0]], start, None).at,
                cable_per_m: common.price_per_m.to_f64().unwrap_or(0.0) * waste,
                outside_diameter_mm: 1000.0 * common.outside_diameter_m,
                lines: lines.iter().map(|(_, l)| l.clone()).collect(),
                places: job.document().joints.values().map(|j| j.position).collect(),
                open,
            };
            let partings = ground.partings(&bundle).unwrap_or_default();
            let worth = partings.into_iter().filter(|p| p.saved > joint);
            found.extend(worth.map(|p| (lines[p.lines[0]].0, lines[p.lines[1]].0, p)));
        }
    }
    found.sort_by(|x, y| y.2.saved.total_cmp(&x.2.saved).then((x.0, x.1).cmp(&(y.0, y.1))));
    found
}

fn routed<'s>(solution: &'s Solution, line: &str) -> Option<&'s RoutedLine> {
    solution.groups.iter().flat_map(|g| &g.routed.lines).find(|l| l.id == line)
}

/// Loudspeakers behind each run that leaves the start, as places where cable arrives.
fn branches(job: &Job, line: &RoutedLine) -> Vec<Vec<Point2>> {
    let mut of: BTreeMap<&str, usize> = BTreeMap::new();
    let mut all: Vec<Vec<Point2>> = Vec::new();
    for r in &line.runs {
        let branch = match of.get(r.from.as_str()) {
            Some(&branch) => branch,
            None => {
                all.push(Vec::new());
                all.len() - 1
            }
        };
        of.insert(&r.to, branch);
        if let Some(end) = r.path.waypoints.last().filter(|_| job.loudspeaker(&r.to).is_some()) {
            all[branch].push(end.at);
        }
    }
    all.retain(|b| !b.is_empty());
    all
}

/// A solution in which some lines come through a trunk.
fn with_trunk(job: &Job, ground: &GroundMap, now: &Solution, trial: &Trial<'_>) -> Option<Solution> {
    let mut solution = now.clone();
    let mut out: Vec<RoutedLine> = Vec::new();
    for view in &trial.views {
        out.push(solution.groups.iter_mut().find_map(|g| g.routed.take_out(view.id))?);
    }
    solution.groups.retain(|g| !g.routed.lines.is_empty() || !g.routed.findings.is_empty());
    let ground = solution.filled(ground);
    let mut sleeves = ground.plan().sleeves.clone();
    let mut open = solution.open();
    let tag = match &trial.joint {
        Some(tag) => tag.clone(),
        None => {
            let mut names = Names::of(job);
            names.taken.extend(solution.joints.keys().cloned());
            let tag = names.joint();
            solution.joints.insert(tag.clone(), trial.at);
            tag
        }
    };
    let trunk = trunk(job, trial, &tag, &ground, &open)?;
    let run = trunk.routed.lines.first()?.runs.first()?;
    open.extend(&run.opened);
    fill(&mut sleeves, &trunk);
    let lead = trial.views.first()?;
    let ohm = loop_ohm(job, &trial.cable) * run.length.order_m;
    let cable = Some(trial.cable.clone());
    let run = run_of(run, lead.tree.start.clone(), tag.clone(), cable);
    solution.trunks.push(trunk);
    pairs(job, trial, &mut solution)?;
    for (view, old) in trial.views.iter().zip(&out) {
        let before =
            Before { runs: vec![run.clone()], kept: Vec::new(), end: tag.clone(), at: trial.at, ohm };
        solution.before.insert(view.id.to_owned(), before);
        let on = |l: &str| old.runs.iter().any(|r| r.to == l).then(|| (view.id.to_owned(), true));
        let asked = asked(job, &[view], &solution.before, on, &mut Vec::new())?;
        let solved = solve(job, &ground.with_cable_in(&sleeves), asked, &open)?;
        solved.routed.lines.iter().flat_map(|l| &l.runs).for_each(|r| open.extend(&r.opened));
        fill(&mut sleeves, &solved);
        solution.groups.push(solved);
    }
    Some(solution)
}

/// The trunk itself, routed.
fn trunk(job: &Job, trial: &Trial<'_>, tag: &str, ground: &GroundMap, open: &Opened) -> Option<Solved> {
    let lead = trial.views.first()?;
    let cable = job.catalogue().cables.get(&trial.cable)?;
    let prices = Pricing::of(job);
    let cable_per_m = cable.price_per_m.to_f64()?;
    let outside_diameter_mm = 1000.0 * cable.outside_diameter_m;
    let problem = LineProblem {
        mode: Mode::Chain,
        terminals: vec![Terminal { id: tag.to_owned(), at: trial.at, rise_m: 0.0, watts: 0.0, line: None }],
        feeds: vec![feed(job, lead, lead.start_position()?, None)],
        cable: LineCable { price_per_m: cable_per_m, outside_diameter_mm },
        lengths: length_rules(job),
        joint_price: prices.task("joint"),
        box_price: 0.0,
        home_runs: 1,
        fixed: Vec::new(),
        open: open.clone(),
        effort: 1,
    };
    let routed = ground.lines(&problem, None).ok()?;
    Some(Solved { routed, joints: BTreeMap::new(), cable_per_m, outside_diameter_mm })
}

/// Routes what is asked on some ground.
fn solve(job: &Job, ground: &GroundMap, mut asked: super::problem::Asked, open: &Opened) -> Option<Solved> {
    asked.problem.open.clone_from(open);
    let limit_db = job.document().brief.loss_limit_db;
    let limit = asked.loss.as_ref().map(|model| LossLimit { model, limit_db }).filter(|l| l.limit_db > 0.0);
    let routed = ground.lines(&asked.problem, limit).ok()?;
    let cable = asked.problem.cable;
    Some(Solved {
        routed,
        joints: asked.joints,
        cable_per_m: cable.price_per_m,
        outside_diameter_mm: cable.outside_diameter_mm,
    })
}

/// Gives each line of a trunk its pair: that it has, where they differ, else one after the other.
fn pairs(job: &Job, trial: &Trial<'_>, solution: &mut Solution) -> Option<()> {
    let most = job.catalogue().cables.get(&trial.cable)?.conductors / 2;
    let own: Vec<u32> = trial.views.iter().map(|v| v.line.pair).collect();
    let apart = own.iter().enumerate().all(|(i, p)| *p <= most && !own[..i].contains(p));
    for (view, pair) in trial.views.iter().zip(1..).filter(|_| !apart) {
        let named = (2 * pair > view.cable.conductors).then(|| trial.cable.clone());
        if pair != view.line.pair || named.is_some() {
            solution.pairs.insert(view.id.to_owned(), (pair, named));
        }
    }
    Some(())
}
