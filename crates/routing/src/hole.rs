//! Holes for in-ground loudspeakers: soil to dig out and gravel to bring.
//!
//! The hole is the item enlarged by the overdig on each of its four sides, and dug deeper by the bed of
//! drainage gravel below it. The gravel fills the bed over the whole floor of the hole; the sides are filled
//! with what was dug out.
//! The density of loose drainage gravel is common practice, no source: 1600 kg per cubic metre.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Loose drainage gravel, kg per cubic metre (common practice, no source; figures of 1500 to 1700 are met).
pub const GRAVEL_KG_PER_M3: f64 = 1600.0;

/// What goes into the ground and how much larger the hole is, metres.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Hole {
    /// Length of the item.
    pub length_m: f64,
    /// Width of the item.
    pub width_m: f64,
    /// Depth of the item below ground.
    pub depth_m: f64,
    /// Room left on each of the four sides.
    pub overdig_m: f64,
    /// Thickness of the gravel bed below the item.
    pub gravel_depth_m: f64,
}

/// Volumes and weight for one hole.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Digging {
    /// Soil to dig out, cubic metres, undisturbed.
    pub excavation_m3: f64,
    /// Gravel to bring, cubic metres.
    pub gravel_m3: f64,
    /// The same in kilograms.
    pub gravel_kg: f64,
}

/// A size that is not possible.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("the {what} of the hole is {value_m} m; it must be {must}")]
pub struct HoleError {
    /// Which size.
    pub what: &'static str,
    /// The value given, metres.
    pub value_m: f64,
    /// What it must be.
    pub must: &'static str,
}

impl Hole {
    /// Volumes and weight.
    ///
    /// # Errors
    /// [`HoleError`] when a size of the item is not above 0, or the overdig or gravel is below 0.
    pub fn digging(&self) -> Result<Digging, HoleError> {
        for (what, value_m) in [("length", self.length_m), ("width", self.width_m), ("depth", self.depth_m)] {
            if !(value_m.is_finite() && value_m > 0.0) {
                return Err(HoleError { what, value_m, must: "above 0" });
            }
        }
        for (what, value_m) in [("overdig", self.overdig_m), ("gravel depth", self.gravel_depth_m)] {
            if !(value_m.is_finite() && value_m >= 0.0) {
                return Err(HoleError { what, value_m, must: "0 or more" });
            }
        }
        let floor_m2 = (self.length_m + 2.0 * self.overdig_m) * (self.width_m + 2.0 * self.overdig_m);
        let gravel_m3 = floor_m2 * self.gravel_depth_m;
        Ok(Digging {
            excavation_m3: floor_m2 * (self.depth_m + self.gravel_depth_m),
            gravel_m3,
            gravel_kg: gravel_m3 * GRAVEL_KG_PER_M3,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hole_is_larger_than_the_item_and_deeper_by_the_gravel() {
        let hole = Hole { length_m: 0.5, width_m: 0.4, depth_m: 0.6, overdig_m: 0.1, gravel_depth_m: 0.15 };
        let d = hole.digging().unwrap();
        // 0.7 m x 0.6 m floor, 0.75 m deep.
        assert!((d.excavation_m3 - 0.315).abs() < 1e-12);
        assert!((d.gravel_m3 - 0.063).abs() < 1e-12);
        assert!((d.gravel_kg - 100.8).abs() < 1e-9);
    }

    #[test]
    fn impossible_sizes_are_named() {
        let hole = Hole { length_m: 0.5, width_m: 0.4, depth_m: 0.6, overdig_m: -0.1, gravel_depth_m: 0.15 };
        assert_eq!(
            hole.digging().unwrap_err().to_string(),
            "the overdig of the hole is -0.1 m; it must be 0 or more"
        );
    }
}
