//! How far an enclosure keeps solids and water out: the two numerals of the IP code.
//!
//! Source: IEC 60529, clauses 4 to 6 (from memory). Of the code the two numerals are read; additional letters are refused,
//! since nothing here would heed them. Up to 6 the numeral for water stands for those below it as well. 7 and 8 (immersion)
//! and 9 (hot jets) do not stand for jets, 5 and 6, nor for each other but 8 for 7: an enclosure that does both is marked with
//! both, `IP65/IP67`.

use serde::{Serialize, Serializer};
use std::fmt;

/// Highest numeral for solids.
const SOLIDS_MOST: u8 = 6;
/// Highest numeral for water.
const WATER_MOST: u8 = 9;
/// Highest numeral for water that stands for all below it.
const WATER_IN_ORDER: u8 = 6;
/// Highest numeral for water that those above `WATER_IN_ORDER` stand for: splashing.
const WATER_SPLASHING: u8 = 4;

/// An IP code, `IP65`, `IPX4` or `IP65/IP67`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct IpCode {
    solids: Option<u8>,
    water: Option<u8>,
    /// A second numeral for water, where it is marked with two codes.
    water_too: Option<u8>,
}

impl IpCode {
    /// Reads `IP65`, `ip x4` or `IP65/IP67`. `None` when it is nothing of the kind, or says nothing (`IPXX`).
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let text: String = text.to_uppercase().chars().filter(|c| !c.is_whitespace()).collect();
        let (first, second) = text.split_once('/').map_or((text.as_str(), None), |(a, b)| (a, Some(b)));
        let (solids, water) = numerals(first)?;
        let Some(second) = second else { return Some(Self { solids, water, water_too: None }) };
        let (solids_too, water_too) = numerals(second)?;
        Some(Self { solids: solids.max(solids_too), water, water_too })
    }

    /// Whether what is marked with this keeps out what `wanted` asks for.
    #[must_use]
    pub fn meets(self, wanted: Self) -> bool {
        let solids = wanted.solids.is_none_or(|asked| self.solids.is_some_and(|has| has >= asked));
        let has = [self.water, self.water_too];
        let water = [wanted.water, wanted.water_too].into_iter().flatten();
        solids && water.into_iter().all(|asked| has.into_iter().flatten().any(|has| keeps_out(has, asked)))
    }
}

/// Whether one numeral for water stands for another.
const fn keeps_out(has: u8, asked: u8) -> bool {
    if has <= WATER_IN_ORDER || asked <= WATER_SPLASHING {
        return has >= asked;
    }
    has == asked || (has == 8 && asked == 7)
}

/// The two numerals of one code.
fn numerals(code: &str) -> Option<(Option<u8>, Option<u8>)> {
    let mut letters = code.strip_prefix("IP")?.chars();
    let mut next = |most: u8| match letters.next()? {
        'X' => Some(None),
        digit => digit.to_digit(10).map(|n| n as u8).filter(|n| *n <= most).map(Some),
    };
    let (solids, water) = (next(SOLIDS_MOST)?, next(WATER_MOST)?);
    (letters.next().is_none() && (solids.is_some() || water.is_some())).then_some((solids, water))
}

impl fmt::Display for IpCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shown = |numeral: Option<u8>| numeral.map_or("X".to_owned(), |n| n.to_string());
        write!(f, "IP{}{}", shown(self.solids), shown(self.water))?;
        match self.water_too {
            Some(water) => write!(f, "/IP{}{water}", shown(self.solids)),
            None => Ok(()),
        }
    }
}

impl Serialize for IpCode {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_read_as_they_stand_on_plates() {
        for (text, shown) in [
            ("IP65", "IP65"),
            ("ip 44", "IP44"),
            ("IPX4", "IPX4"),
            ("IP6X", "IP6X"),
            ("IP65 / IP67", "IP65/IP67"),
        ] {
            assert_eq!(IpCode::read(text).map(|c| c.to_string()).as_deref(), Some(shown), "{text}");
        }
        for wrong in ["", "65", "IP", "IP6", "IP75", "IP6A", "IP654", "IPXX", "IP65/", "weatherproof"] {
            assert_eq!(IpCode::read(wrong), None, "{wrong}");
        }
    }

    /// IEC 60529, clause 6: numerals above 6 do not stand for jets.
    #[test]
    fn what_stands_for_what() {
        let meets = |has: &str, wanted: &str| {
            let code = |text: &str| IpCode::read(text).expect("is a code");
            code(has).meets(code(wanted))
        };
        for (has, wanted) in
            [("IP65", "IP44"), ("IP65", "IPX5"), ("IP67", "IPX4"), ("IP66/IP67", "IPX6"), ("IP68", "IPX7")]
        {
            assert!(meets(has, wanted), "{has} for {wanted}");
        }
        for (has, wanted) in [
            ("IP44", "IP45"),
            ("IP54", "IP64"),
            ("IPX5", "IP45"),
            ("IP67", "IPX5"),
            ("IP65/IP67", "IPX6"),
            ("IP69", "IPX7"),
            ("IP6X", "IPX1"),
        ] {
            assert!(!meets(has, wanted), "{has} for {wanted}");
        }
    }
}
