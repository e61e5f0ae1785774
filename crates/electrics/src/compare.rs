//! The same job at 70.7 V, at 100 V and at low impedance, side by side: copper, loss, amplifier, cost.
//!
//! The loads of each way are given as they would hang on it, transformers and impedances included, so that a cable chosen here
//! loses what the line loses once it is built. At low impedance they hang in parallel or in series as given, the drive is what
//! the hungriest needs, and the rest are assumed padded down (they take what that voltage gives them). The smallest single
//! cable that keeps the loss limit is used throughout, except in runs that are there already: those stay, and are not bought.

use serde::{Deserialize, Serialize};

use crate::cable::Cable;
use crate::design::{is_kept, smallest_cable_for_rest};
use crate::error::{InputError, LineError, LineErrors};
use crate::line::{Line, Load, Run, Service, Source};
use crate::line_study::LineLimits;
use crate::network::Network;
use crate::solve_line::{MID_HZ, lost_db, shares};

/// A kind of line, and what would hang on it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ComparedWay {
    /// The kind of line.
    pub service: Service,
    /// Its loads.
    pub loads: Vec<Load>,
    /// Power wanted at each of them in W, in the same order.
    pub wanted_w: Vec<f64>,
}

/// Prices the comparison counts with, any currency.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ComparisonPrices {
    /// Price per m of each cable offered, in the same order.
    pub cable_per_m: Vec<f64>,
    /// Price of a line transformer.
    pub transformer: f64,
    /// Price per W of amplifier.
    pub amplifier_per_w: f64,
    /// Price of an amplifier channel besides its watts.
    pub amplifier_channel: f64,
}

/// One way of doing the job.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ServiceComparison {
    /// The kind of line.
    pub service: Service,
    /// Index of the cable used, `None` when even the thickest loses too much (it is then used all the same).
    pub cable: Option<usize>,
    /// Copper of one pair in kg.
    pub copper_kg: f64,
    /// Loss at the worst loudspeaker in dB at 1 kHz.
    pub worst_loss_db: f64,
    /// Power lost in cable in W at full drive at 1 kHz.
    pub cable_loss_w: f64,
    /// Amplifier power needed in W, the channel's share kept free on constant voltage.
    pub amplifier_w: f64,
    /// Load at the amplifier in ohm at 1 kHz.
    pub load_ohm: f64,
    /// Amplifier channels needed to stay above the minimum load (low impedance) or one.
    pub channels: u32,
    /// Cable, transformers and amplifiers.
    pub cost: f64,
}

/// Compares the `ways` of feeding what hangs on `runs`, at low impedance with an amplifier that takes `minimum_load_ohm`; runs
/// that are `kept` are there already (none where the list ends before them).
///
/// # Errors
/// Everything wrong with the layout, the loads, the cables, the powers or the prices.
#[expect(clippy::too_many_arguments, reason = "each is a separate choice of the person comparing")]
pub fn compare_services(
    source_joint: &str,
    runs: &[Run],
    kept: &[bool],
    ways: &[ComparedWay],
    cables: &[Cable],
    prices: &ComparisonPrices,
    temperature_c: f64,
    limits: &LineLimits,
    minimum_load_ohm: f64,
) -> Result<Vec<ServiceComparison>, LineErrors> {
    let one = |error: InputError| LineErrors(vec![LineError::Value(error)]);
    check(ways, cables, prices, minimum_load_ohm).map_err(one)?;
    ways.iter()
        .map(|way| {
            let mut line = Line {
                name: "compared".to_owned(),
                service: way.service,
                source_joint: source_joint.to_owned(),
                joints: Vec::new(),
                runs: runs.to_vec(),
                loads: way.loads.clone(),
            };
            let chosen = smallest_cable_for_rest(&line, kept, cables, temperature_c, limits.loss_db);
            let cable = match &chosen {
                Ok(choice) => choice.cable.first().copied(),
                Err(LineErrors(problems))
                    if problems
                        .iter()
                        .all(|p| matches!(p, LineError::Value(InputError::NoChoice { .. }))) =>
                {
                    None
                }
                Err(errors) => return Err(errors.clone()),
            };
            let used = cable.unwrap_or_else(|| thickest(cables));
            let pair = cables[used].pair(temperature_c).map_err(one)?;
            for (index, run) in line.runs.iter_mut().enumerate() {
                if !is_kept(kept, index) {
                    run.pair = pair;
                }
            }
            judge(&line, kept, cables, prices, cable, used, &way.wanted_w, limits.share, minimum_load_ohm)
        })
        .collect()
}

fn check(
    ways: &[ComparedWay],
    cables: &[Cable],
    prices: &ComparisonPrices,
    minimum_load_ohm: f64,
) -> Result<(), InputError> {
    InputError::check_positive("comparison", "minimum load", "ohm", minimum_load_ohm)?;
    for (load, power_w) in ways.iter().flat_map(|way| way.loads.iter().zip(&way.wanted_w)) {
        let place = format!("load {} at joint {}", load.name, load.at);
        InputError::check_positive(&place, "power wanted", "W", *power_w)?;
        InputError::check_positive(&place, "nominal impedance", "ohm", load.nominal_ohm)?;
    }
    if cables.is_empty() || prices.cable_per_m.len() != cables.len() {
        return Err(InputError::NoChoice {
            place: "comparison".to_owned(),
            problem: format!(
                "{} cables and {} cable prices were given; give one price per cable, at least one",
                cables.len(),
                prices.cable_per_m.len()
            ),
        });
    }
    for &price in prices.cable_per_m.iter().chain([
        &prices.transformer,
        &prices.amplifier_per_w,
        &prices.amplifier_channel,
    ]) {
        InputError::check_not_negative("comparison", "price", "", price)?;
    }
    Ok(())
}

fn thickest(cables: &[Cable]) -> usize {
    let area = |index: usize| cables[index].size.area_mm2();
    (0..cables.len()).fold(0, |best, index| if area(index) > area(best) { index } else { best })
}

#[expect(clippy::too_many_arguments, reason = "what was asked, handed on")]
fn judge(
    line: &Line,
    kept: &[bool],
    cables: &[Cable],
    prices: &ComparisonPrices,
    cable: Option<usize>,
    used: usize,
    wanted_w: &[f64],
    share: f64,
    minimum_load_ohm: f64,
) -> Result<ServiceComparison, LineErrors> {
    let one = |error: InputError| LineErrors(vec![LineError::Value(error)]);
    let network = Network::build(line)?;
    let shares = shares(&network, &[MID_HZ]).map_err(one)?.concat();
    let drive_v = match line.service {
        Service::ConstantVoltage { rated_v } => rated_v,
        Service::LowImpedance => {
            let wanted = line.loads.iter().zip(wanted_w).zip(&shares);
            wanted.map(|((load, w), share)| (w * load.nominal_ohm).sqrt() / share).fold(0.0, f64::max)
        }
    };
    let solution = network.solve(&Source::ideal(drive_v), &[MID_HZ]).map_err(one)?;
    let loss_db =
        |(load, share): (usize, &f64)| lost_db(drive_v * share, solution.load_across_v(load)[0].norm());
    let worst_loss_db = shares.iter().enumerate().map(loss_db).fold(f64::NEG_INFINITY, f64::max);
    let load_ohm = solution.line_impedance_ohm(0).map_or(f64::MAX, |z| z.norm());
    let taken_w = drive_v * drive_v / load_ohm;
    let (amplifier_w, channels, transformers) = match line.service {
        Service::ConstantVoltage { .. } => {
            let counted_w: f64 = line.loads.iter().filter_map(|load| load.counted_w(line.service)).sum();
            (counted_w / share, 1.0, line.loads.len() as f64)
        }
        Service::LowImpedance => (taken_w, (minimum_load_ohm / load_ohm - 1e-9).ceil().max(1.0), 0.0),
    };
    let bought = line.runs.iter().enumerate().filter(|(index, _)| !is_kept(kept, *index));
    let length_m: f64 = bought.map(|(_, run)| run.length_m).sum();
    let one_pair = 2.0 / f64::from(cables[used].conductors);
    Ok(ServiceComparison {
        service: line.service,
        cable,
        copper_kg: cables[used].copper_kg_per_m() * one_pair * length_m,
        worst_loss_db,
        cable_loss_w: (0..line.runs.len()).map(|run| solution.run_loss_w(run)[0]).sum(),
        amplifier_w,
        load_ohm,
        channels: channels as u32,
        cost: prices.cable_per_m[used] * length_m
            + transformers * prices.transformer
            + amplifier_w * prices.amplifier_per_w
            + channels * prices.amplifier_channel,
    })
}
