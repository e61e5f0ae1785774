//! What two taped distances leave open, in words.

use crate::material::Material;
use crate::taping::{Taping, written};

/// On which side of the line between its two fixed points a place is, and how far off that line where tapes do not tell.
pub fn side_of(m: &Material<'_>, t: &Taping) -> String {
    let off = t.off_m.map(|off| written(off, m.options.units));
    let key = match (t.off_m, t.left) {
        (Some(off), _) if off <= 0.0 => "crew.on_line",
        (Some(_), true) => "crew.off_line_left",
        (Some(_), false) => "crew.off_line_right",
        (None, true) => "crew.left_of",
        (None, false) => "crew.right_of",
    };
    let off = off.unwrap_or_default();
    m.options.words.fill(key, &[("first", &t.first.id), ("second", &t.second.id), ("off", &off)])
}
