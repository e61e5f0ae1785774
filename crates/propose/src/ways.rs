//! What the cable from a rack to a guide costs, over the ground as it is: the router's own way, priced as it will be laid.

use crate::guides::{Guide, Guides};
use crate::price::{Prices, nearest_m};
use crate::site::Site;
use loamline_adapt::ground_plan;
use loamline_geometry::Point2;
use loamline_limits::lent;
use loamline_routing::{CableToLay, GroundMap, RunEnd};
use rayon::prelude::*;

/// Outside diameter of usual cable, millimetres: whether it fits a sleeve.
const USUAL_MM: f64 = 9.0;
/// Where the router is not asked, ways are longer than straight lines by about this.
const DETOUR: f64 = 1.3;

/// Price of the way from the nearest rack to each guide, tax included. Single places are reckoned by the straight line at
/// the dearest price a metre of their area's other guides comes to.
pub(crate) fn ways(site: &Site<'_>, guides: &Guides, prices: &Prices<'_>) -> Vec<f64> {
    let job = site.job;
    let racks: Vec<Point2> = job.document().racks.values().map(|r| r.position).collect();
    let away = |at: Point2| nearest_m(at, racks.iter().copied());
    let first = |guide: &Guide| {
        let places = guide.places.iter().flatten().map(|k| guides.spots[*k]);
        places.min_by(|a, b| away(a.at).total_cmp(&away(b.at)))
    };
    let map = ground_plan(job).and_then(|plan| GroundMap::new(plan).ok());
    let cable = CableToLay { price_per_m: prices.cheapest_cable(), outside_diameter_mm: USUAL_MM };
    let routed = |guide: &Guide| -> Option<f64> {
        let (map, to) = (map.as_ref()?, first(guide)?.at);
        let from = racks.iter().copied().min_by(|a, b| a.distance(to).total_cmp(&b.distance(to)))?;
        let end = |name: &str, at: Point2| RunEnd { name: name.to_owned(), at };
        let way = map.path(&end("rack", from), &end("row", to), &cable).ok()?;
        Some(prices.way(way.laying_price, way.length_m + way.vertical_m))
    };
    let straight =
        |guide: &Guide| first(guide).map_or(0.0, |s| DETOUR * away(s.at) * prices.cable_per_m(s.lay_per_m));
    let each = |guide: &Guide| {
        let alone = guide.places.len() == 1;
        if alone { straight(guide) } else { routed(guide).unwrap_or_else(|| straight(guide)) }
    };
    let leave = lent();
    let mut all: Vec<f64> = guides.all.par_iter().map(|g| leave.lend(|| each(g))).collect();
    // Straight lines know nothing of paving and no-go areas on the way.
    for (z, _) in site.zones.iter().enumerate() {
        let own = || guides.all.iter().enumerate().filter(|(_, g)| g.zone == z);
        let dearer = own().filter(|(_, g)| g.places.len() > 1).filter_map(|(k, g)| {
            let line = straight(g);
            (line > 1.0).then(|| all[k] / line)
        });
        let factor = dearer.fold(f64::NEG_INFINITY, f64::max);
        if factor.is_finite() {
            let alone: Vec<usize> = own().filter(|(_, g)| g.places.len() == 1).map(|(k, _)| k).collect();
            alone.into_iter().for_each(|k| all[k] *= factor.clamp(0.5, 4.0));
        }
    }
    all
}
