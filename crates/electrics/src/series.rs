//! Loads in series: what else falls silent when one thing of a line opens.
//!
//! The current of a load in series goes on through what hangs on the runs that leave its joint in series. For lines without
//! loops; of a loop each joint counts where it is first come to.

use crate::line::{Line, Load, Run};
use std::collections::BTreeSet;

impl Line {
    /// Loads in series with a run or a load of this name: those not behind it that fall silent when it opens.
    #[must_use]
    pub fn also_silent_without(&self, name: &str) -> Vec<&str> {
        if !self.loads.iter().any(|load| load.in_series) {
            return Vec::new();
        }
        let run = self.runs.iter().find(|run| run.name == name);
        let mut behind = Vec::new();
        if let Some(run) = run {
            let mut walk = Walk::new(self, None);
            walk.met.insert(&run.from);
            walk.live(&run.to, &mut behind);
        }
        let after = self.live_without(Some(name));
        self.live_without(None)
            .into_iter()
            .filter(|load| *load != name && !behind.contains(load) && !after.contains(load))
            .collect()
    }

    /// Whether a load is part of a closed circuit: in series with something that is there.
    #[must_use]
    pub fn closes(&self, load: &Load) -> bool {
        let in_series = self.loads.iter().any(|other| other.in_series);
        !in_series || self.live_without(None).contains(&load.name.as_str())
    }

    /// Loads that carry current with a run or load of this name open.
    fn live_without(&self, open: Option<&str>) -> Vec<&str> {
        let mut live = Vec::new();
        Walk::new(self, open).live(&self.source_joint, &mut live);
        live
    }
}

/// A walk outwards from a joint.
struct Walk<'a, 'o> {
    line: &'a Line,
    met: BTreeSet<&'a str>,
    /// A run or load that is open.
    open: Option<&'o str>,
}

/// What a joint joins, outwards.
struct Joint<'a> {
    across: Vec<&'a Load>,
    in_series: Vec<&'a Load>,
    side_by_side: Vec<&'a str>,
    behind: Vec<&'a str>,
}

impl<'a, 'o> Walk<'a, 'o> {
    fn new(line: &'a Line, open: Option<&'o str>) -> Self {
        Self { line, met: BTreeSet::new(), open }
    }

    fn enter(&mut self, joint: &'a str) -> Joint<'a> {
        self.met.insert(joint);
        let open = self.open;
        let here = |load: &&Load| load.at == joint && Some(load.name.as_str()) != open;
        let (in_series, across) = self.line.loads.iter().filter(here).partition(|load| load.in_series);
        let runs = self.line.runs.iter().filter(|run| Some(run.name.as_str()) != open);
        let leads = |run: &'a Run| match joint {
            _ if run.from == joint => Some((run.to.as_str(), run.in_series)),
            _ if run.to == joint => Some((run.from.as_str(), false)),
            _ => None,
        };
        let on: Vec<(&str, bool)> = runs.filter_map(leads).filter(|(to, _)| !self.met.contains(to)).collect();
        let of = |series: bool| on.iter().filter(|(_, own)| *own == series).map(|(to, _)| *to).collect();
        Joint { across, in_series, side_by_side: of(false), behind: of(true) }
    }

    /// Names of the loads that carry current from a joint outwards.
    fn live(&mut self, joint: &'a str, live: &mut Vec<&'a str>) {
        let here = self.enter(joint);
        live.extend(here.across.iter().map(|load| load.name.as_str()));
        for next in here.side_by_side {
            self.live(next, live);
        }
        let mut behind = Vec::new();
        for next in here.behind {
            self.live(next, &mut behind);
        }
        if !here.in_series.is_empty() && !behind.is_empty() {
            live.extend(here.in_series.iter().map(|load| load.name.as_str()));
            live.append(&mut behind);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Connection, Loudspeaker, PairConstants, Service};

    fn run(name: &str, from: &str, to: &str, in_series: bool) -> Run {
        let pair = PairConstants {
            loop_resistance_ohm_per_m: 0.02,
            loop_inductance_h_per_m: 6e-7,
            capacitance_f_per_m: 1e-10,
        };
        Run {
            name: name.into(),
            from: from.into(),
            to: to.into(),
            in_series,
            length_m: 5.0,
            pair,
            laid: None,
        }
    }

    fn load(name: &str, nominal_ohm: f64, in_series: bool) -> Load {
        Load {
            name: name.into(),
            at: name.into(),
            in_series,
            connection: Connection::Direct,
            loudspeaker: Loudspeaker::resistance(nominal_ohm),
            nominal_ohm,
            series_capacitor_f: None,
        }
    }

    /// Two strings of two 8 ohm loudspeakers in parallel, and 4 ohm at the joint between.
    fn line() -> Line {
        Line {
            name: "A".into(),
            service: Service::LowImpedance,
            source_joint: "R".into(),
            joints: Vec::new(),
            runs: vec![
                run("a1", "R", "J", false),
                run("a2", "J", "L1", false),
                run("a3", "L1", "L2", true),
                run("a4", "J", "L3", false),
                run("a5", "L3", "L4", true),
                run("a6", "J", "L5", false),
            ],
            loads: vec![
                load("L1", 8.0, true),
                load("L2", 8.0, false),
                load("L3", 8.0, true),
                load("L4", 8.0, false),
                load("L5", 4.0, false),
            ],
        }
    }

    #[test]
    fn what_opens_in_a_string_silences_the_string_and_nothing_else() {
        let line = line();
        for (name, silent) in [
            ("L1", vec!["L2"]),
            ("L2", vec!["L1"]),
            ("a3", vec!["L1"]),
            ("a5", vec!["L3"]),
            ("L5", vec![]),
            ("a6", vec![]),
            ("a1", vec![]),
            ("a2", vec![]),
        ] {
            assert_eq!(line.also_silent_without(name), silent, "{name}");
        }
    }
}
