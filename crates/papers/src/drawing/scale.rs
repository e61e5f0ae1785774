//! The scales drawings are made at.

use loamline_model::Units;

/// A scale people find on their rulers.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    /// Metres on site per metre on paper.
    pub denominator: f64,
    /// As it is written: `1:200`, or `1/8 in = 1 ft`.
    pub written: String,
}

/// Denominators of metric scales, coarser towards the end (ISO 5455 series, with 1:25, 1:250 and their like).
const METRIC: [f64; 13] =
    [10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 250.0, 500.0, 1000.0, 2000.0, 2500.0, 5000.0, 10_000.0];

/// United States scales: architect's rulers first, engineer's after. Inches on paper, feet on site, as written.
const US: [(f64, f64, &str); 14] = [
    (1.0, 1.0, "1 in = 1 ft"),
    (0.5, 1.0, "1/2 in = 1 ft"),
    (0.25, 1.0, "1/4 in = 1 ft"),
    (3.0 / 16.0, 1.0, "3/16 in = 1 ft"),
    (0.125, 1.0, "1/8 in = 1 ft"),
    (1.0, 10.0, "1 in = 10 ft"),
    (1.0 / 16.0, 1.0, "1/16 in = 1 ft"),
    (1.0, 20.0, "1 in = 20 ft"),
    (1.0, 30.0, "1 in = 30 ft"),
    (1.0, 40.0, "1 in = 40 ft"),
    (1.0, 50.0, "1 in = 50 ft"),
    (1.0, 100.0, "1 in = 100 ft"),
    (1.0, 200.0, "1 in = 200 ft"),
    (1.0, 1000.0, "1 in = 1000 ft"),
];

impl Scale {
    /// Millimetres on paper per metre on site.
    pub fn mm_per_m(&self) -> f64 {
        1000.0 / self.denominator
    }

    /// Every standard scale of a system of units, finest first.
    pub fn standard(units: Units) -> Vec<Self> {
        match units {
            Units::Metric => {
                METRIC.iter().map(|&d| Self { denominator: d, written: format!("1:{d}") }).collect()
            }
            Units::Us => US
                .iter()
                .map(|&(inches, feet, written)| Self {
                    denominator: feet * 12.0 / inches,
                    written: written.to_owned(),
                })
                .collect(),
        }
    }

    /// The finest standard scale at which a piece of ground fits into a frame; the coarsest when none does.
    /// Sizes are (across, up), metres and millimetres.
    pub fn fitting(units: Units, ground_m: (f64, f64), frame_mm: (f64, f64)) -> Self {
        let all = Self::standard(units);
        let fits = |s: &Self| {
            ground_m.0 * s.mm_per_m() <= frame_mm.0 + 1e-9 && ground_m.1 * s.mm_per_m() <= frame_mm.1 + 1e-9
        };
        all.iter()
            .find(|s| fits(s))
            .or(all.last())
            .cloned()
            .unwrap_or_else(|| Self { denominator: METRIC[METRIC.len() - 1], written: String::new() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_finest_scale_that_fits() {
        // 38 m by 26 m on 270 mm by 170 mm: 1:100 needs 380 mm, 1:200 needs 190 mm.
        assert_eq!(Scale::fitting(Units::Metric, (38.0, 26.0), (270.0, 170.0)).written, "1:200");
        // 1/8 in = 1 ft is 1:96: 38 m take 396 mm on Tabloid's 431.8 mm.
        assert_eq!(Scale::fitting(Units::Us, (38.0, 24.0), (410.0, 255.0)).written, "1/8 in = 1 ft");
    }

    #[test]
    fn scales_run_from_fine_to_coarse() {
        for units in [Units::Metric, Units::Us] {
            assert!(Scale::standard(units).windows(2).all(|w| w[0].denominator < w[1].denominator));
        }
        assert_eq!(Scale::standard(Units::Us)[2].denominator, 48.0);
    }
}
