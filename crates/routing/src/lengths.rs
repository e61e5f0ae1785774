//! From the path in plan to the length to order.
//!
//! length = (path + rise and depth at both ends + a service loop at both ends) x (1 + waste).
//! A service loop is the spare left coiled at a joint so that it can be lifted and made again.

use serde::{Deserialize, Serialize};

/// Allowances on every run.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct LengthRules {
    /// Spare coiled at each end of a run, metres. 0.6 unless set (common practice, no source).
    pub service_loop_m: f64,
    /// Share added for waste, 0 to 1. 0.05 unless set (common practice, no source).
    pub waste_fraction: f64,
}

impl Default for LengthRules {
    fn default() -> Self {
        Self { service_loop_m: 0.6, waste_fraction: 0.05 }
    }
}

/// How long the cable of one run is, and of what that is made.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RunLength {
    /// Along the ground, walls and sleeves, metres.
    pub path_m: f64,
    /// Up or down at both ends and on to and off walls, metres.
    pub vertical_m: f64,
    /// Both service loops, metres.
    pub loops_m: f64,
    /// Added for waste, metres.
    pub waste_m: f64,
    /// The sum: what to order and cut, metres.
    pub order_m: f64,
}

impl LengthRules {
    /// Length of a run whose path is `path_m` long and climbs or drops `vertical_m` in all, metres.
    pub fn run(&self, path_m: f64, vertical_m: f64) -> RunLength {
        let loops_m = 2.0 * self.service_loop_m;
        let bare = path_m + vertical_m + loops_m;
        let waste_m = bare * self.waste_fraction;
        RunLength { path_m, vertical_m, loops_m, waste_m, order_m: bare + waste_m }
    }

    /// Whether both allowances are usable numbers (loop 0 m or more, waste 0 to 1).
    pub fn is_valid(&self) -> bool {
        self.service_loop_m.is_finite()
            && self.service_loop_m >= 0.0
            && (0.0..=1.0).contains(&self.waste_fraction)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_is_path_rise_loops_and_waste() {
        let run = LengthRules { service_loop_m: 0.6, waste_fraction: 0.1 }.run(10.0, 0.8);
        assert!((run.order_m - (10.0 + 0.8 + 1.2) * 1.1).abs() < 1e-12);
        assert!((run.waste_m - 1.2).abs() < 1e-12);
        assert!(LengthRules::default().is_valid());
        assert!(!LengthRules { service_loop_m: -0.1, waste_fraction: 0.0 }.is_valid());
    }
}
