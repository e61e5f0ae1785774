//! Routed lines written into the job: as a job to look at, and as the edit that makes it.

use super::before::Before;
use super::choice::Choice;
use super::solution::Solution;
use loamline_geometry::Point2;
use loamline_model::document::{JobDocument, Joint, JointKind, Run};
use loamline_model::{Edit, Job, LineView, Operation};
use loamline_routing::{RoutedLine, RoutedRun};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// A job with its routes written in.
pub(super) struct Drawn {
    /// The job; `None` where its lines do not hold together.
    pub job: Option<Job>,
    /// The edit that makes it.
    pub edit: Edit,
    /// The cable of each routed run, by line, in the order of the runs.
    pub cables: BTreeMap<String, Vec<String>>,
}

/// Tags in use, so that new joints get free ones.
pub(super) struct Names {
    next_joint: usize,
    pub(super) taken: Vec<String>,
}

impl Names {
    pub(super) fn of(job: &Job) -> Self {
        let d = job.document();
        let taken = d.loudspeakers.keys().chain(d.racks.keys()).chain(d.stubs.keys()).chain(d.joints.keys());
        Self { next_joint: 1, taken: taken.cloned().collect() }
    }

    pub(super) fn joint(&mut self) -> String {
        loop {
            let name = format!("J{}", self.next_joint);
            self.next_joint += 1;
            if !self.taken.contains(&name) {
                return name;
            }
        }
    }
}

/// A point to the centimetre, as a crew lays it.
pub(super) fn to_the_centimetre(p: Point2) -> Point2 {
    let cm = |v: f64| (v * 100.0).round() / 100.0;
    Point2::new(cm(p.x), cm(p.y))
}

/// A point to the centimetre, as it is written.
pub(crate) fn point(p: Point2) -> Value {
    exactly(to_the_centimetre(p))
}

pub(super) fn exactly(p: Point2) -> Value {
    json!([p.x, p.y])
}

/// A routed run as the document has it.
pub(super) fn run_of(r: &RoutedRun, from: String, to: String, cable: Option<String>) -> Run {
    let inner = r.path.waypoints.len().saturating_sub(2);
    Run {
        from,
        to,
        via: r.path.waypoints.iter().skip(1).take(inner).map(|w| to_the_centimetre(w.at)).collect(),
        length_m: None,
        cable,
        pair: None,
        in_series: false,
        sleeves: r.path.sleeves.clone(),
        fixed: false,
        existing: false,
    }
}

pub(super) fn run_value(r: &Run) -> Value {
    let mut run = Map::new();
    run.insert("from".into(), json!(r.from));
    run.insert("to".into(), json!(r.to));
    if !r.via.is_empty() {
        run.insert("via".into(), Value::Array(r.via.iter().copied().map(exactly).collect()));
    }
    if !r.sleeves.is_empty() {
        run.insert("sleeves".into(), json!(r.sleeves));
    }
    if let Some(cable) = &r.cable {
        run.insert("cable".into(), json!(cable));
    }
    if let Some(pair) = r.pair {
        run.insert("pair".into(), json!(pair));
    }
    if r.in_series {
        run.insert("in_series".into(), json!(true));
    }
    if r.fixed {
        run.insert("fixed".into(), json!(true));
    }
    if let Some(length) = r.length_m {
        run.insert("length".into(), json!(length));
    }
    if r.existing {
        run.insert("existing".into(), json!(true));
    }
    Value::Object(run)
}

/// Writes a solution into the job.
pub(super) fn draw(job: &Job, solution: &Solution) -> Drawn {
    let mut drawing = Drawing {
        job,
        solution,
        names: Names::of(job),
        document: job.document().clone(),
        operations: Vec::new(),
        cables: BTreeMap::new(),
    };
    drawing.names.taken.extend(solution.joints.keys().cloned());
    for (tag, at) in &solution.joints {
        drawing.joint(tag, *at);
    }
    for group in &solution.groups {
        for line in &group.routed.lines {
            if let Some(view) = job.line(&line.id) {
                drawing.line(&view, line, &group.joints);
            }
        }
    }
    drawing.drop_unused_joints();
    let Drawing { document, operations, cables, .. } = drawing;
    Drawn { job: job.with_lines_of(document), edit: Edit { operations }, cables }
}

struct Drawing<'a> {
    job: &'a Job,
    solution: &'a Solution,
    names: Names,
    document: JobDocument,
    operations: Vec<Operation>,
    cables: BTreeMap<String, Vec<String>>,
}

impl Drawing<'_> {
    fn add(&mut self, path: String, value: Value) {
        self.operations.push(Operation::Add { path, value, before: None });
    }

    fn joint(&mut self, tag: &str, at: Point2) {
        if self.document.joints.is_empty() {
            self.add("/joints".into(), json!({}));
        }
        let position = to_the_centimetre(at);
        self.add(format!("/joints/{tag}"), json!({ "position": exactly(position), "kind": "box" }));
        let joint = Joint { position, kind: JointKind::Box, note: String::new() };
        self.document.joints.insert(tag.to_owned(), joint);
    }

    fn line(&mut self, view: &LineView<'_>, line: &RoutedLine, joints: &BTreeMap<String, String>) {
        let before = self.solution.before.get(&line.id);
        let mut tags: BTreeMap<&str, String> =
            joints.iter().map(|(name, tag)| (name.as_str(), tag.clone())).collect();
        let rack = || view.rack.map_or("", |(id, _)| id);
        let start = if view.tree.start.is_empty() { rack() } else { &view.tree.start };
        tags.insert(&line.id, before.map_or(start, |b| &b.end).to_owned());
        for b in &line.boxes {
            let tag = self.names.joint();
            self.joint(&tag, b.at);
            tags.insert(&b.id, tag);
        }
        let tag = |name: &String| tags.get(name.as_str()).unwrap_or(name).clone();
        let ends: Vec<(String, String)> = line.runs.iter().map(|r| (tag(&r.from), tag(&r.to))).collect();
        let old: Vec<Option<&Run>> = ends.iter().map(|(from, to)| old_run(view, from, to)).collect();
        let mut written = view.line.clone();
        if let Some((pair, cable)) = self.solution.pairs.get(&line.id) {
            written.pair = *pair;
            self.add(format!("/lines/{}/pair", line.id), json!(pair));
            if let Some(cable) = cable {
                written.cable.clone_from(cable);
                self.add(format!("/lines/{}/cable", line.id), json!(cable));
            }
        }
        let cables = self.choice(view, before).cables(line, |i| old.get(i).copied().flatten());
        let mut runs: Vec<Run> = before.map(|b| b.runs.clone()).unwrap_or_default();
        for (((r, (from, to)), old), cable) in line.runs.iter().zip(ends).zip(old).zip(&cables) {
            let named = (*cable != written.cable).then(|| cable.clone());
            let mut run = run_of(r, from, to, named);
            run.pair = old.and_then(|o| o.pair).filter(|pair| self.has_pair(&line.id, cable, *pair));
            if let Some(old) = old.filter(|_| r.fixed) {
                if old.existing || !old.via.is_empty() {
                    // Drawn by a person from end to end.
                    run = old.clone();
                } else {
                    (run.length_m, run.fixed) = (old.length_m, true);
                }
            } else {
                run.fixed = r.fixed;
            }
            runs.push(run);
        }
        written.runs = self.document.run_tags(&line.id).zip(runs).collect();
        let values: Map<String, Value> =
            written.runs.iter().map(|(id, r)| (id.clone(), run_value(r))).collect();
        self.add(format!("/lines/{}/runs", line.id), Value::Object(values));
        self.document.lines.insert(line.id.clone(), written);
        for r in &line.runs {
            let free = self.document.loudspeakers.get_mut(&r.to).filter(|l| l.line.is_none());
            if let Some(l) = free {
                l.line = Some(line.id.clone());
                self.add(format!("/loudspeakers/{}/line", r.to), json!(line.id));
            }
        }
        self.cables.insert(line.id.clone(), cables);
    }

    /// Whether a pair named for a run may stay: its line keeps its pair, and the cable has that many.
    fn has_pair(&self, line: &str, cable: &str, pair: u32) -> bool {
        let cable = self.job.catalogue().cables.get(cable);
        !self.solution.pairs.contains_key(line) && cable.is_some_and(|c| 2 * pair <= c.conductors)
    }

    fn choice<'v>(&'v self, view: &'v LineView<'v>, before: Option<&Before>) -> Choice<'v> {
        let catalogue = self.job.catalogue();
        let of_run = |r: &Run| r.cable.as_ref().and_then(|id| catalogue.cables.get(id)).unwrap_or(view.cable);
        let runs = before.map(|b| b.runs.as_slice()).unwrap_or_default();
        let usual = self.job.document().brief.loss_limit_db;
        let stub =
            view.stub.map_or(0.0, |(id, s)| super::problem::stub_out(self.job, view.id, id, s).loop_ohm);
        Choice {
            job: self.job,
            view,
            before_ohm: before.map_or(0.0, |b| b.ohm) + stub,
            before_mm2: runs.iter().map(|r| of_run(r).conductor_mm2).fold(0.0, f64::max),
            behind_a_joint: before.is_some(),
            limit_db: self.solution.limits.get(view.id).copied().unwrap_or(usual),
        }
    }

    /// Takes joints out that no run ends at any more.
    fn drop_unused_joints(&mut self) {
        let runs = || self.document.lines.values().flat_map(|l| l.runs.values());
        let unused = |id: &&String| !runs().any(|r| r.from == **id || r.to == **id);
        let gone: Vec<String> = self.document.joints.keys().filter(unused).cloned().collect();
        for id in gone {
            self.document.joints.shift_remove(&id);
            self.operations.push(Operation::Remove { path: format!("/joints/{id}") });
        }
    }
}

/// The run a line has between two ends.
fn old_run<'j>(view: &LineView<'j>, from: &str, to: &str) -> Option<&'j Run> {
    let same = |o: &&Run| (o.from == from && o.to == to) || (o.from == to && o.to == from);
    view.line.runs.values().find(same)
}
