//! The settings as an edit of the job's channels.

use super::{Fed, wired};
use loamline_model::document::Polarity as Wired;
use loamline_model::{Edit, Operation};
use loamline_processing::{Alignment, EqKind, Pass, PassFilter};
use serde_json::{Map, Value, json};

/// Writes gain, delay, polarity, filters, equaliser and limiter of every channel; settings no longer wanted go.
pub(super) fn edit(fed: &[Fed<'_>]) -> Edit {
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
    set("gain", false, Some(json!(plan.chain.gain_db)));
    let delayed = plan.chain.delay_s > 0.0 || now.delay_s > 0.0;
    set("delay", false, delayed.then(|| json!(plan.chain.delay_s)));
    let polarity = wired(plan.chain.polarity);
    let turned = polarity != Wired::Normal || now.polarity != Wired::Normal;
    set(
        "polarity",
        false,
        turned.then(|| json!(if polarity == Wired::Normal { "normal" } else { "reversed" })),
    );
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
            let section =
                json!({ "kind": kind, "frequency": s.frequency_hz(), "gain": s.gain_db(), "q": s.q() });
            (format!("E{}", i + 1), section)
        })
        .collect();
    set("equaliser", !now.equaliser.is_empty(), (!sections.is_empty()).then_some(Value::Object(sections)));
    let limiter = plan.limiter.map(|l| json!({ "rms": l.v_rms, "peak": l.v_peak }));
    set("limiter", now.limiter.is_some(), limiter);
    operations
}

fn filter(p: &PassFilter) -> Value {
    let kind = match p.kind() {
        Alignment::Butterworth => "butterworth",
        Alignment::LinkwitzRiley => "linkwitz-riley",
        Alignment::Bessel => "bessel",
    };
    json!({ "kind": kind, "order": p.order(), "corner": p.corner_hz() })
}
