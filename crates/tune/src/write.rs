//! The settings as an edit of the job's channels.

use crate::fed::Fed;
use loamline_model::{Edit, Operation};
use loamline_processing::{Alignment, EqKind, Pass, PassFilter};
use loamline_terms::Polarity;
use serde_json::{Map, Value, json};

/// Writes gain, delay, polarity, filters, equaliser and limiter of every channel; settings no longer wanted go.
pub(crate) fn edit(fed: &[Fed<'_>]) -> Edit {
    Edit { operations: fed.iter().flat_map(channel).collect() }
}

fn channel(f: &Fed<'_>) -> Vec<Operation> {
    let (plan, now) = (&f.tuned.plan, f.view.channel);
    let path = |key: &str| format!("/channels/{}/{key}", f.view.id);
    let mut operations = Vec::new();
    let mut set = |key: &str, there: bool, value: Option<Value>| match value {
        Some(value) => operations.push(Operation::Add { path: path(key), value, before: None }),
        None if there => operations.push(Operation::Remove { path: path(key) }),
        None => {}
    };
    let pass = |side| plan.chain.passes.iter().find(|p| p.response() == side).map(filter);
    set("gain", false, Some(json!(with_unit(plan.chain.gain_db, "dB"))));
    let delayed = plan.chain.delay_s > 0.0 || now.delay_s > 0.0;
    set("delay", false, delayed.then(|| json!(with_unit(1e3 * plan.chain.delay_s, "ms"))));
    let normal = [plan.chain.polarity, now.polarity].iter().all(|p| *p == Polarity::Normal);
    set("polarity", false, (!normal).then(|| json!(plan.chain.polarity)));
    set("high_pass", now.high_pass.is_some(), pass(Pass::HighPass));
    set("low_pass", now.low_pass.is_some(), pass(Pass::LowPass));
    let sections: Map<String, Value> = plan
        .chain
        .equaliser
        .iter()
        .enumerate()
        .map(|(i, s)| {
            let kind = match s.kind() {
                EqKind::Peaking => "bell",
                EqKind::LowShelf => "low shelf",
                EqKind::HighShelf => "high shelf",
            };
            let section = json!({ "kind": kind, "frequency": with_unit(s.frequency_hz(), "Hz"),
                "gain": with_unit(s.gain_db(), "dB"), "q": s.q() });
            (format!("E{}", i + 1), section)
        })
        .collect();
    set("equaliser", !now.equaliser.is_empty(), (!sections.is_empty()).then_some(Value::Object(sections)));
    let limiter =
        plan.limiter.map(|l| json!({ "rms": with_unit(l.v_rms, "V"), "peak": with_unit(l.v_peak, "V") }));
    set("limiter", now.limiter.is_some(), limiter);
    operations
}

fn filter(p: &PassFilter) -> Value {
    let kind = match p.kind() {
        Alignment::Butterworth => "butterworth",
        Alignment::LinkwitzRiley => "linkwitz-riley",
        Alignment::Bessel => "bessel",
    };
    json!({ "kind": kind, "order": p.order(), "corner": with_unit(p.corner_hz(), "Hz") })
}

/// A value as a person writes it into a job; a hundred-thousandth of a unit is more than anything is set to.
fn with_unit(value: f64, unit: &str) -> String {
    format!("{} {unit}", (1e5 * value).round() / 1e5)
}
