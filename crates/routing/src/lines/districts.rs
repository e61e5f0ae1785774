//! Lines of a large site, rack by rack.
//!
//! Lines that start at one place are searched together, on the ground around them, one such district after the other, the
//! largest first. What a district opens is free for those after it, and what it draws through a sleeve fills that for them.
//! Then all are searched again, each on prices with the ground open that all of them opened the first time: what
//! [`GroundMap::lines`] does with a few lines. So work and memory are those of one district at a time. Loudspeakers on no line
//! yet are offered to the lines of one district, that of the line they would be the next of. No bound is proven; the tests hold
//! it against the search of all lines at once.

use super::answer::{RoutedLine, RoutedLines, SleeveUse, Totals, Work};
use super::check::{LinesError, check, problems};
use super::problem::{LineProblem, LossLimit, Mode, index};
use super::solve::{Asked, spots};
use super::wanted::{Joined, Wanted};
use crate::ground::{GroundMap, GroundPlan};
use crate::path::{Opened, Shared};
use loamline_geometry::Point2;
use loamline_limits::{ROUTED_TOGETHER, go_on};
use std::collections::BTreeSet;

/// Lines that are searched together, and their loudspeakers, by their places in the problem.
#[derive(Debug, Clone, PartialEq)]
struct District {
    feeds: Vec<usize>,
    terminals: Vec<usize>,
}

impl District {
    fn places(&self) -> usize {
        self.feeds.len() + self.terminals.len()
    }

    fn take_in(&mut self, more: Self) {
        self.feeds.extend(more.feeds);
        self.terminals.extend(more.terminals);
        self.feeds.sort_unstable();
        self.terminals.sort_unstable();
    }

    /// Its own problem, beside ground that is open.
    fn problem(&self, whole: &LineProblem, open: Opened) -> LineProblem {
        let feeds: Vec<_> = self.feeds.iter().map(|&f| whole.feeds[f].clone()).collect();
        let terminals: Vec<_> = self.terminals.iter().map(|&t| whole.terminals[t].clone()).collect();
        let of_feeds = feeds.iter().map(|f| f.id.as_str());
        let names: BTreeSet<&str> = of_feeds.chain(terminals.iter().map(|t| t.id.as_str())).collect();
        let is_here = |name: &String| names.contains(name.as_str());
        let fixed = whole.fixed.iter().filter(|r| is_here(&r.from) && is_here(&r.to)).cloned().collect();
        LineProblem {
            mode: whole.mode,
            cable: whole.cable,
            lengths: whole.lengths,
            joint_price: whole.joint_price,
            box_price: whole.box_price,
            home_runs: whole.home_runs,
            fixed,
            open,
            effort: whole.effort,
            terminals,
            feeds,
        }
    }
}

/// The districts of a problem, the largest first: every loudspeaker is in one.
fn districts(problem: &LineProblem, most: usize) -> Vec<District> {
    let m = problem.feeds.len();
    let (homes, index) = (homes(problem), index(problem));
    let mut joined = Joined::new(m);
    let feed_of = |name: &String| {
        let &vertex = index.get(name)?;
        if vertex < m { Some(vertex) } else { homes.get(vertex - m).copied() }
    };
    for run in &problem.fixed {
        if let (Some(a), Some(b)) = (feed_of(&run.from), feed_of(&run.to)) {
            joined.join(a, b);
        }
    }
    // Conductors of a stub-out are counted over all of its lines.
    let stub = |f: usize| problem.feeds[f].stub_out.as_ref().map(|s| &s.id);
    for f in 0..m {
        if let Some(first) = (0..f).find(|&g| stub(g).is_some() && stub(g) == stub(f)) {
            joined.join(first, f);
        }
    }
    let mut of_feed: Vec<Vec<usize>> = vec![Vec::new(); m];
    homes.iter().enumerate().for_each(|(t, &f)| of_feed[f].push(t));
    let mut by_start: Vec<(Point2, Vec<District>)> = Vec::new();
    for feeds in joined.parts() {
        let at = problem.feeds[feeds[0]].at;
        let mut terminals: Vec<usize> = feeds.iter().flat_map(|&f| of_feed[f].iter().copied()).collect();
        terminals.sort_unstable();
        let cluster = District { feeds, terminals };
        match by_start.iter_mut().find(|start| start.0 == at) {
            Some(start) => start.1.push(cluster),
            None => by_start.push((at, vec![cluster])),
        }
    }
    let mut found: Vec<District> = Vec::new();
    for (start, mut clusters) in by_start {
        // In turn around the start, so that what is cut off from others lies together.
        clusters.sort_by(|a, b| bearing(problem, start, a).total_cmp(&bearing(problem, start, b)));
        let mut last: Option<District> = None;
        for cluster in clusters {
            match last.as_mut().filter(|d| d.places() + cluster.places() <= most) {
                Some(district) => district.take_in(cluster),
                None => found.extend(last.replace(cluster)),
            }
        }
        found.extend(last);
    }
    // A line without loudspeakers is offered to those of its district that are on none; without any there is nothing to do.
    found.retain(|d| !d.terminals.is_empty());
    found.sort_by_key(|d| (std::cmp::Reverse(d.places()), d.feeds[0]));
    found
}

/// Where the middle of a district's loudspeakers lies from a place, radians from east.
fn bearing(problem: &LineProblem, from: Point2, district: &District) -> f64 {
    let all = district.terminals.iter().map(|&t| problem.terminals[t].at - from);
    let sum = all.fold(Point2::default(), |sum, p| sum + p);
    sum.y.atan2(sum.x)
}

/// The feed of every loudspeaker: its own, or for one on no line yet that which starts or has a loudspeaker nearest, of those
/// with power left. Grown one by one, nearest first, as a line would be.
fn homes(problem: &LineProblem) -> Vec<usize> {
    let (index, m) = (index(problem), problem.feeds.len());
    let mut homes: Vec<Option<usize>> =
        problem.terminals.iter().map(|t| index.get(t.line.as_ref()?).copied()).collect();
    let mut room: Vec<f64> = problem.feeds.iter().map(|f| f.max_w * (1.0 + 1e-9)).collect();
    let mut free: Vec<usize> = Vec::new();
    for (t, home) in homes.iter().enumerate() {
        match home {
            Some(f) => room[*f] -= problem.terminals[t].watts,
            None => free.push(t),
        }
    }
    // How far each free loudspeaker is from what is on each line already.
    let nearest = |t: usize, f: usize| {
        let at = problem.terminals[t].at;
        let on = homes.iter().zip(&problem.terminals).filter(|(home, _)| **home == Some(f));
        on.map(|(_, other)| other.at.distance(at)).fold(problem.feeds[f].at.distance(at), f64::min)
    };
    let mut away: Vec<Vec<f64>> = free.iter().map(|&t| (0..m).map(|f| nearest(t, f)).collect()).collect();
    while !free.is_empty() {
        go_on();
        let mut best: Option<(bool, f64, usize, usize)> = None;
        for (k, &t) in free.iter().enumerate() {
            for f in 0..m {
                let key = (problem.terminals[t].watts > room[f], away[k][f]);
                if best.is_none_or(|b| key < (b.0, b.1)) {
                    best = Some((key.0, key.1, k, f));
                }
            }
        }
        let Some((_, _, k, f)) = best else { break };
        let t = free.remove(k);
        away.remove(k);
        homes[t] = Some(f);
        room[f] -= problem.terminals[t].watts;
        for (&other, away) in free.iter().zip(&mut away) {
            away[f] = away[f].min(problem.terminals[other].at.distance(problem.terminals[t].at));
        }
    }
    homes.into_iter().map(|home| home.unwrap_or(0)).collect()
}

impl GroundMap {
    /// Lines searched district by district; `told` hears which part of the work is done, 0 to 1.
    pub(super) fn lines_by_district(
        &self,
        problem: &LineProblem,
        limit: Option<LossLimit>,
        told: &dyn Fn(f64),
    ) -> Result<RoutedLines, LinesError> {
        self.lines_in_districts_of(ROUTED_TOGETHER.most(), problem, limit, told)
    }

    fn lines_in_districts_of(
        &self,
        most: usize,
        problem: &LineProblem,
        limit: Option<LossLimit>,
        told: &dyn Fn(f64),
    ) -> Result<RoutedLines, LinesError> {
        let wrong = problems(self, problem, limit);
        if !wrong.is_empty() {
            return Err(LinesError(wrong));
        }
        let districts = districts(problem, most);
        let halves = 2.0 * districts.len().max(1) as f64;
        let closed = Opened::default();
        let first =
            self.in_turn(problem, limit, (districts.as_slice(), &closed), &|k| told(k as f64 / halves))?;
        let done = districts.len();
        let open = first.opened();
        let again = self
            .in_turn(problem, limit, (districts.as_slice(), &open), &|k| told((done + k) as f64 / halves))?;
        let mut work = first.work;
        work.add(&again.work);
        let better = if again.is_better_than(&first) { again } else { first };
        Ok(RoutedLines { work, ..better })
    }

    /// Searches one district after the other, each on prices with `known` open besides what those before it opened.
    fn in_turn(
        &self,
        problem: &LineProblem,
        limit: Option<LossLimit>,
        (districts, known): (&[District], &Opened),
        told: &dyn Fn(usize),
    ) -> Result<RoutedLines, LinesError> {
        let (mut open, mut sleeves) = (problem.open.clone(), self.plan.sleeves.clone());
        let (mut found, mut wrong) = (Vec::new(), Vec::new());
        let mut boxes = 0;
        for (k, district) in districts.iter().enumerate() {
            told(k);
            let part = district.problem(problem, open.clone());
            let mut on_prices = open.clone();
            on_prices.extend(known);
            let ground = self.with_cable_in(&sleeves);
            match ground.district(&part, limit, &on_prices, boxes) {
                Ok(lines) => {
                    open.extend(&lines.opened());
                    boxes += lines.lines.iter().map(|l| l.boxes.len()).sum::<usize>();
                    for used in &lines.sleeves {
                        let drawn = used.runs.iter().map(|_| problem.cable.outside_diameter_mm);
                        if let Some(sleeve) = sleeves.iter_mut().find(|s| s.id == used.sleeve) {
                            sleeve.occupants_mm.extend(drawn);
                        }
                    }
                    found.push(lines);
                }
                Err(e) => wrong.extend(e.0),
            }
        }
        if wrong.is_empty() { Ok(together(problem, &self.plan, found)) } else { Err(LinesError(wrong)) }
    }

    /// One search of a district, on the ground around it; on all of it where that leaves a loudspeaker out of reach.
    fn district(
        &self,
        part: &LineProblem,
        limit: Option<LossLimit>,
        known: &Opened,
        boxes_before: usize,
    ) -> Result<RoutedLines, LinesError> {
        let wanted = if part.mode == Mode::Tree { Wanted::All } else { Wanted::of_lines(part) };
        let asked = Asked { problem: part, limit, wanted: &wanted, boxes_before };
        let on = |ground: &Self| -> Result<RoutedLines, LinesError> {
            let stands = check(ground, part, limit)?;
            Ok(ground.searched(asked, &stands, Shared::of(ground, known, 0.0))?.0)
        };
        let places = spots(part);
        let near = self.near(&places, &places);
        match on(&near) {
            Err(e) if near.is_cut() && e.is_of_a_way() => on(&self.around(&places)),
            found => found,
        }
    }
}

/// The answers of all districts as one.
fn together(problem: &LineProblem, plan: &GroundPlan, found: Vec<RoutedLines>) -> RoutedLines {
    let (mut lines, mut sleeves, mut findings) = (Vec::new(), Vec::new(), Vec::new());
    let (mut totals, mut work) = (Totals::default(), Work::default());
    for more in found {
        totals.add(&more.totals);
        work.add(&more.work);
        lines.extend(more.lines);
        findings.extend(more.findings);
        for used in more.sleeves {
            let known = sleeves.iter_mut().find(|s: &&mut SleeveUse| s.sleeve == used.sleeve);
            match known {
                // Whoever came later knows what lay in it before.
                Some(sleeve) => {
                    sleeve.runs.extend(used.runs);
                    sleeve.fill = used.fill;
                }
                None => sleeves.push(used),
            }
        }
    }
    let index = index(problem);
    lines.sort_by_key(|l: &RoutedLine| index.get(&l.id).copied());
    sleeves.sort_by_key(|s| plan.sleeves.iter().position(|other| other.id == s.sleeve));
    RoutedLines { lines, sleeves, totals, findings, work }
}

#[cfg(test)]
#[path = "districts_tests.rs"]
mod tests;
