//! The cut list: which lengths to cut from which spool.
//!
//! One-dimensional cutting stock with one spool length: fewest spools; among those, the left-over is gathered
//! on one spool as far as possible, so that what remains is one long usable piece and not many short ends.
//! - Up to [`EXACT_CUTS`] cuts: exact on both counts, by dynamic programming over subsets: for every subset
//!   the least (spools, metres on the last spool), Held and Karp's scheme for packing.
//! - More: best-fit decreasing and minimum-slack filling (Gupta and Ho 1999), improved in a fixed order; the
//!   answer carries the lower bound L2 of Martello and Toth (1990), so that `spools - lower_bound_spools` is
//!   a proven limit on how far it can be from the fewest.
//!
//! Lengths are rounded up to whole millimetres, spools down.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Most cuts for which the answer is exact on both counts. Time and memory double with each more: 18 cuts
/// take about 10 ms and 3 MB.
pub const EXACT_CUTS: usize = 18;

/// Steps spent filling one spool with the least slack; more finds better fills of long lists, slower.
const FILL_STEPS: u32 = 20_000;

/// A cut list.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CutList {
    /// Cuts on each spool as indices into the lengths given; longest first, fullest spool first.
    pub cuts: Vec<Vec<usize>>,
    /// Metres to cut, in the order of the lengths given (with the spare).
    pub cut_m: Vec<f64>,
    /// Metres left on all spools opened, together.
    pub leftover_m: f64,
    /// Metres left on the spool with most left: the piece worth keeping.
    pub longest_leftover_m: f64,
    /// No cut list can do with fewer spools than this.
    pub lower_bound_spools: usize,
    /// Whether the list is proven to need the fewest spools.
    pub fewest_proven: bool,
}

impl CutList {
    /// Spools to open.
    pub fn spools(&self) -> usize {
        self.cuts.len()
    }
}

/// Why there is no cut list.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SpoolError {
    /// The spool's length is not a positive number.
    #[error("the spool is {value_m} m long; it must be above 0")]
    Spool {
        /// The length given, metres.
        value_m: f64,
    },
    /// The spare is negative or not a number.
    #[error("the spare on each cut is {value_m} m; it must be 0 or more")]
    Spare {
        /// The spare given, metres.
        value_m: f64,
    },
    /// A length is not a positive number.
    #[error("length {number} is {value_m} m; it must be above 0")]
    Length {
        /// Which length, from 1.
        number: usize,
        /// The length given, metres.
        value_m: f64,
    },
    /// A cut is longer than a spool.
    #[error(
        "length {number} needs {needed_m:.2} m with its spare, and a spool holds {spool_m:.2} m: \
         order a longer spool or put a joint in this run"
    )]
    TooLong {
        /// Which length, from 1.
        number: usize,
        /// Metres needed, spare included.
        needed_m: f64,
        /// Metres on a spool.
        spool_m: f64,
    },
}

/// Works out the cut list for `lengths_m` from spools of `spool_m`, with `spare_m` added to every cut, metres.
///
/// # Errors
/// [`SpoolError`] for a length that is not positive or does not fit on a spool.
pub fn cut_list(lengths_m: &[f64], spool_m: f64, spare_m: f64) -> Result<CutList, SpoolError> {
    if !(spool_m.is_finite() && spool_m > 0.0) {
        return Err(SpoolError::Spool { value_m: spool_m });
    }
    if !(spare_m.is_finite() && spare_m >= 0.0) {
        return Err(SpoolError::Spare { value_m: spare_m });
    }
    let capacity = (spool_m * 1000.0 + 1e-6).floor() as u64;
    let mut sizes = Vec::with_capacity(lengths_m.len());
    for (i, &value_m) in lengths_m.iter().enumerate() {
        if !(value_m.is_finite() && value_m > 0.0) {
            return Err(SpoolError::Length { number: i + 1, value_m });
        }
        let size = ((value_m + spare_m) * 1000.0 - 1e-6).ceil() as u64;
        if size > capacity {
            return Err(SpoolError::TooLong { number: i + 1, needed_m: value_m + spare_m, spool_m });
        }
        sizes.push(size);
    }
    let lower = lower_bound(&sizes, capacity);
    let exact = sizes.len() <= EXACT_CUTS;
    let mut bins = if exact { exact_packing(&sizes, capacity) } else { packing(&sizes, capacity, lower) };
    let load = |bin: &[usize]| bin.iter().map(|&i| sizes[i]).sum::<u64>();
    for bin in &mut bins {
        bin.sort_by_key(|&i| (std::cmp::Reverse(sizes[i]), i));
    }
    bins.sort_by_key(|b| (std::cmp::Reverse(load(b)), b.first().copied()));
    let left = |bin: &[usize]| (capacity - load(bin)) as f64 / 1000.0;
    Ok(CutList {
        leftover_m: bins.iter().map(|b| left(b)).sum(),
        longest_leftover_m: bins.iter().map(|b| left(b)).fold(0.0, f64::max),
        cut_m: lengths_m.iter().map(|l| l + spare_m).collect(),
        lower_bound_spools: if exact { bins.len() } else { lower },
        fewest_proven: exact || bins.len() == lower,
        cuts: bins,
    })
}

/// Martello and Toth's L2: for each threshold, cuts too long to share a spool take one each, and what the
/// short ones need beyond the room those leave takes more.
fn lower_bound(sizes: &[u64], capacity: u64) -> usize {
    let mut best = usize::from(!sizes.is_empty());
    let thresholds = std::iter::once(0).chain(sizes.iter().copied().filter(|&s| 2 * s <= capacity));
    for k in thresholds {
        let large: Vec<u64> = sizes.iter().copied().filter(|&s| s > capacity - k).collect();
        let middle: Vec<u64> =
            sizes.iter().copied().filter(|&s| s <= capacity - k && 2 * s > capacity).collect();
        let small: u64 = sizes.iter().copied().filter(|&s| 2 * s <= capacity && s >= k).sum();
        let room: u64 = middle.iter().map(|s| capacity - s).sum();
        let more = small.saturating_sub(room).div_ceil(capacity) as usize;
        best = best.max(large.len() + middle.len() + more);
    }
    best
}

/// Least (spools, metres on the last spool) over every subset; exact.
fn exact_packing(sizes: &[u64], capacity: u64) -> Vec<Vec<usize>> {
    let n = sizes.len();
    if n == 0 {
        return Vec::new();
    }
    let mut best: Vec<(u32, u64, u8)> = vec![(u32::MAX, 0, 0); 1 << n];
    best[0] = (0, capacity, 0); // a full spool number 0: the first cut opens spool 1
    for set in 0..best.len() {
        let (spools, last, _) = best[set];
        for (i, &size) in sizes.iter().enumerate() {
            if set >> i & 1 == 1 {
                continue;
            }
            let next = if last + size <= capacity {
                (spools, last + size, i as u8)
            } else {
                (spools + 1, size, i as u8)
            };
            let entry = &mut best[set | 1 << i];
            if (next.0, next.1) < (entry.0, entry.1) {
                *entry = next;
            }
        }
    }
    let mut set = best.len() - 1;
    let mut bins: Vec<Vec<usize>> = vec![Vec::new(); best[set].0 as usize];
    while set != 0 {
        let (spool, _, cut) = best[set];
        bins[spool as usize - 1].push(cut as usize);
        set &= !(1 << cut);
    }
    bins
}

/// The better of best-fit decreasing and minimum-slack filling, by spools and then by the longest piece left.
fn packing(sizes: &[u64], capacity: u64, lower: usize) -> Vec<Vec<usize>> {
    let mut order: Vec<usize> = (0..sizes.len()).collect();
    order.sort_by_key(|&i| (std::cmp::Reverse(sizes[i]), i));
    let rank = |bins: &[Vec<usize>]| {
        let least = bins.iter().map(|b| b.iter().map(|&i| sizes[i]).sum::<u64>()).min().unwrap_or(0);
        (bins.len(), least)
    };
    let mut best = best_fit(sizes, capacity, &order);
    let candidates =
        [minimum_slack(sizes, capacity, &order, false), minimum_slack(sizes, capacity, &order, true)];
    for bins in candidates {
        if rank(&bins) < rank(&best) {
            best = bins;
        }
    }
    if best.len() > lower
        && let Some(bins) = squeeze(sizes, capacity, &best)
    {
        best = bins;
    }
    gather(sizes, capacity, &mut best);
    best
}

fn best_fit(sizes: &[u64], capacity: u64, order: &[usize]) -> Vec<Vec<usize>> {
    let mut bins: Vec<(u64, Vec<usize>)> = Vec::new();
    for &i in order {
        let fit = bins.iter_mut().filter(|b| b.0 + sizes[i] <= capacity).max_by_key(|b| b.0);
        match fit {
            Some(bin) => {
                bin.0 += sizes[i];
                bin.1.push(i);
            }
            None => bins.push((sizes[i], vec![i])),
        }
    }
    bins.into_iter().map(|b| b.1).collect()
}

/// Fills spool after spool with the subset of what is left that wastes least; `lead` makes every spool start
/// with the longest cut left.
fn minimum_slack(sizes: &[u64], capacity: u64, order: &[usize], lead: bool) -> Vec<Vec<usize>> {
    let mut left = order.to_vec();
    let mut bins = Vec::new();
    while !left.is_empty() {
        let mut fixed = Vec::new();
        let mut room = capacity;
        let pool = if lead {
            fixed.push(left[0]);
            room -= sizes[left[0]];
            &left[1..]
        } else {
            &left[..]
        };
        let mut search = Filling { sizes, pool, best: Vec::new(), best_slack: room + 1, steps: FILL_STEPS };
        search.go(0, room, &mut Vec::new());
        fixed.extend(search.best);
        left.retain(|i| !fixed.contains(i));
        bins.push(fixed);
    }
    bins
}

struct Filling<'a> {
    sizes: &'a [u64],
    pool: &'a [usize],
    best: Vec<usize>,
    best_slack: u64,
    steps: u32,
}

impl Filling<'_> {
    fn go(&mut self, from: usize, room: u64, chosen: &mut Vec<usize>) {
        if room < self.best_slack {
            self.best_slack = room;
            self.best.clone_from(chosen);
        }
        let mut last = u64::MAX;
        for at in from..self.pool.len() {
            let size = self.sizes[self.pool[at]];
            if self.best_slack == 0 || self.steps == 0 {
                return;
            }
            if size > room || size == last {
                continue; // equal cuts give equal fills
            }
            last = size;
            self.steps -= 1;
            chosen.push(self.pool[at]);
            self.go(at + 1, room - size, chosen);
            chosen.pop();
        }
    }
}

/// Tries to do with one spool fewer: empties each spool in turn into the others by moves and one-for-one
/// swaps that make room.
fn squeeze(sizes: &[u64], capacity: u64, bins: &[Vec<usize>]) -> Option<Vec<Vec<usize>>> {
    for victim in 0..bins.len() {
        let mut rest: Vec<Vec<usize>> = bins.to_vec();
        let mut homeless = rest.remove(victim);
        homeless.sort_by_key(|&i| (std::cmp::Reverse(sizes[i]), i));
        let mut loads: Vec<u64> = rest.iter().map(|b| b.iter().map(|&i| sizes[i]).sum()).collect();
        let mut steps = 200 * sizes.len();
        while let Some(i) = homeless.pop() {
            if let Some(b) =
                (0..rest.len()).filter(|&b| loads[b] + sizes[i] <= capacity).max_by_key(|&b| loads[b])
            {
                rest[b].push(i);
                loads[b] += sizes[i];
                continue;
            }
            // Put it in place of the smallest-step shorter cut whose spool then still closes.
            let swap = (0..rest.len())
                .flat_map(|b| (0..rest[b].len()).map(move |k| (b, k)))
                .filter(|&(b, k)| {
                    let out = sizes[rest[b][k]];
                    out < sizes[i] && loads[b] + sizes[i] - out <= capacity
                })
                .min_by_key(|&(b, k)| (capacity - (loads[b] + sizes[i] - sizes[rest[b][k]]), b, k));
            let (Some((b, k)), true) = (swap, steps > 0) else {
                homeless.push(i);
                break;
            };
            steps -= 1;
            let out = std::mem::replace(&mut rest[b][k], i);
            loads[b] = loads[b] + sizes[i] - sizes[out];
            homeless.push(out);
        }
        if homeless.is_empty() {
            return Some(rest);
        }
    }
    None
}

/// Moves cuts off the emptiest spool wherever they still fit, so that the left-over is one long piece.
fn gather(sizes: &[u64], capacity: u64, bins: &mut [Vec<usize>]) {
    let load = |bin: &Vec<usize>| bin.iter().map(|&i| sizes[i]).sum::<u64>();
    let Some(emptiest) = (0..bins.len()).min_by_key(|&b| (load(&bins[b]), b)) else { return };
    let mut cuts = std::mem::take(&mut bins[emptiest]);
    cuts.sort_by_key(|&i| (std::cmp::Reverse(sizes[i]), i));
    for i in cuts {
        let room = (0..bins.len())
            .filter(|&b| b != emptiest && load(&bins[b]) + sizes[i] <= capacity)
            .max_by_key(|&b| load(&bins[b]));
        bins[room.unwrap_or(emptiest)].push(i);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Fewest spools by trying every assignment: independent of the methods above.
    fn fewest_by_trying(sizes: &[f64], spool: f64, used: &mut Vec<f64>, i: usize, best: &mut usize) {
        if used.len() >= *best {
            return;
        }
        if i == sizes.len() {
            *best = used.len();
            return;
        }
        for b in 0..used.len() {
            if used[b] + sizes[i] <= spool + 1e-9 {
                used[b] += sizes[i];
                fewest_by_trying(sizes, spool, used, i + 1, best);
                used[b] -= sizes[i];
            }
        }
        used.push(sizes[i]);
        fewest_by_trying(sizes, spool, used, i + 1, best);
        used.pop();
    }

    fn check_is_a_packing(list: &CutList, lengths: &[f64], spool: f64) {
        let mut seen: Vec<usize> = list.cuts.iter().flatten().copied().collect();
        seen.sort_unstable();
        assert_eq!(seen, (0..lengths.len()).collect::<Vec<_>>());
        for bin in &list.cuts {
            assert!(bin.iter().map(|&i| list.cut_m[i]).sum::<f64>() <= spool + 1e-9);
        }
        let cut: f64 = list.cut_m.iter().sum();
        assert!(
            (list.leftover_m - (spool * list.spools() as f64 - cut)).abs() < 0.002 * lengths.len() as f64
        );
    }

    proptest::proptest! {
        #[test]
        fn small_lists_use_the_fewest_spools(sizes in proptest::collection::vec(1u32..100, 1..9)) {
            let lengths: Vec<f64> = sizes.iter().map(|&s| f64::from(s)).collect();
            let mut best = usize::MAX;
            fewest_by_trying(&lengths, 100.0, &mut Vec::new(), 0, &mut best);
            let list = cut_list(&lengths, 100.0, 0.0).unwrap();
            check_is_a_packing(&list, &lengths, 100.0);
            proptest::prop_assert_eq!(list.spools(), best);
            let mm: Vec<u64> = sizes.iter().map(|&s| u64::from(s) * 1000).collect();
            proptest::prop_assert!(lower_bound(&mm, 100_000) <= best);
        }

        #[test]
        fn long_lists_stay_within_the_bound(sizes in proptest::collection::vec(50u32..900, 19..70)) {
            let lengths: Vec<f64> = sizes.iter().map(|&s| f64::from(s) / 10.0).collect();
            let list = cut_list(&lengths, 100.0, 0.5).unwrap();
            check_is_a_packing(&list, &lengths, 100.0);
            proptest::prop_assert!(list.spools() >= list.lower_bound_spools);
            proptest::prop_assert!(list.spools() <= list.lower_bound_spools + 1);
        }
    }

    #[test]
    fn the_left_over_is_gathered_on_one_spool() {
        // Two spools either way; 60 + 40 leaves one of them with 70 m in one piece.
        let list = cut_list(&[60.0, 40.0, 30.0], 100.0, 0.0).unwrap();
        assert_eq!(list.cuts, vec![vec![0, 1], vec![2]]);
        assert_eq!(list.longest_leftover_m, 70.0);
        assert!(list.fewest_proven);
    }

    #[test]
    fn a_cut_longer_than_a_spool_is_named() {
        let e = cut_list(&[10.0, 99.8], 100.0, 0.5).unwrap_err();
        assert_eq!(
            e.to_string(),
            "length 2 needs 100.30 m with its spare, and a spool holds 100.00 m: order a longer spool or put a joint in this run"
        );
        assert_eq!(cut_list(&[], 100.0, 0.0).unwrap().spools(), 0);
        assert!(cut_list(&[1.0], 0.0, 0.0).is_err());
    }
}
