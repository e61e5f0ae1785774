//! Dimensions as the crew's tools meet them, with no more digits than are meant.

use loamline_model::Units;

/// Metres in a foot.
pub const M_PER_FT: f64 = 0.3048;
const M_PER_IN: f64 = 0.0254;
const KG_PER_LB: f64 = 0.453_592_37;

/// Whole steps, written with the unit they come to.
fn written(steps: f64, per_step: f64, unit: &str) -> String {
    format!("{}\u{a0}{unit}", steps * per_step)
}

/// A hole's dimension, rounded up to what a spade keeps: 10 mm, or a whole inch.
pub fn dug(units: Units, length_m: f64) -> String {
    // What is meant to be a whole step stays one whatever its last bits are.
    let steps = |step_m: f64| (length_m / step_m - 1e-6).ceil();
    match units {
        Units::Metric => written(steps(0.01), 10.0, "mm"),
        Units::Us => written(steps(M_PER_IN), 1.0, "in"),
    }
}

/// Room, bed or pilot hole: to 5 mm, or half an inch.
pub fn dimension(units: Units, length_m: f64) -> String {
    match units {
        Units::Metric => written((length_m / 0.005).round(), 5.0, "mm"),
        Units::Us => written((length_m / M_PER_IN * 2.0).round(), 0.5, "in"),
    }
}

/// Depth of a buried service: to 10 mm, or an inch.
pub fn depth(units: Units, depth_m: f64) -> String {
    match units {
        Units::Metric => units.length(depth_m),
        Units::Us => written((depth_m / M_PER_IN).round(), 1.0, "in"),
    }
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

    /// Conversions: 1 in is 25.4 mm, 1 lb is 0.453 592 37 kg (both by definition).
    #[test]
    fn dimensions_have_the_digits_a_crew_keeps() {
        let both = |f: fn(Units, f64) -> String, v: f64| [f(Units::Metric, v), f(Units::Us, v)];
        assert_eq!(both(dug, 0.607), ["610\u{a0}mm", "24\u{a0}in"]);
        assert_eq!(both(dug, 0.6 + 1e-12), ["600\u{a0}mm", "24\u{a0}in"]);
        assert_eq!(both(dimension, 0.075), ["75\u{a0}mm", "3\u{a0}in"]);
        assert_eq!(both(dimension, 0.38), ["380\u{a0}mm", "15\u{a0}in"]);
        assert_eq!(both(dimension, 0.32), ["320\u{a0}mm", "12.5\u{a0}in"]);
        assert_eq!(both(depth, 0.5), ["0.50 m", "20\u{a0}in"]);
        assert_eq!(both(mass, 57.6), ["58\u{a0}kg", "127\u{a0}lb"]);
    }
}
