//! Changes of a brief, kind by kind, and which of a kind is the nearest to it that does.

use loamline_model::Edit;
use loamline_terms::Sentence;

/// Changes of one kind, each as a sentence and an edit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Kind {
    /// None is nearer to the brief than another: one that does is enough.
    Apart(Vec<(Sentence, Edit)>),
    /// Ever farther from the brief: what lies beyond one that does, does too. As quick searches see it nothing before `may`
    /// does, and `should` does.
    Farther {
        /// The nearest first.
        all: Vec<(Sentence, Edit)>,
        may: usize,
        should: usize,
    },
}

/// The least of 1 to `most` that is met, by halving, where whatever is beyond one that is met is met too.
pub(crate) fn least(most: usize, met: impl Fn(usize) -> bool) -> Option<usize> {
    if most == 0 || !met(most) {
        return None;
    }
    let (mut fails, mut meets) = (0, most);
    while meets - fails > 1 {
        let middle = fails.midpoint(meets);
        if met(middle) { meets = middle } else { fails = middle }
    }
    Some(meets)
}

/// What comes of the nearest of so many changes that does. The one that should is tried first; where it does not, others ever
/// farther, in steps twice as long each time; then those between by halving, down to the one that may. Ends once it is `over`, with
/// the nearest that was found by then.
pub(crate) fn nearest<T, E>(
    steps: usize,
    (may, should): (usize, usize),
    over: impl Fn() -> bool,
    mut met: impl FnMut(usize) -> Result<Option<T>, E>,
) -> Result<Option<T>, E> {
    let Some(last) = steps.checked_sub(1) else { return Ok(None) };
    let (mut at, mut step) = (should.min(last), 1);
    let mut low = may.min(at);
    let mut found = None;
    while found.is_none() && !over() {
        found = met(at)?.map(|made| (at, made));
        if found.is_none() {
            low = at + 1;
            if at == last {
                break;
            }
            at = (at + step).min(last);
            step *= 2;
        }
    }
    let Some((mut meets, mut best)) = found else { return Ok(None) };
    while low < meets && !over() {
        let middle = low.midpoint(meets);
        match met(middle)? {
            Some(made) => (meets, best) = (middle, made),
            None => low = middle + 1,
        }
    }
    Ok(Some(best))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;

    #[test]
    fn the_least_that_is_met_is_found_by_halving() {
        for from in 1..=25 {
            let tried = Cell::new(0);
            let met = |k: usize| {
                tried.set(tried.get() + 1);
                k >= from
            };
            assert_eq!(least(25, met), Some(from));
            assert!(tried.get() <= 6, "{} tries", tried.get());
        }
        assert_eq!(least(25, |_| false), None);
        assert_eq!(least(0, |_| true), None);
    }

    /// Whatever the quick searches expect, and however far it is.
    #[test]
    fn the_nearest_that_does_is_found_wherever_it_lies() {
        for first in 0..25_usize {
            for should in 0..25_usize {
                let met = |k: usize| -> Result<Option<usize>, String> { Ok((k >= first).then_some(k)) };
                assert_eq!(
                    nearest(25, (0, should), || false, met),
                    Ok(Some(first)),
                    "{first}, {should} expected"
                );
                // What a quick search says is too near is not looked at.
                let may = first.min(should);
                assert_eq!(nearest(25, (may, should), || false, met), Ok(Some(first)));
            }
        }
        let never = |_: usize| -> Result<Option<usize>, String> { Ok(None) };
        assert_eq!(nearest(25, (3, 5), || false, never), Ok(None));
        assert_eq!(nearest(0, (0, 0), || false, never), Ok(None));
    }

    #[test]
    fn far_out_of_reach_takes_few_tries_and_what_was_found_stays() {
        let tried = Cell::new(0);
        let over = || tried.get() >= 2;
        let met = |k: usize| -> Result<Option<usize>, String> {
            tried.set(tried.get() + 1);
            Ok((k >= 7).then_some(k))
        };
        // The tenth does; nearer ones are not reached in the work allowed, or only one.
        assert_eq!(nearest(25, (0, 10), over, met), Ok(Some(10)));
        assert_eq!(tried.get(), 2);
    }
}
