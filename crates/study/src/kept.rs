//! Results kept by what they depend on: computed again only when an input has changed.

use indexmap::IndexMap;
use std::sync::Arc;

/// One result with the input it was computed from.
#[derive(Debug)]
pub struct Kept<I, O> {
    last: Option<(I, Arc<O>)>,
    computed: u64,
}

impl<I, O> Default for Kept<I, O> {
    fn default() -> Self {
        Self { last: None, computed: 0 }
    }
}

impl<I: PartialEq, O> Kept<I, O> {
    /// The result for an input: the kept one when the input is the same as last time.
    pub fn get(&mut self, input: I, compute: impl FnOnce(&I) -> O) -> Arc<O> {
        if let Some((i, o)) = &self.last
            && *i == input
        {
            return Arc::clone(o);
        }
        let output = Arc::new(compute(&input));
        self.computed += 1;
        self.last = Some((input, Arc::clone(&output)));
        output
    }

    /// Takes a result worked out elsewhere for the last one.
    pub fn keep(&mut self, input: I, output: O) {
        self.last = Some((input, Arc::new(output)));
    }

    /// The last result, whatever it was computed from.
    pub fn last(&self) -> Option<Arc<O>> {
        self.last.as_ref().map(|l| Arc::clone(&l.1))
    }

    /// How often the result has been computed, for checks that small edits cost little.
    pub fn times_computed(&self) -> u64 {
        self.computed
    }
}

/// Results of many things of one sort, by id.
#[derive(Debug)]
pub struct KeptById<I, O> {
    each: IndexMap<String, Kept<I, O>>,
}

impl<I, O> Default for KeptById<I, O> {
    fn default() -> Self {
        Self { each: IndexMap::new() }
    }
}

impl<I: PartialEq, O> KeptById<I, O> {
    /// The results for the given things, in their order; those of things no longer given are dropped.
    pub fn get(
        &mut self,
        inputs: IndexMap<String, I>,
        mut compute: impl FnMut(&str, &I) -> O,
    ) -> IndexMap<String, Arc<O>> {
        self.each.retain(|id, _| inputs.contains_key(id));
        inputs
            .into_iter()
            .map(|(id, input)| {
                let kept = self.each.entry(id.clone()).or_default();
                let output = kept.get(input, |i| compute(&id, i));
                (id, output)
            })
            .collect()
    }

    /// How many computations there have been for the things still known.
    pub fn times_computed(&self) -> u64 {
        self.each.values().map(Kept::times_computed).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_changed_input_is_computed_again() {
        let mut kept = KeptById::default();
        let inputs = |b: i32| IndexMap::from([("A".to_owned(), 1), ("B".to_owned(), b)]);
        let first = kept.get(inputs(2), |_, i| i * 10);
        let second = kept.get(inputs(3), |_, i| i * 10);
        assert!(Arc::ptr_eq(&first["A"], &second["A"]));
        assert_eq!((*second["B"], kept.times_computed()), (30, 3));
        assert_eq!(kept.get(IndexMap::from([("B".to_owned(), 3)]), |_, i| i * 10).len(), 1);
    }
}
