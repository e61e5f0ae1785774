//! Who stands in series with whom.

use super::Job;

impl Job {
    /// The loudspeakers a loudspeaker stands in series with, from the line's start outwards: those the current goes through
    /// before it, and, where what goes on is in series with it, all behind. Empty for one that stands across the line.
    pub fn in_series_with(&self, loudspeaker: &str) -> Vec<&str> {
        let Some(line) = self.document().loudspeakers.get(loudspeaker).and_then(|l| l.line.as_deref()) else {
            return Vec::new();
        };
        let (Some(tree), Some(written)) = (self.trees.get(line), self.document().lines.get(line)) else {
            return Vec::new();
        };
        let is_series =
            |index: usize| written.runs.get(&tree.runs[index].id).is_some_and(|run| run.in_series);
        let on_the_way = tree.path_to(loudspeaker).into_iter().filter(|&index| is_series(index));
        let mut all: Vec<&str> = on_the_way.map(|index| tree.runs[index].from.as_str()).collect();
        for index in tree.leaving(loudspeaker).filter(|&index| is_series(index)) {
            all.extend(tree.behind(index).filter(|node| self.document().loudspeakers.contains_key(*node)));
        }
        all
    }

    /// The loudspeakers of a line that the current comes to first, of those in series, each with those it is in series with.
    pub fn series_of_line(&self, line: &str) -> Vec<(&str, Vec<&str>)> {
        let Some(tree) = self.trees.get(line) else { return Vec::new() };
        let mut all = Vec::new();
        for node in tree.nodes() {
            let with = self.in_series_with(node);
            // The first has nobody before it.
            let before =
                tree.path_to(node).iter().any(|&index| with.contains(&tree.runs[index].from.as_str()));
            if !with.is_empty() && !before {
                all.push((node, with));
            }
        }
        all
    }
}
