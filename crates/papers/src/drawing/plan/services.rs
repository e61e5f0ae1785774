//! Buried services on a plan: their line, their letter along it, what is known of their depth.

use super::pen::Pen;
use crate::drawing::key;
use crate::drawing::labels::{self, Anchor};
use crate::drawing::palette;
use crate::drawing::spot::{Frame, Spot};
use crate::drawing::symbols;
use loamline_model::Choice as _;

/// A letter stands every so many millimetres: near enough to be met on any part of a line, far enough to leave its dashes.
const LETTER_EVERY_MM: f64 = 28.0;
/// Room a letter takes, millimetres.
const LETTER_MM: f64 = 4.2;

impl Pen<'_, '_> {
    /// Every service that is known.
    pub(super) fn services(&mut self) {
        let (document, units) = (self.request.job.document(), self.request.units);
        for (id, service) in &document.services {
            let line = self.view.spots(&service.line);
            let colour = symbols::service_colour(service.kind, units);
            key::service(&mut self.svg, &line, colour);
            // A name along it lies over this stroke alone, and over no wall beside it.
            self.strokes(&line);
            let visible = self.visible(&line);
            self.service_letters(&visible, symbols::service_letter(service.kind), colour);
            let kind = self.request.words.get(&format!("service.{}", service.kind.word())).to_owned();
            // An id that only repeats the kind says nothing twice.
            let id = if *id == kind { String::new() } else { format!("{id} · ") };
            let text = match service.depth_m {
                Some(depth) => {
                    let depth = crate::measures::depth(units, depth);
                    self.request
                        .words
                        .fill("plan.service_at", &[("id", &id), ("kind", &kind), ("depth", &depth)])
                }
                None => self.request.words.fill("plan.service_unknown", &[("id", &id), ("kind", &kind)]),
            };
            if !visible.is_empty() {
                self.small(&text, palette::WARNING, Anchor::Along(visible));
            }
        }
    }

    /// Its letter along what of it is on the map, away from the edge.
    fn service_letters(&mut self, visible: &[Spot], letter: &str, colour: &str) {
        let total: f64 = visible.windows(2).map(|p| p[0].distance(p[1])).sum();
        let count = (total / LETTER_EVERY_MM).floor().max(1.0) as usize;
        for k in 0..count {
            let along = total * (k as f64 + 0.5) / count as f64;
            // At the edge of the map it would lie over the figures there.
            let inside = |at: &Spot| {
                let clear = 0.75 * LETTER_MM;
                let frame = &self.view.frame;
                frame.contains(Spot::new(at.x - clear, at.y - clear))
                    && frame.contains(Spot::new(at.x + clear, at.y + clear))
            };
            let Some(at) = labels::point_at(visible, along).filter(inside) else { continue };
            key::service_letter(&mut self.svg, at, letter, colour);
            self.occupied.blocks.push(Frame::centred(at, LETTER_MM, LETTER_MM));
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::drawing::{PlanRequest, Reader, draw, filled, palette};
    use crate::words::Words;
    use loamline_geometry::Point2;
    use loamline_model::{SourceFile, Units, read_job};

    /// Whether the name of a cable across the site stands off it on a leader.
    fn stands_off(wall: &str) -> bool {
        let text = format!(
            "format = 1\n[job]\nname = \"Cable\"\n[site]\noutline = [[0, 0], [60, 0], [60, 30], [0, 30]]\n\
             [services.electric]\nkind = \"electric\"\nline = [[2, 15], [58, 15]]\ndepth = \"0.5 m\"\n{wall}"
        );
        let job = read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap();
        let words = Words::english().unwrap();
        let plan = draw(&filled(PlanRequest {
            job: &job,
            laid: &[],
            words: &words,
            units: Units::Metric,
            reader: Reader::Crew,
            centre: Point2::new(30.0, 15.0),
            mm_per_m: 3.0,
            size_mm: (180.0, 150.0),
            field: None,
            only_line: None,
            parts: &[],
            numbered: &[],
            key: true,
            title: "",
        }));
        let labels = plan.svg.split("\"labels\"").nth(1).unwrap();
        assert!(labels.contains("electric"), "its name is on the plan");
        labels.lines().any(|l| l.contains(palette::WARNING) && l.contains("stroke-width=\"0.18\""))
    }

    /// Some 3 mm to the metre: a wall 0.3 m beside it lies under the whole of a name on the line.
    #[test]
    fn the_name_of_a_service_keeps_off_a_wall_beside_it() {
        assert!(!stands_off(""), "with nothing beside it the name stands on its line");
        assert!(stands_off(
            "[walls.garden]\nline = [[1, 15.3], [59, 15.3]]\nheight = \"1 m\"\nkind = \"masonry\"\n"
        ));
    }
}
