//! How full a conduit or sleeve is.
//!
//! NFPA 70 (National Electrical Code), Chapter 9, Table 1: the cross-sections of all cables together may take
//! 53 % of the inside cross-section of the conduit for one cable, 31 % for two, 40 % for three and more.
//! Note 4 to the table: a piece no longer than 600 mm (a nipple) may be filled to 60 %. Note 9: a cable of two
//! or more conductors counts as one; where it is not round, its larger diameter counts.
//! Inside diameters of trade sizes are those of Chapter 9, Table 4 (inches in the table, from memory; the
//! areas they give agree with the areas printed there).
//! Left out: Note 7 (rounding up the number of equal conductors) and jam ratio.

use serde::{Deserialize, Serialize};
use std::f64::consts::PI;
use thiserror::Error;

/// Longest piece, metres, that counts as a nipple (Note 4 to Table 1: 600 mm, 24 in).
pub const NIPPLE_LENGTH_M: f64 = 0.6;

/// Why a fill cannot be worked out.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum FillError {
    /// The conduit's diameter is not a positive number.
    #[error("the inside diameter of the conduit is {value_mm} mm; it must be above 0")]
    Conduit {
        /// The diameter given, millimetres.
        value_mm: f64,
    },
    /// A cable's diameter is not a positive number.
    #[error("cable {number} has an outside diameter of {value_mm} mm; it must be above 0")]
    Cable {
        /// Which cable, from 1.
        number: usize,
        /// The diameter given, millimetres.
        value_mm: f64,
    },
    /// A trade size that is not in the table for this type of conduit.
    #[error("trade size {size} is not known for {kind}; known sizes: {known}")]
    TradeSize {
        /// The size asked for.
        size: String,
        /// The type of conduit.
        kind: &'static str,
        /// The sizes there are, as a list to read.
        known: String,
    },
}

/// How full a conduit is, and how full it may be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Fill {
    /// Cross-section of the cables over that of the conduit, 0 and up.
    pub fill_fraction: f64,
    /// Highest fraction allowed for this number of cables.
    pub limit_fraction: f64,
    /// Whether the cables fit.
    pub fits: bool,
}

/// The highest fill for a number of cables, fraction of the conduit's cross-section (NEC Chapter 9 Table 1).
/// `length_m` is the length of the conduit where it is known: short pieces may be filled to 60 % (Note 4).
pub fn fill_limit(cables: usize, length_m: Option<f64>) -> f64 {
    if length_m.is_some_and(|l| l <= NIPPLE_LENGTH_M) {
        return 0.60;
    }
    match cables {
        0 | 1 => 0.53,
        2 => 0.31,
        _ => 0.40,
    }
}

/// Fill of a conduit of inside diameter `inside_mm` by cables of the given outside diameters, millimetres.
///
/// # Errors
/// [`FillError`] when a diameter is not a positive finite number.
pub fn conduit_fill(inside_mm: f64, cables_mm: &[f64], length_m: Option<f64>) -> Result<Fill, FillError> {
    if !(inside_mm.is_finite() && inside_mm > 0.0) {
        return Err(FillError::Conduit { value_mm: inside_mm });
    }
    if let Some(i) = cables_mm.iter().position(|d| !(d.is_finite() && *d > 0.0)) {
        return Err(FillError::Cable { number: i + 1, value_mm: cables_mm[i] });
    }
    let area = |d: f64| PI / 4.0 * d * d;
    let fill_fraction = cables_mm.iter().map(|&d| area(d)).sum::<f64>() / area(inside_mm);
    let limit_fraction = fill_limit(cables_mm.len(), length_m);
    // A conduit filled exactly to the limit fits; allow for the last bit of rounding.
    Ok(Fill { fill_fraction, limit_fraction, fits: fill_fraction <= limit_fraction * (1.0 + 1e-12) })
}

/// Types of conduit with published inside diameters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ConduitType {
    /// Electrical metallic tubing (EMT).
    Emt,
    /// Electrical non-metallic tubing (ENT).
    Ent,
    /// Intermediate metal conduit (IMC).
    Imc,
    /// Rigid metal conduit (RMC).
    Rmc,
    /// Rigid PVC conduit, schedule 40 (and HDPE conduit).
    Pvc40,
    /// Rigid PVC conduit, schedule 80.
    Pvc80,
}

/// Trade sizes in the order of the columns below, as printed and in inches.
const TRADE_SIZES: [&str; 10] = ["1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4"];

impl ConduitType {
    /// All types, in the order of the table.
    pub const ALL: [Self; 6] = [Self::Emt, Self::Ent, Self::Imc, Self::Rmc, Self::Pvc40, Self::Pvc80];

    /// The word by which a person names the type.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Emt => "emt",
            Self::Ent => "ent",
            Self::Imc => "imc",
            Self::Rmc => "rmc",
            Self::Pvc40 => "pvc40",
            Self::Pvc80 => "pvc80",
        }
    }

    /// Inside diameters, inches, NEC Chapter 9 Table 4 (from memory), trade sizes 1/2 to 4.
    const fn inside_in(self) -> &'static [f64] {
        match self {
            Self::Emt => &[0.622, 0.824, 1.049, 1.380, 1.610, 2.067, 2.731, 3.356, 3.834, 4.334],
            Self::Ent => &[0.560, 0.760, 1.000, 1.340, 1.570, 2.020],
            Self::Imc => &[0.660, 0.864, 1.105, 1.448, 1.683, 2.150, 2.557, 3.176, 3.671, 4.166],
            Self::Rmc => &[0.632, 0.836, 1.063, 1.394, 1.624, 2.083, 2.489, 3.090, 3.570, 4.050],
            Self::Pvc40 => &[0.602, 0.804, 1.029, 1.360, 1.590, 2.047, 2.445, 3.042, 3.521, 3.998],
            Self::Pvc80 => &[0.526, 0.722, 0.936, 1.255, 1.476, 1.913, 2.290, 2.864, 3.326, 3.786],
        }
    }
}

/// Inside diameter, millimetres, of a trade size such as `"1"` or `"1-1/4"` (inches, as stamped on the
/// conduit; `1 1/4` and a trailing inch mark are understood).
///
/// # Errors
/// [`FillError::TradeSize`] with the sizes that are known.
pub fn inside_diameter_mm(kind: ConduitType, trade_size: &str) -> Result<f64, FillError> {
    let wanted =
        trade_size.trim().trim_end_matches(['"', '″']).trim_end_matches("in").trim().replace(' ', "-");
    let sizes = kind.inside_in();
    TRADE_SIZES
        .iter()
        .position(|s| *s == wanted)
        .and_then(|i| sizes.get(i))
        .map(|inches| inches * 25.4)
        .ok_or_else(|| FillError::TradeSize {
            size: trade_size.trim().to_owned(),
            kind: kind.name(),
            known: TRADE_SIZES[..sizes.len()].join(", "),
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn areas_of_trade_sizes_agree_with_the_printed_table() {
        // NEC Chapter 9 Table 4, square inches: 100 %, 53 %, 31 %, 40 % (from memory).
        let rows = [
            (ConduitType::Emt, "1/2", [0.304, 0.161, 0.094, 0.122]),
            (ConduitType::Emt, "3/4", [0.533, 0.283, 0.165, 0.213]),
            (ConduitType::Emt, "1", [0.864, 0.458, 0.268, 0.346]),
            (ConduitType::Pvc40, "1", [0.832, 0.441, 0.258, 0.333]),
            (ConduitType::Pvc80, "2", [2.874, 1.523, 0.891, 1.150]),
        ];
        for (kind, size, [full, one, two, more]) in rows {
            let d = inside_diameter_mm(kind, size).unwrap() / 25.4;
            let area = PI / 4.0 * d * d;
            for (share, printed) in [(1.0, full), (fill_limit(1, None), one)] {
                assert!((area * share - printed).abs() < 0.0011, "{kind:?} {size}: {}", area * share);
            }
            assert!((area * fill_limit(2, None) - two).abs() < 0.0011);
            assert!((area * fill_limit(3, None) - more).abs() < 0.0011);
        }
    }

    #[test]
    fn one_two_and_three_cables_have_their_own_limits() {
        // Closed form: n equal cables fill n (d/D)^2.
        for (n, limit) in [(1usize, 0.53), (2, 0.31), (3, 0.40), (7, 0.40)] {
            let just = 20.0 * (limit / n as f64).sqrt();
            let at = |d: f64| conduit_fill(20.0, &vec![d; n], None).unwrap();
            assert!(at(just * 0.999).fits && !at(just * 1.001).fits, "{n}");
            assert!((at(just).fill_fraction - limit).abs() < 1e-12);
        }
        assert_eq!(fill_limit(2, Some(0.5)), 0.60);
    }

    #[test]
    fn bad_sizes_say_what_is_known() {
        assert_eq!(inside_diameter_mm(ConduitType::Emt, "1 1/4\"").unwrap(), 1.380 * 25.4);
        let e = inside_diameter_mm(ConduitType::Ent, "3").unwrap_err();
        assert_eq!(
            e.to_string(),
            "trade size 3 is not known for ent; known sizes: 1/2, 3/4, 1, 1-1/4, 1-1/2, 2"
        );
        assert_eq!(
            conduit_fill(20.0, &[5.0, -1.0], None),
            Err(FillError::Cable { number: 2, value_mm: -1.0 })
        );
        assert!(conduit_fill(f64::NAN, &[], None).is_err());
    }
}
