//! What keeps the loudspeakers of a channel whole: high-pass, crossover, limiter.

use crate::fed::{Fed, about_channel};
use crate::maker;
use crate::report::ChannelTuned;
use loamline_adapt::{Sound, channel, loudspeakers_of_channel, role};
use loamline_model::catalogue::LoudspeakerKind;
use loamline_model::{ChannelView, Job};
use loamline_processing::{
    Alignment, Chain, ChannelPlan, ChannelRole, Crossover, DriverNeed, FullDrive, HighPassChoice,
    HighPassNeeds, Pass, PassFilter, ProtectedLoad, ProtectionError, TransformerNeed, choose_crossover,
    choose_high_pass, limiter_cost, limiter_times, line_threshold,
};
use loamline_study::{Finding, LinesReport, Severity};
use loamline_terms::{Sentence, Supply, say};
use std::f64::consts::SQRT_2;

/// 24 dB per octave: what any equipment has.
const ORDER: u32 = 4;
/// A subwoofer reaches up to where its response has dropped by this much, dB.
const SUBWOOFER_END_DB: f64 = 6.0;

/// Channels with a load, protected; equaliser, gain and delay are still at zero.
pub(crate) fn protect<'j>(
    job: &'j Job,
    lines: &LinesReport,
    sound: &Sound,
    findings: &mut Vec<Finding>,
) -> Vec<Fed<'j>> {
    let mut fed: Vec<Fed<'j>> = Vec::new();
    for view in job.channels() {
        let driven = loudspeakers_of_channel(job, &view);
        if driven.is_empty() {
            continue;
        }
        let role = role(job, &view);
        if role == ChannelRole::FullRange && driven.iter().any(|l| l.model.kind == LoudspeakerKind::Subwoofer)
        {
            let what = say!(
                "Channel {channel} drives subwoofers and other loudspeakers together: one filter cannot suit both.",
                channel = view.id
            );
            findings.push(
                Finding::new(Severity::Warning, about_channel(view.id), what)
                    .mend(say!("Give the subwoofers a line and a channel of their own.")),
            );
        }
        let plan = ChannelPlan {
            id: view.id.to_owned(),
            role,
            chain: Chain::default(),
            limiter: None,
            times: None,
            drives_load: true,
        };
        let makers = match maker::asked(job, &view, findings) {
            Ok(makers) => makers,
            Err(e) => {
                let what = say!(
                    "Channel {channel}: its maker's settings cannot be set: {reason}.",
                    channel = view.id,
                    reason = e.to_string()
                );
                findings.push(Finding::new(Severity::Error, about_channel(view.id), what));
                maker::MakersAsk::default()
            }
        };
        let tuned = ChannelTuned {
            plan,
            makers: makers.loaded.clone(),
            makers_corner_hz: makers.corners.iter().map(|c| c.lowest_hz).reduce(f64::max),
            makers_sections: makers.sections.len(),
            makers_limit: None,
            high_pass: None,
            crossover_hz: None,
            weakest: None,
            limiter_cost: None,
            highest_gain_db: 0.0,
            equalised_rms_db: None,
            settings: Vec::new(),
        };
        let tags: Vec<&str> = driven.iter().map(|l| l.id).collect();
        let sources =
            (0..sound.sources.len()).filter(|s| tags.contains(&sound.sources[*s].as_str())).collect();
        let mut one = Fed { view, tuned, sources, makers };
        if let Err(e) = limit(job, lines, &mut one) {
            findings.push(unset(one.view.id, say!("limiter"), &e));
        }
        fed.push(one);
    }
    let programmes: Vec<Option<&str>> = fed.iter().map(|f| f.view.programme_id).collect();
    for programme in unique(programmes) {
        filters(job, programme, &mut fed, findings);
    }
    for f in &mut fed {
        f.tuned.plan.times = f.tuned.plan.high_pass_hz().and_then(|hz| limiter_times(hz).ok());
    }
    fed
}

fn unset(id: &str, what: Sentence, why: &ProtectionError) -> Finding {
    Finding::new(
        Severity::Error,
        about_channel(id),
        say!(
            "Channel {channel}: no {filter} can be worked out: {reason}.",
            channel = id,
            filter = what,
            reason = why.to_string()
        ),
    )
}

/// Highest voltage an output comes to, V RMS: at low impedance that at full drive into what hangs on it.
pub(crate) fn highest_output_v(view: &ChannelView<'_>, supply: Supply, drive_v: f64) -> f64 {
    match supply.line_v() {
        Some(_) => channel(view, supply).max_voltage_v,
        None => drive_v,
    }
}

fn unique(ids: Vec<Option<&str>>) -> Vec<Option<&str>> {
    let mut seen = Vec::new();
    for id in ids {
        if !seen.contains(&id) {
            seen.push(id);
        }
    }
    seen
}

/// Limiter thresholds over all lines of a channel, and what they cost. A loudspeaker takes its rated power where the voltage at
/// its own terminals squared over its nominal impedance is that: the circuit says what it then stands across, behind its
/// transformer, and what the amplifier gives.
fn limit(job: &Job, lines: &LinesReport, f: &mut Fed<'_>) -> Result<(), ProtectionError> {
    let (mut loads, mut highest_v) = (Vec::new(), 0.0_f64);
    // Gain counts from full scale, and the channel gives no more than full drive into what hangs on it.
    let mut most_gain_db = 0.0_f64;
    let mut by_maker: Vec<bool> = Vec::new();
    for view in f.view.lines.iter().filter_map(|l| job.line(l)) {
        let Some(solved) = lines.lines.get(view.id) else { continue };
        let driven = job.loudspeakers_of_line(view.id);
        highest_v = highest_v.max(highest_output_v(&f.view, view.supply, solved.drive_v));
        most_gain_db = most_gain_db.min(solved.most_gain_db().unwrap_or(0.0));
        for l in &driven {
            let Some(at) = lines.loudspeakers.get(l.id) else { continue };
            let transformer_v = view.supply.line_v().filter(|_| l.model.transformer.is_some());
            let transformer_v = transformer_v.filter(|_| l.placed.tap_w.is_some());
            let impedance_ohm = transformer_v
                .map_or(l.nominal_ohm(), |_| at.joint_1khz_v.powi(2) / at.power_1khz_w.max(1e-12));
            let own = ProtectedLoad {
                name: l.id.to_owned(),
                rated_power_w: l.model.rated_w,
                impedance_ohm,
                transformer_voltage_v: transformer_v,
                peak_voltage_v: l.model.rated_peak_w.map(|watts| (watts * impedance_ohm).sqrt()),
                voltage_share: at.joint_1khz_v / solved.drive_v.max(1e-9),
            };
            let (load, lowered) = maker::limited(own, l);
            loads.push(load);
            by_maker.push(lowered);
        }
    }
    let set = line_threshold(&loads)?;
    let crest_factor_db = job.programme(f.view.programme_id).crest_factor_db;
    let cost = limiter_cost(&set.threshold, &FullDrive { amplifier_v_rms: highest_v, crest_factor_db })?;
    f.tuned.highest_gain_db = most_gain_db - cost.reduction_db;
    f.tuned.limiter_cost = Some(cost);
    f.tuned.makers_limit = by_maker[set.weakest_rms].then(|| loads[set.weakest_rms].name.clone());
    f.tuned.weakest = Some((loads[set.weakest_rms].name.clone(), loads[set.weakest_peak].name.clone()));
    // Down to what is typed in, so that the amplifier is never set above the loudspeaker's limit.
    let down = |v: f64| (10.0 * v).floor() / 10.0;
    f.tuned.plan.limiter = Some(loamline_processing::LimiterThreshold {
        v_rms: down(set.threshold.v_rms),
        v_peak: down(set.threshold.v_peak),
    });
    Ok(())
}

/// High-passes and the crossover of the channels on one programme.
fn filters(job: &Job, programme: Option<&str>, fed: &mut [Fed<'_>], findings: &mut Vec<Finding>) {
    let here = |f: &Fed<'_>| f.view.programme_id == programme;
    let reach = fed
        .iter()
        .filter(|f| here(f) && f.is_bass())
        .flat_map(|f| loudspeakers_of_channel(job, &f.view))
        .map(|l| highest_hz(&l.model.response_db))
        .reduce(f64::min);
    let asked = fed.iter().filter(|f| here(f) && f.is_bass()).filter_map(|f| f.makers.low_pass_hz);
    let reach = reach.map(|hz| asked.fold(hz, f64::min));
    let order = fed.iter().filter(|f| here(f)).fold(ORDER, |order, f| {
        let low = f.is_bass().then(|| f.makers.low_pass_order(ORDER, Alignment::LinkwitzRiley));
        order.max(f.makers.order(ORDER, Alignment::LinkwitzRiley)).max(low.unwrap_or(ORDER))
    });
    // With subwoofers the full-range loudspeakers' protective filter is at the same time their side of the crossover.
    let alignment = |f: &Fed<'_>| match reach {
        Some(_) if !f.is_bass() => Alignment::LinkwitzRiley,
        _ => Alignment::Butterworth,
    };
    for f in fed.iter_mut().filter(|f| here(f)) {
        match high_pass(job, f, alignment(f)) {
            Ok(choice) => f.tuned.high_pass = Some(choice),
            Err(e) => findings.push(unset(f.view.id, say!("high-pass"), &e)),
        }
    }
    let crossover = reach.and_then(|reach| {
        let mut full_range: Vec<f64> = fed
            .iter()
            .filter(|f| here(f) && !f.is_bass())
            .filter_map(|f| f.tuned.high_pass.as_ref().map(|h| h.filter.corner_hz()))
            .collect();
        full_range.sort_by(|a, b| b.total_cmp(a));
        // The full-range loudspeakers that reach least far down decide, unless they leave a gap: then the next do.
        full_range.iter().find_map(|lowest| choose_crossover(*lowest, reach, order).ok())
    });
    for f in fed.iter_mut().filter(|f| here(f)) {
        let own = f.tuned.high_pass.as_ref().map(|h| h.filter);
        let passes = match (&crossover, f.is_bass()) {
            (Some(x), true) => {
                f.tuned.plan.chain.polarity = x.subwoofer_polarity;
                f.tuned.crossover_hz = Some(x.low_pass.corner_hz());
                vec![own, Some(x.low_pass)]
            }
            (Some(x), false) => {
                let joins = own.is_none_or(|o| o.corner_hz() <= x.high_pass.corner_hz());
                f.tuned.crossover_hz = joins.then_some(x.high_pass.corner_hz());
                if !joins {
                    findings.push(gap(f, x));
                }
                vec![if joins { Some(x.high_pass) } else { own }]
            }
            (None, true) => {
                // Nothing to hand over to: the subwoofers stop where their response does.
                let order = f.makers.low_pass_order(ORDER, Alignment::LinkwitzRiley);
                let low = reach
                    .map(|hz| PassFilter::new(Alignment::LinkwitzRiley, Pass::LowPass, order, hz.round()));
                vec![own, low.and_then(Result::ok)]
            }
            (None, false) => vec![own],
        };
        // Above the bass a maker's low-pass is taken as it stands, or steeper.
        let low = f.makers.low_pass_hz.filter(|_| !f.is_bass());
        let order = f.makers.low_pass_order(ORDER, Alignment::Butterworth);
        let low = low.and_then(|hz| PassFilter::new(Alignment::Butterworth, Pass::LowPass, order, hz).ok());
        let passes = passes.into_iter().chain([low]);
        f.tuned.plan.chain.passes = passes.flatten().collect();
    }
}

fn gap(f: &Fed<'_>, x: &Crossover) -> Finding {
    let own = f.tuned.high_pass.as_ref().map_or(0.0, |h| h.filter.corner_hz());
    let what = say!(
        "Channel {channel} plays from {from} Hz up and the subwoofers only up to {upto} Hz: what lies between is weak.",
        channel = f.view.id,
        from = loamline_terms::fixed(own, 0),
        upto = loamline_terms::fixed(x.low_pass.corner_hz(), 0)
    );
    Finding::new(Severity::Note, about_channel(f.view.id), what)
}

/// Where a response has dropped by [`SUBWOOFER_END_DB`] from its highest value, going up.
fn highest_hz(response: &[(f64, f64)]) -> f64 {
    let top = response.iter().map(|p| p.1).fold(f64::MIN, f64::max);
    let Some(last) = response.iter().rposition(|p| p.1 > top - SUBWOOFER_END_DB) else { return 0.0 };
    let (f0, v0) = response[last];
    match response.get(last + 1) {
        Some(&(f1, v1)) => f0 * (f1 / f0).powf((v0 - (top - SUBWOOFER_END_DB)) / (v0 - v1).max(1e-9)),
        None => f0,
    }
}

fn high_pass(job: &Job, f: &Fed<'_>, alignment: Alignment) -> Result<HighPassChoice, ProtectionError> {
    let mut needs = HighPassNeeds {
        transformers: Vec::new(),
        drivers: Vec::new(),
        makers: f.makers.corners.clone(),
        amplifier_hz: None,
        programme: job.programme(f.view.programme_id).lowest_hz().map(|lowest_hz| DriverNeed {
            name: f.view.programme_id.unwrap_or_default().to_owned(),
            lowest_hz,
        }),
        alignment,
        order: f.makers.order(ORDER, alignment),
    };
    for view in f.view.lines.iter().filter_map(|l| job.line(l)) {
        let driven = job.loudspeakers_of_line(view.id);
        let engine = channel(&f.view, view.supply);
        let limited = f.tuned.plan.limiter.map_or(f64::INFINITY, |l| l.v_peak / SQRT_2);
        needs.amplifier_hz =
            needs.amplifier_hz.into_iter().chain(engine.required_high_pass_hz).reduce(f64::max);
        for l in &driven {
            needs.drivers.push(DriverNeed { name: l.id.to_owned(), lowest_hz: l.model.high_pass_hz });
            if let (Some(t), Some(rated_voltage_v)) = (&l.model.transformer, view.supply.line_v()) {
                needs.transformers.push(TransformerNeed {
                    name: l.id.to_owned(),
                    rated_low_frequency_hz: t.low_frequency_hz,
                    rated_voltage_v,
                    highest_voltage_v: engine.max_voltage_v.min(limited),
                });
            }
        }
    }
    choose_high_pass(&needs)
}

#[cfg(test)]
mod tests {
    use super::highest_hz;

    #[test]
    fn a_subwoofer_ends_six_decibels_down() {
        // Falling 12 dB per octave from 100 Hz: 6 dB down half an octave on.
        assert!((highest_hz(&[(40.0, 0.0), (100.0, 0.0), (200.0, -12.0)]) - 141.421).abs() < 1e-2);
        assert_eq!(highest_hz(&[(40.0, 0.0), (100.0, 0.0)]), 100.0);
    }
}
