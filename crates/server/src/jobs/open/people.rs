//! Who looks at a job: here, and by way of other servers on the same store.

use std::collections::BTreeMap;
use std::time::Instant;

/// Everybody who looks at a job.
#[derive(Debug, Default)]
pub struct People {
    /// Here, each under a key of their own.
    pub here: Vec<(u64, String)>,
    /// By way of others, by a word for the server, as it told last.
    pub elsewhere: BTreeMap<String, (Vec<String>, Instant)>,
}

impl People {
    /// Their names, those who look on here first.
    pub fn names(&self) -> Vec<String> {
        let here = self.here.iter().map(|(_, name)| name);
        here.chain(self.elsewhere.values().flat_map(|(names, _)| names)).cloned().collect()
    }
}
