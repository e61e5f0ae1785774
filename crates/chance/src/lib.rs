#![doc = include_str!("../README.md")]

use rand_xoshiro::SplitMix64;
use rand_xoshiro::rand_core::{Rng, SeedableRng};
use std::f64::consts::TAU;

/// By how much the state of the generator moves from draw to draw: 2^64 over the golden ratio, made odd (Steele, Lea and
/// Flood 2014, "Fast splittable pseudorandom number generators").
const STEP: u64 = 0x9E37_79B9_7F4A_7C15;

/// Numbers drawn one after the other: equal seeds give equal numbers.
#[derive(Clone, Debug)]
pub struct Draws(SplitMix64);

impl Draws {
    /// The sequence of a seed; every seed has one, 0 too.
    pub fn new(seed: u64) -> Self {
        Self(SplitMix64::seed_from_u64(seed))
    }

    /// The sequence of one of many things that share a seed, whatever was drawn for the others.
    pub fn of_one(seed: u64, one: u64) -> Self {
        Self::new(seed.wrapping_mul(STEP).wrapping_add(one))
    }

    /// 64 bits.
    #[inline]
    pub fn bits(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// Evenly spread over [0, 1), in steps of 2^-53.
    #[inline]
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly spread over [`low`, `high`).
    #[inline]
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A whole number below `n`, each as likely as the others within 2^-64 times `n`; 0 where `n` is 0.
    #[inline]
    pub fn below(&mut self, n: usize) -> usize {
        ((u128::from(self.bits()) * n as u128) >> 64) as usize
    }

    /// One of `all`, each as likely as the others.
    ///
    /// # Panics
    /// Where there is none.
    pub fn among<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[self.below(all.len())]
    }

    /// True for `share` of all draws.
    #[inline]
    pub fn happens(&mut self, share: f64) -> bool {
        self.unit() < share
    }

    /// Normally distributed with mean 0 and deviation 1 (Box and Muller 1958; one of their two numbers).
    pub fn normal(&mut self) -> f64 {
        // 0 has no logarithm.
        let (u, v) = (self.unit().max(1e-300), self.unit());
        (-2.0 * u.ln()).sqrt() * (TAU * v).cos()
    }
}

#[cfg(test)]
mod tests {
    use super::Draws;

    fn first<const N: usize>(mut draws: Draws) -> [u64; N] {
        std::array::from_fn(|_| draws.bits())
    }

    /// First numbers of the generator's reference program (Vigna, `splitmix64.c`), as published for these seeds.
    #[test]
    fn draws_are_those_of_the_reference() {
        assert_eq!(
            first(Draws::new(1_234_567)),
            [
                6_457_827_717_110_365_317,
                3_203_168_211_198_807_973,
                9_817_491_932_198_370_423,
                4_593_380_528_125_082_431,
                16_408_922_859_458_223_821,
            ]
        );
        assert_eq!(
            first(Draws::new(0)),
            [0xE220_A839_7B1D_CDAF, 0x6E78_9E6A_A1B9_65F4, 0x06C4_5D18_8009_454F]
        );
    }

    /// The formula as its authors print it, worked out beside the library.
    #[test]
    fn a_thing_of_many_starts_where_the_formula_says() {
        for (seed, one) in [(0, 0), (1, 0), (7, 3 << 32 | 5), (u64::MAX, u64::MAX)] {
            let mut z = super::STEP.wrapping_mul(seed.wrapping_add(1)).wrapping_add(one);
            z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            assert_eq!(first(Draws::of_one(seed, one)), [z ^ (z >> 31)], "{seed} {one}");
        }
    }

    #[test]
    fn numbers_are_evenly_spread() {
        // Mean and variance of an even spread over [-1, 1): 0 and 1/3.
        let mut draws = Draws::new(7);
        let all: Vec<f64> = (0..20_000).map(|_| draws.between(-1.0, 1.0)).collect();
        let mean = all.iter().sum::<f64>() / all.len() as f64;
        let square = all.iter().map(|x| x * x).sum::<f64>() / all.len() as f64;
        assert!(mean.abs() < 0.02 && (square - 1.0 / 3.0).abs() < 0.01, "{mean} {square}");
        assert!(all.iter().all(|x| (-1.0..1.0).contains(x)));
    }

    #[test]
    fn whole_numbers_stay_below_and_all_come_up() {
        let mut draws = Draws::new(3);
        let mut seen = [0; 6];
        (0..6000).for_each(|_| seen[draws.below(6)] += 1);
        // A thousand each, within five deviations (29 each) of a die.
        assert!(seen.iter().all(|n| (1000 - 145..=1000 + 145).contains(n)), "{seen:?}");
        assert_eq!((draws.below(0), draws.below(1)), (0, 0));
        let letters = ['a', 'b', 'c'];
        let drawn: std::collections::BTreeSet<char> = (0..100).map(|_| *draws.among(&letters)).collect();
        assert_eq!(drawn.len(), 3, "each of three is missed by a hundred draws once in 10^17");
    }

    #[test]
    fn normal_numbers_have_their_mean_and_deviation() {
        let mut draws = Draws::new(5);
        let all: Vec<f64> = (0..20_000).map(|_| draws.normal()).collect();
        let mean = all.iter().sum::<f64>() / all.len() as f64;
        let deviation = (all.iter().map(|x| x * x).sum::<f64>() / all.len() as f64).sqrt();
        assert!(mean.abs() < 0.03 && (deviation - 1.0).abs() < 0.02, "{mean} {deviation}");
        // 68.27 % lie within one deviation.
        let within = all.iter().filter(|x| x.abs() < 1.0).count() as f64 / all.len() as f64;
        assert!((within - 0.6827).abs() < 0.015, "{within}");
    }

    #[test]
    fn what_seldom_happens_happens_seldom() {
        let mut draws = Draws::new(11);
        let often = (0..10_000).filter(|_| draws.happens(0.2)).count();
        assert!((1800..=2200).contains(&often), "{often}");
    }
}
