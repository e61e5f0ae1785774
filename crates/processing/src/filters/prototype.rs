//! Analogue low-pass prototypes with the corner at s = j.
//!
//! Butterworth: poles evenly spread on the unit half circle (Butterworth 1930). Bessel: the roots of the
//! reverse Bessel polynomial (Thomson 1949), found by simultaneous iteration (Durand and Kerner) and scaled so
//! that the gain at the corner is -3.01 dB. Linkwitz-Riley of order n: the Butterworth prototype of order n/2
//! twice (Linkwitz 1976), -6.02 dB at the corner. Orders 1 to 8; the roots hold to 1e-12.

use num_complex::Complex64;
use std::f64::consts::PI;

/// A factor of the prototype's denominator; the numerator is its value at s = 0, so each has gain one there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Factor {
    /// s + c0
    First { c0: f64 },
    /// s^2 + c1 s + c0
    Second { c1: f64, c0: f64 },
}

/// Butterworth factors of `order`, the lowest Q first.
pub(super) fn butterworth(order: u32) -> Vec<Factor> {
    let mut factors = Vec::new();
    if order % 2 == 1 {
        factors.push(Factor::First { c0: 1.0 });
    }
    let n = f64::from(order);
    for k in (0..order / 2).rev() {
        let angle = PI * f64::from(2 * k + 1) / (2.0 * n);
        factors.push(Factor::Second { c1: 2.0 * angle.sin(), c0: 1.0 });
    }
    factors
}

/// Bessel factors of `order`, -3.01 dB at s = j.
pub(super) fn bessel(order: u32) -> Vec<Factor> {
    let coefficients = reverse_bessel(order);
    let corner = half_power_frequency(&coefficients);
    let mut factors = Vec::new();
    for root in roots(&coefficients) {
        let p = root / corner;
        if p.im.abs() < 1e-9 * p.norm() {
            factors.insert(0, Factor::First { c0: -p.re });
        } else if p.im > 0.0 {
            factors.push(Factor::Second { c1: -2.0 * p.re, c0: p.norm_sqr() });
        }
    }
    factors
}

/// Coefficients of the reverse Bessel polynomial, powers rising: (2n-k)! / (2^(n-k) k! (n-k)!), scaled to a
/// constant term of one by s -> s * a0^(1/n) so that the roots have a size near one.
fn reverse_bessel(order: u32) -> Vec<f64> {
    let factorial = |m: u32| (1..=m).map(f64::from).product::<f64>();
    let n = order;
    let raw: Vec<f64> = (0..=n)
        .map(|k| factorial(2 * n - k) / (2_f64.powi((n - k).cast_signed()) * factorial(k) * factorial(n - k)))
        .collect();
    let a0 = raw[0];
    let scale = a0.powf(1.0 / f64::from(n));
    raw.iter().zip(0..).map(|(a, k)| a * scale.powi(k) / a0).collect()
}

fn polynomial(coefficients: &[f64], s: Complex64) -> Complex64 {
    coefficients.iter().rev().fold(Complex64::new(0.0, 0.0), |sum, c| sum * s + c)
}

/// The frequency at which |P(0)/P(jw)|^2 is one half; the magnitude of a Bessel filter falls steadily.
fn half_power_frequency(coefficients: &[f64]) -> f64 {
    let (mut low, mut high) = (0.0, 10.0);
    for _ in 0..80 {
        let mid = 0.5 * (low + high);
        if polynomial(coefficients, Complex64::new(0.0, mid)).norm_sqr() < 2.0 * coefficients[0].powi(2) {
            low = mid;
        } else {
            high = mid;
        }
    }
    0.5 * (low + high)
}

/// All roots at once (Durand and Kerner); the leading coefficient is brought to one first.
fn roots(coefficients: &[f64]) -> Vec<Complex64> {
    let degree = coefficients.len() - 1;
    let monic: Vec<f64> = coefficients.iter().map(|c| c / coefficients[degree]).collect();
    let start = Complex64::new(0.4, 0.9);
    let mut z: Vec<Complex64> = (0..degree).map(|k| start.powu(k as u32)).collect();
    for _ in 0..200 {
        let mut largest = 0.0_f64;
        for i in 0..degree {
            let others: Complex64 = (0..degree).filter(|j| *j != i).map(|j| z[i] - z[j]).product();
            let step = polynomial(&monic, z[i]) / others;
            z[i] -= step;
            largest = largest.max(step.norm());
        }
        if largest < 1e-15 {
            break;
        }
    }
    z
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gain_at_corner(factors: &[Factor]) -> f64 {
        let s = Complex64::new(0.0, 1.0);
        factors
            .iter()
            .map(|f| match *f {
                Factor::First { c0 } => c0 / (s + c0),
                Factor::Second { c1, c0 } => c0 / (s * s + s * c1 + c0),
            })
            .product::<Complex64>()
            .norm()
    }

    #[test]
    fn every_prototype_is_at_half_power_at_its_corner() {
        for order in 1..=8 {
            for factors in [butterworth(order), bessel(order)] {
                let count: u32 =
                    factors.iter().map(|f| if matches!(f, Factor::First { .. }) { 1 } else { 2 }).sum();
                assert_eq!(count, order);
                assert!((gain_at_corner(&factors) - 0.5_f64.sqrt()).abs() < 1e-12, "order {order}");
            }
        }
    }

    /// Bessel of order two: Q = 1/sqrt(3), and -3 dB at 1.36165 times its delay-normalised frequency
    /// (s^2 + 3 s + 3; worked by hand from the polynomial).
    #[test]
    fn second_order_bessel_has_its_known_q() {
        let Factor::Second { c1, c0 } = bessel(2)[0] else { panic!("one pair") };
        assert!((c0.sqrt() / c1 - 1.0 / 3.0_f64.sqrt()).abs() < 1e-12);
        assert!((3.0_f64.sqrt() / c0.sqrt() - 1.361_654_128_716_130_5).abs() < 1e-9);
    }
}
