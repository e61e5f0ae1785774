//! Where an area and the ground round it are mirrored, and whether its loudspeakers are: people see that at first glance.
//!
//! Every axis of an outline passes through its middle, and through a corner or at a right angle over a side: those lines are
//! looked at. Over one of them the outline, and what lies round it (where loudspeakers may stand, what is built), must be like
//! its mirror image but for a tenth. That loudspeakers then are mirrored too, over one of the axes, is a wish with a price.

use crate::candidates::{is_all_round, turn};
use crate::outline::{FARTHEST_M, OFFSET_STEP_M, along, larger, straight_sides};
use crate::places::Rules;
use crate::site::Site;
use crate::spacing::to_nearest;
use crate::types::Pose;
use loamline_geometry::{Point2, Polygon, Segment, bearing_between};
use loamline_limits::{go_on, lent};
use rayon::prelude::*;
use std::ops::Range;

/// Share of an area, and of what lies round it, that may differ from its mirror image.
const UNLIKE: f64 = 0.1;
/// Points of an area that are looked at, about: a tenth of them is enough to tell by.
const SAMPLES: f64 = 400.0;
/// Axes kept for an area, and lines tried, at most: a circle has any number of them, and one is enough.
const MOST_AXES: usize = 4;
const MOST_TRIED: usize = 24;
/// Lines nearer to each other than this are one, degrees.
const SAME_LINE_DEG: f64 = 4.0;
/// How far a mirror image may lie beside a loudspeaker: a part of the spacing, and metres at least; and how far it may look
/// beside it, degrees. Less nobody sees.
const BESIDE: f64 = 0.1;
const BESIDE_M: f64 = 0.3;
const BESIDE_DEG: f64 = 15.0;
/// What it is worth that an area which could be mirrored is, in loudspeakers of its model: more buys order where a contractor
/// would save a loudspeaker, less is lost in what the ways of the cable differ by (common practice, no source).
const WORTH: f64 = 0.5;

/// A line that an area is mirrored over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Axis {
    pub through: Point2,
    /// Of length 1.
    pub along: Point2,
}

impl Axis {
    /// The mirror image of a place.
    pub fn image(&self, at: Point2) -> Point2 {
        let from = at - self.through;
        self.through + self.along * (2.0 * from.dot(self.along)) - from
    }

    /// The mirror image of a bearing, degrees.
    fn image_of_bearing(&self, bearing_deg: f64) -> f64 {
        (2.0 * bearing_between(Point2::default(), self.along) - bearing_deg).rem_euclid(360.0)
    }

    /// How far a place lies to the left of it, metres.
    pub fn beside(&self, at: Point2) -> f64 {
        self.along.cross(at - self.through)
    }
}

impl Rules<'_> {
    /// The axes of every area; none for one that is not mirrored, or whose surroundings are not.
    pub fn axes(&self) -> Vec<Vec<Axis>> {
        let outlines: Vec<&Polygon> = self.job.document().areas.values().map(|a| &a.outline).collect();
        let leave = lent();
        outlines.par_iter().map(|outline| leave.lend(|| self.axes_of(outline))).collect()
    }

    fn axes_of(&self, outline: &Polygon) -> Vec<Axis> {
        let inside = inside(outline);
        let lines: Vec<Axis> = lines(outline).into_iter().filter(|a| is_like(outline, &inside, a)).collect();
        if lines.is_empty() {
            return lines;
        }
        let round = self.round(outline);
        lines.into_iter().filter(|a| self.is_like_round(&round, a)).take(MOST_AXES).collect()
    }

    /// Places round an area with what is there.
    fn round(&self, outline: &Polygon) -> Vec<(Point2, Here)> {
        let mut all = Vec::new();
        let mut at_m = self.job.document().brief.nearest_listener_m + 0.02;
        while at_m <= FARTHEST_M {
            go_on();
            let (points, _) = along(&larger(outline, at_m), true, OFFSET_STEP_M);
            all.extend(points.into_iter().map(|p| (p, self.here(p))));
            at_m += OFFSET_STEP_M;
        }
        all
    }

    fn is_like_round(&self, round: &[(Point2, Here)], axis: &Axis) -> bool {
        let most = UNLIKE * round.len() as f64;
        let (mut counted, mut unlike) = (0usize, 0usize);
        for (at, here) in round {
            let there = self.here(axis.image(*at));
            if (*here, there) != (Here::Nothing, Here::Nothing) {
                counted += 1;
                unlike += usize::from(*here != there);
            }
            if unlike as f64 > most {
                return false;
            }
        }
        unlike as f64 <= UNLIKE * counted as f64
    }

    fn here(&self, at: Point2) -> Here {
        let d = self.job.document();
        let wall = |line: &[Point2]| {
            line.windows(2).any(|w| Segment::new(w[0], w[1]).distance_to(at) <= 0.5 * OFFSET_STEP_M)
        };
        if d.buildings.values().any(|b| b.outline.contains(at)) || d.walls.values().any(|w| wall(&w.line)) {
            Here::Built
        } else if self.in_bed(at) {
            Here::TakesLoudspeakers
        } else {
            Here::Nothing
        }
    }
}

/// What is at a place round an area.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Here {
    Nothing,
    TakesLoudspeakers,
    Built,
}

/// Lines that an outline may be mirrored over: at right angles over its sides, the longest first, then through its corners.
fn lines(outline: &Polygon) -> Vec<Axis> {
    let middle = outline.centroid();
    let mut sides = straight_sides(outline);
    sides.sort_by(|a, b| b.length().total_cmp(&a.length()));
    let across = sides.iter().map(|s| Point2::new(s.a.y - s.b.y, s.b.x - s.a.x));
    let corners = outline.corners().iter().map(|c| *c - middle);
    let mut kept: Vec<Axis> = Vec::new();
    for by in across.chain(corners).filter(|v| v.norm() > 1e-6) {
        let along = by * by.norm().recip();
        let same = |a: &Axis| a.along.cross(along).abs() < SAME_LINE_DEG.to_radians().sin();
        if kept.len() < MOST_TRIED && !kept.iter().any(same) {
            kept.push(Axis { through: middle, along });
        }
    }
    kept
}

/// Points spread evenly over an area.
fn inside(outline: &Polygon) -> Vec<Point2> {
    let (low, high) = outline.bounds();
    let size = high - low;
    let step = (size.x * size.y / SAMPLES).sqrt().max(1e-6);
    let (columns, rows) = ((size.x / step).ceil().max(1.0), (size.y / step).ceil().max(1.0));
    let at = |i: usize| {
        let (c, r) = ((i % columns as usize) as f64 + 0.5, (i / columns as usize) as f64 + 0.5);
        low + Point2::new(c / columns * size.x, r / rows * size.y)
    };
    (0..(columns * rows) as usize).map(at).filter(|p| outline.contains(*p)).collect()
}

/// Whether an outline is like its mirror image.
fn is_like(outline: &Polygon, inside: &[Point2], axis: &Axis) -> bool {
    let outside = inside.iter().filter(|p| !outline.contains(axis.image(**p))).count();
    outside as f64 <= UNLIKE * inside.len() as f64
}

/// Whether the loudspeakers of an area are mirrored over one of its axes; always where it has none.
pub(crate) fn are_mirrored(site: &Site<'_>, axes: &[Axis], poses: &[Pose]) -> bool {
    let stands = |p: &Pose| (p.at, (!is_all_round(site, p)).then_some(p.bearing_deg));
    let all: Vec<(Point2, Option<f64>)> = poses.iter().map(stands).collect();
    axes.is_empty() || axes.iter().any(|a| maps_onto_itself(a, &all))
}

/// Whether every loudspeaker, with where it looks, has its mirror image among all.
fn maps_onto_itself(axis: &Axis, all: &[(Point2, Option<f64>)]) -> bool {
    let places: Vec<Point2> = all.iter().map(|s| s.0).collect();
    let spacing_m = to_nearest(&places).into_iter().fold(f64::INFINITY, f64::min);
    let near_m = if spacing_m.is_finite() { (BESIDE * spacing_m).max(BESIDE_M) } else { BESIDE_M };
    all.iter().all(|(at, bearing)| {
        let image = axis.image(*at);
        all.iter().any(|(other, looks)| {
            let alike = match (bearing, looks) {
                (Some(b), Some(l)) => turn(axis.image_of_bearing(*b), *l).abs() <= BESIDE_DEG,
                (None, None) => true,
                _ => false,
            };
            alike && other.distance(image) <= near_m
        })
    })
}

/// What it is worth that loudspeakers of a model are mirrored where they are not, in money.
pub(crate) fn worth(site: &Site<'_>, model: usize) -> f64 {
    WORTH * site.models[model].installed
}

/// What the areas of a design that could be mirrored and are not are worth together, in money.
pub(crate) fn missed(site: &Site<'_>, axes: &[Vec<Axis>], poses: &[Pose]) -> f64 {
    let of_area = |(z, axes): (usize, &Vec<Axis>)| {
        let own: Vec<Pose> = poses.iter().filter(|p| p.zone == z).copied().collect();
        own.first().filter(|_| !are_mirrored(site, axes, &own)).map_or(0.0, |first| worth(site, first.model))
    };
    axes.iter().enumerate().map(of_area).sum()
}

/// Rows of which one is the mirror image of the next taken together, so that they are settled as one.
pub(crate) fn joined(
    site: &Site<'_>,
    axes: &[Vec<Axis>],
    poses: &[Pose],
    rows: &[Range<usize>],
) -> Vec<Range<usize>> {
    let mut out: Vec<Range<usize>> = Vec::with_capacity(rows.len());
    for row in rows {
        let before = out.last().filter(|b| b.end == row.start && b.len() == row.len()).cloned();
        let both = before.and_then(|b| {
            let zone = poses.get(row.start)?.zone;
            let (one, together) = (poses.get(row.clone())?, poses.get(b.start..row.end)?);
            let of_one_area = together.iter().all(|p| p.zone == zone);
            let axes = axes.get(zone)?;
            // Two rows each mirrored for itself lie one behind the other, and are settled one by one.
            let need = !axes.is_empty() && !are_mirrored(site, axes, one);
            (of_one_area && need && are_mirrored(site, axes, together)).then_some(b.start..row.end)
        });
        match both {
            Some(both) => {
                out.pop();
                out.push(both);
            }
            None => out.push(row.clone()),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::build::without_unpinned;
    use crate::make::Maker;
    use loamline_model::{JobFile, SourceFile, shipped_catalogue};
    use loamline_quotation::PriceBook;

    fn point(x: f64, y: f64) -> Point2 {
        Point2::new(x, y)
    }

    /// A seat of 6 by 4 m with beds, each by its west, south, east and north sides.
    fn seat(beds: &[[f64; 4]]) -> JobFile {
        let mut text = String::from(
            r#"format = 1
[job]
name = "Seat"
currency = "EUR"
[brief]
supply = "70.7 V"
[programmes.one]
[areas.seat]
outline = [[0, 0], [6, 0], [6, 4], [0, 4]]
target = "64 dBA"
within = "4 dB"
[site]
outline = [[-9, -9], [15, -9], [15, 9], [-9, 9]]
ground = "paving"
[racks.R1]
position = [-1, 5]
"#,
        );
        for (k, [w, s, e, n]) in beds.iter().enumerate() {
            text += &format!(
                "[surfaces.bed{k}]\noutline = [[{w}, {s}], [{e}, {s}], [{e}, {n}], [{w}, {n}]]\nkind = \"bed\"\n"
            );
        }
        let catalogue = shipped_catalogue().unwrap();
        JobFile::from_text(&SourceFile::new("job.toml", &text), catalogue).unwrap()
    }

    /// The axes of the seat with a bed below it from one place to another.
    fn axes_with_bed(from: f64, to: f64) -> Vec<Axis> {
        Rules::new(seat(&[[from, -3.0, to, 0.0]]).job()).axes().remove(0)
    }

    #[test]
    fn rows_that_mirror_each_other_are_taken_together() {
        let file = seat(&[[0.0, -3.0, 6.0, 0.0], [-3.0, 0.0, 0.0, 4.0], [6.0, 0.0, 9.0, 4.0]]);
        let (pinned_only, clear) = without_unpinned(&file).unwrap();
        let book = PriceBook::default();
        let maker = Maker::new(&pinned_only, clear, &book).unwrap();
        let site = &maker.site;
        let narrow = |m: &crate::models::Offered<'_>| m.id == "stake-165-narrow";
        let model = site.models.iter().position(narrow).unwrap();
        let pose = |x: f64, y: f64, bearing_deg: f64| Pose {
            model,
            at: point(x, y),
            height_m: None,
            out_deg: None,
            bearing_deg,
            pitch_deg: 0.0,
            zone: 0,
            tap_w: 5.0,
            reversed: false,
        };
        let mut poses = [(-1.0, 1.0, 90.0), (-1.0, 3.0, 90.0), (7.0, 1.0, 270.0), (7.0, 3.0, 270.0)]
            .map(|(x, y, bearing)| pose(x, y, bearing));
        let rows = [0..2, 2..4];
        let together = joined(site, maker.axes(), &poses, &rows);
        assert_eq!((together.len(), together[0].clone()), (1, 0..4));
        assert!(missed(site, maker.axes(), &poses).abs() < 1e-9);
        poses[2].at.y -= 0.8;
        assert_eq!(joined(site, maker.axes(), &poses, &rows), rows);
        // Half of what one costs in its place.
        let half = 0.5 * site.models[model].installed;
        assert!((missed(site, maker.axes(), &poses) - half).abs() < 1e-9);
    }

    #[test]
    fn a_seat_with_a_bed_along_one_side_is_mirrored_over_the_line_through_both() {
        let axes = axes_with_bed(0.0, 6.0);
        assert_eq!(axes.len(), 1, "{axes:?}");
        assert!((axes[0].through.x - 3.0).abs() < 1e-9 && axes[0].along.x.abs() < 1e-9, "{axes:?}");
        assert!(axes_with_bed(0.0, 3.0).is_empty(), "a bed before one half alone");
        assert_eq!(axes_with_bed(0.0, 5.8).len(), 1, "within a tenth");
    }

    #[test]
    fn an_image_lies_as_far_behind_the_axis_as_the_place_before_it() {
        let north = Axis { through: point(3.0, 0.0), along: point(0.0, 1.0) };
        assert_eq!(north.image(point(1.0, 2.0)), point(5.0, 2.0));
        assert!((north.image_of_bearing(30.0) - 330.0).abs() < 1e-9);
        assert!(north.beside(point(1.0, 2.0)) > 0.0, "west of a line to the north is to its left");
    }

    #[test]
    fn a_row_out_of_the_middle_is_not_mirrored_and_neither_are_aims_that_look_one_way() {
        let north = Axis { through: point(3.0, 0.0), along: point(0.0, 1.0) };
        let row = |by: f64| [1.0, 3.0, 5.0].map(|x| (point(x + by, -1.0), Some(0.0)));
        assert!(maps_onto_itself(&north, &row(0.0)));
        assert!(maps_onto_itself(&north, &row(0.1)), "nobody sees it");
        assert!(!maps_onto_itself(&north, &row(0.5)));
        let pair = |left: f64, right: f64| [(point(1.0, -1.0), Some(left)), (point(5.0, -1.0), Some(right))];
        assert!(maps_onto_itself(&north, &pair(40.0, 320.0)));
        assert!(!maps_onto_itself(&north, &pair(40.0, 40.0)));
    }

    #[test]
    fn a_square_has_axes_over_its_sides_and_through_its_corners() {
        let square = Polygon::rectangle(point(0.0, 0.0), point(4.0, 4.0)).unwrap();
        let inside = inside(&square);
        let found = lines(&square).into_iter().filter(|a| is_like(&square, &inside, a)).count();
        assert_eq!(found, 4);
        let slanted =
            Polygon::new([point(0.0, 0.0), point(6.0, 0.0), point(8.0, 2.0), point(2.0, 2.0)]).unwrap();
        let inside = super::inside(&slanted);
        assert!(lines(&slanted).iter().all(|a| !is_like(&slanted, &inside, a)), "a parallelogram has none");
    }
}
