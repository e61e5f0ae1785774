//! Solves one line on one channel and judges the answer.

use num_complex::Complex64;

use crate::bands::{BAND_COUNT, third_octave_centres_hz};
use crate::channel::Channel;
use crate::error::{InputError, LineError, LineErrors};
use crate::line::{Line, Service, Source};
use crate::line_findings::line_findings;
use crate::line_study::{ImpedanceMinimum, LineLimits, LineStudy, LoadStudy, RunStudy};
use crate::network::Network;
use crate::solution::Solution;

/// The frequency losses are quoted at.
const MID_HZ: f64 = 1000.0;

/// Solves `line` on `channel` at full drive at `frequencies_hz` (usually [`crate::third_octave_centres_hz`]) and judges
/// it by `limits`.
///
/// # Errors
/// Everything wrong with the line, the channel, the limits or the frequencies.
pub fn solve_line(
    line: &Line,
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
    let drive_v = match line.service {
        Service::ConstantVoltage { rated_v } => rated_v,
        Service::LowImpedance => channel.max_voltage_v,
    };
    let source = Source { open_circuit_v: drive_v, output_impedance_ohm: channel.output_impedance_ohm };
    let mut asked = frequencies_hz.to_vec();
    asked.push(MID_HZ);
    let solution = network.solve(&source, &asked).map_err(one)?;
    let mut study = collect(line, &network, &solution, drive_v);
    // The outermost band centres, which lie a quarter of a per cent outside 20 Hz and 20 kHz.
    let bands = third_octave_centres_hz();
    let (lowest, highest) = (bands[0], bands[BAND_COUNT - 1]);
    study.minimum = network.impedance_minimum(lowest, highest);
    let corner = channel.high_pass.map_or(lowest, |filter| filter.corner_hz).clamp(lowest, highest * 0.9);
    study.minimum_in_use = if study.minimum.frequency_hz >= corner {
        study.minimum
    } else {
        network.impedance_minimum(corner, highest)
    };
    study.findings = line_findings(line, channel, limits, &study);
    Ok(study)
}

fn collect(line: &Line, network: &Network, solution: &Solution, drive_v: f64) -> LineStudy {
    let count = solution.frequencies_hz().len() - 1;
    let norms = |values: &[Complex64]| values[..count].iter().map(|v| v.norm()).collect::<Vec<_>>();
    let loads: Vec<LoadStudy> = line
        .loads
        .iter()
        .enumerate()
        .map(|(index, load)| {
            let joint = solution.joint_v(network.load_joint(index).unwrap_or(0));
            let loss = |v: &Complex64| 20.0 * (drive_v / v.norm().max(f64::MIN_POSITIVE)).log10();
            let speaker = norms(solution.loudspeaker_v(index));
            LoadStudy {
                load: load.name.clone(),
                at: load.at.clone(),
                joint_v: norms(joint),
                nominal_power_w: speaker.iter().map(|v| v * v / load.nominal_ohm).collect(),
                loudspeaker_v: speaker,
                power_w: solution.loudspeaker_w(index)[..count].to_vec(),
                loss_db: joint[..count].iter().map(loss).collect(),
                loss_1khz_db: loss(&joint[count]),
                power_1khz_w: solution.loudspeaker_w(index)[count],
                joint_1khz_v: joint[count].norm(),
                counted_w: load.counted_w(line.service),
            }
        })
        .collect();
    let runs: Vec<RunStudy> = line
        .runs
        .iter()
        .enumerate()
        .map(|(index, run)| {
            let (current, loss) = (solution.run_a(index), solution.run_loss_w(index));
            RunStudy {
                run: run.name.clone(),
                from: run.from.clone(),
                to: run.to.clone(),
                current_a: norms(&current),
                loss_w: loss[..count].to_vec(),
                current_1khz_a: current[count].norm(),
                loss_1khz_w: loss[count],
                loop_resistance_ohm: run.pair.loop_resistance_ohm_per_m * run.length_m,
            }
        })
        .collect();
    let impedance: Vec<Complex64> = solution.line_admittance_s()[..count].iter().map(|y| y.inv()).collect();
    let nowhere = ImpedanceMinimum { frequency_hz: MID_HZ, impedance_ohm: f64::MAX };
    LineStudy {
        line: line.name.clone(),
        service: line.service,
        frequencies_hz: solution.frequencies_hz()[..count].to_vec(),
        drive_v,
        cable_loss_w: (0..count).map(|f| runs.iter().map(|run| run.loss_w[f]).sum()).collect(),
        counted_w: loads.iter().map(|load| load.counted_w).sum(),
        loads,
        runs,
        impedance_ohm: impedance.iter().map(|z| z.norm()).collect(),
        impedance_phase_deg: impedance.iter().map(|z| z.arg().to_degrees()).collect(),
        minimum: nowhere,
        minimum_in_use: nowhere,
        source_current_a: (0..count).map(|f| solution.source_a(f).norm()).collect(),
        source_power_w: (0..count).map(|f| solution.line_w(f)).collect(),
        admittance_s: solution.line_admittance_s()[..count].to_vec(),
        findings: Vec::new(),
    }
}

impl Network {
    /// Where |Z| at the source joint is lowest within `low_hz..=high_hz`: searched at 12 points per octave, then at 192
    /// per octave around the lowest.
    #[must_use]
    pub fn impedance_minimum(&self, low_hz: f64, high_hz: f64) -> ImpedanceMinimum {
        let lowest = |low: f64, high: f64, points_per_octave: f64| {
            let steps = ((high / low).log2() * points_per_octave).ceil().max(1.0);
            let grid: Vec<f64> =
                (0..=steps as usize).map(|i| low * (high / low).powf(i as f64 / steps)).collect();
            let best = self
                .line_admittance(&grid)
                .into_iter()
                .map(|y| y.norm())
                .enumerate()
                .fold((0, 0.0), |best, (i, y)| if y > best.1 { (i, y) } else { best });
            (grid[best.0], best.1)
        };
        let (coarse_hz, _) = lowest(low_hz, high_hz, 12.0);
        let step = 2f64.powf(1.0 / 12.0);
        let (frequency_hz, admittance) =
            lowest((coarse_hz / step).max(low_hz), (coarse_hz * step).min(high_hz), 192.0);
        ImpedanceMinimum {
            frequency_hz,
            impedance_ohm: if admittance > 0.0 { admittance.recip() } else { f64::MAX },
        }
    }
}
