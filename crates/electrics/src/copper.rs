//! Resistance of one copper conductor.
//!
//! American wire gauge by its defining ratio (ASTM B258: 36 gauge is 0.005 in, 4/0 is 0.46 in, 39 equal steps of
//! ratio between), annealed copper at 100 % IACS (1.7241e-8 ohm m at 20 C, 0.00393 per kelvin, IEC 60028).
//! Metric flexible conductors by the greatest resistance IEC 60228 Table 3 allows for class 5, plain copper; between
//! the listed areas the product of resistance and area is interpolated over the logarithm of the area.
//! Left out: tinned wire, class 2 metric cores, skin effect (below 1 % at 20 kHz up to about 1 mm diameter; a 10 AWG
//! solid core reads some 10 % higher at 20 kHz, where a loudspeaker line carries little power).
//! Checked against: ASTM B258 and IEC 60228 values in the tests below and in `checks/test_wire.py`.

use loamline_terms::{ConductorSize, Strands};

use crate::error::InputError;

/// Resistivity of annealed copper at 20 C in ohm metres (IEC 60028).
pub const COPPER_RESISTIVITY_OHM_M: f64 = 1.7241e-8;
/// Temperature coefficient of copper's resistance at 20 C, per kelvin (IEC 60028).
pub const COPPER_COEFFICIENT_PER_K: f64 = 0.00393;
/// Density of copper in kg/m3 (IEC 60028).
pub const COPPER_DENSITY_KG_PER_M3: f64 = 8890.0;

/// What a strand's lay adds to the length of copper in a stranded gauge conductor (2 %, ASTM B8; from memory).
const STRANDED_LAY_FACTOR: f64 = 1.02;

/// IEC 60228 Table 3, class 5, plain copper: nominal area in mm2, greatest resistance at 20 C in ohm/km.
const CLASS_5: [(f64, f64); 9] = [
    (0.5, 39.0),
    (0.75, 26.0),
    (1.0, 19.5),
    (1.5, 13.3),
    (2.5, 7.98),
    (4.0, 4.95),
    (6.0, 3.30),
    (10.0, 1.91),
    (16.0, 1.21),
];

/// Checks that a size is one a conductor can have: a gauge outside -3..=40 or an area outside 0.05..=400 mm2 (NaN
/// included) is refused.
fn check_size(size: ConductorSize) -> Result<(), InputError> {
    match size {
        ConductorSize::Awg(gauge) => {
            InputError::check_range("conductor", "gauge", "AWG", f64::from(gauge), -3.0, 40.0)
        }
        ConductorSize::AreaMm2(area) => {
            InputError::check_range("conductor", "area", "mm2", area, 0.05, 400.0)
        }
    }
}

/// Resistance of one conductor in ohm/km at `temperature_c` (-60..=200 C).
///
/// # Errors
/// A size or temperature outside its range.
pub fn conductor_resistance_ohm_per_km(
    size: ConductorSize,
    strands: Strands,
    temperature_c: f64,
) -> Result<f64, InputError> {
    check_size(size)?;
    InputError::check_range("conductor", "temperature", "C", temperature_c, -60.0, 200.0)?;
    Ok(resistance_at_20_c(size, strands) * temperature_factor(temperature_c))
}

/// Resistance at `temperature_c` over resistance at 20 C.
#[must_use]
pub fn temperature_factor(temperature_c: f64) -> f64 {
    1.0 + COPPER_COEFFICIENT_PER_K * (temperature_c - 20.0)
}

fn resistance_at_20_c(size: ConductorSize, strands: Strands) -> f64 {
    // ohm mm2/km: resistivity in ohm m times 1e9.
    let solid = COPPER_RESISTIVITY_OHM_M * 1e9 / size.area_mm2();
    match (size, strands) {
        (_, Strands::Solid) => solid,
        (ConductorSize::Awg(_), Strands::Stranded) => solid * STRANDED_LAY_FACTOR,
        (ConductorSize::AreaMm2(area), Strands::Stranded) => class_5_product(area) / area,
    }
}

/// Class 5 resistance times area in ohm mm2/km, interpolated between listed areas and held beyond them.
fn class_5_product(area_mm2: f64) -> f64 {
    let product = |(area, resistance): (f64, f64)| area * resistance;
    let above = CLASS_5.partition_point(|&(area, _)| area < area_mm2);
    match (above.checked_sub(1).and_then(|below| CLASS_5.get(below)), CLASS_5.get(above)) {
        (Some(&low), Some(&high)) => {
            let t = (area_mm2 / low.0).ln() / (high.0 / low.0).ln();
            product(low) + t * (product(high) - product(low))
        }
        (Some(&edge), None) | (None, Some(&edge)) => product(edge),
        (None, None) => COPPER_RESISTIVITY_OHM_M * 1e9,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ASTM B258 Table 1, solid annealed copper at 20 C, ohm/km.
    #[test]
    fn gauges_match_astm_b258() {
        for (gauge, expected) in [(10, 3.277), (12, 5.211), (14, 8.286), (16, 13.17), (18, 20.95)] {
            let got =
                conductor_resistance_ohm_per_km(ConductorSize::Awg(gauge), Strands::Solid, 20.0).unwrap();
            assert!((got / expected - 1.0).abs() < 5e-4, "{gauge} AWG: {got} against {expected}");
        }
    }

    /// IEC 60228 Table 3, class 5, ohm/km at 20 C.
    #[test]
    fn areas_match_iec_60228_class_5() {
        for (area, expected) in
            [(0.75, 26.0), (1.0, 19.5), (1.5, 13.3), (2.5, 7.98), (4.0, 4.95), (6.0, 3.30), (10.0, 1.91)]
        {
            let got = conductor_resistance_ohm_per_km(ConductorSize::AreaMm2(area), Strands::Stranded, 20.0)
                .unwrap();
            assert!((got - expected).abs() < 1e-9, "{area} mm2: {got}");
        }
    }

    #[test]
    fn resistance_falls_as_area_grows() {
        let mut last = f64::INFINITY;
        for step in 0..400 {
            let area = 0.06 * 10f64.powf(f64::from(step) / 110.0);
            let got = conductor_resistance_ohm_per_km(ConductorSize::AreaMm2(area), Strands::Stranded, 20.0)
                .unwrap();
            assert!(got < last, "{area} mm2");
            last = got;
        }
    }

    #[test]
    fn heat_adds_resistance() {
        // IEC 60028: 0.393 % per kelvin.
        assert!((temperature_factor(50.0) - 1.1179).abs() < 1e-12);
    }

    #[test]
    fn impossible_sizes_are_refused() {
        for size in [ConductorSize::AreaMm2(f64::NAN), ConductorSize::Awg(60), ConductorSize::AreaMm2(-1.0)] {
            assert!(conductor_resistance_ohm_per_km(size, Strands::Solid, 20.0).is_err());
        }
    }
}
