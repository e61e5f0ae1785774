//! A made design as it is offered.

use crate::api::{OptionKind, Proposed};
use crate::attempt::Made;
use crate::make::Maker;
use crate::types::{Likeness, Pose};
use crate::unmet::unmet;
use crate::why::why;
use indexmap::IndexMap;
use loamline_model::Choice as _;
use loamline_model::document::Matching;
use loamline_terms::say;

/// A design as it is offered, without what each of its loudspeakers is for.
pub(crate) fn as_made(maker: &Maker<'_>, m: &Made, kinds: Vec<OptionKind>, budget: Option<f64>) -> Proposed {
    let mut notes = why(maker, m);
    let likeness = likeness(m);
    let unlike = match likeness {
        Likeness::OneModel => Some(say!(
            "The loudspeakers of an area are of one model, and each stands and is driven for itself: no even rows on one tap were \
             found that meet the brief."
        )),
        Likeness::Any => Some(say!("The loudspeakers of an area are of several models.")),
        Likeness::Rows => None,
    };
    if let Some(sentence) = unlike.filter(|_| maker.matching == Matching::Alike) {
        notes.insert(0, sentence.into());
    }
    let mut served: IndexMap<String, Vec<String>> = IndexMap::new();
    for (z, zone) in maker.site.zones.iter().enumerate() {
        let own = m.poses.iter().filter(|p| p.zone == z);
        let tags = own.filter_map(|p| m.tag_of(maker.site.models[p.model].id, p.at)).collect();
        served.insert(zone.id.to_owned(), tags);
    }
    Proposed {
        kinds,
        unmet: unmet(maker.site.job, m, budget),
        served,
        matching: likeness.matching().word().to_owned(),
        notes,
        robust_share: m.missed.nothing().then_some(m.robust_share),
        reasons: Vec::new(),
        findings: m.built.study.findings().to_vec(),
        replaces: Vec::new(),
        figures: m.figures.clone(),
        choice_cost: m.choice.cost,
        bill: m.built.cost.bill.clone(),
        edit: m.built.edit.clone(),
    }
}

/// How alike the loudspeakers of a design came out, whatever was looked for.
fn likeness(m: &Made) -> Likeness {
    let unlike = |a: &Pose, b: &Pose| a.zone == b.zone && a.model != b.model;
    if m.poses.iter().any(|a| m.poses.iter().any(|b| unlike(a, b))) {
        Likeness::Any
    } else if m.likeness == Likeness::Rows {
        Likeness::Rows
    } else {
        Likeness::OneModel
    }
}
