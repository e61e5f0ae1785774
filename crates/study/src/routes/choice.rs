//! Which cable each run of a routed line is laid in.
//!
//! A line's own cable is the cheapest of the catalogue with its conductors and ratings: a pair of a cable that no other line
//! shares is bought in vain. Behind a joint or loudspeaker, thinner cable that the job has anyway is taken where the loss
//! stays within the brief: all ways of choosing are compared, the cheapest first, up to [`CABLE_CHOICES`]; what is left open
//! then keeps the best found. Cable a person gave a run by name stays.

use loamline_adapt::pair;
use loamline_limits::{CABLE_CHOICES, go_on};
use loamline_model::catalogue::Cable;
use loamline_model::document::Run;
use loamline_model::{Job, LineView};
use loamline_routing::{ConstantVoltage, LineNode, LossModel as _, RoutedLine};
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeMap;

/// Conductors whose cross-sections differ by less than this share are the same size.
const SAME_SIZE: f64 = 0.005;

/// Loop resistance of a cable of the catalogue, ohm per metre.
pub(super) fn loop_ohm(job: &Job, cable: &str) -> f64 {
    let found = job.catalogue().cables.get(cable).and_then(|c| pair(cable, c).ok());
    found.map_or(0.0, |p| p.loop_resistance_ohm_per_m)
}

fn price_per_m(cable: &Cable) -> f64 {
    cable.price_per_m.to_f64().unwrap_or(f64::INFINITY)
}

fn rated_as(cable: &Cable, like: &Cable) -> bool {
    like.ratings.iter().all(|r| cable.ratings.contains(r))
}

/// The cable a line is laid in where it lies alone.
pub(super) fn cable_of_its_own<'j>(job: &'j Job, view: &LineView<'j>) -> (&'j str, &'j Cable) {
    let own = (view.line.cable.as_str(), view.cable);
    let same = |c: &Cable| {
        (c.conductor_mm2 / view.cable.conductor_mm2 - 1.0).abs() < SAME_SIZE
            && c.strands == view.cable.strands
            && rated_as(c, view.cable)
    };
    let others = job.catalogue().cables.iter().filter(|(_, c)| same(c)).map(|(id, c)| (id.as_str(), c));
    others.fold(own, |best, other| if other.1.price_per_m < best.1.price_per_m { other } else { best })
}

/// The cheapest cable with a pair for each of some lines, conductors no thinner than any of theirs and their ratings.
pub(super) fn common_cable<'j>(job: &'j Job, views: &[&LineView<'j>]) -> Option<(&'j str, &'j Cable)> {
    let fits = |c: &Cable| {
        c.conductors as usize >= 2 * views.len()
            && views.iter().all(|v| {
                c.conductor_mm2 >= v.cable.conductor_mm2 * (1.0 - SAME_SIZE)
                    && c.strands == v.cable.strands
                    && rated_as(c, v.cable)
            })
    };
    let fitting = job.catalogue().cables.iter().filter(|(_, c)| fits(c));
    fitting.min_by(|a, b| a.1.price_per_m.cmp(&b.1.price_per_m)).map(|(id, c)| (id.as_str(), c))
}

/// Thinner cable a line may go on in behind a joint: what the job has by name.
fn thinner<'j>(job: &'j Job, view: &LineView<'j>) -> Vec<(&'j str, &'j Cable)> {
    let own = cable_of_its_own(job, view);
    let d = job.document();
    let of_lines = d.lines.values().map(|l| &l.cable);
    let of_runs = d.lines.values().flat_map(|l| l.runs.values()).filter_map(|r| r.cable.as_ref());
    let mut named: Vec<&String> = of_lines.chain(of_runs).collect();
    named.sort();
    named.dedup();
    named
        .into_iter()
        .filter_map(|id| job.catalogue().cables.get_key_value(id))
        .filter(|(_, c)| {
            c.conductor_mm2 < own.1.conductor_mm2 * (1.0 - SAME_SIZE)
                && c.price_per_m < own.1.price_per_m
                && rated_as(c, view.cable)
        })
        .map(|(id, c)| (id.as_str(), c))
        .collect()
}

/// What decides about the cable of a line's runs.
pub(super) struct Choice<'a> {
    /// The job.
    pub job: &'a Job,
    /// The line.
    pub view: &'a LineView<'a>,
    /// Loop resistance of what comes before the routed runs, ohm.
    pub before_ohm: f64,
    /// Thickest conductor that comes before them, mm².
    pub before_mm2: f64,
    /// Whether they start behind a joint.
    pub behind_a_joint: bool,
    /// Most that the worst loudspeaker may lose, dB; 0 where nothing may be thinner.
    pub limit_db: f64,
}

struct Offer<'j> {
    cable: &'j str,
    price: f64,
    ohm: f64,
    mm2: f64,
}

impl Choice<'_> {
    /// The cable of every routed run, in their order; `old` gives the run the document has between the same ends.
    pub fn cables<'r>(&self, line: &RoutedLine, old: impl Fn(usize) -> Option<&'r Run>) -> Vec<String> {
        let own = cable_of_its_own(self.job, self.view).0;
        let thinner = match self.view.line_v() {
            Some(_) if self.limit_db > 0.0 => thinner(self.job, self.view),
            _ => Vec::new(),
        };
        let option = |i: usize, cable: &str| -> Option<Offer<'_>> {
            let (cable, c) = self.job.catalogue().cables.get_key_value(cable)?;
            let m = line.runs.get(i)?.length.order_m;
            Some(Offer {
                cable,
                price: m * price_per_m(c),
                ohm: m * loop_ohm(self.job, cable),
                mm2: c.conductor_mm2,
            })
        };
        let options: Vec<Vec<Offer<'_>>> = (0..line.runs.len())
            .map(|i| {
                // What a person named or fixed, and what lies there, stays what it is.
                if let Some(old) = old(i)
                    && (old.cable.is_some() || old.fixed || old.existing)
                {
                    let named = old.cable.as_ref().unwrap_or(&self.view.line.cable);
                    return option(i, named).into_iter().collect();
                }
                let from_start = line.runs[i].from == line.id && !self.behind_a_joint;
                let more = thinner.iter().filter(|_| !from_start).filter_map(|(id, _)| option(i, id));
                let mut all: Vec<Offer<'_>> = more.collect();
                all.sort_by(|a, b| a.price.total_cmp(&b.price));
                all.extend(option(i, own));
                all
            })
            .collect();
        let mut search = Search::of(self, line, &options);
        search.descend(0, 0.0);
        let chosen = search.best;
        options
            .iter()
            .zip(&chosen)
            .map(|(o, &k)| o.get(k).map_or_else(|| own.to_owned(), |o| o.cable.to_owned()))
            .collect()
    }
}

/// Branch and bound over the runs, cheapest cable first.
struct Search<'a> {
    model: ConstantVoltage,
    limit_db: f64,
    before_ohm: f64,
    options: &'a [Vec<Offer<'a>>],
    /// Runs in the order they are decided: the dearest first.
    order: Vec<usize>,
    /// Least price of what is not decided yet, by how many are.
    rest: Vec<f64>,
    nodes: Vec<LineNode>,
    /// Sizes each gel-filled connector holds, mm².
    connectors: Vec<(f64, f64)>,
    /// Thickest conductor before the first run, mm².
    before_mm2: f64,
    now: Vec<usize>,
    best: Vec<usize>,
    least: f64,
    tried: usize,
}

impl<'a> Search<'a> {
    fn of(choice: &Choice<'_>, line: &RoutedLine, options: &'a [Vec<Offer<'a>>]) -> Self {
        // The thickest of each: what holds if anything does.
        let thick: Vec<usize> = options.iter().map(|o| o.len().saturating_sub(1)).collect();
        let price = |i: usize, k: usize| options[i].get(k).map_or(0.0, |o| o.price);
        let mut order: Vec<usize> = (0..options.len()).collect();
        order.sort_by(|&a, &b| price(b, thick[b]).total_cmp(&price(a, thick[a])).then(a.cmp(&b)));
        let mut rest = vec![0.0; order.len() + 1];
        for (k, &i) in order.iter().enumerate().rev() {
            rest[k] = rest[k + 1] + price(i, 0);
        }
        let watts =
            |to: &str| choice.job.loudspeaker(to).map_or(0.0, |l| l.placed.tap_w.unwrap_or(l.model.rated_w));
        let mut at: BTreeMap<&str, usize> = BTreeMap::from([(line.id.as_str(), 0)]);
        let mut nodes = vec![LineNode { parent: None, length_m: 0.0, watts: 0.0 }];
        for (i, r) in line.runs.iter().enumerate() {
            at.insert(&r.to, nodes.len());
            let length_m = options[i].get(thick[i]).map_or(0.0, |o| o.ohm);
            let parent = Some(at.get(r.from.as_str()).copied().unwrap_or(0));
            nodes.push(LineNode { parent, length_m, watts: watts(&r.to) });
        }
        let least = (0..options.len()).map(|i| price(i, thick[i])).sum();
        let volts = choice.view.line_v().unwrap_or(1.0);
        let gel = choice.job.catalogue().connectors.values().filter(|k| k.gel_filled);
        Self {
            model: ConstantVoltage { volts, loop_ohm_per_m: 1.0 },
            limit_db: choice.limit_db,
            before_ohm: choice.before_ohm,
            options,
            order,
            rest,
            nodes,
            connectors: gel.map(|k| (k.smallest_mm2, k.largest_mm2)).collect(),
            before_mm2: choice.before_mm2,
            now: thick.clone(),
            best: thick,
            least,
            tried: 0,
        }
    }

    /// Whether a connector holds the conductors that meet at a node, those of runs that are still open left aside.
    fn is_held(&self, node: Option<usize>, open: &[usize]) -> bool {
        let Some(node) = node.filter(|_| !self.connectors.is_empty()) else { return true };
        let into = node.checked_sub(1);
        let out = (0..self.now.len()).filter(|&i| self.nodes[i + 1].parent == Some(node));
        let size = |i: usize| Some(self.options[i].get(self.now[i])?.mm2);
        let sizes = into.into_iter().chain(out).filter(|i| !open.contains(i)).filter_map(size);
        let before = (node == 0 && self.before_mm2 > 0.0).then_some(self.before_mm2);
        let (mut thin, mut thick) = (f64::INFINITY, 0.0_f64);
        for mm2 in sizes.chain(before) {
            (thin, thick) = (thin.min(mm2), thick.max(mm2));
        }
        thick <= thin || self.connectors.iter().any(|(s, l)| *s <= thin + 1e-9 && thick <= *l + 1e-9)
    }

    fn descend(&mut self, decided: usize, price: f64) {
        if self.options.iter().all(|o| o.len() < 2) || self.tried > CABLE_CHOICES.most() {
            return;
        }
        go_on();
        let Some(&i) = self.order.get(decided) else {
            if price < self.least - 1e-9 {
                (self.least, self.best) = (price, self.now.clone());
            }
            return;
        };
        let thick = self.now[i];
        for k in 0..self.options[i].len() {
            let (more, ohm) = (self.options[i][k].price, self.options[i][k].ohm);
            if price + more + self.rest[decided + 1] >= self.least - 1e-9 {
                continue;
            }
            let before = self.nodes[i + 1].length_m;
            (self.now[i], self.nodes[i + 1].length_m) = (k, ohm);
            self.tried += 1;
            // All others as thick as they get: what loses too much now does so whatever comes.
            let thin = k + 1 < self.options[i].len();
            let open = &self.order[decided + 1..];
            let held = self.is_held(self.nodes[i + 1].parent, open) && self.is_held(Some(i + 1), open);
            if held && (!thin || self.model.worst_loss_db(&self.nodes, self.before_ohm) <= self.limit_db) {
                self.descend(decided + 1, price + more);
            }
            (self.now[i], self.nodes[i + 1].length_m) = (thick, before);
        }
    }
}
