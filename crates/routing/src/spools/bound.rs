//! Lower bounds: what no cut list can do with less.

use loamline_limits::{COVERING_LENGTHS, go_on};

/// Dual feasible functions tried: shares of a spool from a half down to a twentieth.
const SHARES: u64 = 20;

/// Fewest spools of `capacity` that can hold the cuts.
///
/// The greatest of the bounds from the dual feasible functions u(k) after U(e) of Fekete and Schepers (2001): cuts
/// longer than `capacity - e` take a whole spool and those shorter than `e` nothing; of the others as many k-ths of a
/// spool count as are surely used up. Plain sums and Martello and Toth's L2 (1990) are among them.
pub(super) fn fewest_spools(sizes: &[u64], capacity: u64) -> usize {
    let thresholds = std::iter::once(0).chain(sizes.iter().copied().filter(|&s| 2 * s <= capacity));
    let mut best = 0;
    for e in thresholds {
        go_on();
        let kept = sizes.iter().filter(|&&s| s >= e);
        let raised: Vec<u64> = kept.map(|&s| if s > capacity - e { capacity } else { s }).collect();
        best = best.max(raised.iter().sum::<u64>().div_ceil(capacity));
        for k in 1..=SHARES {
            let used = |s: u64| match (k + 1) * s {
                share if share % capacity == 0 => k * s,
                share => share / capacity * capacity,
            };
            best = best.max(raised.iter().map(|&s| used(s)).sum::<u64>().div_ceil(k * capacity));
        }
    }
    best as usize
}

/// Least length of spools, of the `capacities` there are, that adds up to `total` or more.
pub(super) fn least_covering(total: u64, capacities: &[u64]) -> u64 {
    let step = capacities.iter().copied().fold(0, common_divisor).max(1);
    let steps = total.div_ceil(step);
    if steps > COVERING_LENGTHS.number {
        return total;
    }
    // Whether a length can be put together of whole spools, for every length up to one spool beyond the total.
    let longest = capacities.iter().max().copied().unwrap_or(1) / step;
    let mut possible = vec![false; (steps + longest) as usize + 1];
    possible[0] = true;
    for length in 0..possible.len() {
        if possible[length] {
            if length as u64 >= steps {
                return length as u64 * step;
            }
            for c in capacities {
                if let Some(next) = possible.get_mut(length + (c / step) as usize) {
                    *next = true;
                }
            }
        }
    }
    total
}

fn common_divisor(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { common_divisor(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thirds_and_halves_count_whole() {
        // Two of 341 fit on 1000, never three: seven need four spools, where their sum asks for three.
        assert_eq!(fewest_spools(&[341; 7], 1000), 4);
        // Two halves fit exactly.
        assert_eq!(fewest_spools(&[500; 6], 1000), 3);
        assert_eq!(fewest_spools(&[501; 6], 1000), 6);
        assert_eq!(fewest_spools(&[], 1000), 0);
    }

    #[test]
    fn lengths_are_covered_by_whole_spools() {
        assert_eq!(least_covering(390, &[305, 100]), 400);
        assert_eq!(least_covering(405, &[305, 100]), 405);
        assert_eq!(least_covering(406, &[305, 100]), 500);
        assert_eq!(least_covering(0, &[305]), 0);
    }
}
