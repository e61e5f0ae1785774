//! What two taped distances leave open, in words.

use crate::material::Material;
use crate::taping::Taping;

/// The same in a word, for a list whose columns have the two points.
pub fn side_in_short(m: &Material<'_>, t: &Taping) -> String {
    m.options.words.get(if t.left { "crew.on_left" } else { "crew.on_right" }).to_owned()
}

/// On which side of the line between its two fixed points a place is.
pub fn side_of(m: &Material<'_>, t: &Taping) -> String {
    let key = if t.left { "crew.left_of" } else { "crew.right_of" };
    m.options.words.fill(key, &[("first", &t.first.id), ("second", &t.second.id)])
}
