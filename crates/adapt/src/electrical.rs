//! The document as the electrics engine wants it: lines of runs and loads, and the channels that feed them.

use crate::existing::{in_parallel, not_known};
use crate::run::LaidRun;
use loamline_electrics::{
    Channel, CoilWiring, ConductorSize, Connection, HighPass, ImpedancePoint, InputError, LaidCable, Line,
    LineLimits, Load, Loudspeaker, PairConstants, Rating, Run, Service, Surroundings,
    TYPICAL_CAPACITANCE_F_PER_M, TYPICAL_LOOP_INDUCTANCE_H_PER_M, TappedTransformer, Windings,
};
use loamline_model::catalogue::{AmplifierModel, Cable, CableRating, LoudspeakerModel, TransformerModel};
use loamline_model::document::{Coils, Filter, Laying, Supply};
use loamline_model::{ChannelView, Job, LineView, PlacedLoudspeaker};

/// Lowest frequency of a transformer fitted to a loudspeaker that has none, Hz (common practice, no source).
const FITTED_LOW_HZ: f64 = 60.0;

/// Temperature the conductors are taken to have, degrees Celsius: that of the tables of resistance.
pub const CONDUCTOR_TEMPERATURE_C: f64 = 20.0;

/// A line and the channel that feeds it, ready to solve.
#[derive(Debug, Clone, PartialEq)]
pub struct LineInput {
    /// The line.
    pub line: Line,
    /// The other lines on its channel, where it is at low impedance: how far the channel can be driven depends on them too.
    pub beside: Vec<Line>,
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
    let Some(line) = line(job, view, runs)? else { return Ok(None) };
    let fed = view.line.channel.as_deref().and_then(|c| job.channel(c));
    let (channel, beside) = match fed {
        Some(c) => (channel(&c, view.supply), beside(job, &c, view, runs)?),
        None => (stand_in_channel(&line, view.supply), Vec::new()),
    };
    Ok(Some(LineInput { line, beside, channel, limits: limits(job) }))
}

/// The other low-impedance lines on the channel of one.
fn beside(
    job: &Job,
    channel: &ChannelView<'_>,
    of: &LineView<'_>,
    runs: &[LaidRun],
) -> Result<Vec<Line>, InputError> {
    let others = channel.lines.iter().filter(|id| **id != of.id).filter_map(|id| job.line(id));
    let low = others.filter(|v| v.supply.line_v().is_none() && of.supply.line_v().is_none());
    low.filter_map(|v| line(job, &v, runs).transpose()).collect()
}

/// A line as it hangs on whatever feeds it.
fn line(job: &Job, view: &LineView<'_>, runs: &[LaidRun]) -> Result<Option<Line>, InputError> {
    let loudspeakers = job.loudspeakers_of_line(view.id);
    if view.tree.runs.is_empty() || loudspeakers.is_empty() || not_known(job, view.id) {
        return Ok(None);
    }
    let mut line = Line {
        name: view.id.to_owned(),
        service: service(view.supply),
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
            in_series: r.in_series,
            laid: Some(laid_cable(r, cable)),
        });
    }
    for load in &mut line.loads {
        load.in_series = line.runs.iter().any(|run| run.in_series && run.from == load.at);
    }
    Ok(Some(line))
}

/// Where a line is fed: the rack, also where the document starts it at a stub.
pub fn source_joint<'a>(view: &LineView<'a>, runs: &'a [LaidRun]) -> &'a str {
    let of_stub = |r: &&LaidRun| r.existing.as_ref().is_some_and(|e| e.stub.is_some());
    let existing = runs.iter().filter(|r| r.line == view.id).find(of_stub);
    existing.map_or(view.tree.start.as_str(), |r| r.from.as_str())
}

/// What a supply is to the engine.
pub fn service(supply: Supply) -> Service {
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
    engine_cable(id, cable).pair(CONDUCTOR_TEMPERATURE_C)
}

/// A cable of the catalogue as an engine input.
pub fn engine_cable(id: &str, cable: &Cable) -> loamline_electrics::Cable {
    loamline_electrics::Cable {
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
    }
}

/// The size as the trade names it: a whole gauge where the cross-section is one's to half a per cent, else the area.
pub fn conductor_size(area_mm2: f64) -> ConductorSize {
    (-3..=36)
        .map(ConductorSize::Awg)
        .find(|g| (g.area_mm2() / area_mm2 - 1.0).abs() < 0.005)
        .unwrap_or(ConductorSize::AreaMm2(area_mm2))
}

fn laid_cable(run: &LaidRun, cable: &Cable) -> LaidCable {
    LaidCable {
        cable: run.cable.clone(),
        laying: cable_surroundings(run),
        rated_for_burial: rated_for(cable, Surroundings::Buried),
        rated_for_conduit: rated_for(cable, Surroundings::Conduit),
    }
}

/// Whether a cable may lie in such surroundings.
pub fn rated_for(cable: &Cable, laying: Surroundings) -> bool {
    let rated = |r: CableRating| cable.ratings.contains(&r);
    match laying {
        Surroundings::Buried => rated(CableRating::Burial),
        Surroundings::Conduit => rated(CableRating::Conduit) || rated(CableRating::Burial),
        Surroundings::Surface => true,
    }
}

/// The hardest place a run lies in, which decides.
pub fn cable_surroundings(run: &LaidRun) -> Surroundings {
    let buried = |l: &Option<Laying>| {
        matches!(l, Some(Laying::Staked | Laying::Slit | Laying::Trench | Laying::LiftedPaving))
    };
    if run.pieces.iter().any(|p| buried(&p.laying)) {
        Surroundings::Buried
    } else if run.pieces.iter().any(|p| p.laying == Some(Laying::Conduit)) {
        Surroundings::Conduit
    } else {
        Surroundings::Surface
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
    connected(l, connection)
}

/// A loudspeaker as it would hang on a line of another supply, tapped as near to `wanted_w` as its transformer offers. One that
/// has no taps for that voltage is given a transformer without loss that is wound for it.
pub fn load_on(l: &PlacedLoudspeaker<'_>, supply: Supply, wanted_w: f64) -> Load {
    let Some(rated_v) = supply.line_v() else { return connected(l, Connection::Direct) };
    let own = l.model.transformer.as_ref().filter(|t| !taps_w(t, rated_v).is_empty());
    let transformer = own.map_or_else(
        || TappedTransformer {
            rated_v,
            taps_w: vec![wanted_w],
            insertion_loss_db: 0.0,
            rated_low_hz: FITTED_LOW_HZ,
            magnetising_inductance_h: None,
            windings: Windings { leakage_inductance_h: Some(0.0), ..Windings::default() },
            loudspeaker_nominal_ohm: l.nominal_ohm(),
        },
        |t| transformer(l.model, t, rated_v),
    );
    // The nearest by ratio: levels go by it.
    let off = |w: f64| (w / wanted_w).ln().abs();
    let nearest = transformer.taps_w.iter().copied().min_by(|a, b| off(*a).total_cmp(&off(*b)));
    connected(l, Connection::Tapped { tap_w: nearest.unwrap_or(wanted_w), transformer })
}

fn connected(l: &PlacedLoudspeaker<'_>, connection: Connection) -> Load {
    Load {
        name: l.id.to_owned(),
        at: l.id.to_owned(),
        connection,
        loudspeaker: loudspeaker(l),
        nominal_ohm: l.nominal_ohm(),
        series_capacitor_f: None,
        // Told by the runs of its line.
        in_series: false,
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

pub(crate) fn transformer(model: &LoudspeakerModel, t: &TransformerModel, rated_v: f64) -> TappedTransformer {
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
    let wired_ohm = model.wired_ohm(coils);
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
        // Of coils on one former all of the impedance goes by the square of the turns.
        let as_wired = wired_ohm / model.nominal_ohm;
        return Loudspeaker::Table {
            points: magnitudes
                .iter()
                .map(|&(f, z)| ImpedancePoint {
                    frequency_hz: f,
                    magnitude_ohm: z * as_wired,
                    phase_deg: phase(f),
                })
                .collect(),
            // A coil's resistance is about 0.8 of the nominal impedance (common practice, no source).
            dc_resistance_ohm: 0.8 * wired_ohm,
        };
    }
    Loudspeaker::resistance(wired_ohm)
}

/// A channel of the job as an engine input, for lines of one supply.
pub fn channel(c: &ChannelView<'_>, supply: Supply) -> Channel {
    let m = c.model;
    let ratings = if supply.line_v().is_none() { ratings(m) } else { Vec::new() };
    let whole_w = m.maximum_v * m.maximum_a;
    let (rated_power_w, max_voltage_v) = match supply.line_v() {
        Some(line_v) => {
            let fed = m.line_voltages_v.iter().any(|v| (v - line_v).abs() < 1.0);
            // An amplifier not made for this line gives what its own voltage allows; the engine says so.
            (m.line_power_w.unwrap_or(whole_w), if fed { m.maximum_v.max(line_v) } else { m.maximum_v })
        }
        None => (ratings.first().map_or(whole_w, |r| r.power_w), m.maximum_v),
    };
    let one = Channel {
        name: c.id.to_owned(),
        rated_power_w,
        ratings,
        max_voltage_v,
        max_current_a: m.maximum_a,
        min_load_ohm: match supply.line_v() {
            Some(line_v) => line_v * line_v / rated_power_w,
            None => m.minimum_load_ohm,
        },
        output_impedance_ohm: m.output_ohm,
        required_high_pass_hz: supply.line_v().and(m.high_pass_hz),
        high_pass: c.channel.high_pass.as_ref().map(high_pass),
        low_pass_hz: c.channel.low_pass.as_ref().map(|f| f.corner_hz),
    };
    if c.channel.bridged { Channel { name: one.name.clone(), ..one.bridged() } } else { one }
}

fn high_pass(f: &Filter) -> HighPass {
    HighPass { corner_hz: f.corner_hz, order: f.order }
}

/// What an amplifier is rated to give at low impedance, the least load first.
fn ratings(m: &AmplifierModel) -> Vec<Rating> {
    [(2.0, m.power_2ohm_w), (4.0, m.power_4ohm_w), (8.0, m.power_8ohm_w)]
        .into_iter()
        .filter_map(|(load_ohm, power_w)| Some(Rating { load_ohm, power_w: power_w? }))
        .collect()
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
