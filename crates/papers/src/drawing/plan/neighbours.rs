//! Neighbours on a plan: their places, each named, floors and neighbours one above the other told apart.

use super::pen::Pen;
use crate::drawing::labels::Anchor;
use crate::drawing::palette;
use crate::drawing::spot::Frame;
use crate::drawing::svg::Paint;
use crate::drawing::symbols;
use crate::words::Words;
use loamline_geometry::Point2;
use loamline_model::document::Neighbour;

/// Places nearer to each other than this stand one above the other on a drawing and share a label, metres.
const SAME_PLACE_M: f64 = 0.5;
/// Room a symbol takes, millimetres.
const SYMBOL_MM: f64 = 3.2;

/// A floor by its id.
pub fn floor_by_id(words: &Words, floor: &str) -> String {
    words.fill("plan.floor", &[("floor", floor)])
}

/// What a neighbour is called: by the name somebody gave, else by the id.
fn called(id: &str, n: &Neighbour) -> String {
    let name = n.name.trim();
    if name.is_empty() { id.to_owned() } else { name.to_owned() }
}

impl Pen<'_, '_> {
    pub(super) fn neighbours(&mut self) {
        let document = self.request.job.document();
        for neighbour in document.neighbours.values() {
            for &point in &neighbour.points {
                let at = self.view.spot(point);
                if self.view.frame.grown(-2.0).contains(at) {
                    symbols::neighbour(&mut self.svg, at);
                    self.occupied.blocks.push(Frame::centred(at, SYMBOL_MM, SYMBOL_MM));
                }
            }
            if neighbour.line.len() >= 2 {
                let line = self.view.spots(&neighbour.line);
                self.svg.polyline(&line, &Paint::stroke(palette::AREA, 0.5).dashed(&[0.6, 0.9]).round());
            }
        }
        let mut places: Vec<(Point2, Vec<(&str, &Neighbour)>)> = Vec::new();
        for (id, n) in &document.neighbours {
            match n.points.first() {
                Some(&at) => match places.iter_mut().find(|p| p.0.distance(at) < SAME_PLACE_M) {
                    Some(p) => p.1.push((id, n)),
                    None => places.push((at, vec![(id, n)])),
                },
                None => {
                    let anchor = Anchor::Along(self.visible(&self.view.spots(&n.line)));
                    let text = self.named(&[(id.as_str(), n)]);
                    self.name(&text, palette::AREA, anchor);
                }
            }
        }
        for (at, those) in places {
            let at = self.view.spot(at);
            if self.view.frame.grown(-2.0).contains(at) {
                let text = self.named(&those);
                self.name(&text, palette::AREA, Anchor::Symbol { at, radius: SYMBOL_MM / 2.0 });
            }
        }
    }

    /// The names of neighbours at one place, and below them what is above what.
    fn named(&self, those: &[(&str, &Neighbour)]) -> String {
        let words = self.request.words;
        let names: Vec<String> = those.iter().map(|&(id, n)| called(id, n)).collect();
        let mut lines = vec![names.join(", ")];
        let at = |name: &str, height_m: f64| {
            let height = self.request.units.length(height_m);
            words.fill("plan.neighbour_at", &[("name", name), ("height", &height)])
        };
        for (id, n) in those {
            for (floor, height_m) in n.levels_m() {
                match floor.and_then(|f| Some((f, n.floors.get(f)?))) {
                    Some((floor, f)) => {
                        let name = if f.name.is_empty() { floor_by_id(words, floor) } else { f.name.clone() };
                        let name = if those.len() > 1 { format!("{}: {name}", called(id, n)) } else { name };
                        lines.push(at(&name, height_m));
                    }
                    None if those.len() > 1 => lines.push(at(&called(id, n), height_m)),
                    None => {}
                }
            }
        }
        lines.join("\n")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::{PlanRequest, Reader, draw, filled};
    use loamline_model::{SourceFile, Units, read_job};

    #[test]
    fn floors_and_neighbours_above_each_other_are_told_apart() {
        let text = "format = 1\n[job]\nname = \"Houses\"\n[site]\noutline = [[0, 0], [40, 0], [40, 30], [0, 30]]\n\
                    [neighbours.flats]\npoints = [[30, 20]]\nday = \"50 dBA\"\n\
                    floors = { 1 = { name = \"First floor\", height = \"4.5 m\" }, 2 = { height = \"7.5 m\" } }\n\
                    [neighbours.low]\npoints = [[10, 10]]\nheight = \"2 m\"\nday = \"50 dBA\"\n\
                    [neighbours.high]\npoints = [[10.1, 10]]\nheight = \"5 m\"\nday = \"50 dBA\"\n\
                    [neighbours.n1]\nname = \"Lane\"\nline = [[2, 28], [38, 28]]\nday = \"50 dBA\"\n";
        let job = read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap();
        let words = Words::english().unwrap();
        let plan = draw(&filled(PlanRequest {
            job: &job,
            laid: &[],
            words: &words,
            units: Units::Metric,
            reader: Reader::Client,
            centre: Point2::new(20.0, 15.0),
            mm_per_m: 1.0,
            size_mm: (180.0, 150.0),
            field: None,
            only_line: None,
            parts: &[],
            numbered: &[],
            key: true,
            title: "",
        }));
        let height = |m: f64| Units::Metric.length(m);
        for wanted in [
            "flats".to_owned(),
            format!("First floor, {}", height(4.5)),
            format!("floor 2, {}", height(7.5)),
            "low, high".to_owned(),
            format!("low, {}", height(2.0)),
            format!("high, {}", height(5.0)),
            // By the name somebody gave, not by its id.
            "Lane".to_owned(),
        ] {
            assert!(plan.svg.contains(&format!(">{wanted}</text>")), "{wanted} is not on the plan");
        }
    }
}
