//! Design aids: the smallest cable for a loss limit, the tap that gives a wanted power after loss.
//!
//! Cable sizes are chosen by search. From the smallest everywhere, the run whose next size takes most off the worst
//! loss per kilogram of copper added is enlarged until the limit holds; then every run is tried one or more sizes
//! smaller, heaviest copper first, as long as the limit still holds. The result always meets the limit when any choice
//! does, and no single run of it can be made smaller; it is not proven to be the least copper of all.

use loamline_limits::go_on;
use serde::Serialize;

use crate::cable::Cable;
use crate::error::{InputError, LineError, LineErrors};
use crate::line::{Connection, Line, Source};
use crate::network::Network;
use crate::solve_line::{MID_HZ, lost_db, shares};

/// A cable for each run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CableChoice {
    /// Index into the cables offered, one per run in the line's order.
    pub cable: Vec<usize>,
    /// Copper of one pair over all runs in kg.
    pub copper_kg: f64,
    /// Loss in dB at 1 kHz at the worst loudspeaker.
    pub worst_loss_db: f64,
    /// The worst loudspeaker.
    pub worst_load: String,
}

/// The same cable on all runs, the smallest that keeps every loudspeaker within `limit_db` at 1 kHz.
///
/// # Errors
/// Everything wrong with the line; a cable value outside its range; no cable offered or none thick enough (the error
/// says what the thickest would lose).
pub fn smallest_cable_for_all(
    line: &Line,
    cables: &[Cable],
    temperature_c: f64,
    limit_db: f64,
) -> Result<CableChoice, LineErrors> {
    smallest_cable_for_rest(line, &[], cables, temperature_c, limit_db)
}

/// The same for all runs but those that are `kept` as they are; none where the list ends before a run.
pub(crate) fn smallest_cable_for_rest(
    line: &Line,
    kept: &[bool],
    cables: &[Cable],
    temperature_c: f64,
    limit_db: f64,
) -> Result<CableChoice, LineErrors> {
    let mut search = Search { kept, ..Search::new(line, cables, temperature_c, limit_db)? };
    for rank in 0..search.order.len() {
        search.rank.fill(rank);
        if search.worst().0 <= limit_db {
            break;
        }
    }
    search.finish(limit_db)
}

/// A cable of its own for each run, so that every loudspeaker stays within `limit_db` at 1 kHz with little copper.
///
/// # Errors
/// As [`smallest_cable_for_all`].
pub fn smallest_cables(
    line: &Line,
    cables: &[Cable],
    temperature_c: f64,
    limit_db: f64,
) -> Result<CableChoice, LineErrors> {
    let mut search = Search::new(line, cables, temperature_c, limit_db)?;
    search.grow(limit_db);
    search.shrink(limit_db);
    search.finish(limit_db)
}

/// Whether a run stays as it is.
pub(crate) fn is_kept(kept: &[bool], run: usize) -> bool {
    kept.get(run).copied().unwrap_or(false)
}

struct Search<'a> {
    line: &'a Line,
    network: Network,
    cables: &'a [Cable],
    /// Cable indices, most resistance first.
    order: Vec<usize>,
    pairs: Vec<crate::cable::PairConstants>,
    /// Per run, position in `order`.
    rank: Vec<usize>,
    /// Per run, whether it stays as it is.
    kept: &'a [bool],
    /// Per load, its share of the drive where nothing is lost.
    shares: Vec<f64>,
}

impl<'a> Search<'a> {
    fn new(
        line: &'a Line,
        cables: &'a [Cable],
        temperature_c: f64,
        limit_db: f64,
    ) -> Result<Self, LineErrors> {
        let one = |error: InputError| LineErrors(vec![LineError::Value(error)]);
        let place = format!("line {}", line.name);
        InputError::check_positive(&place, "loss limit", "dB", limit_db).map_err(one)?;
        let network = Network::build(line)?;
        for (list, quantity) in
            [(cables.is_empty(), "list of cables"), (line.loads.is_empty(), "list of loads")]
        {
            if list {
                return Err(one(InputError::Empty { place, quantity }));
            }
        }
        let pairs = cables
            .iter()
            .map(|cable| cable.pair(temperature_c))
            .collect::<Result<Vec<_>, _>>()
            .map_err(one)?;
        let mut order: Vec<usize> = (0..cables.len()).collect();
        order.sort_by(|&a, &b| {
            pairs[b].loop_resistance_ohm_per_m.total_cmp(&pairs[a].loop_resistance_ohm_per_m)
        });
        let shares = shares(&network, &[MID_HZ]).map_err(one)?.concat();
        Ok(Self { line, network, cables, order, pairs, rank: vec![0; line.runs.len()], kept: &[], shares })
    }

    /// Copper of one pair of the cable at `rank` over run `run`, kg.
    fn copper_kg(&self, run: usize, rank: usize) -> f64 {
        let cable = &self.cables[self.order[rank]];
        2.0 * cable.copper_kg_per_m() / f64::from(cable.conductors) * self.line.runs[run].length_m
    }

    /// Loss in dB at the worst load, and which.
    fn worst(&mut self) -> (f64, usize) {
        go_on();
        for (index, run) in self.network.runs.iter_mut().enumerate() {
            if is_kept(self.kept, index) {
                continue;
            }
            let (pair, length) = (&self.pairs[self.order[self.rank[index]]], self.line.runs[index].length_m);
            run.resistance_ohm = pair.loop_resistance_ohm_per_m * length;
            run.inductance_h = pair.loop_inductance_h_per_m * length;
            run.capacitance_f = pair.capacitance_f_per_m * length;
        }
        let Ok(solution) = self.network.solve(&Source::ideal(1.0), &[MID_HZ]) else { return (f64::MAX, 0) };
        let loss = |index: usize| lost_db(self.shares[index], solution.load_across_v(index)[0].norm());
        (0..self.network.loads.len()).fold((f64::MIN, 0), |worst, index| {
            let loss = loss(index);
            if loss > worst.0 { (loss, index) } else { worst }
        })
    }

    fn grow(&mut self, limit_db: f64) {
        let (mut now, _) = self.worst();
        while now > limit_db {
            let mut best: Option<(f64, usize, f64)> = None;
            for run in 0..self.rank.len() {
                if self.rank[run] + 1 == self.order.len() {
                    continue;
                }
                let added = self.copper_kg(run, self.rank[run] + 1) - self.copper_kg(run, self.rank[run]);
                self.rank[run] += 1;
                let (then, _) = self.worst();
                self.rank[run] -= 1;
                let worth = (now - then) / added.max(1e-9);
                if best.is_none_or(|(most, _, _)| worth > most) {
                    best = Some((worth, run, then));
                }
            }
            let Some((_, run, then)) = best else { return };
            self.rank[run] += 1;
            now = then;
        }
    }

    fn shrink(&mut self, limit_db: f64) {
        let mut runs: Vec<usize> = (0..self.rank.len()).collect();
        runs.sort_by(|&a, &b| self.copper_kg(b, self.rank[b]).total_cmp(&self.copper_kg(a, self.rank[a])));
        for run in runs {
            while self.rank[run] > 0 {
                self.rank[run] -= 1;
                if self.worst().0 > limit_db {
                    self.rank[run] += 1;
                    break;
                }
            }
        }
    }

    fn finish(mut self, limit_db: f64) -> Result<CableChoice, LineErrors> {
        let (worst_loss_db, worst) = self.worst();
        let worst_load = self.line.loads[worst].name.clone();
        if worst_loss_db > limit_db {
            let thickest = self.order.last().map_or("", |&cable| self.cables[cable].name.as_str());
            return Err(LineErrors(vec![LineError::Value(InputError::NoChoice {
                place: format!("line {}", self.line.name),
                problem: format!(
                    "even {thickest} throughout loses {worst_loss_db:.2} dB to {worst_load}; the limit is {limit_db} dB. Feed it by a second line, shorten it, or take a higher line voltage"
                ),
            })]));
        }
        Ok(CableChoice {
            copper_kg: (0..self.rank.len())
                .filter(|run| !is_kept(self.kept, *run))
                .map(|run| self.copper_kg(run, self.rank[run]))
                .sum(),
            cable: self.rank.iter().map(|&rank| self.order[rank]).collect(),
            worst_loss_db,
            worst_load,
        })
    }
}

/// A tap tried on a loudspeaker.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TapTrial {
    /// The tap in W at the transformer's rated voltage.
    pub tap_w: f64,
    /// Power in W at the loudspeaker after cable and transformer loss, counted on its nominal impedance, at 1 kHz.
    pub power_w: f64,
    /// Level against the one wanted in dB, positive is louder.
    pub level_re_wanted_db: f64,
}

/// All taps of a load and the one to set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BestTap {
    /// The least tap that reaches the wanted power, or the largest when none does.
    pub best: TapTrial,
    /// True when `best` reaches the wanted power.
    pub reached: bool,
    /// All taps, rising.
    pub trials: Vec<TapTrial>,
}

/// The tap of load `load` (by name) that gives `wanted_power_w` at its loudspeaker after loss at full drive, the rest of
/// the line unchanged. For a wanted level L at 1 m: P = 10^((L - sensitivity)/10).
///
/// # Errors
/// Everything wrong with the line; a load the line does not have or that has no taps; a power not above zero.
pub fn best_tap(
    line: &Line,
    source: &Source,
    load: &str,
    wanted_power_w: f64,
) -> Result<BestTap, LineErrors> {
    let one = |error: InputError| LineErrors(vec![LineError::Value(error)]);
    let place = format!("line {}", line.name);
    InputError::check_positive(&place, "wanted power", "W", wanted_power_w).map_err(one)?;
    let mut network = Network::build(line)?;
    let no_choice =
        |problem: String| one(InputError::NoChoice { place: format!("line {}", line.name), problem });
    let Some((index, wanted)) = line.loads.iter().enumerate().find(|(_, other)| other.name == load) else {
        return Err(no_choice(format!("there is no load {load} on it")));
    };
    let Connection::Tapped { transformer, .. } = &wanted.connection else {
        return Err(no_choice(format!("load {load} has no taps")));
    };
    let mut taps = transformer.taps_w.clone();
    taps.sort_by(f64::total_cmp);
    let mut trials = Vec::with_capacity(taps.len());
    for tap_w in taps {
        network.loads[index].transformer = Some(transformer.at_tap(tap_w));
        let solution = network.solve(source, &[MID_HZ]).map_err(one)?;
        let power_w = solution.loudspeaker_v(index)[0].norm_sqr() / wanted.nominal_ohm;
        trials.push(TapTrial {
            tap_w,
            power_w,
            level_re_wanted_db: 10.0 * (power_w.max(f64::MIN_POSITIVE) / wanted_power_w).log10(),
        });
    }
    let reaching = trials.iter().find(|trial| trial.power_w >= wanted_power_w * (1.0 - 1e-9));
    match (reaching, trials.last()) {
        (Some(best), _) => Ok(BestTap { best: *best, reached: true, trials }),
        (None, Some(largest)) => Ok(BestTap { best: *largest, reached: false, trials }),
        (None, None) => Err(no_choice(format!("load {load} has no taps"))),
    }
}
