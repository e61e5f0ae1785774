//! Where a search for routes stands.

use super::before::Before;
use loamline_geometry::Point2;
use loamline_routing::{GroundMap, Opened, RoutedLines, Sleeve};
use std::collections::BTreeMap;

/// Lines routed together.
#[derive(Debug, Clone)]
pub(super) struct Solved {
    /// The lines.
    pub routed: RoutedLines,
    /// Joints that runs end at, each with its name among them.
    pub joints: BTreeMap<String, String>,
    /// Price per metre of the cable they were routed with.
    pub cable_per_m: f64,
    /// Its outside diameter, mm.
    pub outside_diameter_mm: f64,
}

/// All lines routed.
#[derive(Debug, Clone, Default)]
pub(super) struct Solution {
    /// Lines, a group for each search.
    pub groups: Vec<Solved>,
    /// Trunks, laid before the lines behind them.
    pub trunks: Vec<Solved>,
    /// What lies before a line, by line.
    pub before: BTreeMap<String, Before>,
    /// New joints at the ends of trunks.
    pub joints: BTreeMap<String, Point2>,
    /// Pairs that lines change to, and the cable they are then named after.
    pub pairs: BTreeMap<String, (u32, Option<String>)>,
    /// Loss to which thinner cable may be chosen, by line, where it is not the brief's, dB.
    pub limits: BTreeMap<String, f64>,
}

impl Solution {
    /// What all its runs leave open for others.
    pub fn open(&self) -> Opened {
        let mut all = Opened::default();
        for group in self.trunks.iter().chain(&self.groups) {
            let runs = group.routed.lines.iter().flat_map(|l| &l.runs);
            runs.for_each(|r| all.extend(&r.open_beside()));
        }
        all
    }

    /// The ground with what it draws through the sleeves.
    pub fn filled(&self, ground: &GroundMap) -> GroundMap {
        let mut sleeves = ground.plan().sleeves.clone();
        for group in self.trunks.iter().chain(&self.groups) {
            fill(&mut sleeves, group);
        }
        ground.with_cable_in(&sleeves)
    }

    /// The same of some lines only, as far as they can be told apart.
    pub fn only(&self, lines: &[&str]) -> Self {
        let mut part = self.clone();
        for group in &mut part.groups {
            let others: Vec<String> = group.routed.lines.iter().map(|l| l.id.clone()).collect();
            for line in others.iter().filter(|l| !lines.contains(&l.as_str())) {
                group.routed.take_out(line);
            }
        }
        part
    }
}

/// Draws the runs of a group through the sleeves of the ground.
pub(super) fn fill(sleeves: &mut [Sleeve], group: &Solved) {
    for used in &group.routed.sleeves {
        if let Some(sleeve) = sleeves.iter_mut().find(|s| s.id == used.sleeve) {
            sleeve.occupants_mm.extend(used.runs.iter().map(|_| group.outside_diameter_mm));
        }
    }
}
