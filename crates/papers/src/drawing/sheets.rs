//! Which plan sheets a job takes: one overview at the finest standard scale that shows the whole site, and where
//! that is too coarse to read, detail sheets at a finer one.

use super::key;
use super::paper::{Paper, Scale};
use super::plan::map_frame::map_frame;
use super::plan::request::{PlanRequest, Reader};
use super::sheet::Sheet;
use super::spot::Frame;
use loamline_geometry::Point2;
use loamline_limits::DETAIL_SHEETS;
use loamline_model::{Job, Units};

/// Room round the site on a sheet, metres.
const AROUND_M: f64 = 0.8;
/// Room round what has a tag, for its label, metres.
const LABEL_M: f64 = 1.5;
/// Scale at which every tag of a garden can be read: coarser than this the overview gets detail sheets.
const COARSEST_WORKING_SCALE: f64 = 260.0;
/// Share of a detail sheet that its neighbour shows too.
const OVERLAP: f64 = 0.08;

/// Margins of a page, millimetres: left and right, top, bottom; and the height of the sheet's title.
pub const MARGIN_X_MM: f64 = 15.0;
const MARGIN_TOP_MM: f64 = 22.0;
const MARGIN_BOTTOM_MM: f64 = 18.0;
const TITLE_MM: f64 = 13.0;

/// The sheets of a job.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetSet {
    /// The whole site.
    pub overview: Sheet,
    /// Parts at a finer scale; empty where the overview is fine enough.
    pub details: Vec<Sheet>,
}

/// Size of a drawing on a sheet of paper, millimetres.
pub fn drawing_size_mm(paper: Paper, landscape: bool) -> (f64, f64) {
    let (w, h) = paper.size_mm();
    let (w, h) = if landscape { (h, w) } else { (w, h) };
    (w - 2.0 * MARGIN_X_MM, h - MARGIN_TOP_MM - MARGIN_BOTTOM_MM - TITLE_MM)
}

/// South-west and north-east corner of everything that belongs on the plan: the site's outline where there is one,
/// else all that is drawn; equipment always.
pub fn extent(job: &Job) -> (Point2, Point2) {
    let d = job.document();
    let mut points: Vec<Point2> = Vec::new();
    match &d.site.outline {
        Some(outline) => points.extend(outline.corners()),
        None => {
            let outlines = d
                .surfaces
                .values()
                .map(|s| &s.outline)
                .chain(d.buildings.values().map(|b| &b.outline))
                .chain(d.areas.values().map(|a| &a.outline));
            points.extend(outlines.flat_map(|o| o.corners()));
            points.extend(d.walls.values().flat_map(|w| &w.line));
        }
    }
    points.extend(d.loudspeakers.values().map(|l| l.position));
    points.extend(d.joints.values().map(|j| j.position));
    points.extend(d.racks.values().map(|r| r.position));
    points.extend(d.stubs.values().map(|s| s.position));
    points.extend(d.marks.values().map(|m| m.position));
    let fold = |f: fn(f64, f64) -> f64, start: f64| {
        points.iter().fold(Point2::new(start, start), |p, q| Point2::new(f(p.x, q.x), f(p.y, q.y)))
    };
    if points.is_empty() {
        return (Point2::new(0.0, 0.0), Point2::new(10.0, 10.0));
    }
    let around = Point2::new(AROUND_M, AROUND_M);
    (fold(f64::min, f64::INFINITY) - around, fold(f64::max, f64::NEG_INFINITY) + around)
}

/// Map frame of a drawing of this size with the key of a request.
fn frame_of(request: &PlanRequest<'_>, size_mm: (f64, f64)) -> Frame {
    let entries = super::legend::key_entries(&PlanRequest { size_mm, ..*request });
    map_frame(request.reader, size_mm, key::layout(&entries, size_mm.0).1)
}

/// Chooses the sheets for a plan; position and scale of `request` are not looked at.
pub fn sheets(request: &PlanRequest<'_>, paper: Paper, units: Units) -> SheetSet {
    let (low, high) = extent(request.job);
    let ground = (high.x - low.x, high.y - low.y);
    let centre = low.lerp(high, 0.5);
    let choice = |landscape: bool| {
        let size_mm = drawing_size_mm(paper, landscape);
        let frame = frame_of(request, size_mm);
        let scale = Scale::fitting(units, ground, (frame.width(), frame.height()));
        Sheet { landscape, size_mm, centre, scale, map_mm: (frame.width(), frame.height()), detail: None }
    };
    let (wide, tall) = (choice(true), choice(false));
    let wide_site = ground.0 >= ground.1;
    let overview = match wide.scale.denominator.total_cmp(&tall.scale.denominator) {
        std::cmp::Ordering::Less => wide,
        std::cmp::Ordering::Greater => tall,
        std::cmp::Ordering::Equal if wide_site => wide,
        std::cmp::Ordering::Equal => tall,
    };
    let coarse = overview.scale.denominator > COARSEST_WORKING_SCALE;
    let details = if coarse && request.reader == Reader::Crew {
        detail_sheets(request, &overview, units)
    } else {
        Vec::new()
    };
    SheetSet { overview, details }
}

/// Parts at the finest scale that needs no more than [`DETAIL_SHEETS`]; none where no finer standard scale
/// does with so few.
pub fn detail_sheets(request: &PlanRequest<'_>, overview: &Sheet, units: Units) -> Vec<Sheet> {
    let (low, high) = tagged_extent(request.job);
    // The key stands on the overview; without it a sheet shows more ground.
    let request = &PlanRequest { key: false, ..*request };
    let frame = frame_of(request, overview.size_mm);
    let finer = Scale::standard(units)
        .into_iter()
        .filter(|s| s.denominator < overview.scale.denominator && s.denominator >= 50.0);
    for scale in finer {
        let window = (frame.width() / scale.mm_per_m(), frame.height() / scale.mm_per_m());
        let tiles = tiles(request.job, window, low, high);
        if DETAIL_SHEETS.check(tiles.len()).is_ok() {
            return tiles
                .into_iter()
                .enumerate()
                .map(|(i, centre)| Sheet {
                    centre,
                    scale: scale.clone(),
                    map_mm: (frame.width(), frame.height()),
                    detail: Some(i + 1),
                    ..overview.clone()
                })
                .collect();
        }
    }
    Vec::new()
}

/// Where everything with a tag of its own stands.
fn tagged(job: &Job) -> Vec<Point2> {
    let d = job.document();
    d.loudspeakers
        .values()
        .map(|l| l.position)
        .chain(d.joints.values().map(|j| j.position))
        .chain(d.racks.values().map(|r| r.position))
        .chain(d.stubs.values().map(|s| s.position))
        .chain(d.marks.values().map(|m| m.position))
        .chain(d.lines.keys().flat_map(|line| job.runs(line)).flat_map(|run| run.way.to_vec()))
        .collect()
}

/// South-west and north-east corner of everything with a tag, with room for its label, inside the plan's extent.
fn tagged_extent(job: &Job) -> (Point2, Point2) {
    let (low, high) = extent(job);
    let (mut a, mut b) = (high, low);
    for p in tagged(job) {
        a = Point2::new(a.x.min(p.x), a.y.min(p.y));
        b = Point2::new(b.x.max(p.x), b.y.max(p.y));
    }
    let (a, b) = (a - Point2::new(LABEL_M, LABEL_M), b + Point2::new(LABEL_M, LABEL_M));
    (Point2::new(a.x.max(low.x), a.y.max(low.y)), Point2::new(b.x.min(high.x), b.y.min(high.y)))
}

/// Middles of the windows that together show everything with a tag; windows without any are left out. From north to
/// south, each row from west to east.
fn tiles(job: &Job, window: (f64, f64), low: Point2, high: Point2) -> Vec<Point2> {
    let count = |extent: f64, window: f64| {
        if extent <= window {
            1
        } else {
            ((extent - window) / (window * (1.0 - OVERLAP))).ceil() as usize + 1
        }
    };
    let (columns, rows) = (count(high.x - low.x, window.0), count(high.y - low.y, window.1));
    let middle = |k: usize, n: usize, low: f64, high: f64, window: f64| {
        if n == 1 {
            (low + high) / 2.0
        } else {
            low + window / 2.0 + (high - low - window) * k as f64 / (n - 1) as f64
        }
    };
    let tagged = tagged(job);
    let mut out = Vec::new();
    for row in (0..rows).rev() {
        for column in 0..columns {
            let at = Point2::new(
                middle(column, columns, low.x, high.x, window.0),
                middle(row, rows, low.y, high.y, window.1),
            );
            let shows =
                |p: &&Point2| (p.x - at.x).abs() <= window.0 / 2.0 && (p.y - at.y).abs() <= window.1 / 2.0;
            if tagged.iter().any(|p| shows(&p)) {
                out.push(at);
            }
        }
    }
    out
}
