//! The same job at 70.7 V, at 100 V and at low impedance, side by side: copper, loss, amplifier, cost.
//!
//! Each loudspeaker gets the power asked for it. On a constant-voltage line its transformer is tapped for that power; at
//! low impedance all are in parallel, the drive is what the hungriest needs, and the rest are assumed padded down
//! (they take what that voltage gives them). The smallest single cable that keeps the loss limit is used throughout,
//! except in runs that are there already: those stay, and are not bought.

use serde::{Deserialize, Serialize};

use crate::cable::Cable;
use crate::channel::DEFAULT_SHARE;
use crate::design::{is_kept, smallest_cable_for_rest};
use crate::error::{InputError, LineError, LineErrors};
use crate::line::{Connection, Line, Load, Run, Service, Source};
use crate::loudspeaker::Loudspeaker;
use crate::network::Network;
use crate::tapped_transformer::{TappedTransformer, Windings};

/// A loudspeaker wanted, whatever the line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WantedLoad {
    /// Name.
    pub name: String,
    /// Its joint.
    pub at: String,
    /// Power wanted at the loudspeaker in W.
    pub power_w: f64,
    /// Nominal impedance in ohm.
    pub nominal_ohm: f64,
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

/// Compares 70.7 V, 100 V and low impedance for `runs` and `wanted`, with an amplifier that takes `minimum_load_ohm`; runs
/// that are `kept` are there already (none where the list ends before them).
///
/// # Errors
/// Everything wrong with the layout, the cables, the powers or the prices.
#[expect(clippy::too_many_arguments, reason = "each is a separate choice of the person comparing")]
pub fn compare_services(
    source_joint: &str,
    runs: &[Run],
    kept: &[bool],
    wanted: &[WantedLoad],
    cables: &[Cable],
    prices: &ComparisonPrices,
    temperature_c: f64,
    limit_db: f64,
    minimum_load_ohm: f64,
) -> Result<Vec<ServiceComparison>, LineErrors> {
    let one = |error: InputError| LineErrors(vec![LineError::Value(error)]);
    check(wanted, cables, prices, minimum_load_ohm).map_err(one)?;
    let services = [
        Service::ConstantVoltage { rated_v: 70.7 },
        Service::ConstantVoltage { rated_v: 100.0 },
        Service::LowImpedance,
    ];
    services
        .into_iter()
        .map(|service| {
            let mut line = Line {
                name: "compared".to_owned(),
                service,
                source_joint: source_joint.to_owned(),
                joints: Vec::new(),
                runs: runs.to_vec(),
                loads: wanted.iter().map(|load| fit(load, service)).collect(),
            };
            let chosen = smallest_cable_for_rest(&line, kept, cables, temperature_c, limit_db);
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
            judge(&line, kept, cables, prices, cable, used, wanted, minimum_load_ohm)
        })
        .collect()
}

fn check(
    wanted: &[WantedLoad],
    cables: &[Cable],
    prices: &ComparisonPrices,
    minimum_load_ohm: f64,
) -> Result<(), InputError> {
    InputError::check_positive("comparison", "minimum load", "ohm", minimum_load_ohm)?;
    for load in wanted {
        let place = format!("load {} at joint {}", load.name, load.at);
        InputError::check_positive(&place, "power wanted", "W", load.power_w)?;
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

fn fit(wanted: &WantedLoad, service: Service) -> Load {
    let connection = match service {
        Service::LowImpedance => Connection::Direct,
        Service::ConstantVoltage { rated_v } => Connection::Tapped {
            transformer: TappedTransformer {
                rated_v,
                taps_w: vec![wanted.power_w],
                insertion_loss_db: 0.0,
                rated_low_hz: 60.0,
                magnetising_inductance_h: None,
                windings: Windings { leakage_inductance_h: Some(0.0), ..Windings::default() },
                loudspeaker_nominal_ohm: wanted.nominal_ohm,
            },
            tap_w: wanted.power_w,
        },
    };
    Load {
        name: wanted.name.clone(),
        at: wanted.at.clone(),
        connection,
        loudspeaker: Loudspeaker::resistance(wanted.nominal_ohm),
        nominal_ohm: wanted.nominal_ohm,
        series_capacitor_f: None,
        intended_wiring: None,
    }
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
    wanted: &[WantedLoad],
    minimum_load_ohm: f64,
) -> Result<ServiceComparison, LineErrors> {
    let one = |error: InputError| LineErrors(vec![LineError::Value(error)]);
    let drive_v = match line.service {
        Service::ConstantVoltage { rated_v } => rated_v,
        Service::LowImpedance => {
            wanted.iter().map(|load| (load.power_w * load.nominal_ohm).sqrt()).fold(0.0, f64::max)
        }
    };
    let network = Network::build(line)?;
    let solution = network.solve(&Source::ideal(drive_v), &[1000.0]).map_err(one)?;
    let worst_v =
        network.loads.iter().map(|load| solution.joint_v(load.joint)[0].norm()).fold(f64::INFINITY, f64::min);
    let load_ohm = solution.line_impedance_ohm(0).map_or(f64::MAX, |z| z.norm());
    let taken_w = drive_v * drive_v / load_ohm;
    let (amplifier_w, channels, transformers) = match line.service {
        Service::ConstantVoltage { .. } => {
            (wanted.iter().map(|load| load.power_w).sum::<f64>() / DEFAULT_SHARE, 1.0, wanted.len() as f64)
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
        worst_loss_db: 20.0 * (drive_v / worst_v.max(f64::MIN_POSITIVE)).log10(),
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
