//! Bounds that are passed, to be said in any language.

use loamline_limits::Exceeded;
use loamline_terms::Sentence;

/// The sentence of a bound that is passed, to be said in any language: its template is that of its row.
#[must_use]
pub fn exceeded(more: &Exceeded) -> Sentence {
    let bound = more.bound;
    let values = [("most", bound.shown()), ("least", bound.shown()), ("found", bound.unit.show(more.found))];
    Sentence::of(bound.sentence, values.map(|(name, value)| (name, value.into())).to_vec())
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_limits::{LOUDSPEAKERS, Side, rows};
    use loamline_terms::Phrases;

    /// Whatever bound is passed reads as the bound itself says it.
    #[test]
    fn every_bound_reads_as_its_row_says() {
        for bound in rows().filter(|b| b.side == Side::Most) {
            let more = Exceeded { bound, found: bound.number + 1 };
            assert_eq!(exceeded(&more), more.to_string());
        }
    }

    #[test]
    fn a_bound_is_told_with_its_numbers_in_another_language() {
        let more = LOUDSPEAKERS.check_u64(LOUDSPEAKERS.number + 1).unwrap_err();
        let told = exceeded(&more).spoken(Phrases::of("es"));
        assert!(told.starts_with("hay ") && told.contains(&LOUDSPEAKERS.shown()), "{told}");
    }
}
