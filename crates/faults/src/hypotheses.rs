//! Everything that may be wrong with a line, with its prior probability.
//!
//! A fault with an unknown size (where along a run, how many ohms) is a grid of points that share its prior; the spacing
//! of the grid counts as an error of its own, so a reading between two points is not held against it.

use loamline_electrics::{Change, Connection, Line, Load, Network};
use serde::{Deserialize, Serialize};

/// A fault, by the names of the line.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[expect(missing_docs, reason = "fields are the names of runs, joints, loads and lines")]
pub enum Fault {
    /// Nothing is wrong.
    Healthy,
    /// A run is open: cut, or off at a splice.
    Open { run: String },
    /// The conductors of a run touch somewhere along it: a staple, a spade.
    ShortAlong { run: String },
    /// The conductors touch at a joint.
    ShortAt { joint: String },
    /// A splice at an end of a run has gone high: corrosion.
    HighSplice { run: String },
    /// Water leaks current across a joint.
    Wet { joint: String },
    /// A loudspeaker is set to another tap, W.
    WrongTap { load: String, tap_w: f64 },
    /// A loudspeaker's switch is on low impedance.
    LowImpedance { load: String },
    /// A loudspeaker is missing, dead or not connected.
    Missing { load: String },
    /// The line on these terminals is another one.
    Swapped { line: String },
}

/// Prior weights; they need not add up to one. Defaults are common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Priors {
    /// Nothing wrong.
    pub healthy: f64,
    /// Each open run.
    pub open: f64,
    /// Each run shorted somewhere.
    pub short_along: f64,
    /// Each shorted joint.
    pub short_at: f64,
    /// Each splice gone high.
    pub high_splice: f64,
    /// Each wet joint.
    pub wet: f64,
    /// Each loudspeaker on a wrong tap (shared over its taps).
    pub wrong_tap: f64,
    /// Each loudspeaker on low impedance.
    pub low_impedance: f64,
    /// Each missing loudspeaker.
    pub missing: f64,
    /// Each other line swapped in.
    pub swapped: f64,
}

impl Default for Priors {
    fn default() -> Self {
        Self {
            healthy: 50.0,
            open: 2.0,
            short_along: 1.0,
            short_at: 1.0,
            high_splice: 1.5,
            wet: 1.0,
            wrong_tap: 1.5,
            low_impedance: 1.0,
            missing: 1.5,
            swapped: 1.0,
        }
    }
}

/// One point of a hypothesis.
#[derive(Debug, Clone)]
pub(crate) struct Point {
    pub(crate) changes: Vec<Change>,
    /// Share of the run from its `from` end, or ohm.
    pub(crate) parameter: Option<f64>,
}

/// A fault with its prior weight and its grid.
#[derive(Debug, Clone)]
pub(crate) struct Hypothesis {
    pub(crate) fault: Fault,
    pub(crate) weight: f64,
    pub(crate) points: Vec<Point>,
    /// Index into the other lines, for a swap.
    pub(crate) other: Option<usize>,
}

/// Points along a run. Fewer blur the distance; more cost time in proportion.
const ALONG: usize = 9;
/// Resistance of a contact between shorted conductors, ohm (from memory: crushed copper reads a few hundredths).
const CONTACT_OHM: f64 = 0.03;

pub(crate) fn hypotheses(
    line: &Line,
    network: &Network,
    others: &[&Line],
    frequencies_hz: &[f64],
    priors: &Priors,
) -> Vec<Hypothesis> {
    let one = |changes| vec![Point { changes, parameter: None }];
    let mut all = vec![Hypothesis {
        fault: Fault::Healthy,
        weight: priors.healthy,
        points: one(Vec::new()),
        other: None,
    }];
    let mut add = |fault, weight, points| all.push(Hypothesis { fault, weight, points, other: None });
    for (run, name) in network.run_names().enumerate() {
        let run_name = name.to_owned();
        add(
            Fault::Open { run: run_name.clone() },
            priors.open,
            one(vec![Change::Cut { run, fraction: 0.5 }]),
        );
        let along = (0..ALONG).map(|k| {
            let fraction = (k as f64 + 0.5) / ALONG as f64;
            Point {
                changes: vec![Change::ShortAlong { run, fraction, ohm: CONTACT_OHM }],
                parameter: Some(fraction),
            }
        });
        add(Fault::ShortAlong { run: run_name.clone() }, priors.short_along, along.collect());
        let ohms = log_grid(0.5, 500.0, 13)
            .map(|ohm| Point { changes: vec![Change::Series { run, ohm }], parameter: Some(ohm) });
        add(Fault::HighSplice { run: run_name }, priors.high_splice, ohms.collect());
    }
    for (joint, name) in network.joints().iter().enumerate() {
        if joint != network.source_index() {
            let short = vec![Change::Across { joint, ohm: CONTACT_OHM }];
            add(Fault::ShortAt { joint: name.clone() }, priors.short_at, one(short));
        }
        let ohms = log_grid(20.0, 10_000.0, 13)
            .map(|ohm| Point { changes: vec![Change::Across { joint, ohm }], parameter: Some(ohm) });
        add(Fault::Wet { joint: name.clone() }, priors.wet, ohms.collect());
    }
    for (index, load) in line.loads.iter().enumerate() {
        let replaced = |connection: Connection| {
            let other = Load { connection, ..load.clone() };
            let admittance_s = frequencies_hz.iter().map(|&f| other.response(f).admittance_s).collect();
            one(vec![Change::Replaced { load: index, admittance_s }])
        };
        let name = || load.name.clone();
        add(Fault::Missing { load: name() }, priors.missing, one(vec![Change::Missing { load: index }]));
        if let Connection::Tapped { transformer, tap_w } = &load.connection {
            let wrong: Vec<f64> =
                transformer.taps_w.iter().copied().filter(|tap| (tap / tap_w - 1.0).abs() > 1e-3).collect();
            for tap in &wrong {
                let connection = Connection::Tapped { transformer: transformer.clone(), tap_w: *tap };
                let fault = Fault::WrongTap { load: name(), tap_w: *tap };
                add(fault, priors.wrong_tap / wrong.len() as f64, replaced(connection));
            }
            add(Fault::LowImpedance { load: name() }, priors.low_impedance, replaced(Connection::Direct));
        }
    }
    for (index, other) in others.iter().enumerate() {
        all.push(Hypothesis {
            fault: Fault::Swapped { line: other.name.clone() },
            weight: priors.swapped,
            points: one(Vec::new()),
            other: Some(index),
        });
    }
    all
}

fn log_grid(low: f64, high: f64, count: usize) -> impl Iterator<Item = f64> {
    (0..count).map(move |k| low * (high / low).powf(k as f64 / (count - 1) as f64))
}
