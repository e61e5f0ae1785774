//! The packing itself: exact for short lists, filling and improving for long ones.

use super::sizes::Sizes;
use loamline_limits::go_on;
use std::cmp::Reverse;

/// One spool: which of the spool lengths, and the cuts on it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Filled {
    pub capacity: u64,
    pub load: u64,
    pub cuts: Vec<usize>,
}

/// Better first: less cable ordered, fewer spools, a longer piece left.
type Rank = (u64, usize, Reverse<u64>);

fn rank(spools: &[Filled]) -> Rank {
    let left = spools.iter().map(|s| s.capacity - s.load).max().unwrap_or(0);
    (spools.iter().map(|s| s.capacity).sum(), spools.len(), Reverse(left))
}

/// Steps spent filling one spool with the least slack; more finds better fills of long lists, slower.
const FILL_STEPS: u32 = 20_000;

/// Cuts that are packed anew, and exactly, when spools are emptied together to be filled better.
const TOGETHER: usize = 10;

/// Groups of spools tried before the improving ends.
const GROUPS: usize = 2_000;

/// Least cable ordered, then fewest spools, then the longest piece left, over all ways there are.
pub(super) fn exact(given: &Sizes<'_>, cuts: &[usize]) -> Vec<Filled> {
    match given.capacities {
        [capacity] => exact_one_length(given.sizes, *capacity, cuts),
        _ => exact_lengths(given, cuts),
    }
}

/// One spool length: for every set of cuts the least (spools, metres on the last spool), after Held and Karp (1962).
/// Time doubles with each cut.
fn exact_one_length(sizes: &[u64], capacity: u64, cuts: &[usize]) -> Vec<Filled> {
    let n = cuts.len();
    let mut best: Vec<(usize, u64, u8)> = vec![(usize::MAX, 0, 0); 1 << n];
    best[0] = (0, capacity, 0); // a full spool number 0: the first cut opens spool 1
    for set in 0..best.len() {
        let (spools, last, _) = best[set];
        for (i, &cut) in cuts.iter().enumerate().filter(|(i, _)| set >> i & 1 == 0) {
            let fits = last + sizes[cut] <= capacity;
            let next = if fits { (spools, last + sizes[cut]) } else { (spools + 1, sizes[cut]) };
            let entry = &mut best[set | 1 << i];
            if next < (entry.0, entry.1) {
                *entry = (next.0, next.1, i as u8);
            }
        }
    }
    let mut set = best.len() - 1;
    let mut filled = vec![Filled { capacity, load: 0, cuts: Vec::new() }; best[set].0];
    while set != 0 {
        let (spool, _, i) = best[set];
        let cut = cuts[usize::from(i)];
        filled[spool - 1].load += sizes[cut];
        filled[spool - 1].cuts.push(cut);
        set &= !(1 << i);
    }
    filled
}

/// Several spool lengths: the spool that holds the first cut of a set holds some subset of it. Time grows threefold with
/// each cut.
fn exact_lengths(given: &Sizes<'_>, cuts: &[usize]) -> Vec<Filled> {
    let n = cuts.len();
    let all = 1usize << n;
    let mut load = vec![0u64; all];
    for set in 1..all {
        let first = set.trailing_zeros() as usize;
        load[set] = load[set & (set - 1)] + given.sizes[cuts[first]];
    }
    let spool: Vec<Option<u64>> = load.iter().map(|&l| given.shortest_for(l)).collect();
    let mut best: Vec<(Rank, usize)> = vec![((u64::MAX, 0, Reverse(0)), 0); all];
    best[0].0 = (0, 0, Reverse(0));
    for set in 1..all {
        let lowest = set & set.wrapping_neg();
        let rest = set ^ lowest;
        // Every subset of the rest goes with the first cut.
        let mut others = rest;
        loop {
            let on_it = others | lowest;
            if let Some(capacity) = spool[on_it] {
                let (metres, spools, Reverse(left)) = best[set ^ on_it].0;
                let left = Reverse(left.max(capacity - load[on_it]));
                let found = (metres + capacity, spools + 1, left);
                if found < best[set].0 {
                    best[set] = (found, on_it);
                }
            }
            if others == 0 {
                break;
            }
            others = (others - 1) & rest;
        }
    }
    let mut set = all - 1;
    let mut filled = Vec::new();
    while set != 0 {
        let on_it = best[set].1;
        let capacity = spool[on_it].unwrap_or(0);
        let cuts = (0..n).filter(|i| on_it >> i & 1 == 1).map(|i| cuts[i]).collect();
        filled.push(Filled { capacity, load: load[on_it], cuts });
        set ^= on_it;
    }
    filled
}

/// Long lists: several ways of filling, the best of them improved by packing two or three spools anew, exactly, as long
/// as that helps.
pub(super) fn search(given: &Sizes<'_>, enough: u64) -> Vec<Filled> {
    let mut order: Vec<usize> = (0..given.sizes.len()).collect();
    order.sort_by_key(|&i| (Reverse(given.sizes[i]), i));
    let mut starts: Vec<Vec<Filled>> = Vec::new();
    for &most in given.capacities {
        starts.push(best_fit(given, &order, most));
        starts.extend([true, false].map(|lead| minimum_slack(given, &order, most, lead)));
        let one = Sizes { sizes: given.sizes, capacities: &[most] };
        if given.capacities.len() > 1 && given.sizes.iter().all(|&s| s <= most) {
            // What one length alone can do, so that a choice of lengths never does worse.
            starts.push(shortened(given, search(&one, 0)));
        }
    }
    let mut best = Vec::new();
    for start in starts {
        let improved = improve(given, start, enough);
        if best.is_empty() || rank(&improved) < rank(&best) {
            best = improved;
        }
    }
    best
}

/// Spools of the length `most` where a cut fits on it, else of the shortest length it fits; shortened in the end to what
/// is on them.
fn best_fit(given: &Sizes<'_>, order: &[usize], most: u64) -> Vec<Filled> {
    let mut spools: Vec<Filled> = Vec::new();
    for &i in order {
        go_on();
        let size = given.sizes[i];
        let fit = spools.iter_mut().filter(|s| s.load + size <= s.capacity).max_by_key(|s| s.load);
        match fit {
            Some(spool) => {
                spool.load += size;
                spool.cuts.push(i);
            }
            None => {
                let capacity = if size <= most { most } else { given.shortest_for(size).unwrap_or(size) };
                spools.push(Filled { capacity, load: size, cuts: vec![i] });
            }
        }
    }
    shortened(given, spools)
}

/// Fills spool after spool with the subset of what is left that wastes least; `lead` makes every spool start
/// with the longest cut left.
fn minimum_slack(given: &Sizes<'_>, order: &[usize], most: u64, lead: bool) -> Vec<Filled> {
    let mut left = order.to_vec();
    let mut spools = Vec::new();
    while let Some(&longest) = left.first() {
        go_on();
        let size = given.sizes[longest];
        let capacity = if size <= most { most } else { given.shortest_for(size).unwrap_or(size) };
        let mut cuts = Vec::new();
        let mut room = capacity;
        // A cut that is longer than the usual spool leads in any case: the longer spool is taken for its sake.
        let pool = if lead || size > most {
            cuts.push(longest);
            room -= size;
            &left[1..]
        } else {
            &left[..]
        };
        let mut search =
            Filling { sizes: given.sizes, pool, best: Vec::new(), best_slack: room + 1, steps: FILL_STEPS };
        search.go(0, room, &mut Vec::new());
        cuts.extend(search.best);
        left.retain(|i| !cuts.contains(i));
        let load = cuts.iter().map(|&i| given.sizes[i]).sum();
        spools.push(Filled { capacity, load, cuts });
    }
    shortened(given, spools)
}

fn shortened(given: &Sizes<'_>, mut spools: Vec<Filled>) -> Vec<Filled> {
    for s in &mut spools {
        s.capacity = given.shortest_for(s.load).unwrap_or(s.capacity);
    }
    spools
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

/// Packs pairs and triples of spools anew, exactly, until none gets better or `GROUPS` have been tried.
fn improve(given: &Sizes<'_>, mut spools: Vec<Filled>, enough: u64) -> Vec<Filled> {
    let mut tried = 0;
    'again: while tried < GROUPS {
        // The emptiest first: there is most to gain.
        spools.sort_by_key(|s| (Reverse(s.capacity - s.load), s.cuts.first().copied()));
        let ordered: u64 = spools.iter().map(|s| s.capacity).sum();
        // Once nothing can be ordered less, only the piece left is worked on: with the emptiest spool.
        let firsts = if ordered <= enough { 1.min(spools.len()) } else { spools.len() };
        for a in 0..firsts {
            for b in a + 1..spools.len() {
                go_on();
                for c in std::iter::once(None).chain((b + 1..spools.len()).map(Some)) {
                    let group: Vec<usize> = [Some(a), Some(b), c].into_iter().flatten().collect();
                    let cuts: Vec<usize> = group.iter().flat_map(|&s| spools[s].cuts.clone()).collect();
                    if cuts.len() > TOGETHER {
                        continue;
                    }
                    tried += 1;
                    let before: Vec<Filled> = group.iter().map(|&s| spools[s].clone()).collect();
                    let after = exact(given, &cuts);
                    if rank(&after) < rank(&before) {
                        for &s in group.iter().rev() {
                            spools.remove(s);
                        }
                        spools.extend(after);
                        continue 'again;
                    }
                    if tried >= GROUPS {
                        break 'again;
                    }
                }
            }
        }
        break;
    }
    gather(given, &mut spools);
    spools
}

/// Moves cuts off the emptiest spool wherever they still fit, so that the left-over is one long piece.
fn gather(given: &Sizes<'_>, spools: &mut Vec<Filled>) {
    let Some(emptiest) = (0..spools.len()).max_by_key(|&s| (spools[s].capacity - spools[s].load, Reverse(s)))
    else {
        return;
    };
    let mut cuts = std::mem::take(&mut spools[emptiest].cuts);
    spools[emptiest].load = 0;
    cuts.sort_by_key(|&i| (Reverse(given.sizes[i]), i));
    for i in cuts {
        let size = given.sizes[i];
        let room = (0..spools.len())
            .filter(|&s| s != emptiest && spools[s].load + size <= spools[s].capacity)
            .max_by_key(|&s| spools[s].load)
            .unwrap_or(emptiest);
        spools[room].load += size;
        spools[room].cuts.push(i);
    }
    spools.retain(|s| !s.cuts.is_empty());
}
