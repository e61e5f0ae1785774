//! Cable: what one pair of a cable adds to a line per metre.
//!
//! Both conductors of a pair carry the current, so the loop resistance is twice that of one conductor. Series
//! inductance and shunt capacitance default to typical values of a close pair (0.65 uH/m, 60 pF/m; common practice,
//! no source). Pairs in one jacket are taken as independent: coupling between lines is left out.

use loamline_terms::{ConductorSize, Strands};
use serde::{Deserialize, Serialize};

use crate::copper::conductor_resistance_ohm_per_km;
use crate::error::InputError;

/// Typical loop inductance of a close pair in H/m (common practice, no source).
pub const TYPICAL_LOOP_INDUCTANCE_H_PER_M: f64 = 0.65e-6;
/// Typical capacitance of a close pair in F/m (common practice, no source).
pub const TYPICAL_CAPACITANCE_F_PER_M: f64 = 60e-12;

/// What one pair adds per metre of run (not per metre of wire).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PairConstants {
    /// Resistance of both conductors together in ohm per metre of run, above zero.
    pub loop_resistance_ohm_per_m: f64,
    /// Loop inductance in H per metre of run, zero or more.
    #[serde(default)]
    pub loop_inductance_h_per_m: f64,
    /// Capacitance between the conductors in F per metre of run, zero or more.
    #[serde(default)]
    pub capacitance_f_per_m: f64,
}

/// A cable type as bought.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Cable {
    /// Name or id shown in findings.
    pub name: String,
    /// Size of each conductor.
    pub size: ConductorSize,
    /// Solid or stranded.
    pub strands: Strands,
    /// Conductors in the jacket, 2 or more; one pair serves one line.
    pub conductors: u32,
    /// Loop inductance of a pair in H/m.
    pub loop_inductance_h_per_m: f64,
    /// Capacitance of a pair in F/m.
    pub capacitance_f_per_m: f64,
}

impl Cable {
    /// A cable of `conductors` conductors of `size`, built the usual way, with typical inductance and capacitance.
    #[must_use]
    pub fn typical(name: impl Into<String>, size: ConductorSize, conductors: u32) -> Self {
        Self {
            name: name.into(),
            size,
            strands: size.usual_strands(),
            conductors,
            loop_inductance_h_per_m: TYPICAL_LOOP_INDUCTANCE_H_PER_M,
            capacitance_f_per_m: TYPICAL_CAPACITANCE_F_PER_M,
        }
    }

    /// Lines the jacket can carry: one pair each, an odd conductor stays spare.
    #[must_use]
    pub fn pairs(&self) -> u32 {
        self.conductors / 2
    }

    /// Copper in kg per metre of cable, all conductors.
    #[must_use]
    pub fn copper_kg_per_m(&self) -> f64 {
        f64::from(self.conductors) * self.size.area_mm2() * 1e-6 * crate::copper::COPPER_DENSITY_KG_PER_M3
    }

    /// What one pair adds per metre at `temperature_c` (-60..=200 C).
    ///
    /// # Errors
    /// Fewer than two conductors; a size, temperature, inductance or capacitance outside its range.
    pub fn pair(&self, temperature_c: f64) -> Result<PairConstants, InputError> {
        let place = format!("cable {}", self.name);
        InputError::check_range(&place, "number of conductors", "", f64::from(self.conductors), 2.0, 1000.0)?;
        InputError::check_not_negative(&place, "loop inductance", "H/m", self.loop_inductance_h_per_m)?;
        InputError::check_not_negative(&place, "capacitance", "F/m", self.capacitance_f_per_m)?;
        let one = conductor_resistance_ohm_per_km(self.size, self.strands, temperature_c)?;
        Ok(PairConstants {
            loop_resistance_ohm_per_m: 2.0 * one / 1000.0,
            loop_inductance_h_per_m: self.loop_inductance_h_per_m,
            capacitance_f_per_m: self.capacitance_f_per_m,
        })
    }
}

/// Loop resistance in ohm of a run `length_m` long (one way), both conductors counted.
#[must_use]
pub fn loop_resistance_ohm(one_conductor_ohm_per_km: f64, length_m: f64) -> f64 {
    2.0 * one_conductor_ohm_per_km / 1000.0 * length_m
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_conductors_count() {
        let cable = Cable::typical("14 AWG pair", ConductorSize::Awg(14), 2);
        let pair = cable.pair(20.0).unwrap();
        // ASTM B258: 8.286 ohm/km each way.
        assert!((pair.loop_resistance_ohm_per_m / 0.016_572 - 1.0).abs() < 5e-4);
        assert_eq!(cable.pairs(), 1);
    }

    #[test]
    fn one_conductor_is_no_pair() {
        let cable = Cable { conductors: 1, ..Cable::typical("single", ConductorSize::AreaMm2(1.5), 2) };
        assert!(cable.pair(20.0).unwrap_err().to_string().contains("number of conductors is 1"));
    }
}
