//! Judging a solved line.

use crate::channel::Channel;
use crate::channel_use::least_modulus_ohm;
use crate::finding::ElectricalFinding;
use crate::line::{Connection, Line, Load, Service, Surroundings};
use crate::line_study::{LineLimits, LineStudy};
use crate::loudspeaker::Loudspeaker;

/// How far a transformer's limit may be passed before it is worth a finding: rounding and nothing more.
const SATURATION_SLACK: f64 = 1.01;

pub(crate) fn line_findings(
    line: &Line,
    channel: &Channel,
    limits: &LineLimits,
    study: &LineStudy,
) -> Vec<ElectricalFinding> {
    let mut findings = Vec::new();
    findings.extend(mixed(line));
    for load in &line.loads {
        findings.extend(tap(load, line.service));
        findings.extend(group(load, line.service, channel));
        findings.extend(saturation(load, channel, study.drive_v));
    }
    let mut losses: Vec<_> = study.loads.iter().filter(|load| load.loss_1khz_db > limits.loss_db).collect();
    losses.sort_by(|a, b| b.loss_1khz_db.total_cmp(&a.loss_1khz_db));
    findings.extend(losses.into_iter().map(|load| ElectricalFinding::LossOverLimit {
        line: line.name.clone(),
        load: load.load.clone(),
        loss_db: load.loss_1khz_db,
        limit_db: limits.loss_db,
    }));
    findings.extend(line.runs.iter().filter_map(|run| {
        let laid = run.laid.as_ref()?;
        let allowed = match laid.laying {
            Surroundings::Buried => laid.rated_for_burial,
            Surroundings::Conduit => laid.rated_for_conduit,
            Surroundings::Surface => true,
        };
        (!allowed).then(|| ElectricalFinding::CableNotRated {
            run: run.name.clone(),
            cable: laid.cable.clone(),
            laying: laid.laying,
        })
    }));
    findings
}

fn mixed(line: &Line) -> Option<ElectricalFinding> {
    let (direct, tapped): (Vec<_>, Vec<_>) =
        line.loads.iter().partition(|load| matches!(load.connection, Connection::Direct));
    let names = |loads: Vec<&Load>| loads.into_iter().map(|load| load.name.clone()).collect::<Vec<_>>();
    let wrong = match line.service {
        Service::ConstantVoltage { .. } => !direct.is_empty(),
        Service::LowImpedance => !direct.is_empty() && !tapped.is_empty(),
    };
    wrong.then(|| ElectricalFinding::MixedLine {
        line: line.name.clone(),
        direct: names(direct),
        tapped: names(tapped),
    })
}

fn tap(load: &Load, service: Service) -> Option<ElectricalFinding> {
    let (Connection::Tapped { transformer, tap_w }, Service::ConstantVoltage { rated_v }) =
        (&load.connection, service)
    else {
        return None;
    };
    let right_voltage = (transformer.rated_v / rated_v - 1.0).abs() <= 1e-3;
    (!right_voltage || !transformer.offers(*tap_w)).then(|| ElectricalFinding::TapNotOffered {
        load: load.name.clone(),
        tap_w: *tap_w,
        line_v: rated_v,
        transformer_v: transformer.rated_v,
        offered_w: transformer.taps_w.clone(),
    })
}

/// A group in parallel straight on a low-impedance channel that is too low on its own.
fn group(load: &Load, service: Service, channel: &Channel) -> Option<ElectricalFinding> {
    let is_group = matches!(load.loudspeaker, Loudspeaker::Parallel(_) | Loudspeaker::Series(_));
    if !is_group || service != Service::LowImpedance || !matches!(load.connection, Connection::Direct) {
        return None;
    }
    let (frequency_hz, impedance_ohm) = load.loudspeaker.minimum_impedance();
    (impedance_ohm < least_modulus_ohm(channel, true) * (1.0 - 1e-9)).then(|| {
        ElectricalFinding::GroupBelowMinimum {
            load: load.name.clone(),
            impedance_ohm,
            frequency_hz,
            minimum_ohm: channel.min_load_ohm,
        }
    })
}

/// The worst of drive times high-pass over the voltage a transformer takes, from 10 Hz to its rated low frequency.
fn saturation(load: &Load, channel: &Channel, drive_v: f64) -> Option<ElectricalFinding> {
    let Connection::Tapped { transformer, .. } = &load.connection else { return None };
    let lowest = 10f64.min(transformer.rated_low_hz);
    let (mut worst, mut worst_hz) = (0.0, lowest);
    for step in 0..=120 {
        let f = lowest * (transformer.rated_low_hz / lowest).powf(f64::from(step) / 120.0);
        let ratio = drive_v * channel.high_pass.map_or(1.0, |filter| filter.gain(f))
            / transformer.greatest_voltage_v(f);
        if ratio > worst {
            (worst, worst_hz) = (ratio, f);
        }
    }
    (worst > SATURATION_SLACK).then(|| ElectricalFinding::TransformerSaturates {
        load: load.name.clone(),
        frequency_hz: worst_hz,
        voltage_v: worst * transformer.greatest_voltage_v(worst_hz),
        greatest_v: transformer.greatest_voltage_v(worst_hz),
        rated_low_hz: transformer.rated_low_hz,
        high_pass_hz: channel.high_pass.map(|filter| filter.corner_hz),
    })
}
