//! The document as the electrics engine wants it: lines of runs and loads, and the channels that feed them.

use crate::existing::{in_parallel, not_known};
use crate::run::LaidRun;
use loamline_electrics::{
    Channel, CoilWiring, ConductorSize, Connection, HighPass, ImpedancePoint, InputError, LaidCable, Line,
    LineLimits, Load, Loudspeaker, PairConstants, Run, Service, Surroundings, TYPICAL_CAPACITANCE_F_PER_M,
    TYPICAL_LOOP_INDUCTANCE_H_PER_M, TappedTransformer, Windings,
};
use loamline_model::catalogue::{AmplifierModel, Cable, CableRating, LoudspeakerModel, TransformerModel};
use loamline_model::document::{Coils, Filter, Laying, Supply};
use loamline_model::{ChannelView, Job, LineView, PlacedLoudspeaker};

/// Temperature the conductors are taken to have, degrees Celsius: that of the tables of resistance.
pub const CONDUCTOR_TEMPERATURE_C: f64 = 20.0;

/// A line and the channel that feeds it, ready to solve.
#[derive(Debug, Clone, PartialEq)]
pub struct LineInput {
    /// The line.
    pub line: Line,
    /// Its channel.
    pub channel: Channel,
    /// What it may lose and use.
    pub limits: LineLimits,
}

/// The limits of the brief.
pub fn limits(job: &Job) -> LineLimits {
    let brief = &job.document().brief;
    LineLimits { loss_db: brief.loss_limit_db, share: brief.load_share }
}

/// A line of the job as an engine input, from the rack on; `None` while it has no runs or no loudspeakers, or comes
/// through existing cable of unknown length, so that nothing can be solved.
///
/// # Errors
/// A value that no cable or loudspeaker can have.
pub fn line_input(job: &Job, view: &LineView<'_>, runs: &[LaidRun]) -> Result<Option<LineInput>, InputError> {
    let loudspeakers = job.loudspeakers_of_line(view.id);
    if view.tree.runs.is_empty() || loudspeakers.is_empty() || not_known(job, view.id) {
        return Ok(None);
    }
    let service = service(view.supply);
    let mut line = Line {
        name: view.id.to_owned(),
        service,
        source_joint: source_joint(view, runs).to_owned(),
        joints: Vec::new(),
        runs: Vec::new(),
        loads: loudspeakers.iter().map(|l| load(l, view.supply)).collect(),
    };
    for r in runs.iter().filter(|r| r.line == view.id) {
        let Some(cable) = job.catalogue().cables.get(&r.cable) else { continue };
        let pair = pair(&r.cable, cable)?;
        line.runs.push(Run {
            name: r.id.clone(),
            from: r.from.clone(),
            to: r.to.clone(),
            length_m: r.electrical_m(),
            pair: r.existing.as_ref().map_or(pair, |e| in_parallel(pair, e.pairs.len())),
            laid: Some(laid_cable(r, cable)),
        });
    }
    let channel = match view.line.channel.as_deref().and_then(|c| job.channel(c)) {
        Some(c) => channel(&c, &loudspeakers, view.supply),
        None => stand_in_channel(&line, view.supply),
    };
    Ok(Some(LineInput { line, channel, limits: limits(job) }))
}

/// Where a line is fed: the rack, also where the document starts it at a stub.
pub fn source_joint<'a>(view: &LineView<'a>, runs: &'a [LaidRun]) -> &'a str {
    let of_stub = |r: &&LaidRun| r.existing.as_ref().is_some_and(|e| e.stub.is_some());
    let existing = runs.iter().filter(|r| r.line == view.id).find(of_stub);
    existing.map_or(view.tree.start.as_str(), |r| r.from.as_str())
}

fn service(supply: Supply) -> Service {
    match supply.line_v() {
        Some(rated_v) => Service::ConstantVoltage { rated_v },
        None => Service::LowImpedance,
    }
}

/// Resistance, inductance and capacitance of a pair, at [`CONDUCTOR_TEMPERATURE_C`].
///
/// # Errors
/// A conductor size out of range.
pub fn pair(id: &str, cable: &Cable) -> Result<PairConstants, InputError> {
    let engine = loamline_electrics::Cable {
        name: id.to_owned(),
        size: conductor_size(cable.conductor_mm2),
        strands: cable.strands,
        conductors: cable.conductors,
        loop_inductance_h_per_m: if cable.inductance_h_per_m > 0.0 {
            cable.inductance_h_per_m
        } else {
            TYPICAL_LOOP_INDUCTANCE_H_PER_M
        },
        capacitance_f_per_m: if cable.capacitance_f_per_m > 0.0 {
            cable.capacitance_f_per_m
        } else {
            TYPICAL_CAPACITANCE_F_PER_M
        },
    };
    engine.pair(CONDUCTOR_TEMPERATURE_C)
}

/// The size as the trade names it: a whole gauge where the cross-section is one's to half a per cent, else the area.
pub fn conductor_size(area_mm2: f64) -> ConductorSize {
    (-3..=36)
        .map(ConductorSize::Awg)
        .find(|g| (g.area_mm2() / area_mm2 - 1.0).abs() < 0.005)
        .unwrap_or(ConductorSize::AreaMm2(area_mm2))
}

fn laid_cable(run: &LaidRun, cable: &Cable) -> LaidCable {
    let rated = |r: CableRating| cable.ratings.contains(&r);
    // The hardest place it lies in decides.
    let buried = |l: &Option<Laying>| {
        matches!(l, Some(Laying::Staked | Laying::Slit | Laying::Trench | Laying::LiftedPaving))
    };
    let laying = if run.pieces.iter().any(|p| buried(&p.laying)) {
        Surroundings::Buried
    } else if run.pieces.iter().any(|p| p.laying == Some(Laying::Conduit)) {
        Surroundings::Conduit
    } else {
        Surroundings::Surface
    };
    LaidCable {
        cable: run.cable.clone(),
        laying,
        rated_for_burial: rated(CableRating::Burial),
        rated_for_conduit: rated(CableRating::Conduit) || rated(CableRating::Burial),
    }
}

/// A loudspeaker as a load on a line.
pub fn load(l: &PlacedLoudspeaker<'_>, supply: Supply) -> Load {
    let connection = match (&l.model.transformer, supply.line_v(), l.placed.tap_w) {
        (Some(t), Some(rated_v), Some(tap_w)) => {
            Connection::Tapped { transformer: transformer(l.model, t, rated_v), tap_w }
        }
        _ => Connection::Direct,
    };
    Load {
        name: l.id.to_owned(),
        at: l.id.to_owned(),
        connection,
        loudspeaker: loudspeaker(l),
        nominal_ohm: l.nominal_ohm(),
        series_capacitor_f: None,
        // What the document says of its coils is what is meant.
        intended_wiring: None,
    }
}

/// Taps of a transformer at a line voltage: those listed there, else those of another voltage scaled by V^2.
pub fn taps_w(t: &TransformerModel, rated_v: f64) -> Vec<f64> {
    t.taps()
        .into_iter()
        .find(|(v, taps)| (v - rated_v).abs() < 1.0 && !taps.is_empty())
        .map(|(_, taps)| taps.to_vec())
        .unwrap_or_default()
}

fn transformer(model: &LoudspeakerModel, t: &TransformerModel, rated_v: f64) -> TappedTransformer {
    let here = taps_w(t, rated_v);
    // Fed at a voltage it has no taps for, it keeps those of the nearest voltage it has: the engine says so.
    let (rated_v, taps_w) = if here.is_empty() {
        t.taps()
            .into_iter()
            .filter(|(_, taps)| !taps.is_empty())
            .min_by(|a, b| (a.0 - rated_v).abs().total_cmp(&(b.0 - rated_v).abs()))
            .map_or((rated_v, Vec::new()), |(v, taps)| (v, taps.to_vec()))
    } else {
        (rated_v, here)
    };
    TappedTransformer {
        rated_v,
        taps_w,
        insertion_loss_db: t.insertion_loss_db,
        rated_low_hz: t.low_frequency_hz,
        magnetising_inductance_h: t.magnetising_h,
        windings: Windings {
            stated_at_ohm: t.least_tap_ohm(),
            primary_resistance_ohm: t.primary_ohm,
            core_share: t.core_loss,
            leakage_inductance_h: t.leakage_h,
        },
        loudspeaker_nominal_ohm: model.nominal_ohm,
    }
}

fn intended_wiring(model: &LoudspeakerModel) -> CoilWiring {
    match &model.dual_coil {
        Some(d) if model.nominal_ohm < d.each_ohm => CoilWiring::Parallel,
        _ => CoilWiring::Series,
    }
}

fn loudspeaker(l: &PlacedLoudspeaker<'_>) -> Loudspeaker {
    driver(l.model, l.placed.coils)
}

/// What a loudspeaker is to the line, its coils wired so where it has two (as intended where that is not said).
pub fn driver(model: &LoudspeakerModel, coils: Option<Coils>) -> Loudspeaker {
    let impedance = model.impedance.as_ref();
    if let Some(ts) = impedance.and_then(|i| i.thiele_small.as_ref()) {
        if model.dual_coil.is_none() {
            return Loudspeaker::ThieleSmall {
                re_ohm: ts.re_ohm,
                le_h: ts.le_h,
                fs_hz: ts.fs_hz,
                qms: ts.qms,
                qes: ts.qes,
            };
        }
        // The parameters are those of the coils wired as intended; one coil's follow.
        let intended = intended_wiring(model);
        let (coil_re_ohm, coil_le_h) = match intended {
            CoilWiring::Series => (0.5 * ts.re_ohm, 0.25 * ts.le_h),
            CoilWiring::Parallel => (2.0 * ts.re_ohm, ts.le_h),
            CoilWiring::OneCoil => (ts.re_ohm, ts.le_h),
        };
        let wiring = match coils {
            Some(Coils::Series) => CoilWiring::Series,
            Some(Coils::Parallel) => CoilWiring::Parallel,
            None => intended,
        };
        return Loudspeaker::DualCoil {
            coil_re_ohm,
            coil_le_h,
            fs_hz: ts.fs_hz,
            qms: ts.qms,
            qes: ts.qes,
            wiring,
        };
    }
    if let Some(magnitudes) = impedance.and_then(|i| i.magnitude_ohm.as_ref()) {
        let phases = impedance.and_then(|i| i.phase_deg.as_ref());
        let phase = |f: f64| phases.and_then(|p| p.iter().find(|x| x.0 == f)).map_or(0.0, |x| x.1);
        return Loudspeaker::Table {
            points: magnitudes
                .iter()
                .map(|&(f, z)| ImpedancePoint { frequency_hz: f, magnitude_ohm: z, phase_deg: phase(f) })
                .collect(),
            // A coil's resistance is about 0.8 of the nominal impedance (common practice, no source).
            dc_resistance_ohm: 0.8 * model.nominal_ohm,
        };
    }
    Loudspeaker::resistance(model.nominal_ohm)
}

/// A channel of the job as an engine input, for the loudspeakers it drives.
pub fn channel(c: &ChannelView<'_>, loudspeakers: &[PlacedLoudspeaker<'_>], supply: Supply) -> Channel {
    let m = c.model;
    let (rated_power_w, max_voltage_v) = match supply.line_v() {
        Some(line_v) => {
            let fed = m.line_voltages_v.iter().any(|v| (v - line_v).abs() < 1.0);
            // An amplifier not made for this line gives what its own voltage allows; the engine says so.
            (
                m.line_power_w.unwrap_or(m.maximum_v * m.maximum_a),
                if fed { m.maximum_v.max(line_v) } else { m.maximum_v },
            )
        }
        None => low_impedance_rating(m, nominal_load_ohm(loudspeakers)),
    };
    let one = Channel {
        name: c.id.to_owned(),
        rated_power_w,
        max_voltage_v,
        max_current_a: m.maximum_a,
        min_load_ohm: match supply.line_v() {
            Some(line_v) => line_v * line_v / rated_power_w,
            None => m.minimum_load_ohm,
        },
        output_impedance_ohm: m.output_ohm,
        required_high_pass_hz: supply.line_v().and(m.high_pass_hz),
        high_pass: c.channel.high_pass.as_ref().map(high_pass),
    };
    if c.channel.bridged { Channel { name: one.name.clone(), ..one.bridged() } } else { one }
}

fn high_pass(f: &Filter) -> HighPass {
    HighPass { corner_hz: f.corner_hz, order: f.order }
}

/// Nominal impedance of loudspeakers side by side, ohm.
fn nominal_load_ohm(loudspeakers: &[PlacedLoudspeaker<'_>]) -> f64 {
    1.0 / loudspeakers.iter().map(|l| 1.0 / l.nominal_ohm()).sum::<f64>().max(1e-9)
}

/// Rated power and voltage at full drive of a low-impedance channel into a nominal load: between the loads it is
/// rated for, the voltage follows the rated ones in proportion.
fn low_impedance_rating(m: &AmplifierModel, load_ohm: f64) -> (f64, f64) {
    let rated: Vec<(f64, f64)> = [(2.0, m.power_2ohm_w), (4.0, m.power_4ohm_w), (8.0, m.power_8ohm_w)]
        .into_iter()
        .filter_map(|(z, p)| p.map(|p: f64| (z, (p * z).sqrt())))
        .collect();
    let volts = match rated.as_slice() {
        [] => m.maximum_v,
        [first, ..] if load_ohm <= first.0 => first.1,
        _ => rated.windows(2).find(|w| load_ohm <= w[1].0).map_or(rated[rated.len() - 1].1, |w| {
            w[0].1 + (w[1].1 - w[0].1) * (load_ohm - w[0].0) / (w[1].0 - w[0].0)
        }),
    };
    let volts = volts.min(m.maximum_v);
    (volts * volts / load_ohm, volts)
}

/// A channel for a line that has none yet: just large enough, so that cable losses can be told.
fn stand_in_channel(line: &Line, supply: Supply) -> Channel {
    match supply.line_v() {
        Some(v) => {
            let taps: f64 = line.loads.iter().filter_map(|l| l.counted_w(line.service)).sum();
            Channel::constant_voltage("no channel yet", (taps / 0.8).max(1.0), v)
        }
        None => Channel::low_impedance("no channel yet", 100.0, 4.0),
    }
}
