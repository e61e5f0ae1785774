//! Which colour belongs to which line when several pairs share a jacket.
//!
//! The table is the user's to change; the built-in one is common practice, no source.

use serde::{Deserialize, Serialize};

/// The two conductors that serve one line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PairColours {
    /// Colour of the conductor on the plus terminal.
    pub plus: String,
    /// Colour of the conductor on the minus terminal.
    pub minus: String,
}

/// The pairs of a jacket with a given number of conductors, first line first.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JacketColours {
    /// Conductors in the jacket.
    pub conductors: u32,
    /// One pair per line, in the order lines take them.
    pub pairs: Vec<PairColours>,
}

/// A colour convention: one row per jacket.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ColourConvention {
    /// Rows, any order; the first row with the right number of conductors counts.
    pub jackets: Vec<JacketColours>,
}

impl Default for ColourConvention {
    fn default() -> Self {
        let jacket = |conductors, pairs: &[(&str, &str)]| JacketColours {
            conductors,
            pairs: pairs
                .iter()
                .map(|&(plus, minus)| PairColours { plus: plus.to_owned(), minus: minus.to_owned() })
                .collect(),
        };
        Self {
            jackets: vec![
                jacket(2, &[("red", "black")]),
                jacket(3, &[("red", "black")]),
                jacket(4, &[("red", "black"), ("white", "green")]),
                jacket(6, &[("red", "black"), ("white", "green"), ("blue", "brown")]),
                jacket(8, &[("red", "black"), ("white", "green"), ("blue", "brown"), ("orange", "yellow")]),
            ],
        }
    }
}

impl ColourConvention {
    /// Colours of the `index`-th line (from 0) in a jacket of `conductors`; `None` where the table has no such pair.
    #[must_use]
    pub fn pair(&self, conductors: u32, index: usize) -> Option<&PairColours> {
        self.jackets.iter().find(|jacket| jacket.conductors == conductors)?.pairs.get(index)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_four_conductor_jacket_carries_two_lines() {
        let colours = ColourConvention::default();
        assert_eq!(colours.pair(4, 1).map(|pair| pair.plus.as_str()), Some("white"));
        assert_eq!(colours.pair(4, 2), None);
        assert_eq!(colours.pair(5, 0), None);
    }

    #[test]
    fn no_jacket_lists_more_pairs_than_it_has_conductors_for_or_repeats_a_colour() {
        for jacket in ColourConvention::default().jackets {
            assert!(jacket.pairs.len() * 2 <= jacket.conductors as usize);
            let mut seen: Vec<_> = jacket.pairs.iter().flat_map(|pair| [&pair.plus, &pair.minus]).collect();
            seen.sort();
            seen.dedup();
            assert_eq!(seen.len(), jacket.pairs.len() * 2);
        }
    }
}
