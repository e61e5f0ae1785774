//! What is written on the picture, over all that is painted: neighbours with their levels, areas with theirs.

use super::painter::{Painter, Wanted};
use super::request::PerspectiveRequest;
use crate::drawing::labels::{self, Anchor, Label};
use crate::drawing::measure::{Face, LEAST_TEXT_MM};
use crate::drawing::name;
use crate::drawing::palette;
use crate::drawing::spot::Spot;
use crate::drawing::svg::{Align, Lettering, Paint, Svg};
use loamline_model::document::Neighbour;

/// Height of a row under the picture, millimetres.
pub const ROW_MM: f64 = 4.0;

/// Rows that tell of neighbours too far away to be drawn, and whether their limits are kept.
pub fn beyond(request: &PerspectiveRequest<'_>, near: &[(usize, &Neighbour)]) -> Vec<(String, bool)> {
    let far = request.neighbours.iter().enumerate();
    let far = far.filter(|(k, m)| !m.text.is_empty() && !near.iter().any(|(n, _)| n == k));
    far.flat_map(|(_, mark)| {
        let told = mark.text.lines().collect::<Vec<_>>().join(": ");
        let told = request.words.fill("perspective.beyond", &[("neighbour", &told)]);
        wrapped(&told, request.size_mm.0 - 2.0).into_iter().map(|row| (row, mark.kept))
    })
    .collect()
}

/// A text in rows of a width, parted between words.
fn wrapped(text: &str, width_mm: f64) -> Vec<String> {
    let mut rows: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match rows.last_mut() {
            Some(row) if Face::Regular.width(&format!("{row} {word}"), LEAST_TEXT_MM) <= width_mm => {
                row.push(' ');
                row.push_str(word);
            }
            _ => rows.push(word.to_owned()),
        }
    }
    rows
}

/// Writes rows from a height down.
pub fn write_rows(svg: &mut Svg, top_mm: f64, rows: &[(String, bool)]) {
    for (k, (row, kept)) in rows.iter().enumerate() {
        let style = Lettering {
            face: Face::Regular,
            size_mm: LEAST_TEXT_MM,
            colour: if *kept { palette::INK } else { palette::WARNING },
            align: Align::Start,
            halo: None,
        };
        svg.text(Spot::new(1.0, top_mm + (k as f64 + 0.7) * ROW_MM), row, style);
    }
}

impl Painter<'_, '_> {
    /// Places and writes every name that finds room.
    pub(super) fn names(&mut self, near: &[(usize, &Neighbour)]) {
        for (mark, neighbour) in near {
            self.neighbour_name(*mark, neighbour);
        }
        let job = self.request.job;
        for (id, area) in &job.document().areas {
            let Some(text) = self.request.areas.get(id) else { continue };
            let middle = area.outline.centroid();
            let height_m = job.ground(middle).elevation_m;
            let spots = self.spots_in(area.outline.corners(), middle, height_m);
            self.want(text.clone(), palette::INK, Anchor::Inside(spots));
        }
        let asked: Vec<Label> = self.wanted.iter().map(|w| w.label.clone()).collect();
        let placed = labels::place(&asked, &self.occupied);
        self.svg.open("names");
        for (wanted, placed) in self.wanted.iter().zip(&placed) {
            let Some(placed) = placed else { continue };
            if let Some((from, to)) = placed.leader {
                self.svg.segment(from, to, &Paint::stroke(wanted.colour, 0.18));
            }
            name::write(&mut self.svg, placed.frame, &wanted.text, wanted.colour);
        }
        self.svg.close();
    }

    fn neighbour_name(&mut self, mark: usize, neighbour: &Neighbour) {
        let request = self.request;
        let Some(told) = request.neighbours.get(mark).filter(|m| !m.text.is_empty()) else { return };
        let (_, top_m) = super::things::boundary_heights_m(request.job, neighbour);
        let colour = if told.kept { palette::AREA } else { palette::WARNING };
        let anchor = match neighbour.points.first() {
            Some(p) => Anchor::Symbol { at: self.camera.spot(p.at_height(top_m)), radius: 1.6 },
            None => Anchor::Along(self.camera.spots(&neighbour.line, top_m)),
        };
        self.want(told.text.clone(), colour, anchor);
    }

    fn want(&mut self, text: String, colour: &'static str, anchor: Anchor) {
        self.wanted.push(Wanted { label: name::label(&text, anchor), text, colour });
    }
}
