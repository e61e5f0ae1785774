//! From who hangs on whom to runs of cable: ways, lengths, shared ground, sleeves, and what to tell the crew.
//!
//! Runs are laid longest first; each may follow ground that runs before it have opened, and pays no laying
//! there. A sleeve takes runs as long as NEC Chapter 9 Table 1 lets one more in.

use super::answer::{BranchBox, LineFinding, RoutedLine, RoutedLines, RoutedRun, SleeveUse, Totals, Work};
use super::net::{Net, Tree};
use super::problem::{FixedRun, LineProblem, LossLimit};
use super::sited::Sited;
use crate::fill::{Fill, conduit_fill};
use crate::ground::{GroundMap, Method, Stand};
use crate::path::search::{Terms, Until};
use crate::path::{Corner, Path, Shared};
use loamline_geometry::polyline_length;
use std::cell::Cell;

/// A run to be laid.
struct Task {
    line: usize,
    /// Its place among the line's runs.
    order: usize,
    from: usize,
    to: usize,
    metres: f64,
}

pub(super) struct Realiser<'a> {
    ground: &'a GroundMap,
    problem: &'a LineProblem,
    limit: Option<LossLimit<'a>>,
    sited: &'a Sited,
    terms: Terms,
    shared: Shared,
    /// Runs through each sleeve so far.
    through: Vec<Vec<String>>,
    findings: Vec<LineFinding>,
    box_names: Vec<Option<String>>,
    /// Nodes settled on the way.
    settled: Cell<u64>,
}

impl<'a> Realiser<'a> {
    pub fn new(
        ground: &'a GroundMap,
        problem: &'a LineProblem,
        limit: Option<LossLimit<'a>>,
        sited: &'a Sited,
        terms: Terms,
    ) -> Self {
        let through = vec![Vec::new(); ground.plan.sleeves.len()];
        let box_names = vec![None; sited.stands.len()];
        let (shared, findings) = (Shared::default(), Vec::new());
        let settled = Cell::new(0);
        Self { ground, problem, limit, sited, terms, shared, through, findings, box_names, settled }
    }

    /// The lines, and the ground they open. Boxes are numbered on from those that have names already.
    pub fn lines(
        mut self,
        trees: &[Tree],
        net: &Net,
        findings: Vec<LineFinding>,
        boxes_before: usize,
    ) -> (RoutedLines, Shared) {
        self.findings = findings;
        let first_box = net.feeds + net.terminals;
        let mut boxes = boxes_before;
        let mut tasks = Vec::new();
        for (line, tree) in trees.iter().enumerate() {
            for (order, &(from, to)) in tree.iter().enumerate() {
                if to >= first_box {
                    boxes += 1;
                    self.box_names[to] = Some(format!("box-{boxes}"));
                }
                tasks.push(Task { line, order, from, to, metres: net.metres[from * net.size() + to] });
            }
        }
        let expected_m = tasks.iter().map(|t| t.metres).sum();
        self.shared = Shared::of(self.ground, &self.problem.open, expected_m);
        tasks.sort_by(|a, b| b.metres.total_cmp(&a.metres).then((a.line, a.order).cmp(&(b.line, b.order))));
        let mut laid: Vec<(usize, usize, RoutedRun)> =
            tasks.iter().map(|t| (t.line, t.order, self.run(t))).collect();
        laid.sort_by_key(|r| (r.0, r.1));
        let mut lines: Vec<RoutedLine> = Vec::new();
        for (feed, tree) in trees.iter().enumerate().filter(|(_, t)| !t.is_empty()) {
            let runs: Vec<RoutedRun> = laid.iter().filter(|r| r.0 == feed).map(|r| r.2.clone()).collect();
            let loss_db = self.loss_db(net, feed, tree, &runs);
            let boxes = tree
                .iter()
                .filter(|r| r.1 >= first_box)
                .map(|r| BranchBox { id: self.name(r.1), at: self.sited.stands[r.1].at })
                .collect();
            let load_w = tree.iter().map(|r| net.watts_of(r.1)).sum();
            let id = self.problem.feeds[feed].id.clone();
            let mut line = RoutedLine { id, runs, boxes, load_w, loss_db, totals: Totals::default() };
            line.totals = self.totals(&line);
            lines.push(line);
        }
        self.stub_outs(&lines);
        let sleeves = self.sleeve_uses();
        let mut totals = Totals::default();
        lines.iter().for_each(|l| totals.add(&l.totals));
        let work = Work { settled: self.settled.get(), pairs: 0 };
        (RoutedLines { lines, sleeves, totals, findings: self.findings, work }, self.shared)
    }

    fn name(&self, vertex: usize) -> String {
        let p = self.problem;
        match vertex.checked_sub(p.feeds.len()) {
            None => p.feeds[vertex].id.clone(),
            Some(t) => match p.terminals.get(t) {
                Some(t) => t.id.clone(),
                None => self.box_names[vertex].clone().unwrap_or_default(),
            },
        }
    }

    fn fixed(&self, from: &str, to: &str) -> Option<&'a FixedRun> {
        self.problem.fixed.iter().find(|r| (r.from == from && r.to == to) || (r.from == to && r.to == from))
    }

    /// Fill of a sleeve with `more` new cables beside those in it.
    fn fill(&self, sleeve: usize, more: usize) -> Option<Fill> {
        let s = &self.ground.plan.sleeves[sleeve];
        let mut cables = s.occupants_mm.clone();
        cables.extend(std::iter::repeat_n(self.problem.cable.outside_diameter_mm, more));
        conduit_fill(s.inside_diameter_mm, &cables, Some(polyline_length(&s.line))).ok()
    }

    fn run(&mut self, task: &Task) -> RoutedRun {
        let (from, to) = (self.name(task.from), self.name(task.to));
        let fixed = self.fixed(&from, &to);
        let mut stops = vec![self.sited.stands[task.from].clone()];
        if let Some(run) = fixed {
            let mut via: Vec<Stand> = run
                .via
                .iter()
                .map(|&at| self.ground.stand_on(at, self.ground.mesh.triangles_at(at), None))
                .collect();
            if run.from != from {
                via.reverse();
            }
            stops.extend(via);
        }
        stops.push(self.sited.stands[task.to].clone());
        for s in 0..self.through.len() {
            self.terms.sleeves[s] = self.fill(s, self.through[s].len() + 1).is_some_and(|f| f.fits);
        }
        let way = self.way(&stops, &self.terms);
        let inside = stops.iter().find_map(|s| s.inside);
        let path = way.as_ref().map(|corners| self.ground.describe(corners, inside));
        // Before this run opens ground of its own.
        self.full_sleeves(&stops, path.as_ref(), &from, &to);
        let (corners, path) = match (way, path) {
            (Some(corners), Some(path)) => (corners, path),
            _ => {
                // A sleeve was counted on that earlier runs have filled, and there is no other way.
                let corners = self.way(&stops, &self.all_open()).unwrap_or_default();
                let path = self.ground.describe(&corners, inside);
                (corners, path)
            }
        };
        self.shared.add(self.ground, &corners, inside);
        for sleeve in &path.sleeves {
            if let Some(s) = self.ground.plan.sleeves.iter().position(|x| x.id == *sleeve) {
                self.through[s].push(format!("{from}-{to}"));
            }
        }
        self.near_services(&path, &from, &to);
        let rises = self.sited.rises[task.from] + self.sited.rises[task.to];
        let length = self.problem.lengths.run(path.length_m, path.vertical_m + rises);
        let price =
            path.laying_price + length.order_m * self.problem.cable.price_per_m + self.problem.joint_price;
        let opened = std::mem::take(&mut self.shared.opened);
        RoutedRun { from, to, fixed: fixed.is_some(), path, length, price, opened }
    }

    fn all_open(&self) -> Terms {
        Terms { sleeves: vec![true; self.terms.sleeves.len()], ..self.terms.clone() }
    }

    /// The way through all stops.
    fn way(&self, stops: &[Stand], terms: &Terms) -> Option<Vec<Corner>> {
        let mut corners: Vec<Corner> = Vec::new();
        for w in stops.windows(2) {
            let again = usize::from(!corners.is_empty());
            corners.extend(self.leg(&w[0], &w[1], terms)?.into_iter().skip(again));
        }
        Some(corners)
    }

    /// One leg, searched from the end that is indoors.
    fn leg(&self, a: &Stand, b: &Stand, terms: &Terms) -> Option<Vec<Corner>> {
        let swap = b.inside.is_some() && a.inside.is_none();
        let (start, end) = if swap { (b, a) } else { (a, b) };
        let on = |shared: &Shared| {
            let field = self.ground.field_with(start, terms, shared, Until::Reached(&[end]));
            self.settled.set(self.settled.get() + field.settled);
            self.ground.way(&field, start, end, terms, shared)
        };
        let alone = on(&Shared::default());
        let way = match (self.shared.points.is_empty(), alone) {
            (true, alone) => alone?,
            (false, None) => on(&self.shared)?,
            (false, Some(alone)) => {
                // Open ground is followed bend by bend; a straight way of its own may still be cheaper.
                let cost = |way: &[Corner]| self.ground.describe(way, start.inside).cost(terms.cable_per_m);
                on(&self.shared).filter(|way| cost(way) <= cost(&alone)).unwrap_or(alone)
            }
        };
        Some(if swap { reversed(way) } else { way })
    }

    /// Says where a full sleeve makes a run dearer than it would be, or is the only way.
    fn full_sleeves(&mut self, stops: &[Stand], path: Option<&Path>, from: &str, to: &str) {
        if self.terms.sleeves.iter().all(|open| *open) {
            return;
        }
        let Some(corners) = self.way(stops, &self.all_open()) else { return };
        let better = self.ground.describe(&corners, stops.iter().find_map(|s| s.inside));
        let cost = |p: &Path| p.cost(self.terms.cable_per_m);
        let saved = path.map(|p| cost(p) - cost(&better));
        // What bends may cost is no reason to tell.
        if saved.is_some_and(|s| s <= 0.01 * cost(&better)) {
            return;
        }
        for (s, sleeve) in self.ground.plan.sleeves.iter().enumerate() {
            if self.terms.sleeves[s] || !better.sleeves.contains(&sleeve.id) {
                continue;
            }
            if let Some(fill) = self.fill(s, self.through[s].len() + 1) {
                self.findings.push(LineFinding::FillOverLimit {
                    sleeve: sleeve.id.clone(),
                    from: from.to_owned(),
                    to: to.to_owned(),
                    cables: sleeve.occupants_mm.len() + self.through[s].len() + 1,
                    fill_fraction: fill.fill_fraction,
                    limit_fraction: fill.limit_fraction,
                    detour_price: saved,
                });
            }
        }
    }

    fn near_services(&mut self, path: &Path, from: &str, to: &str) {
        for near in &path.services {
            let (from, to, service) = (from.to_owned(), to.to_owned(), near.service.clone());
            self.findings.push(if near.is_too_close() {
                LineFinding::ServiceTooClose {
                    from,
                    to,
                    service,
                    distance_m: near.distance_m,
                    clearance_m: near.clearance_m,
                    within_m: near.hand_dig_m,
                }
            } else {
                let (crossings, hand_dig_m) = (near.crossings.len(), near.hand_dig_m);
                LineFinding::HandDig { from, to, service, crossings, hand_dig_m }
            });
        }
    }

    /// Loss with the lengths of the runs as laid.
    fn loss_db(&mut self, net: &Net, feed: usize, tree: &Tree, runs: &[RoutedRun]) -> Option<f64> {
        let limit = self.limit?;
        let mut at = vec![0; net.size()];
        let mut nodes = vec![super::loss::LineNode { parent: None, length_m: 0.0, watts: 0.0 }];
        for (&(from, to), run) in tree.iter().zip(runs) {
            at[to] = nodes.len();
            let (parent, length_m, watts) = (Some(at[from]), run.length.order_m, net.watts_of(to));
            nodes.push(super::loss::LineNode { parent, length_m, watts });
        }
        let loss_db = limit.model.worst_loss_db(&nodes, net.feed_ohm[feed]);
        if loss_db > limit.limit_db + 1e-9 {
            let line = self.problem.feeds[feed].id.clone();
            self.findings.push(LineFinding::LossOverLimit { line, loss_db, limit_db: limit.limit_db });
        }
        Some(loss_db)
    }

    fn stub_outs(&mut self, lines: &[RoutedLine]) {
        let feeds = self.problem.feeds.iter().filter(|f| lines.iter().any(|l| l.id == f.id));
        let mut seen: Vec<(&str, u32, Vec<String>)> = Vec::new();
        for feed in feeds {
            let Some(stub) = &feed.stub_out else { continue };
            match seen.iter_mut().find(|s| s.0 == stub.id) {
                Some(known) => known.2.push(feed.id.clone()),
                None => {
                    seen.push((&stub.id, stub.conductors, vec![feed.id.clone()]));
                    let needed_m = feed.rise_m.abs() + self.problem.lengths.service_loop_m;
                    if stub.tail_m + 1e-9 < needed_m {
                        let (stub_out, tail_m) = (stub.id.clone(), stub.tail_m);
                        self.findings.push(LineFinding::StubTooShort { stub_out, tail_m, needed_m });
                    }
                }
            }
        }
        for (stub, conductors, lines) in seen {
            let needed = 2 * lines.len() as u32;
            if needed > conductors {
                let stub_out = stub.to_owned();
                self.findings.push(LineFinding::StubTooFewConductors { stub_out, conductors, needed, lines });
            }
        }
    }

    fn sleeve_uses(&self) -> Vec<SleeveUse> {
        (0..self.through.len())
            .filter(|&s| !self.through[s].is_empty())
            .filter_map(|s| {
                let fill = self.fill(s, self.through[s].len())?;
                let sleeve = self.ground.plan.sleeves[s].id.clone();
                Some(SleeveUse { sleeve, runs: self.through[s].clone(), fill })
            })
            .collect()
    }

    /// What a line comes to.
    fn totals(&self, line: &RoutedLine) -> Totals {
        let mut t = Totals::default();
        let opening = self.problem.feeds.iter().find(|f| f.id == line.id).map_or(0.0, |f| f.opening_price);
        t.joints_price += opening + line.boxes.len() as f64 * self.problem.box_price;
        for run in &line.runs {
            t.order_m += run.length.order_m;
            t.laying_price += run.path.laying_price;
            t.joints_price += self.problem.joint_price;
            for s in &run.path.stretches {
                t.hand_dig_m += s.hand_dig_m;
                if s.method != Method::SharedTrench {
                    *t.by_method_m.entry(s.method).or_default() += s.length_m;
                }
            }
        }
        t.cable_price = t.order_m * self.problem.cable.price_per_m;
        t.price = t.cable_price + t.laying_price + t.joints_price;
        t
    }
}

/// The same way walked from its end.
fn reversed(mut corners: Vec<Corner>) -> Vec<Corner> {
    corners.reverse();
    for i in (1..corners.len()).rev() {
        corners[i].step = corners[i - 1].step;
    }
    corners
}
