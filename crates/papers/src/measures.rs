//! Dimensions as the crew's tools meet them, with no more digits than are meant.

use loamline_model::Units;

/// Metres in a foot.
pub const M_PER_FT: f64 = 0.3048;
const M_PER_YD: f64 = 0.9144;
/// What is in a bag of gravel, cubic feet.
const BAG_FT3: f64 = 0.5;
const M_PER_IN: f64 = 0.0254;
const KG_PER_LB: f64 = 0.453_592_37;
/// A millionth of a step is nothing a rule shows.
const WHOLE_STEP: f64 = 1e-6;

/// Steps rounded up. What is meant to be a whole step stays one whatever its last bits are.
pub fn up(steps: f64) -> f64 {
    (steps - WHOLE_STEP).ceil()
}

/// Whole steps, written with the unit they come to.
fn written(steps: f64, per_step: f64, unit: &str) -> String {
    format!("{}\u{a0}{unit}", steps * per_step)
}

/// A hole's dimension, rounded up to what a spade keeps: 10 mm, or a whole inch.
pub fn dug(units: Units, length_m: f64) -> String {
    match units {
        Units::Metric => written(up(length_m / 0.01), 10.0, "mm"),
        Units::Us => written(up(length_m / M_PER_IN), 1.0, "in"),
    }
}

/// Room, bed or pilot hole, rounded up to 5 mm or half an inch: less is never enough.
pub fn dimension(units: Units, length_m: f64) -> String {
    match units {
        Units::Metric => written(up(length_m / 0.005), 5.0, "mm"),
        Units::Us => written(up(length_m / M_PER_IN * 2.0), 0.5, "in"),
    }
}

/// Depth of a buried service, rounded down to 10 mm or a whole inch: it is met no sooner than a spade expects it.
pub fn depth(units: Units, depth_m: f64) -> String {
    let steps = |step_m: f64| (depth_m / step_m + WHOLE_STEP).floor();
    match units {
        Units::Metric => units.length(steps(0.01) * 0.01),
        Units::Us => written(steps(M_PER_IN), 1.0, "in"),
    }
}

/// A volume to dig or to fill as it is ordered: hundredths of a cubic metre or of a cubic yard, and the word of its unit.
pub fn volume(units: Units, volume_m3: f64) -> (f64, &'static str) {
    match units {
        Units::Metric => (volume_m3, "unit.cubic_metre"),
        Units::Us => (volume_m3 / M_PER_YD.powi(3), "unit.cubic_yard"),
    }
}

/// Bags of half a cubic foot that gravel comes in where it is not ordered by the cubic yard (common practice, no source).
pub fn bags(volume_m3: f64) -> f64 {
    up(volume_m3 / M_PER_FT.powi(3) / BAG_FT3)
}

/// A mass to carry, in whole kilograms or pounds.
pub fn mass(units: Units, mass_kg: f64) -> String {
    match units {
        Units::Metric => written(mass_kg.round(), 1.0, "kg"),
        Units::Us => written((mass_kg / KG_PER_LB).round(), 1.0, "lb"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A cubic yard is 27 cubic feet, 0.764 554 857 984 m3 (by definition); in it are 54 bags of half a cubic foot.
    #[test]
    fn gravel_is_ordered_by_the_cubic_yard_or_in_bags() {
        let (yards, word) = volume(Units::Us, 0.764_554_857_984);
        assert!((yards - 1.0).abs() < 1e-12 && word == "unit.cubic_yard");
        assert_eq!(volume(Units::Metric, 0.42), (0.42, "unit.cubic_metre"));
        let bags_of = [bags(0.764_554_857_984), bags(0.5 * 0.028_316_846_592), bags(0.0143)];
        assert_eq!(bags_of.map(|b| b as u32), [54, 1, 2]);
    }

    /// Conversions: 1 in is 25.4 mm, 1 lb is 0.453 592 37 kg (both by definition).
    #[test]
    fn dimensions_have_the_digits_a_crew_keeps() {
        let both = |f: fn(Units, f64) -> String, v: f64| [f(Units::Metric, v), f(Units::Us, v)];
        assert_eq!(both(dug, 0.607), ["610\u{a0}mm", "24\u{a0}in"]);
        assert_eq!(both(dug, 0.6 + 1e-12), ["600\u{a0}mm", "24\u{a0}in"]);
        assert_eq!(both(dimension, 0.075), ["75\u{a0}mm", "3\u{a0}in"]);
        assert_eq!(both(dimension, 0.38), ["380\u{a0}mm", "15\u{a0}in"]);
        // 12.6 in of pilot hole are 13 with a rule of half inches, never 12.5.
        assert_eq!(both(dimension, 0.32), ["320\u{a0}mm", "13\u{a0}in"]);
        // 19.7 in and 23.6 in down: met at 19 and at 23, never expected deeper.
        assert_eq!(both(depth, 0.5), ["0.50 m", "19\u{a0}in"]);
        assert_eq!(both(depth, 0.6), ["0.60 m", "23\u{a0}in"]);
        assert_eq!(both(depth, 0.6096), ["0.60 m", "24\u{a0}in"]);
        assert_eq!(both(depth, 0.555), ["0.55 m", "21\u{a0}in"]);
        assert_eq!(both(mass, 57.6), ["58\u{a0}kg", "127\u{a0}lb"]);
    }
}
