//! What is written on a plan: tags, names and small notes, asked for while it is drawn and placed when all is there.

use super::pen::{Look, Pen, Wanted};
use crate::drawing::key;
use crate::drawing::labels::{self, Anchor, Label};
use crate::drawing::measure::{CAP_HEIGHT, Face};
use crate::drawing::name::{self, SMALL, SMALL_SIZE};
use crate::drawing::palette::{self, line_style};
use crate::drawing::spot::{Frame, Spot};
use crate::drawing::svg::Paint;
use crate::drawing::symbols;
use crate::tags::natural;
use indexmap::IndexSet;
use loamline_geometry::Point2;

impl Pen<'_, '_> {
    pub(super) fn run_tags(&mut self, ways: &[(String, &'static str, Vec<Spot>)]) {
        for (id, colour, way) in ways {
            let visible = self.visible(way);
            if !visible.is_empty() {
                let label = Label {
                    width: key::tag_width(id),
                    height: key::TAG_HEIGHT,
                    anchor: Anchor::Along(visible),
                };
                self.wanted.push(Wanted { label, text: id.clone(), look: Look::Tag(colour) });
            }
        }
    }

    /// A note at each run that leads to what is in series with the loudspeaker it leaves.
    pub(super) fn series_notes(&mut self) {
        let job = self.request.job;
        if !self.crew() {
            return;
        }
        let note = self.request.words.get("plan.in_series").to_owned();
        for (i, line) in job.lines().enumerate() {
            if !self.shown_line(Some(line.id)) {
                continue;
            }
            for run in job.runs(line.id).into_iter().filter(|run| run.run.in_series) {
                let way = self.visible(&self.view.spots(&run.way));
                if !way.is_empty() {
                    self.small(&note, line_style(i).colour, Anchor::Along(way));
                }
            }
        }
    }

    /// A tag for each line, on its longest run.
    pub(super) fn line_tags(&mut self) {
        let job = self.request.job;
        for (i, line) in job.lines().enumerate() {
            let ways = job.runs(line.id).into_iter().map(|run| self.view.spots(&run.way));
            let length = |way: &[Spot]| way.windows(2).map(|p| p[0].distance(p[1])).sum::<f64>();
            let Some(way) = ways.max_by(|a, b| length(a).total_cmp(&length(b))) else { continue };
            let anchor = Anchor::Along(self.visible(&way));
            let label = Label { width: key::tag_width(line.id), height: key::TAG_HEIGHT, anchor };
            let look = Look::Line(line_style(i).colour);
            self.wanted.push(Wanted { label, text: line.id.to_owned(), look });
        }
    }

    /// Outlines of the sheets that show parts, each with its number.
    pub(super) fn parts(&mut self) {
        let parts = self.request.parts;
        let middle = parts.iter().map(|p| p.centre.y).sum::<f64>() / parts.len().max(1) as f64;
        self.svg.open("parts");
        for part in parts {
            let across = part.scale.mm_per_m().recip();
            let half = Point2::new(part.map_mm.0 * across / 2.0, part.map_mm.1 * across / 2.0);
            let (a, b) = (self.view.spot(part.centre - half), self.view.spot(part.centre + half));
            let shown = Frame::new(a.x, b.y, b.x, a.y);
            self.svg.rectangle(shown, 0.0, &Paint::stroke(palette::INK, 0.4).dashed(&[3.0, 1.2]));
            let number = part.detail.unwrap_or(0).to_string();
            let text = self.request.words.fill("plan.part", &[("number", &number)]);
            // From the outer edge inwards, so that the names of neighbours stand apart.
            let inner = shown.grown(-3.0);
            let (from, step) = if part.centre.y >= middle { (inner.top, 1.0) } else { (inner.bottom, -1.0) };
            let spots =
                (0..=12).flat_map(|down| (0..=16).map(move |along| (f64::from(along), f64::from(down))));
            let spots = spots.map(|(along, down)| {
                let x = inner.left + 7.0 + (inner.width() - 14.0).max(0.0) * along / 16.0;
                Spot::new(x, from + step * inner.height() * down / 24.0)
            });
            self.name(&text, palette::INK, Anchor::Inside(spots.collect()));
        }
        self.svg.close();
    }

    /// Numbers of places, each beside its own.
    pub(super) fn numbers(&mut self) {
        for (place, number) in self.request.numbered {
            let at = self.view.spot(*place);
            self.svg.circle(at, 0.7, &Paint::fill(palette::WARNING).and_stroke(palette::SHEET, 0.2));
            self.symbol(number, at, symbols::SMALL_RADIUS, palette::WARNING);
        }
    }

    /// Places and draws every label. Comes back with the tags drawn and those without room.
    pub(super) fn labels(&mut self) -> (Vec<String>, Vec<String>) {
        let wanted = std::mem::take(&mut self.wanted);
        let requests: Vec<Label> = wanted.iter().map(|w| w.label.clone()).collect();
        let placed = labels::place(&requests, &self.occupied);
        self.svg.open("labels");
        let (mut tags, mut without) = (IndexSet::new(), IndexSet::new());
        for (wanted, placed) in wanted.iter().zip(&placed) {
            let Some(placed) = placed else {
                if matches!(wanted.look, Look::Tag(_)) {
                    without.insert(wanted.text.clone());
                }
                continue;
            };
            if let Some((from, to)) = placed.leader {
                let colour = match wanted.look {
                    Look::Tag(colour) | Look::Line(colour) | Look::Name(colour) => colour,
                };
                self.svg.segment(from, to, &Paint::stroke(colour, 0.18));
            }
            match wanted.look {
                Look::Tag(colour) => {
                    key::pill(&mut self.svg, placed.frame.centre(), &wanted.text, colour);
                    tags.insert(wanted.text.clone());
                }
                Look::Line(colour) => {
                    key::pill(&mut self.svg, placed.frame.centre(), &wanted.text, colour);
                }
                Look::Name(colour) => name::write(&mut self.svg, placed.frame, &wanted.text, colour),
            }
        }
        self.svg.close();
        // A tag that stands somewhere on the drawing is not missing, even if a second label of it found no room.
        let mut without: Vec<String> = without.difference(&tags).cloned().collect();
        let mut tags: Vec<String> = tags.into_iter().collect();
        tags.sort_by(|a, b| natural(a, b));
        without.sort_by(|a, b| natural(a, b));
        (tags, without)
    }

    /// Asks for a label at a symbol and keeps other labels off it.
    pub(super) fn symbol(&mut self, id: &str, at: Spot, radius: f64, colour: &'static str) {
        self.tagged(id, (at, radius), colour, Anchor::Symbol { at, radius });
    }

    /// The same close to the symbol, or nowhere.
    pub(super) fn symbol_close(&mut self, id: &str, at: Spot, radius: f64, colour: &'static str) {
        self.tagged(id, (at, radius), colour, Anchor::Close { at, radius });
    }

    fn tagged(&mut self, id: &str, (at, radius): (Spot, f64), colour: &'static str, anchor: Anchor) {
        if !self.view.frame.contains(at) {
            return;
        }
        self.occupied.blocks.push(Frame::centred(at, radius * 1.7, radius * 1.7));
        let label = Label { width: key::tag_width(id), height: key::TAG_HEIGHT, anchor };
        self.wanted.push(Wanted { label, text: id.to_owned(), look: Look::Tag(colour) });
    }

    /// Asks for a name of an area or building.
    pub(super) fn name(&mut self, text: &str, colour: &'static str, anchor: Anchor) {
        let label = name::label(text, anchor);
        self.wanted.push(Wanted { label, text: text.to_owned(), look: Look::Name(colour) });
    }

    /// Asks for a small note.
    pub(super) fn small(&mut self, text: &str, colour: &'static str, anchor: Anchor) {
        let width = Face::SemiBold.width(text, SMALL_SIZE) + 0.8;
        let label = Label { width, height: SMALL_SIZE * CAP_HEIGHT + 1.0, anchor };
        // A leading mark of one line keeps the small size.
        self.wanted.push(Wanted { label, text: format!("{SMALL}{text}"), look: Look::Name(colour) });
    }
}
