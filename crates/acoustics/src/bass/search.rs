//! The best set of one to four subwoofers among candidates.
//!
//! Best is the most even: the mean over the bands of the standard deviation over the points, in classes of
//! [`SPREAD_CLASS_DB`]; within a class, the loudest. Polarity and delay only matter between members, so the first
//! member keeps its polarity and at least one has no delay.
//! Where all sets fit in the allowed number of evaluations, every one is tried. Otherwise: sets grow one member at a
//! time, the best few of each size kept (a beam), then members of the best are exchanged one at a time, with any
//! candidate, polarity and delay, until no exchange helps. That finds a good set, not certainly the best; the result
//! says which it was and how many of the possible sets were tried. Results do not depend on the number of threads.

use super::field::{
    BassBand, BassError, BassField, BassLevels, SubwooferSetting, bass_levels, check_delay,
    standard_deviation,
};
use crate::level::db_from_energy;
use loamline_limits::{go_on, lent};
use num_complex::Complex64;
use rayon::prelude::*;
use serde::Serialize;
use std::cmp::Ordering;
use std::collections::BTreeSet;

/// Sizes of set that are searched for.
pub const SEARCH_COUNTS: std::ops::RangeInclusive<usize> = 1..=4;
/// Sets whose unevenness differs by less than about this count as equally even, dB. Smaller would let a hundredth of
/// a decibel no one hears outrank a louder set; larger would give evenness away.
pub const SPREAD_CLASS_DB: f64 = 0.25;
const MOST: usize = 4;
/// Widest beam of the search that does not try all; wider mostly finds the same sets again.
const WIDEST_BEAM: usize = 64;
/// Sets whose members are exchanged at the end.
const EXCHANGED: usize = 6;

/// What to search for.
#[derive(Debug, Clone, PartialEq)]
pub struct BassSearch {
    /// Subwoofers in the set, 1 to 4.
    pub count: usize,
    /// Delays a subwoofer may have, s; 0 is always allowed.
    pub delays_s: Vec<f64>,
    /// Whether polarity may be reversed.
    pub polarity: bool,
    /// Sets to try at most (about; some 20 000 a second for 200 points and 30 frequencies on one core).
    pub most_evaluations: usize,
    /// Sets to return, best first.
    pub keep: usize,
}

impl BassSearch {
    /// A search for sets of `count`, both polarities, no delays, 200 000 sets at most, the best ten returned.
    pub fn new(count: usize) -> Self {
        Self { count, delays_s: vec![0.0], polarity: true, most_evaluations: 200_000, keep: 10 }
    }
}

/// How much of what is possible was tried.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum SearchCoverage {
    /// Every set.
    Every {
        /// Sets tried.
        evaluated: usize,
    },
    /// A beam and exchanges.
    Part {
        /// Sets tried.
        evaluated: usize,
        /// Sets possible.
        possible: f64,
        /// Sets of each size kept while growing.
        beam: usize,
        /// Whether the exchanges ended because none helped any more (not because the allowance ran out).
        settled: bool,
    },
}

/// A set with its numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RankedSetting {
    /// The members, by candidate.
    pub setting: Vec<SubwooferSetting>,
    /// Mean over the bands of the standard deviation over the points, dB.
    pub deviation_db: f64,
    /// Energy mean over the points, all bands together, dB.
    pub level_db: f64,
    /// Each band.
    pub bands: Vec<BassBand>,
}

/// What a search found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SearchResult {
    /// Best first.
    pub ranking: Vec<RankedSetting>,
    /// How much was tried.
    pub coverage: SearchCoverage,
}

/// Searches for the most even, then loudest set. See the module for the order and for what is tried.
///
/// # Errors
/// [`BassError`] for a count outside 1 to 4 or above the number of candidates, or a delay outside 0 to 3 s.
pub fn search_subwoofers(field: &BassField, search: &BassSearch) -> Result<SearchResult, BassError> {
    let most = field.candidates.min(MOST);
    if search.count == 0 || search.count > most {
        return Err(BassError::Count { count: search.count, most });
    }
    for &delay_s in &search.delays_s {
        check_delay(delay_s)?;
    }
    let mut delays_s = search.delays_s.clone();
    delays_s.push(0.0);
    delays_s.sort_by(f64::total_cmp);
    delays_s.dedup();
    let space = Space { field, delays_s, polarity: search.polarity, count: search.count };
    let possible = space.possible();
    let (mut found, coverage) = if possible <= search.most_evaluations as f64 {
        let found = space.score_all(space.every());
        let evaluated = found.len();
        (found, SearchCoverage::Every { evaluated })
    } else {
        space.grow_and_exchange(possible, search.most_evaluations, search.keep)
    };
    found.sort_by(Scored::order);
    found.truncate(search.keep.max(1));
    let ranking = found.iter().map(|s| space.ranked(s)).collect::<Result<_, _>>()?;
    Ok(SearchResult { ranking, coverage })
}

/// One member: candidate, reversed, place among the delays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
struct Member {
    candidate: u32,
    reversed: bool,
    delay: u32,
}

/// A set; only the first `len` members count, the rest stay default so that sets compare.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
struct Set {
    members: [Member; MOST],
    len: usize,
}

impl Set {
    fn members(&self) -> &[Member] {
        &self.members[..self.len]
    }

    fn with(mut self, member: Member) -> Self {
        self.members[self.len] = member;
        self.len += 1;
        self
    }

    /// By candidate, the first not reversed: sets that sound alike are equal. Delays are left: a set none of whose
    /// members goes undelayed is not offered.
    fn canonical(mut self) -> Self {
        self.members[..self.len].sort_unstable();
        if self.members[0].reversed {
            self.members[..self.len].iter_mut().for_each(|m| m.reversed = !m.reversed);
        }
        self
    }

    fn uses(&self, candidate: u32) -> bool {
        self.members().iter().any(|m| m.candidate == candidate)
    }

    fn has_undelayed(&self) -> bool {
        self.members().iter().any(|m| m.delay == 0)
    }
}

#[derive(Debug, Clone, Copy)]
struct Scored {
    set: Set,
    deviation_db: f64,
    level_db: f64,
}

impl Scored {
    fn order(a: &Self, b: &Self) -> Ordering {
        let class = |s: &Self| (s.deviation_db / SPREAD_CLASS_DB).floor();
        class(a)
            .total_cmp(&class(b))
            .then(b.level_db.total_cmp(&a.level_db))
            .then(a.deviation_db.total_cmp(&b.deviation_db))
            .then(a.set.cmp(&b.set))
    }
}

struct Space<'a> {
    field: &'a BassField,
    delays_s: Vec<f64>,
    polarity: bool,
    count: usize,
}

impl Space<'_> {
    /// Number of different sets.
    fn possible(&self) -> f64 {
        let (c, n, d) = (self.field.candidates as f64, self.count as f64, self.delays_s.len() as f64);
        let choices: f64 = (0..self.count).map(|k| (c - k as f64) / (k as f64 + 1.0)).product();
        let polarities = if self.polarity { 2f64.powf(n - 1.0) } else { 1.0 };
        choices.round() * polarities * (d.powf(n) - (d - 1.0).powf(n))
    }

    /// Every different set.
    fn every(&self) -> Vec<Set> {
        let mut sets = vec![Set::default()];
        for k in 0..self.count {
            sets = sets
                .iter()
                .flat_map(|set| {
                    let from = set.members().last().map_or(0, |m| m.candidate + 1);
                    self.members(k > 0).filter(move |m| m.candidate >= from).map(move |m| set.with(m))
                })
                .collect();
        }
        sets.retain(Set::has_undelayed);
        sets
    }

    /// Every member a set may have.
    fn members(&self, may_invert: bool) -> impl Iterator<Item = Member> {
        let polarities: &'static [bool] = if self.polarity && may_invert { &[false, true] } else { &[false] };
        let delays = self.delays_s.len() as u32;
        (0..self.field.candidates as u32).flat_map(move |candidate| {
            polarities.iter().flat_map(move |&reversed| {
                (0..delays).map(move |delay| Member { candidate, reversed, delay })
            })
        })
    }

    fn score_all(&self, sets: Vec<Set>) -> Vec<Scored> {
        let leave = lent();
        let score = |scratch: &mut _, set| leave.lend(|| self.score(set, scratch));
        sets.into_par_iter().map_init(|| self.scratch(), score).collect()
    }

    fn scratch(&self) -> (Vec<Complex64>, Vec<f64>) {
        (vec![Complex64::default(); self.field.points], vec![0.0; self.field.points * self.field.bands.len()])
    }

    fn score(&self, set: Set, (sum, energies): &mut (Vec<Complex64>, Vec<f64>)) -> Scored {
        let field = self.field;
        energies.fill(0.0);
        for (f, &frequency_hz) in field.frequencies_hz.iter().enumerate() {
            go_on();
            sum.fill(Complex64::default());
            for m in set.members() {
                let factor = self.setting(m).factor(frequency_hz);
                for (s, p) in sum.iter_mut().zip(field.row(f, m.candidate as usize)) {
                    *s += factor * p;
                }
            }
            let band = field.band_of[f];
            let share = field.lines_in[band].recip();
            for (e, s) in energies[band * field.points..].iter_mut().zip(sum.iter()) {
                *e += share * s.norm_sqr();
            }
        }
        let total: f64 = energies.iter().sum();
        energies.iter_mut().for_each(|e| *e = db_from_energy(*e));
        let deviations = energies.chunks_exact(field.points).map(standard_deviation);
        Scored {
            set,
            deviation_db: deviations.sum::<f64>() / field.bands.len() as f64,
            level_db: db_from_energy(total / field.points as f64),
        }
    }

    fn setting(&self, m: &Member) -> SubwooferSetting {
        SubwooferSetting {
            candidate: m.candidate as usize,
            reversed: m.reversed,
            delay_s: self.delays_s[m.delay as usize],
        }
    }

    fn ranked(&self, scored: &Scored) -> Result<RankedSetting, BassError> {
        let setting: Vec<SubwooferSetting> = scored.set.members().iter().map(|m| self.setting(m)).collect();
        let BassLevels { bands, level_db, deviation_db, .. } = bass_levels(self.field, &setting)?;
        Ok(RankedSetting { setting, deviation_db, level_db, bands })
    }

    fn grow_and_exchange(&self, possible: f64, allowed: usize, keep: usize) -> (Vec<Scored>, SearchCoverage) {
        let members: Vec<Member> = self.members(true).collect();
        // Half of the allowance for growing, the rest for exchanges.
        let beam = (allowed / (2 * self.count * members.len())).clamp(1, WIDEST_BEAM);
        let mut evaluated = 0;
        let mut best: Vec<Scored> = vec![Scored { set: Set::default(), deviation_db: 0.0, level_db: 0.0 }];
        for size in 1..=self.count {
            let sets: BTreeSet<Set> = best
                .iter()
                .flat_map(|s| members.iter().filter(|m| !s.set.uses(m.candidate)).map(|&m| s.set.with(m)))
                .map(Set::canonical)
                .filter(Set::has_undelayed)
                .collect();
            evaluated += sets.len();
            best = self.score_all(sets.into_iter().collect());
            best.sort_by(Scored::order);
            best.truncate(if size == self.count { beam.max(keep) } else { beam });
        }
        let mut settled = true;
        for start in best.iter().take(EXCHANGED).copied().collect::<Vec<_>>() {
            let mut current = start;
            loop {
                let sets: BTreeSet<Set> = (0..self.count)
                    .flat_map(|k| members.iter().map(move |&m| (k, m)))
                    .filter(|(k, m)| {
                        current.set.members[*k].candidate == m.candidate || !current.set.uses(m.candidate)
                    })
                    .map(|(k, m)| {
                        let mut set = current.set;
                        set.members[k] = m;
                        set.canonical()
                    })
                    .filter(|set| set.has_undelayed() && *set != current.set)
                    .collect();
                if evaluated + sets.len() > allowed {
                    settled = false;
                    break;
                }
                evaluated += sets.len();
                let mut tried = self.score_all(sets.into_iter().collect());
                tried.sort_by(Scored::order);
                tried.truncate(keep.max(1));
                let next = tried.first().copied().filter(|t| Scored::order(t, &current).is_lt());
                best.extend(tried);
                match next {
                    Some(better) => current = better,
                    None => break,
                }
            }
        }
        best.sort_by(Scored::order);
        best.dedup_by(|a, b| a.set == b.set);
        (best, SearchCoverage::Part { evaluated, possible, beam, settled })
    }
}
