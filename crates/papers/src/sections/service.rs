//! Warranty and service: what is warranted until when, what is checked in spring and autumn by what stands there, what to
//! keep in stock, a log.
//!
//! Common practice, no source: a connector in ten and at least two are kept, a loudspeaker for every twenty of a model.

use super::common::{colour_of, common};
use super::readings;
use super::schedules::plain;
use crate::material::Material;
use crate::tags::listed;
use loamline_model::catalogue::LoudspeakerKind;
use loamline_model::document::{JointKind, Laying, Mount, ServiceKind, SurfaceKind, VisitKind, WallKind};
use rust_decimal::prelude::ToPrimitive as _;
use serde_json::{Value, json};

/// Rows of the log.
const LOG_ROWS: usize = 14;
/// Of connectors in use one in so many is kept, and at least so many.
const CONNECTORS_IN: f64 = 10.0;
const LEAST_CONNECTORS: f64 = 2.0;
/// Of the loudspeakers of a model one for so many is kept.
const LOUDSPEAKERS_IN: f64 = 20.0;

/// Data of the service sheet.
pub fn service(m: &Material<'_>) -> (Value, Vec<String>) {
    let mut data = common(m);
    data["checks"] = checks(m).into();
    data["meters"] = readings::meters(m).into();
    data["readings"] = readings::readings(m).into();
    data["insulation"] = readings::insulation(m);
    data["pieces"] = pieces(m).into();
    data["put_in"] = handed_over(m).into();
    data["kit"] = kit(m).into();
    data["log_rows"] = LOG_ROWS.into();
    (data, Vec::new())
}

/// Day of the last handover; empty where there was none.
pub fn handed_over<'m>(m: &'m Material<'_>) -> &'m str {
    let visits = m.job.document().visits.values();
    let dates = visits.filter(|v| v.kind == VisitKind::Handover).map(|v| v.date.as_str());
    dates.max().unwrap_or_default()
}

/// What there is to check, by what is there.
fn checks(m: &Material<'_>) -> Vec<String> {
    let (words, d) = (&m.options.words, m.job.document());
    let mounted = |wanted: &[Mount]| m.job.loudspeakers().any(|l| wanted.contains(&l.mount));
    let is_a = |kind: LoudspeakerKind| m.job.loudspeakers().any(|l| l.model.kind == kind);
    let ground = |kind: SurfaceKind| d.site.ground == kind || d.surfaces.values().any(|s| s.kind == kind);
    let lies = |laying: Laying| m.ground.iter().any(|g| g.laying == laying);
    let hedge = d.walls.values().any(|w| w.kind == WallKind::Hedge);
    let boxes: Vec<&str> =
        d.joints.iter().filter(|(_, j)| j.kind == JointKind::Box).map(|(id, _)| id.as_str()).collect();
    let any = !d.loudspeakers.is_empty();
    let told = [
        (true, "off"),
        (any, "heard"),
        (mounted(&[Mount::Stake, Mount::Surface]), "upright"),
        (any, "aim"),
        (hedge || ground(SurfaceKind::Bed) || ground(SurfaceKind::Woodland), "foliage"),
        (d.services.values().any(|s| s.kind == ServiceKind::Irrigation), "irrigation"),
        (is_a(LoudspeakerKind::Subwoofer), "ports"),
        (!m.holes.is_empty(), "gravel"),
        (mounted(&[Mount::Base]), "base"),
        (mounted(&[Mount::Bracket, Mount::Eaves]), "bracket"),
        (!boxes.is_empty(), "box_joints"),
        (lies(Laying::Staked) || lies(Laying::Slit), "cable_mulch"),
        (lies(Laying::Clipped), "cable_wall"),
        (ground(SurfaceKind::Water), "water"),
        (!d.amplifiers.is_empty(), "rack"),
        (!d.racks.is_empty(), "residual"),
        (!d.amplifiers.is_empty(), "settings"),
        (!d.sources.is_empty(), "sources"),
        (!d.lines.is_empty(), "measured"),
    ];
    let tags = listed(&boxes, words.get("number.to"));
    let text = |key: &str| words.fill(&format!("upkeep.{key}"), &[("tags", &tags)]);
    told.into_iter().filter(|(there, _)| *there).map(|(_, key)| text(key)).collect()
}

/// Every piece with a serial number of its own.
fn pieces(m: &Material<'_>) -> Vec<Value> {
    let d = m.job.document();
    let amplifiers = d.amplifiers.iter().map(|(id, a)| {
        let model = m.job.catalogue().amplifiers.get(&a.model).map_or("", |x| x.description.as_str());
        json!({ "tag": id, "colour": colour_of(m.job, None), "model": model, "serial": a.serial })
    });
    let loudspeakers = m.job.loudspeakers().map(|l| {
        let colour = colour_of(m.job, l.placed.line.as_deref());
        json!({ "tag": l.id, "colour": colour, "model": l.model.description, "serial": l.placed.serial })
    });
    amplifiers.chain(loudspeakers).collect()
}

/// What to keep: what it is, how many, why.
fn kit(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let why = |key: &str| words.get(&format!("upkeep.{key}")).to_owned();
    let mut rows: Vec<Value> = Vec::new();
    for item in &m.bill {
        let used = item.quantity.to_f64().unwrap_or(0.0);
        let (keep, key) = if item.code.starts_with("connector/") {
            ((used / CONNECTORS_IN).ceil().max(LEAST_CONNECTORS), "one_in_ten")
        } else if item.code.starts_with("loudspeaker/") {
            ((used / LOUDSPEAKERS_IN).ceil(), "one_in_twenty")
        } else {
            continue;
        };
        if used > 0.0 {
            rows.push(json!([item.description, plain(keep), why(key)]));
        }
    }
    for need in &m.cables {
        let longest = need.spools.iter().map(|s| s.left_m).fold(0.0, f64::max);
        let name = m.cable_names().named(&need.cable);
        rows.push(json!([name, m.options.units.left(longest), why("left_over")]));
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::options::PackOptions;
    use crate::results::Results;
    use loamline_model::load_job;
    use rust_decimal::Decimal;
    use std::path::Path;

    /// Spares by hand from the bill: a tenth of the connectors rounded up, one for every started twenty of a model; checks by
    /// what stands in the document.
    #[test]
    fn the_kit_and_the_checks_follow_from_the_job() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/guesthouse-garden");
        let job = load_job(&folder).unwrap_or_else(|e| panic!("{e:?}"));
        let (results, options) = (Results::runs_of(&job), PackOptions::usual().unwrap());
        let m = Material::gather(&job, &results, &options).unwrap();
        let kit = kit(&m);
        let kept = |description: &str| -> Decimal {
            let row = kit.iter().find(|r| r[0] == description).unwrap_or_else(|| panic!("no {description}"));
            row[1].as_str().unwrap().parse().unwrap()
        };
        for item in &m.bill {
            if item.code.starts_with("connector/") {
                let tenth = (item.quantity / Decimal::TEN).ceil();
                assert_eq!(kept(&item.description), tenth.max(Decimal::TWO), "{}", item.code);
            }
            if item.code.starts_with("loudspeaker/") {
                assert_eq!(
                    kept(&item.description),
                    (item.quantity / Decimal::from(20)).ceil(),
                    "{}",
                    item.code
                );
            }
        }
        let checks = checks(&m).join("; ");
        // The job has two subwoofers in holes, a hedge, an irrigation line, a joint in a box and no open water.
        for part in
            ["Ports of the subwoofers", "Gravel under", "Hedges and beds", "Irrigation heads", "J1 dry"]
        {
            assert!(checks.contains(part), "{part}: {checks}");
        }
        assert!(!checks.contains("near water"), "{checks}");
        assert_eq!(handed_over(&m), "2026-04-17");
    }
}
