//! The loudspeakers that may be proposed: what each gives per watt, and what putting one up costs.

use crate::error::{BriefProblem, BriefProblems};
use crate::places::Spot;
use crate::price::Prices;
use loamline_acoustics::{BandValues, Directivity, Drive, full_scale_level_db};
use loamline_adapt::{directivity, driver, on_bands, radiation, taps_w};
use loamline_model::Job;
use loamline_model::catalogue::{AmplifierModel, LoudspeakerKind, LoudspeakerModel};
use loamline_model::document::Mount;
use loamline_terms::Siemens;
use rayon::prelude::*;
use std::sync::Arc;

/// A loudspeaker that may be proposed.
pub(crate) struct Offered<'j> {
    /// Catalogue id.
    pub id: &'j str,
    /// The catalogue's entry.
    pub model: &'j LoudspeakerModel,
    /// Taps at the line voltage, watts, ascending; on low impedance the power at full drive.
    pub taps_w: Vec<f64>,
    /// What it asks of its channel on low impedance: 1 over its lowest impedance. On a constant-voltage line the tap is
    /// what counts.
    pub conductance: Option<Siemens>,
    /// Its directivity, shared with every source made from it.
    pub directivity: Arc<Directivity>,
    /// Free-field level on axis at 1 m for 1 W of tap, full-scale sine, dB.
    pub per_watt_db: f64,
    /// On-axis response, dB.
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
    let one = |(id, model): (&'j String, &'j LoudspeakerModel)| -> Result<Option<Offered<'j>>, BriefProblem> {
        let (taps_w, loss_db) = match (d.brief.supply.line_v(), &model.transformer) {
            (Some(v), Some(t)) => (taps_w(t, v), t.insertion_loss_db),
            (Some(_), None) => return Ok(None),
            (None, _) if !model.low_impedance => return Ok(None),
            (None, _) => (rating.map(|v| vec![v * v / model.nominal_ohm]).unwrap_or_default(), 0.0),
        };
        let Some(&first) = taps_w.first() else { return Ok(None) };
        let directivity = Arc::new(
            directivity(model).map_err(|error| BriefProblem::Directivity { model: id.clone(), error })?,
        );
        let drive = match d.brief.supply.line_v() {
            Some(v) => {
                Drive::ConstantVoltage { tap_w: first, rated_v: v, voltage_v: v, insertion_loss_db: loss_db }
            }
            None => {
                Drive::LowImpedance { voltage_v: rating.unwrap_or(1.0), impedance_ohm: model.nominal_ohm }
            }
        };
        let level = full_scale_level_db(model.sensitivity_db, radiation(model), drive)?;
        Ok(Some(Offered {
            id,
            model,
            conductance: match d.brief.supply.line_v() {
                Some(_) => None,
                None => Some(Siemens::of_ohms(driver(model, None).minimum_impedance().1.max(0.1))),
            },
            per_watt_db: level - 10.0 * first.log10(),
            taps_w,
            directivity,
            response_db: on_bands(&model.response_db),
            installed: prices.loudspeaker(model),
        }))
    };
    let list: Vec<_> = job.catalogue().loudspeakers.iter().filter(|(id, m)| wanted(id, m)).collect();
    let made: Vec<_> = list.into_par_iter().map(one).collect();
    let mut all = Vec::new();
    for m in made {
        match m {
            Ok(o) => all.extend(o),
            Err(e) => problems.push(e),
        }
    }
    if problems.is_empty() && !all.iter().any(|o| !o.is_subwoofer()) {
        problems.push(BriefProblem::NothingOffered);
    }
    if problems.is_empty() { Ok(all) } else { Err(BriefProblems(problems)) }
}

/// Amplifiers that can feed the brief's supply and have the processing a design needs.
pub(crate) fn amplifiers(job: &Job) -> Vec<(&str, &AmplifierModel)> {
    let line_v = job.document().brief.supply.line_v();
    let fits = |a: &AmplifierModel| match line_v {
        Some(v) => a.line_power_w.is_some() && a.line_voltages_v.iter().any(|x| (x - v).abs() < 1.0),
        None => a.power_2ohm_w.or(a.power_4ohm_w).or(a.power_8ohm_w).is_some(),
    };
    let all = job.catalogue().amplifiers.iter();
    all.filter(|(_, a)| a.processing && fits(a)).map(|(id, a)| (id.as_str(), a)).collect()
}

/// Lowest load an amplifier is rated for on low impedance, ohm.
pub(crate) fn lowest_load_ohm(a: &AmplifierModel) -> f64 {
    let rated = [(2.0, a.power_2ohm_w), (4.0, a.power_4ohm_w), (8.0, a.power_8ohm_w)];
    let lowest: f64 = rated.iter().find(|r| r.1.is_some()).map_or(8.0, |r| r.0);
    lowest.max(a.minimum_load_ohm)
}

/// Voltage at full drive of the cheapest low-impedance amplifier into its lowest load, V RMS.
fn low_impedance_v(job: &Job) -> Option<f64> {
    let cheapest = amplifiers(job).into_iter().min_by_key(|(_, a)| a.price)?.1;
    let ohm = lowest_load_ohm(cheapest);
    let watts = match ohm {
        o if o < 3.0 => cheapest.power_2ohm_w,
        o if o < 6.0 => cheapest.power_4ohm_w,
        _ => cheapest.power_8ohm_w,
    };
    Some((watts? * ohm).sqrt().min(cheapest.maximum_v))
}
