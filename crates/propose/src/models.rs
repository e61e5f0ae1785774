//! The loudspeakers that may be proposed: what each gives per watt, and what putting one up costs.

use crate::error::{BriefProblem, BriefProblems};
use crate::places::Spot;
use crate::price::Prices;
use crate::types::AmplificationUnit;
use loamline_acoustics::{BAND_COUNT, BandValues, Directivity};
use loamline_adapt::{directivity, driver, on_a_tap_v, on_axis, taps_w};
use loamline_limits::lent;
use loamline_model::Job;
use loamline_model::catalogue::{AmplifierModel, LoudspeakerKind, LoudspeakerModel};
use loamline_model::document::{Mount, Supply};
use loamline_terms::Siemens;
use rayon::prelude::*;
use std::sync::Arc;

/// Watts of tap that a siemens counts for where no amplifier feeds both: 240 W of tap or 4 ohm on a channel.
const NO_AMPLIFIER_DOES_BOTH: f64 = 960.0;

/// A loudspeaker that may be proposed.
#[derive(Clone)]
pub(crate) struct Offered<'j> {
    /// Catalogue id.
    pub id: &'j str,
    /// The catalogue's entry.
    pub model: &'j LoudspeakerModel,
    /// How it would be fed; a model that can be fed in several ways is offered once for each the job has.
    pub supply: Supply,
    /// Taps at the line voltage, watts, ascending; on low impedance the power at full drive.
    pub taps_w: Vec<f64>,
    /// What it asks of its channel on low impedance: 1 over its lowest impedance. On a constant-voltage line the tap is
    /// what counts.
    pub conductance: Option<Siemens>,
    /// Its directivity, shared with every source made from it.
    pub directivity: Arc<Directivity>,
    /// Free-field level on axis at 1 m for 1 W of tap, full-scale sine, dB.
    pub per_watt_db: f64,
    /// On-axis response, with what its transformer does to the voltage at its terminals from band to band, dB.
    pub response_db: BandValues,
    /// One in its place without cable, tax included.
    pub installed: f64,
}

impl Offered<'_> {
    /// Whether it is a subwoofer.
    pub fn is_subwoofer(&self) -> bool {
        self.model.kind == LoudspeakerKind::Subwoofer
    }

    /// Whether it can be put up at a spot.
    pub fn fits(&self, spot: &Spot) -> bool {
        let bracket = matches!(self.model.mount, Mount::Bracket | Mount::Eaves);
        // A satellite also comes with a bracket.
        let either = self.model.kind == LoudspeakerKind::Satellite;
        if spot.out_deg.is_some() { bracket || either } else { !bracket }
    }

    /// How it is fixed at a spot, where that is not usual for it.
    pub fn mount_at(&self, on_wall: bool) -> Option<Mount> {
        let usual = matches!(self.model.mount, Mount::Bracket | Mount::Eaves);
        (on_wall && !usual).then_some(Mount::Bracket)
    }
}

/// The loudspeakers a job's brief and supply allow.
pub(crate) fn offered<'j>(job: &'j Job, prices: &Prices<'_>) -> Result<Vec<Offered<'j>>, BriefProblems> {
    let d = job.document();
    let wishes = &d.brief.wishes;
    let bass_asked = d.areas.values().any(|a| a.bass_db.is_some());
    let mut problems = Vec::new();
    for id in wishes.models.iter().chain(&wishes.not_models) {
        if !job.catalogue().loudspeakers.contains_key(id) {
            problems.push(BriefProblem::UnknownModel { model: id.clone() });
        }
    }
    let rating = low_impedance_v(job);
    let wanted = |id: &str, m: &LoudspeakerModel| {
        let named = wishes.models.iter().any(|x| x == id);
        // Small satellites sound thin without a subwoofer: only where there will be one, or where they are asked for.
        let fitting = m.kind != LoudspeakerKind::Satellite || bass_asked || named;
        !wishes.not_models.iter().any(|x| x == id)
            && if wishes.models.is_empty() || m.kind == LoudspeakerKind::Subwoofer { fitting } else { named }
    };
    type Entry<'j> = (&'j String, &'j LoudspeakerModel);
    let one = |(supply, (id, model)): (Supply, Entry<'j>)| -> Result<Option<Offered<'j>>, BriefProblem> {
        let taps_w = match (supply.line_v(), &model.transformer) {
            (Some(v), Some(t)) => taps_w(t, v),
            (Some(_), None) => return Ok(None),
            (None, _) if !model.low_impedance => return Ok(None),
            (None, _) => rating.map(|v| vec![v * v / model.nominal_ohm]).unwrap_or_default(),
        };
        let Some(&first) = taps_w.first() else { return Ok(None) };
        // Every tap has the same shape over the bands, but for what a resistance stated of its copper changes.
        let terminals_v = supply.line_v().and_then(|v| on_a_tap_v(model, v, first));
        let terminals_v = terminals_v.unwrap_or([(first * model.nominal_ohm).sqrt(); BAND_COUNT]);
        let directivity = Arc::new(
            directivity(model).map_err(|error| BriefProblem::Directivity { model: id.clone(), error })?,
        );
        let driven = on_axis(model, model.nominal_ohm, &terminals_v)?;
        Ok(Some(Offered {
            id,
            model,
            supply,
            conductance: match supply.line_v() {
                Some(_) => None,
                None => Some(Siemens::of_ohms(driver(model, None).minimum_impedance().1.max(0.1))),
            },
            per_watt_db: driven.level_db - 10.0 * first.log10(),
            taps_w,
            directivity,
            response_db: driven.response_db,
            installed: prices.loudspeaker(id, model),
        }))
    };
    let supplies = supplies_of(job);
    let models = || job.catalogue().loudspeakers.iter().filter(|(id, m)| wanted(id, m));
    let list: Vec<_> = supplies.iter().flat_map(|s| models().map(|m| (*s, m))).collect();
    let leave = lent();
    let made: Vec<_> = list.into_par_iter().map(|of| leave.lend(|| one(of))).collect();
    let mut all = Vec::new();
    for m in made {
        match m {
            Ok(o) => all.extend(o),
            Err(e) => problems.push(e),
        }
    }
    let none = |s: &Supply| !all.iter().any(|o| !o.is_subwoofer() && o.supply == *s);
    if problems.is_empty() && supplies.iter().any(none) {
        problems.push(BriefProblem::NothingOffered);
    }
    if problems.is_empty() { Ok(all) } else { Err(BriefProblems(problems)) }
}

/// How what plays in the areas of a job is fed, each way once.
pub(crate) fn supplies_of(job: &Job) -> Vec<Supply> {
    let d = job.document();
    let mut all: Vec<Supply> = Vec::new();
    for area in d.areas.values() {
        let supply = d.supply_of_programme(job.programme_of_area(area));
        if !all.contains(&supply) {
            all.push(supply);
        }
    }
    if all.is_empty() { vec![d.brief.supply] } else { all }
}

/// Amplifiers that can feed a line of a supply and have the processing a design needs.
pub(crate) fn amplifiers(job: &Job, supply: Supply) -> Vec<(&str, &AmplifierModel)> {
    let all = job.catalogue().amplifiers.iter();
    all.filter(|(_, a)| a.processing && feeds(a, supply)).map(|(id, a)| (id.as_str(), a)).collect()
}

fn feeds(a: &AmplifierModel, supply: Supply) -> bool {
    match supply.line_v() {
        Some(v) => a.line_power_w.is_some() && a.line_voltages_v.iter().any(|x| (x - v).abs() < 1.0),
        None => a.power_2ohm_w.or(a.power_4ohm_w).or(a.power_8ohm_w).is_some(),
    }
}

/// What one channel of an amplifier can feed at a supply, in watts of tap or in siemens; nothing where it cannot.
pub(crate) fn room(job: &Job, a: &AmplifierModel, supply: Supply) -> f64 {
    if !feeds(a, supply) {
        return 0.0;
    }
    match supply.line_v() {
        Some(_) => a.line_power_w.unwrap_or(0.0) * job.document().brief.load_share,
        // A billionth of a siemens more, so that loads which add up to the lowest one exactly still fit.
        None => Siemens::of_ohms(lowest_load_ohm(a)).0 + 1e-9,
    }
}

/// In what unit the amplification of a job with these supplies is counted. Where there are lines of both kinds, a siemens
/// counts for as many watts as the same channels of the catalogue can feed instead.
pub(crate) fn amplification_unit(job: &Job, supplies: &[Supply]) -> AmplificationUnit {
    let low = supplies.iter().any(|s| s.line_v().is_none());
    let Some(line) = supplies.iter().find(|s| s.line_v().is_some()) else {
        return AmplificationUnit::Siemens;
    };
    if !low {
        return AmplificationUnit::Watts;
    }
    let rooms = amplifiers(job, *line)
        .into_iter()
        .map(|(_, a)| (room(job, a, *line), room(job, a, Supply::LowImpedance)))
        .filter(|r| r.1 > 0.0);
    let (watts, siemens) = rooms.fold((0.0, 0.0), |(w, s), r| (w + r.0, s + r.1));
    AmplificationUnit::Both {
        watts_per_siemens: if siemens > 0.0 { watts / siemens } else { NO_AMPLIFIER_DOES_BOTH },
    }
}

/// Lowest load an amplifier is rated for on low impedance, ohm.
pub(crate) fn lowest_load_ohm(a: &AmplifierModel) -> f64 {
    let rated = [(2.0, a.power_2ohm_w), (4.0, a.power_4ohm_w), (8.0, a.power_8ohm_w)];
    let lowest: f64 = rated.iter().find(|r| r.1.is_some()).map_or(8.0, |r| r.0);
    lowest.max(a.minimum_load_ohm)
}

/// Voltage at full drive of the cheapest low-impedance amplifier into its lowest load, V RMS.
fn low_impedance_v(job: &Job) -> Option<f64> {
    let cheapest = amplifiers(job, Supply::LowImpedance).into_iter().min_by_key(|(_, a)| a.price)?.1;
    let ohm = lowest_load_ohm(cheapest);
    let watts = match ohm {
        o if o < 3.0 => cheapest.power_2ohm_w,
        o if o < 6.0 => cheapest.power_4ohm_w,
        _ => cheapest.power_8ohm_w,
    };
    Some((watts? * ohm).sqrt().min(cheapest.maximum_v))
}
