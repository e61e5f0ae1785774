//! The cut list: which lengths to cut from which spool.
//!
//! One-dimensional cutting stock with one or several spool lengths: least cable ordered; among those lists the fewest
//! spools, and then the left-over gathered on one spool as far as possible, so that what remains is one long usable
//! piece and not many short ends.
//! - Up to [`EXACT_CUTS`] cuts ([`EXACT_CUTS_MIXED`] where there are several spool lengths): exact on all three counts,
//!   by dynamic programming over sets of cuts.
//! - More: best-fit decreasing and minimum-slack filling (Gupta and Ho 1999), improved by packing pairs and triples of
//!   spools anew, exactly; the answer carries a lower bound (Fekete and Schepers 2001), so that what is ordered less
//!   `least_ordered_m` is a proven limit on how far it can be from the least.
//!
//! Lengths are rounded up to whole millimetres, spools down.

mod bound;
mod pack;
mod sizes;

use loamline_limits::{EXACT_CUTS, EXACT_CUTS_MIXED};
use serde::{Deserialize, Serialize};
use sizes::Sizes;
use thiserror::Error;

/// What is cut from one spool.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SpoolCuts {
    /// Length of the spool, metres.
    pub spool_m: f64,
    /// Its cuts as indices into the lengths given; longest first.
    pub cuts: Vec<usize>,
    /// Metres left on it.
    pub left_m: f64,
}

/// A cut list.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CutList {
    /// The spools to open; longest spool first, fullest first among those of one length.
    pub spools: Vec<SpoolCuts>,
    /// Metres to cut, in the order of the lengths given (with the spare).
    pub cut_m: Vec<f64>,
    /// Metres on all spools opened, together.
    pub ordered_m: f64,
    /// No cut list can do with less cable ordered than this, metres.
    pub least_ordered_m: f64,
    /// Metres left on all spools opened, together.
    pub leftover_m: f64,
    /// Metres left on the spool with most left: the piece worth keeping.
    pub longest_leftover_m: f64,
    /// Whether the list is proven to order the least cable.
    pub least_proven: bool,
}

impl CutList {
    /// How many spools of each length, longest first: (metres, spools).
    pub fn to_order(&self) -> Vec<(f64, usize)> {
        let mut counts: Vec<(f64, usize)> = Vec::new();
        for spool in &self.spools {
            match counts.last_mut() {
                Some((length_m, count)) if *length_m == spool.spool_m => *count += 1,
                _ => counts.push((spool.spool_m, 1)),
            }
        }
        counts
    }
}

/// Why there is no cut list.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SpoolError {
    /// No spool length is given.
    #[error("no spool length is given; at least one is needed")]
    NoSpool,
    /// A spool's length is not a positive number.
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
    /// A cut is longer than the longest spool.
    #[error(
        "length {number} needs {needed_m:.2} m with its spare, and a spool holds {spool_m:.2} m: \
         order a longer spool or put a joint in this run"
    )]
    TooLong {
        /// Which length, from 1.
        number: usize,
        /// Metres needed, spare included.
        needed_m: f64,
        /// Metres on the longest spool.
        spool_m: f64,
    },
}

/// Works out the cut list for `lengths_m` from spools of the lengths `spools_m`, as many of each as it takes, with
/// `spare_m` added to every cut, metres.
///
/// # Errors
/// [`SpoolError`] for a length that is not positive or does not fit on the longest spool.
pub fn cut_list(lengths_m: &[f64], spools_m: &[f64], spare_m: f64) -> Result<CutList, SpoolError> {
    if let Some(&value_m) = spools_m.iter().find(|s| !(s.is_finite() && **s > 0.0)) {
        return Err(SpoolError::Spool { value_m });
    }
    if !(spare_m.is_finite() && spare_m >= 0.0) {
        return Err(SpoolError::Spare { value_m: spare_m });
    }
    let longest_m = spools_m.iter().copied().reduce(f64::max).ok_or(SpoolError::NoSpool)?;
    let mut spools: Vec<(u64, f64)> =
        spools_m.iter().map(|&s| ((s * 1000.0 + 1e-6).floor() as u64, s)).collect();
    spools.sort_by_key(|s| s.0);
    spools.dedup_by_key(|s| s.0);
    let capacities: Vec<u64> = spools.iter().map(|s| s.0).collect();
    let mut sizes = Vec::with_capacity(lengths_m.len());
    for (i, &value_m) in lengths_m.iter().enumerate() {
        if !(value_m.is_finite() && value_m > 0.0) {
            return Err(SpoolError::Length { number: i + 1, value_m });
        }
        let size = ((value_m + spare_m) * 1000.0 - 1e-6).ceil() as u64;
        if capacities.last().is_none_or(|&c| size > c) {
            return Err(SpoolError::TooLong {
                number: i + 1,
                needed_m: value_m + spare_m,
                spool_m: longest_m,
            });
        }
        sizes.push(size);
    }
    let given = Sizes { sizes: &sizes, capacities: &capacities };
    let bound = least_ordered(&given);
    let most = if capacities.len() == 1 { &EXACT_CUTS } else { &EXACT_CUTS_MIXED };
    let exact = most.check(sizes.len()).is_ok();
    let mut filled = if exact {
        pack::exact(&given, &(0..sizes.len()).collect::<Vec<_>>())
    } else {
        pack::search(&given, bound)
    };
    for s in &mut filled {
        s.cuts.sort_by_key(|&i| (std::cmp::Reverse(sizes[i]), i));
    }
    filled
        .sort_by_key(|s| (std::cmp::Reverse(s.capacity), std::cmp::Reverse(s.load), s.cuts.first().copied()));
    let ordered: u64 = filled.iter().map(|s| s.capacity).sum();
    let metres = |mm: u64| mm as f64 / 1000.0;
    let length_of = |capacity: u64| spools.iter().find(|s| s.0 == capacity).map_or(metres(capacity), |s| s.1);
    let cut_m: Vec<f64> = lengths_m.iter().map(|l| l + spare_m).collect();
    let spools: Vec<SpoolCuts> = filled
        .into_iter()
        .map(|s| {
            let spool_m = length_of(s.capacity);
            let cut: f64 = s.cuts.iter().map(|&i| cut_m[i]).sum();
            SpoolCuts { spool_m, left_m: (spool_m - cut).max(0.0), cuts: s.cuts }
        })
        .collect();
    Ok(CutList {
        cut_m,
        ordered_m: spools.iter().map(|s| s.spool_m).sum(),
        least_ordered_m: metres(if exact { ordered } else { bound }),
        leftover_m: spools.iter().map(|s| s.left_m).sum(),
        longest_leftover_m: spools.iter().map(|s| s.left_m).fold(0.0, f64::max),
        least_proven: exact || ordered == bound,
        spools,
    })
}

/// Least that can be ordered, millimetres: the cuts need so much cable, in whole spools, and so many spools.
fn least_ordered(given: &Sizes<'_>) -> u64 {
    let total = given.sizes.iter().sum();
    let (Some(&shortest), Some(&longest)) = (given.capacities.first(), given.capacities.last()) else {
        return 0;
    };
    let spools = bound::fewest_spools(given.sizes, longest) as u64;
    bound::least_covering(total, given.capacities).max(spools * shortest)
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_chance::Draws;

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

    fn check_is_a_packing(list: &CutList, lengths: &[f64]) {
        let mut seen: Vec<usize> = list.spools.iter().flat_map(|s| s.cuts.clone()).collect();
        seen.sort_unstable();
        assert_eq!(seen, (0..lengths.len()).collect::<Vec<_>>());
        for spool in &list.spools {
            let load: f64 = spool.cuts.iter().map(|&i| list.cut_m[i]).sum();
            assert!(load <= spool.spool_m + 1e-9 && !spool.cuts.is_empty());
            assert!((load + spool.left_m - spool.spool_m).abs() < 1e-6);
        }
        let ordered: f64 = list.spools.iter().map(|s| s.spool_m).sum();
        assert!((list.ordered_m - ordered).abs() < 1e-6);
        assert!(list.least_ordered_m <= list.ordered_m + 1e-3);
        assert_eq!(list.to_order().iter().map(|o| o.1).sum::<usize>(), list.spools.len());
    }

    /// Least cable ordered by trying every assignment and every spool length: independent of the methods above.
    fn least_by_trying(sizes: &[f64], spools: &[f64], used: &mut Vec<f64>, i: usize) -> f64 {
        if i == sizes.len() {
            let shortest = |load: &f64| spools.iter().copied().filter(|s| s >= load).reduce(f64::min);
            return used.iter().map(|load| shortest(load).unwrap_or(f64::INFINITY)).sum();
        }
        let mut best = f64::INFINITY;
        for b in 0..=used.len() {
            if b == used.len() {
                used.push(0.0);
            }
            used[b] += sizes[i];
            best = best.min(least_by_trying(sizes, spools, used, i + 1));
            used[b] -= sizes[i];
            if used[b].abs() < 1e-9 {
                used.pop();
            }
        }
        best
    }

    proptest::proptest! {
        #[test]
        fn short_lists_use_the_fewest_spools(sizes in proptest::collection::vec(1u32..100, 1..9)) {
            let lengths: Vec<f64> = sizes.iter().map(|&s| f64::from(s)).collect();
            let mut best = usize::MAX;
            fewest_by_trying(&lengths, 100.0, &mut Vec::new(), 0, &mut best);
            let list = cut_list(&lengths, &[100.0], 0.0).unwrap();
            check_is_a_packing(&list, &lengths);
            proptest::prop_assert_eq!(list.spools.len(), best);
            let mm: Vec<u64> = sizes.iter().map(|&s| u64::from(s) * 1000).collect();
            proptest::prop_assert!(bound::fewest_spools(&mm, 100_000) <= best);
        }

        #[test]
        fn short_lists_from_several_spool_lengths_order_the_least(
            sizes in proptest::collection::vec(1u32..100, 1..7),
        ) {
            let lengths: Vec<f64> = sizes.iter().map(|&s| f64::from(s)).collect();
            let spools = [45.0, 100.0, 160.0];
            let least = least_by_trying(&lengths, &spools, &mut Vec::new(), 0);
            let list = cut_list(&lengths, &spools, 0.0).unwrap();
            check_is_a_packing(&list, &lengths);
            proptest::prop_assert!((list.ordered_m - least).abs() < 1e-6, "{} {least}", list.ordered_m);
            let mm: Vec<u64> = sizes.iter().map(|&s| u64::from(s) * 1000).collect();
            let given = Sizes { sizes: &mm, capacities: &[45_000, 100_000, 160_000] };
            proptest::prop_assert!(least_ordered(&given) as f64 / 1000.0 <= least + 1e-9);
        }

        /// How near the bound a search comes is a measurement, not a theorem: it is taken over many lists in
        /// `long_lists_come_near_the_bound`. This must hold for each.
        #[test]
        fn long_lists_are_cut_whole_and_never_below_the_bound(
            sizes in proptest::collection::vec(50u32..900, 19..70),
        ) {
            let lengths: Vec<f64> = sizes.iter().map(|&s| f64::from(s) / 10.0).collect();
            let one = cut_list(&lengths, &[100.0], 0.5).unwrap();
            check_is_a_packing(&one, &lengths);
            let mixed = cut_list(&lengths, &[100.0, 250.0], 0.5).unwrap();
            check_is_a_packing(&mixed, &lengths);
            let two_hundred_and_fifty = cut_list(&lengths, &[250.0], 0.5).unwrap();
            proptest::prop_assert!(mixed.ordered_m <= two_hundred_and_fifty.ordered_m.min(one.ordered_m) + 1e-9);
        }
    }

    #[test]
    fn long_lists_come_near_the_bound() {
        // Lists of 20 to 69 cuts of 5 to 90 m from 100 m: how many spools more than the bound, on 300 of them.
        let mut draws = Draws::new(1);
        let (mut proven, mut over) = (0, 0);
        for _ in 0..300 {
            let lengths: Vec<f64> =
                (0..20 + draws.below(50)).map(|_| 5.0 + draws.below(850) as f64 / 10.0).collect();
            let list = cut_list(&lengths, &[100.0], 0.5).unwrap();
            proven += usize::from(list.least_proven);
            over += usize::from(list.ordered_m > list.least_ordered_m + 100.0 + 1e-6);
        }
        assert!(proven >= 270 && over == 0, "{proven} of 300 proven, {over} more than one spool over");
    }

    #[test]
    fn a_short_spool_is_ordered_where_a_long_one_is_too_much() {
        // 390 m: four spools of 100 m would do, but 305 m and 100 m are fewer spools for as little cable.
        let list = cut_list(&[90.0, 95.0, 60.0, 60.0, 85.0], &[100.0, 305.0], 0.0).unwrap();
        assert_eq!((list.ordered_m, list.to_order()), (405.0, vec![(305.0, 1), (100.0, 1)]));
        let small = cut_list(&[20.0, 30.0], &[305.0, 100.0], 0.0).unwrap();
        assert_eq!(small.to_order(), vec![(100.0, 1)]);
    }

    #[test]
    fn the_left_over_is_gathered_on_one_spool() {
        // Two spools either way; 60 + 40 leaves one of them with 70 m in one piece.
        let list = cut_list(&[60.0, 40.0, 30.0], &[100.0], 0.0).unwrap();
        let cuts: Vec<&[usize]> = list.spools.iter().map(|s| s.cuts.as_slice()).collect();
        assert_eq!(cuts, [&[0, 1][..], &[2]]);
        assert_eq!(list.longest_leftover_m, 70.0);
        assert!(list.least_proven);
    }

    #[test]
    fn a_cut_longer_than_a_spool_is_named() {
        let e = cut_list(&[10.0, 99.8], &[50.0, 100.0], 0.5).unwrap_err();
        assert_eq!(
            e.to_string(),
            "length 2 needs 100.30 m with its spare, and a spool holds 100.00 m: order a longer spool or put a joint in this run"
        );
        assert_eq!(cut_list(&[], &[100.0], 0.0).unwrap().spools.len(), 0);
        assert!(cut_list(&[1.0], &[0.0], 0.0).is_err());
        assert_eq!(cut_list(&[1.0], &[], 0.0).unwrap_err(), SpoolError::NoSpool);
    }
}
