//! What every paper carries: words, firm, job, paper.

use crate::pack::{Material, PackDrawing};
use serde_json::{Value, json};

/// Data every template gets.
pub fn common(m: &Material<'_>) -> Value {
    let about = &m.job.document().about;
    let (width, height) = m.options.paper.size_mm();
    json!({
        "words": m.options.words.tree(),
        "firm": m.options.firm,
        "paper": { "name": m.options.paper.name(), "width": width, "height": height },
        "job": {
            "name": about.name,
            "reference": about.reference,
            "summary": about.summary,
            "date": about.date,
            "notes": about.notes,
            "datum": m.job.document().site.datum,
        },
    })
}

/// Plan sheets for a template; drawing number `first` and on.
pub fn plan_sheets(m: &Material<'_>, plans: &[PackDrawing], first: usize) -> Vec<Value> {
    let words = &m.options.words;
    plans
        .iter()
        .enumerate()
        .map(|(i, plan)| {
            let scale = [("scale", plan.sheet.scale.written.as_str()), ("paper", m.options.paper.name())];
            let missing = plan.without_label.join(", ");
            json!({
                "file": format!("drawings/{}.svg", first + i),
                "title": plan.title,
                "scale": words.fill("page.scale_true", &scale),
                "landscape": plan.sheet.landscape,
                "width": plan.sheet.size_mm.0,
                "height": plan.sheet.size_mm.1,
                "missing": if missing.is_empty() {
                    String::new()
                } else {
                    words.fill("plan.without_label", &[("tags", &missing)])
                },
            })
        })
        .collect()
}

/// A number with so many decimals, and a true minus sign.
pub fn decimal(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.trim_matches(['0', '.']).is_empty() => rest.to_owned(),
        Some(rest) => format!("\u{2212}{rest}"),
        None => text,
    }
}
