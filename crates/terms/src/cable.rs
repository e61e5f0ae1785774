//! Cable: how it is made, how it is laid.

use serde::{Deserialize, Serialize};
use std::fmt;

words! {
    /// How cable is laid.
    Laying {
        /// Staked down under mulch or gravel, no digging.
        Staked = "staked",
        /// In a slit cut with a spade or blade.
        Slit = "slit",
        /// In an open trench.
        Trench = "trench",
        /// Under paving lifted and relaid.
        LiftedPaving = "lifted",
        /// Clipped along a wall, fence or joist.
        Clipped = "clipped",
        /// Inside a building, along walls and joists or in trunking.
        Indoors = "indoors",
        /// Drawn through a sleeve or conduit.
        Conduit = "conduit",
    }
}

words! {
    /// How conductors are made.
    Strands {
        /// One wire each.
        Solid = "solid",
        /// Flexible, many fine wires (IEC 60228 class 5 for areas; the solid figure for gauges).
        Stranded = "stranded",
    }
}

/// The size of one conductor, as it is sold.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ConductorSize {
    /// American wire gauge, -3 (4/0, thick) to 40 (thin); 1/0 to 4/0 count as 0 to -3.
    Awg(i32),
    /// Nominal cross-section, mm2, positive.
    AreaMm2(f64),
}

impl ConductorSize {
    /// Cross-section, mm2; for a gauge that of the solid wire (ASTM B258).
    pub fn area_mm2(self) -> f64 {
        match self {
            Self::Awg(gauge) => std::f64::consts::FRAC_PI_4 * awg_diameter_mm(gauge).powi(2),
            Self::AreaMm2(area) => area,
        }
    }

    /// How it is made when nobody says: gauges are tabulated solid, metric flexible cores stranded (class 5).
    pub const fn usual_strands(self) -> Strands {
        match self {
            Self::Awg(_) => Strands::Solid,
            Self::AreaMm2(_) => Strands::Stranded,
        }
    }
}

impl fmt::Display for ConductorSize {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Awg(gauge) if *gauge <= 0 => write!(f, "{}/0 AWG", 1 - gauge),
            Self::Awg(gauge) => write!(f, "{gauge} AWG"),
            Self::AreaMm2(area) => write!(f, "{area} mm2"),
        }
    }
}

/// The gauge a cross-section is of, by its solid wire; `None` for an area that is no gauge's.
pub fn gauge_of(area_mm2: f64) -> Option<i32> {
    // From d = 0.127 * 92^((36 - n)/39) and A = pi/4 d^2.
    let diameter_mm = (area_mm2 / std::f64::consts::FRAC_PI_4).sqrt();
    let gauge = (36.0 - 39.0 * (diameter_mm / 0.127).ln() / 92f64.ln()).round();
    if !(-3.0..=40.0).contains(&gauge) {
        return None;
    }
    let size = ConductorSize::Awg(gauge as i32);
    ((size.area_mm2() / area_mm2 - 1.0).abs() < SAME_SIZE).then_some(gauge as i32)
}

/// Areas closer than this are one gauge's: neighbouring gauges are 26 % apart, and 2.5 mm2 is 5 % from the nearest.
const SAME_SIZE: f64 = 0.01;

/// Diameter in mm of a solid wire of American wire gauge `gauge` (ASTM B258: 36 gauge is 0.005 in, 4/0 is 0.46 in, 39
/// equal steps of ratio between): 0.127 * 92^((36 - n)/39).
pub fn awg_diameter_mm(gauge: i32) -> f64 {
    0.127 * 92f64.powf((36.0 - f64::from(gauge)) / 39.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ASTM B258 Table 1: diameter in mils (thousandths of an inch) and area in circular mils, both as printed.
    #[test]
    fn gauges_are_those_of_astm_b258() {
        for (gauge, name, mils, circular_mils) in [
            (-3, "4/0 AWG", 460.0, 211_600.0),
            (0, "1/0 AWG", 324.9, 105_600.0),
            (10, "10 AWG", 101.9, 10_380.0),
            (14, "14 AWG", 64.1, 4110.0),
            (18, "18 AWG", 40.3, 1620.0),
            (36, "36 AWG", 5.0, 25.0),
        ] {
            let size = ConductorSize::Awg(gauge);
            assert_eq!(size.to_string(), name);
            assert!((awg_diameter_mm(gauge) / 0.0254 - mils).abs() < 0.05, "{name}");
            let area = std::f64::consts::FRAC_PI_4 * circular_mils * 0.0254f64.powi(2);
            assert!((size.area_mm2() / area - 1.0).abs() < 4e-3, "{name}");
            assert_eq!(size.usual_strands(), Strands::Solid);
        }
        assert_eq!(ConductorSize::AreaMm2(2.5).to_string(), "2.5 mm2");
        assert_eq!(ConductorSize::AreaMm2(2.5).usual_strands(), Strands::Stranded);
    }

    /// ASTM B258 Table 1 in square millimetres, as handbooks print it: 18 AWG 0.823, 14 AWG 2.08, 10 AWG 5.26, 1/0 53.5. Metric
    /// cores (IEC 60228) are none of them.
    #[test]
    fn a_cross_section_is_of_a_gauge_or_of_none() {
        assert_eq!([0.823, 2.08, 5.26, 53.5].map(gauge_of), [Some(18), Some(14), Some(10), Some(0)]);
        assert_eq!([1.0, 1.5, 2.5, 4.0, 0.0, -1.0, f64::NAN].map(gauge_of), [None; 7]);
        for gauge in -3..=40 {
            assert_eq!(gauge_of(ConductorSize::Awg(gauge).area_mm2()), Some(gauge));
        }
    }

    #[test]
    fn words_are_spelt_as_in_documents() {
        for (laying, word, _) in Laying::WORDS {
            assert_eq!(serde_json::to_value(laying).unwrap(), *word);
            assert_eq!(serde_json::from_value::<Laying>((*word).into()).unwrap(), *laying);
        }
        assert_eq!(Laying::WORDS.len(), 7);
    }
}
