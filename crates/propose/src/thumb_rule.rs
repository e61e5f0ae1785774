//! The plan a rule of thumb gives, to compare with: one loudspeaker every so many metres round the edge of each area, all
//! at one tap (common practice, no source).

use crate::api::Figures;
use crate::build::without_unpinned;
use crate::error::ProposeError;
use crate::make::Maker;
use crate::places::{Spot, nearest_in};
use crate::site::pose_at;
use crate::types::Pose;
use loamline_geometry::{bearing_between, direction};
use loamline_model::JobFile;
use loamline_model::document::Mount;
use loamline_quotation::PriceBook;

/// One loudspeaker every so many metres (common practice, no source).
const EVERY_M: f64 = 5.0;
/// Where the edge passes farther than this from ground that takes a loudspeaker, none is put, metres.
const AWAY_M: f64 = 4.0;

/// The plan by rule of thumb, built, priced and measured like a proposal: the cheapest loudspeaker that suits the ground,
/// looking at the area, at the middle of its taps; one subwoofer where a bass level is asked. Priced with the catalogue and
/// a person's own prices.
///
/// # Errors
/// [`ProposeError::Brief`] when something is missing or the plan cannot be built.
pub fn rule_of_thumb(file: &JobFile, prices: &PriceBook) -> Result<Figures, ProposeError> {
    let (pinned_only, clear) = without_unpinned(file)?;
    let maker = Maker::new(&pinned_only, clear, prices)?;
    let site = &maker.site;
    let mut layout: Vec<Pose> = Vec::new();
    for (z, zone) in site.zones.iter().enumerate() {
        let outline = &zone.area.outline;
        let offered = || site.models.iter().enumerate().filter(|(_, m)| m.supply == zone.supply);
        let count = (outline.perimeter() / EVERY_M).round().max(2.0) as usize;
        for k in 0..count {
            let edge = point_along(outline, (k as f64 + 0.5) / count as f64);
            let away = |s: &&Spot| s.at.distance(edge);
            let Some(spot) = maker.spots.iter().min_by(|a, b| away(a).total_cmp(&away(b))) else { continue };
            let taken = layout.iter().any(|p| p.at.distance(spot.at) < 1.0);
            if spot.at.distance(edge) > AWAY_M || taken {
                continue;
            }
            let model = offered()
                .filter(|(_, m)| !m.is_subwoofer() && m.fits(spot) && m.model.mount != Mount::Base)
                .min_by(|a, b| a.1.installed.total_cmp(&b.1.installed));
            let Some((m, offered)) = model else { continue };
            let to = nearest_in(outline, spot.at).lerp(outline.centroid(), 0.3);
            let bearing =
                spot.out_deg.unwrap_or_else(|| bearing_between(spot.at, to).round().rem_euclid(360.0));
            let pitch = if spot.out_deg.is_some() { -20.0 } else { 0.0 };
            let taps = &offered.taps_w;
            let mut pose = pose_at(spot, m, offered, (bearing, pitch), z);
            pose.tap_w = taps.get(taps.len() / 2).copied().unwrap_or(pose.tap_w);
            layout.push(pose);
        }
        if zone.area.bass_db.is_some() {
            let away = |s: &&Spot| nearest_in(outline, s.at).distance(s.at);
            let ground = maker.spots.iter().filter(|s| s.out_deg.is_none());
            let free = ground.filter(|s| layout.iter().all(|p| p.at.distance(s.at) > 1.0));
            let spot = free.min_by(|a, b| away(a).total_cmp(&away(b)));
            let sub = offered().filter(|(_, m)| m.is_subwoofer());
            let sub = sub.min_by(|a, b| a.1.installed.total_cmp(&b.1.installed));
            if let (Some(spot), Some((m, offered))) = (spot, sub) {
                let mut pose = pose_at(spot, m, offered, (0.0, 0.0), z);
                pose.tap_w = offered.taps_w.last().copied().unwrap_or(pose.tap_w);
                layout.push(pose);
            }
        }
    }
    let (_, figures) = maker.finish(&layout, false)?;
    Ok(figures)
}

/// The point at a share of the way round an outline.
fn point_along(outline: &loamline_geometry::Polygon, share: f64) -> loamline_geometry::Point2 {
    let mut left = share * outline.perimeter();
    for side in outline.sides() {
        if left <= side.length() {
            return side.a + direction(bearing_between(side.a, side.b), 0.0).plan() * left;
        }
        left -= side.length();
    }
    outline.corners()[0]
}
