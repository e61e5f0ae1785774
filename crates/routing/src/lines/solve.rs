//! From ground and problem to lines: prices of all possible runs, the search, boxes, and the runs themselves.

use super::answer::{LineFinding, RoutedLines};
use super::check::{LineProblemError, LinesError, check, places};
use super::net::{Net, Tree};
use super::problem::{LineProblem, LossLimit, Mode, index};
use super::sited::Sited;
use super::wanted::Wanted;
use super::{branching, chain, realise};
use crate::ground::{GroundMap, RunEnd, Stand};
use crate::path::Shared;
use crate::path::search::Terms;
use loamline_geometry::Point2;
use loamline_limits::{ROUTED_TOGETHER, lent};
use rayon::prelude::*;
use std::collections::BTreeSet;

/// How often the lines are searched again with the ground open that the answer before has opened. Each costs as much
/// as the first search; the first finds most of what there is to save.
const SHARING_ROUNDS: usize = 1;

/// The places that runs end at or pass.
pub(super) fn spots(problem: &LineProblem) -> Vec<Point2> {
    let feeds = problem.feeds.iter().map(|f| f.at);
    let via = problem.fixed.iter().flat_map(|r| r.via.iter().copied());
    feeds.chain(problem.terminals.iter().map(|t| t.at)).chain(via).collect()
}

/// What one search is asked.
#[derive(Clone, Copy)]
pub(super) struct Asked<'a> {
    pub problem: &'a LineProblem,
    pub limit: Option<LossLimit<'a>>,
    pub wanted: &'a Wanted,
    /// Boxes that have names already.
    pub boxes_before: usize,
}

/// Who hangs on whom, on given prices.
fn trees(net: &Net, problem: &LineProblem) -> Vec<Tree> {
    match problem.mode {
        Mode::Chain => chain::chains(net, problem.home_runs, problem.effort),
        Mode::Branching | Mode::Tree => branching::trees(net, problem.effort),
    }
}

impl GroundMap {
    /// Finds the lines of least installed cost: laying, cable, ends and boxes.
    ///
    /// Without a loss limit and with one feed, branching lines are exact on the prices between loudspeakers;
    /// everything else is a search whose quality is measured against exact answers in the tests. Ground that
    /// runs share is paid once: after the search each run may follow one that is already there. Where there are more places than
    /// [`ROUTED_TOGETHER`], lines are searched rack by rack (`districts`).
    ///
    /// # Errors
    /// [`LinesError`] with everything that is wrong: numbers, names, places, and loudspeakers no cable can reach,
    /// with what stands in the way. What is possible but not good (loss, power, fill, services, stub-outs) is in
    /// the answer's findings.
    pub fn lines(&self, problem: &LineProblem, limit: Option<LossLimit>) -> Result<RoutedLines, LinesError> {
        self.lines_told(problem, limit, &|_| {})
    }

    /// The same; `told` hears which part of the work is done, 0 to 1, where it goes part by part.
    ///
    /// # Errors
    /// As [`GroundMap::lines`].
    pub fn lines_told(
        &self,
        problem: &LineProblem,
        limit: Option<LossLimit>,
        told: &dyn Fn(f64),
    ) -> Result<RoutedLines, LinesError> {
        if ROUTED_TOGETHER.check(problem.feeds.len() + problem.terminals.len()).is_err() {
            return self.lines_by_district(problem, limit, told);
        }
        let places = spots(problem);
        let near = self.near(&places, &places);
        match near.lines_here(problem, limit) {
            // What stands in the way nearby may be gone round farther off.
            Err(e) if near.is_cut() && e.is_of_a_way() => self.around(&places).lines_here(problem, limit),
            found => found,
        }
    }

    fn lines_here(&self, problem: &LineProblem, limit: Option<LossLimit>) -> Result<RoutedLines, LinesError> {
        let stands = check(self, problem, limit)?;
        let of_all = Asked { problem, limit, wanted: &Wanted::All, boxes_before: 0 };
        let open = Shared::of(self, &problem.open, 0.0);
        let (mut best, mut opened) = self.searched(of_all, &stands, open)?;
        // The search prices every run as if it were alone. Ground that one answer opens is open for the next search:
        // lines move into ground that is paid for, where that saves.
        for _ in 0..SHARING_ROUNDS {
            let (mut again, ground) = self.searched(of_all, &stands, opened)?;
            again.work.add(&best.work);
            if !again.is_better_than(&best) {
                best.work = again.work;
                break;
            }
            (best, opened) = (again, ground);
        }
        Ok(best)
    }

    /// One search on prices beside ground that is open: the lines, and the ground they open.
    pub(super) fn searched(
        &self,
        asked: Asked<'_>,
        stands: &[Stand],
        open: Shared,
    ) -> Result<(RoutedLines, Shared), LinesError> {
        let Asked { problem, limit, wanted, boxes_before } = asked;
        let terms = &self.terms(problem);
        let mut sited = self.sited(problem, stands, wanted, terms, open);
        let mut net = self.net(problem, limit, (&sited, wanted), terms);
        self.reachable(problem, &net, &sited, terms)?;
        let mut trees = match wanted {
            Wanted::All => trees(&net, problem),
            Wanted::Parts(parts) => {
                let leave = lent();
                let of_part = |part: &Vec<usize>| leave.lend(|| trees(&net.part(part), problem));
                let found: Vec<Vec<Tree>> = parts.par_iter().map(of_part).collect();
                net.trees_of(parts, found)
            }
        };
        if problem.mode == Mode::Tree {
            self.add_boxes(problem, &mut net, &mut sited, &mut trees, terms);
        }
        let mut findings = left_out(problem, &net, &trees);
        findings.extend(dropped(problem, &net, &trees));
        let realiser = realise::Realiser::new(self, problem, limit, &sited, terms.clone());
        let (mut lines, ground) = realiser.lines(&trees, &net, findings, boxes_before);
        lines.work.settled += sited.settled();
        lines.work.pairs += net.price.iter().filter(|p| p.is_finite()).count() as u64;
        Ok((lines, ground))
    }

    /// Prices of all runs there could be, as the search sees them before ways are straightened and shared:
    /// row by row, feeds first, then loudspeakers; infinite where there is no way. For comparing searches.
    ///
    /// # Errors
    /// As [`GroundMap::lines`].
    pub fn run_prices(&self, problem: &LineProblem) -> Result<Vec<Vec<f64>>, LinesError> {
        let ground = self.around(&spots(problem));
        let (stands, terms) = (check(&ground, problem, None)?, ground.terms(problem));
        let open = Shared::of(&ground, &problem.open, 0.0);
        let sited = ground.sited(problem, &stands, &Wanted::All, &terms, open);
        let net = ground.net(problem, None, (&sited, &Wanted::All), &terms);
        Ok(net.price.chunks(net.size()).map(<[f64]>::to_vec).collect())
    }

    /// Every loudspeaker must be within reach of a feed it may hang on.
    fn reachable(
        &self,
        problem: &LineProblem,
        net: &Net,
        sited: &Sited,
        terms: &Terms,
    ) -> Result<(), LinesError> {
        let names = places(problem);
        let mut wrong = Vec::new();
        for t in net.feeds..net.feeds + net.terminals {
            let feeds: Vec<usize> = (0..net.feeds).filter(|&f| net.may(t, f)).collect();
            if feeds.iter().any(|&f| net.price[f * net.size() + t].is_finite()) {
                continue;
            }
            if let Some(&f) = feeds.first() {
                let e = self.no_way(&names[f], &names[t], &sited.stands[f], &sited.stands[t], terms);
                wrong.push(LineProblemError::Route(e));
            }
        }
        // The points a fixed run passes must be within reach of each other, too.
        let index = index(problem);
        for run in problem.fixed.iter().filter(|r| !r.via.is_empty()) {
            let name = |i| format!("point {i} of the fixed run {}-{}", run.from, run.to);
            let via = run.via.iter().enumerate().map(|(i, &at)| RunEnd { name: name(i + 1), at });
            let stops: Vec<RunEnd> = std::iter::once(names[index[&run.from]].clone())
                .chain(via)
                .chain([names[index[&run.to]].clone()])
                .collect();
            for w in stops.windows(2) {
                let (Ok(a), Ok(b)) = (self.stand(&w[0]), self.stand(&w[1])) else { continue };
                if self.find(&a, &b, terms).is_none() {
                    wrong.push(LineProblemError::Route(self.no_way(&w[0], &w[1], &a, &b, terms)));
                }
            }
        }
        if wrong.is_empty() { Ok(()) } else { Err(LinesError(wrong)) }
    }
}

/// Loudspeakers no line could take.
fn left_out(problem: &LineProblem, net: &Net, trees: &[Tree]) -> Vec<LineFinding> {
    let placed: BTreeSet<usize> = trees.iter().flatten().map(|r| r.1).collect();
    let load = |f: usize| trees[f].iter().map(|r| net.watts_of(r.1)).sum::<f64>();
    (net.feeds..net.feeds + net.terminals)
        .filter(|t| !placed.contains(t))
        .map(|t| LineFinding::NoPowerLeft {
            terminal: problem.terminals[t - net.feeds].id.clone(),
            watts: net.watts_of(t),
            room_w: (0..net.feeds)
                .filter(|&f| net.may(t, f))
                .map(|f| net.max_w[f] - load(f))
                .fold(0.0, f64::max),
        })
        .collect()
}

/// Fixed runs that are not in the answer.
fn dropped(problem: &LineProblem, net: &Net, trees: &[Tree]) -> Vec<LineFinding> {
    let index = index(problem);
    problem
        .fixed
        .iter()
        .filter(|r| {
            let (a, b) = (index[&r.from], index[&r.to]);
            !trees.iter().flatten().any(|t| *t == (a, b) || *t == (b, a)) && net.is_forced(a, b)
        })
        .map(|r| LineFinding::FixedRunDropped { from: r.from.clone(), to: r.to.clone() })
        .collect()
}
