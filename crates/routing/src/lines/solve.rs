//! From ground and problem to lines: prices of all possible runs, the search, boxes, and the runs themselves.

use super::answer::{LineFinding, RoutedLines};
use super::check::{LineProblemError, LinesError, check, places};
use super::net::{Net, Tree, dearest};
use super::problem::{LineProblem, LossLimit, Mode};
use super::sited::Sited;
use super::{boxes, branching, chain, realise};
use crate::ground::{GroundMap, RunEnd, Stand};
use crate::path::Shared;
use crate::path::search::{Field, Terms};
use loamline_geometry::Point2;
use loamline_limits::{go_on, lent};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Box places considered per loudspeaker of a line. More finds slightly better places and costs a search of
/// the ground each.
const BOXES_PER_TERMINAL: usize = 2;

/// How often the lines are searched again with the ground open that the answer before has opened. Each costs as much
/// as the first search; the first finds most of what there is to save.
const SHARING_ROUNDS: usize = 1;

/// The places that runs end at or pass.
fn spots(problem: &LineProblem) -> Vec<Point2> {
    let feeds = problem.feeds.iter().map(|f| f.at);
    let via = problem.fixed.iter().flat_map(|r| r.via.iter().copied());
    feeds.chain(problem.terminals.iter().map(|t| t.at)).chain(via).collect()
}

impl GroundMap {
    /// Finds the lines of least installed cost: laying, cable, ends and boxes.
    ///
    /// Without a loss limit and with one feed, branching lines are exact on the prices between loudspeakers;
    /// everything else is a search whose quality is measured against exact answers in the tests. Ground that
    /// runs share is paid once: after the search each run may follow one that is already there.
    ///
    /// # Errors
    /// [`LinesError`] with everything that is wrong: numbers, names, places, and loudspeakers no cable can reach,
    /// with what stands in the way. What is possible but not good (loss, power, fill, services, stub-outs) is in
    /// the answer's findings.
    pub fn lines(&self, problem: &LineProblem, limit: Option<LossLimit>) -> Result<RoutedLines, LinesError> {
        self.around(&spots(problem)).lines_here(problem, limit)
    }

    fn lines_here(&self, problem: &LineProblem, limit: Option<LossLimit>) -> Result<RoutedLines, LinesError> {
        let (sited, terms) = self.sited(problem, limit)?;
        let net = self.net(problem, limit, &sited, &terms);
        self.reachable(problem, &net, &sited, &terms)?;
        let (mut best, mut opened) = self.search(problem, limit, net, sited, &terms);
        // The search prices every run as if it were alone. Ground that one answer opens is open for the next search:
        // lines move into ground that is paid for, where that saves.
        for _ in 0..SHARING_ROUNDS {
            let Sited { stands, rises, .. } = self.sited(problem, limit)?.0;
            let fields = self.fields(&stands, &terms, &opened);
            let sited = Sited { stands, fields, rises, shared: opened };
            let net = self.net(problem, limit, &sited, &terms);
            let (again, ground) = self.search(problem, limit, net, sited, &terms);
            if !again.is_better_than(&best) {
                break;
            }
            (best, opened) = (again, ground);
        }
        Ok(best)
    }

    /// Searches on given prices; the lines, and the ground they open.
    fn search(
        &self,
        problem: &LineProblem,
        limit: Option<LossLimit>,
        mut net: Net,
        mut sited: Sited,
        terms: &Terms,
    ) -> (RoutedLines, Shared) {
        let mut trees = match problem.mode {
            Mode::Chain => chain::chains(&net, problem.home_runs, problem.effort),
            Mode::Branching | Mode::Tree => branching::trees(&net, problem.effort),
        };
        if problem.mode == Mode::Tree {
            self.add_boxes(problem, &mut net, &mut sited, &mut trees, terms);
        }
        let mut findings = left_out(problem, &net, &trees);
        findings.extend(dropped(problem, &net, &trees));
        realise::Realiser::new(self, problem, limit, &sited, terms.clone()).lines(&trees, &net, findings)
    }

    /// Prices of all runs there could be, as the search sees them before ways are straightened and shared:
    /// row by row, feeds first, then loudspeakers; infinite where there is no way. For comparing searches.
    ///
    /// # Errors
    /// As [`GroundMap::lines`].
    pub fn run_prices(&self, problem: &LineProblem) -> Result<Vec<Vec<f64>>, LinesError> {
        let ground = self.around(&spots(problem));
        let (sited, terms) = ground.sited(problem, None)?;
        let net = ground.net(problem, None, &sited, &terms);
        Ok(net.price.chunks(net.size()).map(<[f64]>::to_vec).collect())
    }

    /// Checks a problem and searches the ground from all its places.
    fn sited(&self, problem: &LineProblem, limit: Option<LossLimit>) -> Result<(Sited, Terms), LinesError> {
        let stands = check(self, problem, limit)?;
        let waste = 1.0 + problem.lengths.waste_fraction;
        let cable = crate::path::CableToLay {
            price_per_m: problem.cable.price_per_m,
            outside_diameter_mm: problem.cable.outside_diameter_mm,
        };
        let terms = Terms {
            cable_per_m: problem.cable.price_per_m * waste,
            sleeves: self.roomy_sleeves(&cable),
            breach_per_m: None,
        };
        let shared = Shared::of(self, &problem.open, 0.0);
        let fields = self.fields(&stands, &terms, &shared);
        let rises = problem.feeds.iter().map(|f| f.rise_m.abs());
        let rises = rises.chain(problem.terminals.iter().map(|t| t.rise_m.abs())).collect();
        Ok((Sited { stands, fields, rises, shared }, terms))
    }

    fn fields(&self, stands: &[Stand], terms: &Terms, shared: &Shared) -> Vec<Field> {
        let leave = lent();
        stands.par_iter().map(|s| leave.lend(|| self.field_with(s, terms, shared, None))).collect()
    }

    fn net<'a>(
        &self,
        problem: &LineProblem,
        limit: Option<LossLimit<'a>>,
        sited: &Sited,
        terms: &Terms,
    ) -> Net<'a> {
        let (m, n) = (problem.feeds.len(), problem.terminals.len());
        let index = index(problem);
        let allowed = problem
            .terminals
            .iter()
            .flat_map(|t| problem.feeds.iter().map(|f| t.line.as_ref().is_none_or(|l| *l == f.id)))
            .collect();
        let forced = problem
            .fixed
            .iter()
            .map(|r| (index[&r.from], index[&r.to]))
            .map(|(a, b)| (a.min(b), a.max(b)))
            .collect();
        let mut net = Net {
            feeds: m,
            terminals: n,
            boxes: 0,
            price: Vec::new(),
            metres: Vec::new(),
            watts: problem.terminals.iter().map(|t| t.watts).collect(),
            allowed,
            max_w: problem.feeds.iter().map(|f| f.max_w).collect(),
            opening: problem.feeds.iter().map(|f| f.opening_price).collect(),
            feed_ohm: problem
                .feeds
                .iter()
                .map(|f| f.stub_out.as_ref().map_or(0.0, |s| s.loop_ohm) + f.before_ohm)
                .collect(),
            box_price: problem.box_price,
            forced,
            loss: limit.map(|l| (l.model, l.limit_db)),
            scale: 1.0,
        };
        self.price_net(problem, &mut net, sited, terms);
        net
    }

    /// Fills in prices and lengths between all vertices.
    fn price_net(&self, problem: &LineProblem, net: &mut Net, sited: &Sited, terms: &Terms) {
        let size = net.size();
        net.price = vec![f64::INFINITY; size * size];
        net.metres = vec![f64::INFINITY; size * size];
        let waste = 1.0 + problem.lengths.waste_fraction;
        for a in 0..size {
            for b in 0..size {
                if a == b {
                    continue;
                }
                go_on();
                let Some((way, last)) =
                    self.reach_with(&sited.fields[a], &sited.stands[b], terms, &sited.shared)
                else {
                    continue;
                };
                let ends = sited.rises[a] + sited.rises[b] + 2.0 * problem.lengths.service_loop_m;
                let price = way + ends * terms.cable_per_m + problem.joint_price;
                let plan_m = self.way_m(sited, a, b, last);
                let metres = (plan_m + ends) * waste;
                // The two directions differ where one end is indoors; the cheaper serves both.
                for at in [a * size + b, b * size + a] {
                    if price < net.price[at] {
                        (net.price[at], net.metres[at]) = (price, metres);
                    }
                }
            }
        }
        net.scale = dearest(&net.price);
    }

    /// Metres of cable along a way found, before it is straightened.
    fn way_m(&self, sited: &Sited, a: usize, b: usize, last: Option<u32>) -> f64 {
        let nodes = sited.fields[a].nodes_to(last);
        let mut points = vec![sited.stands[a].at];
        points.extend(nodes.iter().map(|&n| self.node_at(n, &sited.shared)));
        points.push(sited.stands[b].at);
        loamline_geometry::polyline_length(&points)
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

    /// Looks for places where a branch box pays, line by line, and puts them into the trees.
    fn add_boxes(
        &self,
        problem: &LineProblem,
        net: &mut Net,
        sited: &mut Sited,
        trees: &mut [Tree],
        terms: &Terms,
    ) {
        // Places are looked for on the prices there are: boxes count only once they have prices too.
        let places: Vec<Vec<u32>> =
            trees.iter().map(|tree| self.box_places(problem, net, sited, tree, terms)).collect();
        let mut free: Vec<Vec<usize>> = vec![Vec::new(); trees.len()];
        for (line, nodes) in places.into_iter().enumerate() {
            for node in nodes {
                let at = self.graph.nodes[node as usize].at;
                let stand = self.stand_on(at, self.mesh.triangles_at(at), None);
                free[line].push(sited.stands.len());
                sited.fields.push(self.field_with(&stand, terms, &sited.shared, None));
                sited.stands.push(stand);
                sited.rises.push(0.0);
                net.boxes += 1;
            }
        }
        if net.boxes == 0 {
            return;
        }
        self.price_net(problem, net, sited, terms);
        for (line, tree) in trees.iter_mut().enumerate() {
            let members: Vec<usize> = tree.iter().map(|r| r.1).collect();
            let old = net.tree_price(line, tree) + net.loss_penalty(line, tree);
            if let Some(better) = boxes::with_boxes(net, line, &members, &free[line])
                && net.tree_price(line, &better) + net.loss_penalty(line, &better) < old - 1e-9
            {
                *tree = better;
            }
        }
    }

    /// The nodes where three vertices that hang together in a tree would best be joined in a box instead.
    fn box_places(
        &self,
        problem: &LineProblem,
        net: &Net,
        sited: &Sited,
        tree: &Tree,
        terms: &Terms,
    ) -> Vec<u32> {
        let mut beside: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for &(a, b) in tree {
            beside.entry(a).or_default().push(b);
            beside.entry(b).or_default().push(a);
        }
        let loops = 2.0 * problem.lengths.service_loop_m * terms.cable_per_m + problem.joint_price;
        let mut found: Vec<(f64, u32)> = Vec::new();
        for (&u, others) in &beside {
            for (i, &a) in others.iter().enumerate() {
                for &b in &others[i + 1..] {
                    go_on();
                    let now = net.price[u * net.size() + a] + net.price[u * net.size() + b];
                    let ends: f64 = [u, a, b].iter().map(|&v| sited.rises[v] * terms.cable_per_m).sum();
                    let fixed = 3.0 * loops + ends + problem.box_price;
                    let best = (0..self.graph.nodes.len())
                        .filter(|&n| self.graph.nodes[n].box_allowed)
                        .map(|n| (fixed + [u, a, b].map(|v| sited.fields[v].price[n]).iter().sum::<f64>(), n))
                        .min_by(|x, y| x.0.total_cmp(&y.0));
                    if let Some((price, n)) = best
                        && price < now
                    {
                        found.push((price - now, n as u32));
                    }
                }
            }
        }
        found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut seen = BTreeSet::new();
        let most = BOXES_PER_TERMINAL * tree.len();
        found.into_iter().map(|f| f.1).filter(|n| seen.insert(*n)).take(most).collect()
    }
}

/// Vertex of every name.
pub(super) fn index(problem: &LineProblem) -> BTreeMap<String, usize> {
    let ids = problem.feeds.iter().map(|f| &f.id).chain(problem.terminals.iter().map(|t| &t.id));
    ids.enumerate().map(|(i, id)| (id.clone(), i)).collect()
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
