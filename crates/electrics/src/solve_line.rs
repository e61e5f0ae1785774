//! Solves one line on one channel and judges the answer.

use num_complex::Complex64;

use crate::channel::Channel;
use crate::channel_load::{full_drive_v, full_scale_v, lowest_impedance, shared_output};
use crate::error::{InputError, LineError, LineErrors};
use crate::line::{Line, Service, Source};
use crate::line_findings::line_findings;
use crate::line_study::{LineLimits, LineStudy, LoadStudy, RunStudy};
use crate::network::Network;
use crate::solution::Solution;

/// The frequency losses are judged and quoted at.
pub(crate) const MID_HZ: f64 = 1000.0;

/// Solves `line`, alone on `channel`, at full drive at `frequencies_hz` (usually [`crate::third_octave_centres_hz`]) and
/// judges it by `limits`.
///
/// # Errors
/// Everything wrong with the line, the channel, the limits or the frequencies.
pub fn solve_line(
    line: &Line,
    channel: &Channel,
    limits: &LineLimits,
    frequencies_hz: &[f64],
) -> Result<LineStudy, LineErrors> {
    solve_line_beside(line, &[], channel, limits, frequencies_hz)
}

/// The same with the other lines that hang on the channel, which at low impedance have a part in how far it can be driven.
///
/// # Errors
/// Everything wrong with the lines, the channel, the limits or the frequencies.
pub fn solve_line_beside(
    line: &Line,
    beside: &[Line],
    channel: &Channel,
    limits: &LineLimits,
    frequencies_hz: &[f64],
) -> Result<LineStudy, LineErrors> {
    let one = |error: InputError| LineErrors(vec![LineError::Value(error)]);
    let network = Network::build(line)?;
    if line.loads.is_empty() {
        let place = format!("line {}", line.name);
        return Err(one(InputError::Empty { place, quantity: "list of loads" }));
    }
    channel.check().map_err(one)?;
    InputError::check_positive("limits", "loss limit", "dB", limits.loss_db).map_err(one)?;
    InputError::check_range("limits", "channel share", "", limits.share, 0.01, 1.0).map_err(one)?;
    let searched_hz = channel.searched_hz();
    let searched_s = network.line_admittance(&searched_hz);
    // One that cannot be solved is told of at that line, and takes nothing.
    let beside: Vec<Network> = match line.service {
        Service::ConstantVoltage { .. } => Vec::new(),
        Service::LowImpedance => beside.iter().filter_map(|other| Network::build(other).ok()).collect(),
    };
    let full_scale_v = full_scale_v(channel, line.service);
    let drive_v = match line.service {
        Service::ConstantVoltage { .. } => full_scale_v,
        Service::LowImpedance => {
            let of_others = of_all(&beside, &searched_hz);
            let together_s: Vec<Complex64> = searched_s.iter().zip(of_others).map(|(a, b)| a + b).collect();
            full_drive_v(channel, &together_s)
        }
    };
    let source = Source { open_circuit_v: drive_v, output_impedance_ohm: channel.output_impedance_ohm };
    let mut asked = frequencies_hz.to_vec();
    asked.push(MID_HZ);
    let solution = network.solve(&source, &asked).map_err(one)?;
    let shares = shares(&network, &asked).map_err(one)?;
    let left = shared_output(channel, solution.line_admittance_s(), &of_all(&beside, &asked));
    let mut study = collect(line, &network, &solution, &Parts { shares, left }, drive_v);
    study.full_scale_v = full_scale_v;
    study.passed_hz = channel.passed_hz();
    study.minimum = lowest_impedance(&searched_hz, &searched_s);
    study.searched_s = searched_s;
    study.findings = line_findings(line, channel, limits, &study);
    Ok(study)
}

/// Admittance of several lines together in S, per frequency.
fn of_all(lines: &[Network], frequencies_hz: &[f64]) -> Vec<Complex64> {
    let mut all = vec![Complex64::ZERO; frequencies_hz.len()];
    for line in lines {
        all.iter_mut().zip(line.line_admittance(frequencies_hz)).for_each(|(sum, one)| *sum += one);
    }
    all
}

/// How what comes out of the amplifier is divided, per frequency.
struct Parts {
    /// Of the voltage at the terminals, what each load stands across where nothing is lost on the way.
    shares: Vec<Vec<f64>>,
    /// Of what the line alone would have at the terminals, what is left to it with the others beside it.
    left: Vec<f64>,
}

/// The share of the voltage at the amplifier's terminals each load stands across where nothing is lost on the way, per load and frequency: all of it but
/// for loads in series, which divide it.
pub(crate) fn shares(network: &Network, frequencies_hz: &[f64]) -> Result<Vec<Vec<f64>>, InputError> {
    if !network.has_series() {
        return Ok(vec![vec![1.0; frequencies_hz.len()]; network.load_names().len()]);
    }
    let bare = network.without_cable().solve(&Source::ideal(1.0), frequencies_hz)?;
    let of = |load: usize| bare.load_across_v(load).iter().map(|v| v.norm()).collect();
    Ok((0..network.load_names().len()).map(of).collect())
}

/// Level lost on the way to a load in dB: the voltage that would stand across it without loss over the one that does.
pub(crate) fn lost_db(sent_v: f64, across_v: f64) -> f64 {
    20.0 * (sent_v.max(f64::MIN_POSITIVE) / across_v.max(f64::MIN_POSITIVE)).log10()
}

fn collect(
    line: &Line,
    network: &Network,
    solution: &Solution,
    Parts { shares, left }: &Parts,
    drive_v: f64,
) -> LineStudy {
    let count = solution.frequencies_hz().len() - 1;
    let norm = |values: &[Complex64], f: usize| values[f].norm() * left[f];
    let norms = |values: &[Complex64]| (0..count).map(|f| norm(values, f)).collect::<Vec<_>>();
    let at_rack = solution.joint_v(network.source_index());
    let loads: Vec<LoadStudy> = line
        .loads
        .iter()
        .enumerate()
        .map(|(index, load)| {
            let across = solution.load_across_v(index);
            let loss = |f: usize| lost_db(at_rack[f].norm() * shares[index][f], across[f].norm());
            let speaker = solution.loudspeaker_v(index);
            let power = |f: usize| norm(speaker, f).powi(2) / load.nominal_ohm;
            LoadStudy {
                load: load.name.clone(),
                at: load.at.clone(),
                joint_v: norms(&across),
                loudspeaker_v: norms(speaker),
                power_w: (0..count).map(power).collect(),
                power_1khz_w: power(count),
                loss_db: (0..count).map(loss).collect(),
                loss_1khz_db: loss(count),
                joint_1khz_v: norm(&across, count),
                counted_w: load.counted_w(line.service),
            }
        })
        .collect();
    let runs: Vec<RunStudy> = line
        .runs
        .iter()
        .enumerate()
        .map(|(index, run)| {
            let (current, loss_w) = (solution.run_a(index), solution.run_loss_w(index));
            let loss = |f: usize| loss_w[f] * left[f].powi(2);
            RunStudy {
                run: run.name.clone(),
                from: run.from.clone(),
                to: run.to.clone(),
                current_a: norms(&current),
                loss_w: (0..count).map(loss).collect(),
                current_1khz_a: norm(&current, count),
                loss_1khz_w: loss(count),
                loop_resistance_ohm: run.pair.loop_resistance_ohm_per_m * run.length_m,
            }
        })
        .collect();
    let impedance: Vec<Complex64> = solution.line_admittance_s()[..count].iter().map(|y| y.inv()).collect();
    LineStudy {
        line: line.name.clone(),
        service: line.service,
        frequencies_hz: solution.frequencies_hz()[..count].to_vec(),
        full_scale_v: drive_v,
        drive_v,
        cable_loss_w: (0..count).map(|f| runs.iter().map(|run| run.loss_w[f]).sum()).collect(),
        counted_w: loads.iter().map(|load| load.counted_w).sum(),
        loads,
        runs,
        impedance_ohm: impedance.iter().map(|z| z.norm()).collect(),
        impedance_phase_deg: impedance.iter().map(|z| z.arg().to_degrees()).collect(),
        passed_hz: [0.0; 2],
        minimum: lowest_impedance(&[], &[]),
        source_current_a: (0..count).map(|f| solution.source_a(f).norm() * left[f]).collect(),
        source_power_w: (0..count).map(|f| solution.line_w(f) * left[f].powi(2)).collect(),
        admittance_s: solution.line_admittance_s()[..count].to_vec(),
        searched_s: Vec::new(),
        findings: Vec::new(),
    }
}
