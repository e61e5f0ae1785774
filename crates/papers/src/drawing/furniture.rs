//! What makes a map a drawing: grid, scale bar, north arrow.

use super::measure::{Face, LEAST_TEXT_MM};
use super::palette;
use super::spot::{Spot, View};
use super::svg::{Align, Lettering, Paint, Svg};
use crate::measures::M_PER_FT;
use loamline_geometry::Point2;
use loamline_model::Units;

/// Room beside the map for the grid's figures, millimetres.
pub const GRID_MARGIN: f64 = 5.0;

fn note(align: Align) -> Lettering<'static> {
    Lettering { face: Face::Regular, size_mm: LEAST_TEXT_MM, colour: palette::QUIET, align, halo: None }
}

/// Smallest of 1, 2, 5, 10, 20, 50, ... that is at least `least`.
fn round_step(least: f64) -> f64 {
    let power = 10f64.powf(least.max(1e-9).log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|k| k * power).find(|&s| s >= least * 0.999).unwrap_or(power * 10.0)
}

/// Figure of a grid line and its position on paper, millimetres.
type GridLine = (f64, f64);

/// Positions of the grid on the map: figure in the unit of the grid, and where it falls on paper.
fn grid_positions(view: &View, units: Units) -> (Vec<GridLine>, Vec<GridLine>) {
    let unit_m = if units == Units::Us { M_PER_FT } else { 1.0 };
    // Lines at least 16 mm apart on paper.
    let step = round_step(16.0 / (view.mm_per_m * unit_m));
    let f = view.frame;
    let (low, high) = (view.site(Spot::new(f.left, f.bottom)), view.site(Spot::new(f.right, f.top)));
    let figures = |low: f64, high: f64| {
        let first = (low / unit_m / step).ceil() as i64;
        let last = (high / unit_m / step).floor() as i64;
        (first..=last).map(move |k| k as f64 * step)
    };
    let across = figures(low.x, high.x).map(|e| (e, view.spot(Point2::new(e * unit_m, 0.0)).x)).collect();
    let up = figures(low.y, high.y).map(|n| (n, view.spot(Point2::new(0.0, n * unit_m)).y)).collect();
    (across, up)
}

/// Draws the lines of the grid: every so many metres (or feet) from the datum.
pub fn grid_lines(svg: &mut Svg, view: &View, units: Units) {
    let (across, up) = grid_positions(view, units);
    let (f, hair) = (view.frame, Paint::stroke(palette::HAIR, 0.1));
    svg.open("grid");
    for (_, x) in across {
        svg.segment(Spot::new(x, f.top), Spot::new(x, f.bottom), &hair);
    }
    for (_, y) in up {
        svg.segment(Spot::new(f.left, y), Spot::new(f.right, y), &hair);
    }
    svg.close();
}

/// Writes the figures of the grid below and left of the map.
pub fn grid_figures(svg: &mut Svg, view: &View, units: Units) {
    let (across, up) = grid_positions(view, units);
    let f = view.frame;
    svg.open("grid-figures");
    for (figure, x) in across {
        svg.text(Spot::new(x, f.bottom + 3.0), &format!("{figure}"), note(Align::Middle));
    }
    for (figure, y) in up {
        svg.text(Spot::new(f.left - 1.0, y + 0.9), &format!("{figure}"), note(Align::End));
    }
    svg.close();
}

/// Draws a scale bar with its left end at `at`; returns its length, millimetres.
pub fn scale_bar(svg: &mut Svg, at: Spot, mm_per_m: f64, units: Units) -> f64 {
    let (unit_m, name) = if units == Units::Us { (M_PER_FT, "ft") } else { (1.0, "m") };
    let division = round_step(9.0 / (mm_per_m * unit_m));
    let each = division * unit_m * mm_per_m;
    svg.open("scale-bar");
    for k in 0..4 {
        let f = super::spot::Frame::new(
            at.x + each * f64::from(k),
            at.y,
            at.x + each * f64::from(k + 1),
            at.y + 1.3,
        );
        let fill = if k % 2 == 0 { palette::INK } else { palette::SHEET };
        svg.rectangle(f, 0.0, &Paint::fill(fill).and_stroke(palette::INK, 0.18));
    }
    for k in [0, 1, 2, 4] {
        let figure = if k == 4 {
            format!("{} {name}", division * 4.0)
        } else {
            format!("{}", division * f64::from(k))
        };
        svg.text(Spot::new(at.x + each * f64::from(k), at.y + 4.1), &figure, note(Align::Middle));
    }
    svg.close();
    each * 4.0
}

/// Draws a north arrow; `true_north_deg` is the bearing of true north from plan north. A thin second arrow shows
/// true north where it differs.
pub fn north(svg: &mut Svg, at: Spot, true_north_deg: f64, letter: &str) {
    svg.open("north");
    let (up, side) = (Spot::towards(0.0), Spot::towards(90.0));
    let left = [at + up * 3.4, at - side * 1.5 - up * 2.4, at - up * 1.2];
    let right = [at + up * 3.4, at + side * 1.5 - up * 2.4, at - up * 1.2];
    svg.outline(&left, &Paint::fill(palette::INK).and_stroke(palette::INK, 0.15));
    svg.outline(&right, &Paint::fill(palette::SHEET).and_stroke(palette::INK, 0.2));
    let style = Lettering {
        face: Face::SemiBold,
        size_mm: 2.8,
        colour: palette::INK,
        align: Align::Start,
        halo: None,
    };
    svg.text(at + side * 2.2 - up * 0.4, letter, style);
    let off = (true_north_deg + 180.0).rem_euclid(360.0) - 180.0;
    if off.abs() >= 1.0 {
        let d = Spot::towards(true_north_deg);
        svg.segment(at - d * 2.4, at + d * 3.6, &Paint::stroke(palette::WARNING, 0.2));
        svg.circle(at + d * 3.6, 0.4, &Paint::fill(palette::WARNING));
    }
    svg.close();
}
