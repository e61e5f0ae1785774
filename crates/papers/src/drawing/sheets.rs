//! Which plan sheets a job takes: one of the whole site at the finest standard scale that shows it, and parts at a finer
//! scale only where the whole cannot be read: where a tag finds no room, or symbols lie over each other.

use super::key;
use super::plan::map_frame::map_frame;
use super::plan::request::PlanRequest;
use super::scale::Scale;
use super::sheet::Sheet;
use super::spot::{Frame, Spot};
use super::svg::Svg;
use loamline_geometry::Point2;
use loamline_limits::{DETAIL_SHEETS, go_on};
use loamline_model::document::Paper;
use loamline_model::{Job, ONE_STAKE_M, Units};

/// Scale at and above which a plan is tried: coarser, half a metre of bed is thinner than the frame of a tag.
const COARSEST: f64 = 600.0;
/// Room round the site on a sheet, metres.
const AROUND_M: f64 = 0.8;
/// Room round what has a tag, for its label, metres.
const LABEL_M: f64 = 1.5;
/// Symbols nearer to each other than this hide each other, millimetres: half of one.
const HIDDEN_MM: f64 = 1.5;
/// Share of the symbols that may hide each other on a plan that is still read: a pair here and there is told apart by the
/// leaders of its tags. Lower cuts a garden into parts for the sake of one cluster; higher leaves rows that nobody can follow.
const HIDDEN_SHARE: f64 = 0.1;
/// Finest scale of a part: beyond it a part shows less than a crew sees around it.
const FINEST_PART: f64 = 50.0;
/// Parts that a plan may have whatever is on it.
const FEW_PARTS: usize = 8;
/// Things with a tag for each part beyond those few: with fewer a crew turns pages instead of working.
const TAGS_OF_A_PART: usize = 25;
/// Share of a part that its neighbour shows too.
const OVERLAP: f64 = 0.08;

/// Margins of a page, millimetres: left and right, top, bottom; and the height of the sheet's title.
pub const MARGIN_X_MM: f64 = 15.0;
const MARGIN_TOP_MM: f64 = 22.0;
const MARGIN_BOTTOM_MM: f64 = 18.0;
const TITLE_MM: f64 = 13.0;

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

/// Share of a sheet that its key may take: with more of it the map is drawn so much smaller that the key stands on a sheet of
/// its own instead.
const KEY_SHARE: f64 = 0.22;

/// Whether the key of a request is too large for the sheet of its plan.
pub fn key_needs_a_sheet(request: &PlanRequest<'_>, paper: Paper) -> bool {
    let entries = super::legend::key_entries(request);
    let share = |landscape: bool| {
        let (width, height) = drawing_size_mm(paper, landscape);
        key::layout(&entries, width).1 / height
    };
    share(false).min(share(true)) > KEY_SHARE
}

/// The key of a request by itself, as wide as an upright sheet: the drawing and its size, millimetres.
pub fn key_sheet(request: &PlanRequest<'_>, paper: Paper) -> (String, (f64, f64)) {
    let entries = super::legend::key_entries(request);
    let width = drawing_size_mm(paper, false).0;
    let (spots, height) = key::layout(&entries, width);
    let mut svg = Svg::new(width, height);
    for pattern in super::palette::PATTERNS {
        svg.define(pattern);
    }
    key::draw(&mut svg, Spot::new(0.0, 0.0), &entries, &spots);
    (svg.finish(request.title), (width, height))
}

/// Map frame of a drawing of this size with the key of a request.
fn frame_of(request: &PlanRequest<'_>, size_mm: (f64, f64)) -> Frame {
    let entries = super::legend::key_entries(&PlanRequest { size_mm, ..*request });
    map_frame(request.reader, size_mm, key::layout(&entries, size_mm.0).1)
}

/// The sheet of the whole site; position and scale of `request` are not looked at.
pub fn whole_sheet(request: &PlanRequest<'_>, paper: Paper, units: Units) -> Sheet {
    let (low, high) = extent(request.job);
    let ground = (high.x - low.x, high.y - low.y);
    let centre = low.lerp(high, 0.5);
    let choice = |landscape: bool| {
        let size_mm = drawing_size_mm(paper, landscape);
        let frame = frame_of(request, size_mm);
        let scale = Scale::fitting(units, ground, (frame.width(), frame.height()));
        Sheet {
            landscape,
            size_mm,
            centre,
            scale,
            map_mm: (frame.width(), frame.height()),
            detail: None,
            zone: None,
        }
    };
    let (wide, tall) = (choice(true), choice(false));
    let wide_site = ground.0 >= ground.1;
    match wide.scale.denominator.total_cmp(&tall.scale.denominator) {
        std::cmp::Ordering::Less => wide,
        std::cmp::Ordering::Greater => tall,
        std::cmp::Ordering::Equal if wide_site => wide,
        std::cmp::Ordering::Equal => tall,
    }
}

/// Whether a plan at a scale cannot be read, whatever room its tags find.
pub fn unreadable(job: &Job, scale: &Scale) -> bool {
    scale.denominator > COARSEST || symbols_hide(job, scale)
}

/// Whether too many symbols hide each other at a scale.
fn symbols_hide(job: &Job, scale: &Scale) -> bool {
    let mut places = symbols(job);
    places.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    let near_m = HIDDEN_MM / scale.mm_per_m();
    let mut hidden = vec![false; places.len()];
    for (i, a) in places.iter().enumerate() {
        go_on();
        for (j, b) in places.iter().enumerate().skip(i + 1).take_while(|(_, b)| b.x - a.x < near_m) {
            // What hangs on one stake is one place.
            if (ONE_STAKE_M..near_m).contains(&a.distance(*b)) {
                (hidden[i], hidden[j]) = (true, true);
            }
        }
    }
    let hidden = hidden.into_iter().filter(|h| *h).count();
    hidden as f64 > HIDDEN_SHARE * places.len() as f64
}

/// Sets of parts, from the coarsest scale that is finer than the whole's to the finest that needs no more than
/// [`most_parts`]. Scales that cannot be read are left out where there is a finer one.
pub fn part_sheets(request: &PlanRequest<'_>, whole: &Sheet, units: Units) -> Vec<Vec<Sheet>> {
    let most = most_parts(request.job);
    let groups = by_zone(request.job, most);
    // The key stands on the whole; without it a sheet shows more ground.
    let request = &PlanRequest { key: false, ..*request };
    let frame = frame_of(request, whole.size_mm);
    let finer = Scale::standard(units)
        .into_iter()
        .rev()
        .filter(|s| s.denominator < whole.scale.denominator && s.denominator >= FINEST_PART);
    let sets = finer.map_while(|scale| {
        let window = (frame.width() / scale.mm_per_m(), frame.height() / scale.mm_per_m());
        let tiles = tiles(request.job, &groups, window);
        (tiles.len() <= most).then(|| {
            let part = |(i, (zone, centre)): (usize, (Option<String>, Point2))| Sheet {
                centre,
                zone,
                scale: scale.clone(),
                map_mm: (frame.width(), frame.height()),
                detail: Some(i + 1),
                ..whole.clone()
            };
            tiles.into_iter().enumerate().map(part).collect::<Vec<Sheet>>()
        })
    });
    let sets: Vec<Vec<Sheet>> = sets.collect();
    let too_coarse = |set: &[Sheet]| set.first().is_some_and(|s| unreadable(request.job, &s.scale));
    let coarse = sets.iter().take_while(|set| too_coarse(set)).count();
    let kept = coarse.min(sets.len().saturating_sub(1));
    sets.into_iter().skip(kept).collect()
}

/// Where every symbol stands.
fn symbols(job: &Job) -> Vec<Point2> {
    let d = job.document();
    d.loudspeakers
        .values()
        .map(|l| l.position)
        .chain(d.joints.values().map(|j| j.position))
        .chain(d.racks.values().map(|r| r.position))
        .chain(d.stubs.values().map(|s| s.position))
        .chain(d.marks.values().map(|m| m.position))
        .collect()
}

/// How many parts the plan of a job may have.
fn most_parts(job: &Job) -> usize {
    let runs: usize = job.document().lines.values().map(|line| line.runs.len()).sum();
    FEW_PARTS.max((symbols(job).len() + runs) / TAGS_OF_A_PART).min(DETAIL_SHEETS.most())
}

/// Places of what has a tag of its own, by the name of the zone it is in; what is in none comes last. All together where zones
/// alone would take too many parts.
fn by_zone(job: &Job, most_parts: usize) -> Vec<(Option<String>, Vec<Point2>)> {
    let d = job.document();
    let mut all: Vec<(Option<&str>, Point2)> = Vec::new();
    all.extend(d.loudspeakers.iter().map(|(id, l)| (d.owner_of_loudspeaker(id).zone, l.position)));
    for (id, line) in &d.lines {
        let zone = d.owner_of_line(id).zone;
        all.extend(job.runs(id).into_iter().flat_map(|run| run.way).map(|place| (zone, place)));
        let ends = line.runs.values().flat_map(|r| [&r.from, &r.to]);
        all.extend(ends.filter_map(|end| d.joints.get(end)).map(|j| (zone, j.position)));
    }
    all.extend(d.racks.iter().map(|(id, r)| (d.owner_of_rack(id).zone, r.position)));
    all.extend(d.joints.values().map(|j| (None, j.position)));
    all.extend(d.stubs.values().map(|s| (None, s.position)));
    all.extend(d.marks.values().map(|m| (None, m.position)));
    if 2 * d.zones.len() > most_parts {
        return vec![(None, all.into_iter().map(|(_, at)| at).collect())];
    }
    let of = |zone: Option<&str>| -> Vec<Point2> {
        all.iter().filter(|(own, _)| *own == zone).map(|(_, at)| *at).collect()
    };
    let named = |(id, zone): (&String, &loamline_model::document::Zone)| {
        let name = if zone.name.is_empty() { id } else { &zone.name };
        (Some(name.clone()), of(Some(id.as_str())))
    };
    d.zones.iter().map(named).chain([(None, of(None))]).collect()
}

/// South-west and north-east corner of places with tags, with room for their labels, inside the plan's extent.
fn around(places: &[Point2], (low, high): (Point2, Point2)) -> (Point2, Point2) {
    let (mut a, mut b) = (high, low);
    for p in places {
        a = Point2::new(a.x.min(p.x), a.y.min(p.y));
        b = Point2::new(b.x.max(p.x), b.y.max(p.y));
    }
    let (a, b) = (a - Point2::new(LABEL_M, LABEL_M), b + Point2::new(LABEL_M, LABEL_M));
    (Point2::new(a.x.max(low.x), a.y.max(low.y)), Point2::new(b.x.min(high.x), b.y.min(high.y)))
}

/// Middles of the windows that together show everything with a tag, zone by zone; of what is in no zone, what none of those
/// shows yet.
fn tiles(
    job: &Job,
    groups: &[(Option<String>, Vec<Point2>)],
    window: (f64, f64),
) -> Vec<(Option<String>, Point2)> {
    let ground = extent(job);
    let mut all: Vec<(Option<String>, Point2)> = Vec::new();
    for (zone, places) in groups {
        let seen = |p: &Point2| zone.is_none() && all.iter().any(|(_, at)| shows(window, *at, *p));
        let places: Vec<Point2> = places.iter().filter(|p| !seen(p)).copied().collect();
        if places.is_empty() {
            continue;
        }
        let (low, high) = around(&places, ground);
        all.extend(windows(&places, window, low, high).into_iter().map(|at| (zone.clone(), at)));
    }
    all
}

/// Whether a window about a middle shows a place.
fn shows(window: (f64, f64), middle: Point2, p: Point2) -> bool {
    (p.x - middle.x).abs() <= window.0 / 2.0 && (p.y - middle.y).abs() <= window.1 / 2.0
}

/// Middles of the windows that together show some places; windows without any are left out. From north to south, each row
/// from west to east.
fn windows(places: &[Point2], window: (f64, f64), low: Point2, high: Point2) -> Vec<Point2> {
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
    let mut out = Vec::new();
    for row in (0..rows).rev() {
        for column in 0..columns {
            let at = Point2::new(
                middle(column, columns, low.x, high.x, window.0),
                middle(row, rows, low.y, high.y, window.1),
            );
            if places.iter().any(|p| shows(window, at, *p)) {
                out.push(at);
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job};

    fn row_of(spacing_m: f64) -> Job {
        let marks: String = (0..20)
            .map(|k| {
                let x = f64::from(k) * spacing_m;
                format!("[marks.M{k}]\nname = \"Mark\"\nposition = [{x}, 0]\n")
            })
            .collect();
        let text = format!("format = 1\n[job]\nname = \"Row\"\n{marks}");
        read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap()
    }

    /// 1.5 mm on paper at 1:200 are 0.3 m, at 1:500 0.75 m.
    #[test]
    fn symbols_hide_each_other_where_half_of_one_lies_over_the_next() {
        let scale = |denominator: f64| Scale { denominator, written: String::new() };
        assert!(!symbols_hide(&row_of(0.31), &scale(200.0)));
        assert!(symbols_hide(&row_of(0.29), &scale(200.0)));
        assert!(symbols_hide(&row_of(0.31), &scale(500.0)));
        assert!(!symbols_hide(&row_of(0.76), &scale(500.0)));
    }
}
