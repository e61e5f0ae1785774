//! Why a design is as it is, in a contractor's words: models, rows and spacings of each area, and taps.

use crate::attempt::Made;
use crate::back_to_back::on_one_stake;
use crate::make::Maker;
use crate::mirror::are_mirrored;
use crate::spacing::{even, to_nearest};
use crate::types::{Likeness, Pose};
use loamline_geometry::Point2;
use loamline_model::document::Supply;
use loamline_study::area_words;
use loamline_terms::{Measure, Sentence, Told, all_of, say};
use std::collections::BTreeMap;

/// One sentence for each area that loudspeakers are proposed for.
pub(crate) fn why(maker: &Maker<'_>, made: &Made) -> Vec<Told> {
    let areas = (0..maker.site.zones.len()).filter_map(|z| of_area(maker, made, z));
    areas.map(Told::from).collect()
}

fn of_area(maker: &Maker<'_>, made: &Made, zone: usize) -> Option<Sentence> {
    let site = &maker.site;
    let own: Vec<&Pose> = made.poses.iter().filter(|p| p.zone == zone).collect();
    let first = own.first()?;
    let mut models: BTreeMap<&str, usize> = BTreeMap::new();
    for p in &own {
        *models.entry(site.models[p.model].model.description.as_str()).or_default() += 1;
    }
    let what: Vec<String> = models.iter().map(|(name, n)| format!("{n} x {name}")).collect();
    let mut taps: Vec<f64> = own.iter().map(|p| p.tap_w).collect();
    taps.sort_by(f64::total_cmp);
    taps.dedup();
    let taps: Vec<String> = taps.iter().map(|t| format!("{t} W")).collect();
    let fed = match site.models[first.model].supply {
        Supply::LowImpedance => Sentence::default(),
        _ => say!(" on {taps}", taps = all_of(&taps)),
    };
    // Two on one stake are one place.
    let mut places: Vec<Point2> = Vec::new();
    for p in &own {
        if !places.iter().any(|at| on_one_stake(*at, p.at)) {
            places.push(p.at);
        }
    }
    let apart = to_nearest(&places);
    let spacing = apart.iter().copied().fold(f64::INFINITY, f64::min);
    let of = &site.zones[zone];
    let begun = area_words(of.id, of.area) + ": " + all_of(&what) + fed;
    let spacing = Measure::Length(spacing);
    let spaced = match places.len() {
        1 => begun,
        _ if even(&places, 0.0) => begun + say!(", {spacing} apart", spacing = spacing),
        _ => begun + say!(", at least {spacing} apart", spacing = spacing),
    };
    Some(spaced + mirrored(maker, made, zone) + back_to_back(made, zone) + ".")
}

/// Whether the loudspeakers of an area are mirrored as the area and its ground are; nothing where these are not, or where each
/// loudspeaker stands for itself.
fn mirrored(maker: &Maker<'_>, made: &Made, zone: usize) -> Sentence {
    let axes = maker.axes().get(zone).filter(|axes| !axes.is_empty() && made.likeness == Likeness::Rows);
    let Some(axes) = axes else { return Sentence::default() };
    let own: Vec<Pose> = made.poses.iter().filter(|p| p.zone == zone).copied().collect();
    match (are_mirrored(&maker.site, axes, &own), own.len()) {
        (true, 1) => say!(", on the middle line of the area"),
        (true, _) => say!(", mirrored about the middle line of the area"),
        (false, _) => say!(", not mirrored though the area and its ground are"),
    }
}

/// How many loudspeakers of an area share a stake with another, if any.
fn back_to_back(made: &Made, zone: usize) -> Sentence {
    let shares =
        |i: usize, p: &Pose| made.poses.iter().enumerate().any(|(k, o)| k != i && on_one_stake(o.at, p.at));
    let own = made.poses.iter().enumerate().filter(|(i, p)| p.zone == zone && shares(*i, p)).count();
    match own {
        0 => Sentence::default(),
        1 => say!(", 1 back to back with another on one stake"),
        n => say!(", {count} back to back with others on one stake", count = n.to_string()),
    }
}
