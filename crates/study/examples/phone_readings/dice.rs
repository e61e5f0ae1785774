//! Numbers that look random, the same ones every time.

/// Knuth's MMIX generator ("The Art of Computer Programming" volume 2, from memory).
pub struct Dice(pub u64);

impl Dice {
    pub fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn below(&mut self, n: usize) -> usize {
        ((self.unit() * n as f64) as usize).min(n - 1)
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// True so many times in one.
    pub fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }

    pub fn normal(&mut self) -> f64 {
        // Box and Muller.
        (-2.0 * self.unit().max(1e-300).ln()).sqrt() * (std::f64::consts::TAU * self.unit()).cos()
    }

    pub fn of<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[self.below(all.len())]
    }
}
