//! Sections through the ground, not to scale: how cable lies in it and how what stands in it is set. A drawing has no words:
//! parts and dimensions
//! bear numbers, which the list under it explains.

use super::measure::{CAP_HEIGHT, Face, LEAST_TEXT_MM};
use super::palette;
use super::spot::{Frame, Spot};
use super::svg::{Align, Lettering, Paint, Svg, number};

/// Size of every detail, millimetres.
pub const SIZE_MM: (f64, f64) = (84.0, 46.0);

/// Where the ground's surface lies, millimetres from the top.
const SURFACE: f64 = 14.0;
const WIDTH: f64 = SIZE_MM.0;
const FOOT: f64 = SIZE_MM.1;
const MIDDLE: f64 = WIDTH / 2.0;
const SOIL: &str = "#e4d8c6";
const TURF: &str = "#c3cfa8";
const SAND: &str = "#f4e8c9";
const STONE: &str = "#d9d3ca";
const SLAB: &str = "#cdc5b9";
const CABLE: &str = "#1f4e6b";

/// What a detail shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GroundDetail {
    /// Cable in a slit.
    Slit,
    /// Cable in a trench, bedded, warning tape over it.
    Trench,
    /// Cable across a buried service.
    Crossing,
    /// Conduit under paving.
    UnderPaving,
    /// Cable through roots.
    Roots,
    /// A base that stands below what freezes.
    Base,
    /// A subwoofer in its hole, drained.
    Hole,
    /// Cable beside and across mains cable.
    Mains,
}

impl GroundDetail {
    /// Every detail, in the order they are shown.
    pub const ALL: [Self; 8] = [
        Self::Slit,
        Self::Trench,
        Self::UnderPaving,
        Self::Roots,
        Self::Crossing,
        Self::Mains,
        Self::Base,
        Self::Hole,
    ];

    /// Its name in the language file, behind `detail.`.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Slit => "slit",
            Self::Trench => "trench",
            Self::Crossing => "crossing",
            Self::UnderPaving => "paving",
            Self::Roots => "roots",
            Self::Base => "base",
            Self::Hole => "hole",
            Self::Mains => "mains",
        }
    }

    /// How many marks it has, numbers from 1: what drawing and notes are each held against.
    #[cfg(test)]
    pub const fn marks(self) -> usize {
        match self {
            Self::Roots => 3,
            Self::Slit | Self::Crossing | Self::UnderPaving | Self::Base | Self::Mains => 4,
            Self::Trench => 5,
            Self::Hole => 6,
        }
    }

    /// Draws it.
    pub fn draw(self, title: &str) -> String {
        let mut cut = Cut(Svg::new(SIZE_MM.0, SIZE_MM.1));
        match self {
            Self::Slit => cut.slit(),
            Self::Trench => cut.trench(),
            Self::Crossing => cut.crossing(),
            Self::UnderPaving => cut.under_paving(),
            Self::Roots => cut.roots(),
            Self::Base => cut.base(),
            Self::Hole => cut.hole(),
            Self::Mains => cut.mains(),
        }
        cut.0.finish(title)
    }
}

/// A section under way.
struct Cut(Svg);

impl Cut {
    fn block(&mut self, left: f64, top: f64, right: f64, bottom: f64, colour: &str) {
        self.0.rectangle(Frame::new(left, top, right, bottom), 0.0, &Paint::fill(colour));
    }

    fn edged(&mut self, left: f64, top: f64, right: f64, bottom: f64, colour: &str) {
        let paint = Paint::fill(colour).and_stroke(palette::INK, 0.25);
        self.0.rectangle(Frame::new(left, top, right, bottom), 0.0, &paint);
    }

    /// Soil under a cover of a thickness.
    fn ground(&mut self, cover: &str, thick: f64) {
        self.block(0.0, SURFACE, WIDTH, FOOT, SOIL);
        self.block(0.0, SURFACE, WIDTH, SURFACE + thick, cover);
        let (left, right) = (Spot::new(0.0, SURFACE), Spot::new(WIDTH, SURFACE));
        self.0.segment(left, right, &Paint::stroke(palette::INK, 0.35));
    }

    /// A cable seen on its end.
    fn cable(&mut self, x: f64, y: f64) {
        self.0.circle(Spot::new(x, y), 1.2, &Paint::fill(CABLE).and_stroke(palette::INK, 0.25));
    }

    /// A cable along a way.
    fn cable_along(&mut self, points: &[(f64, f64)]) {
        let points: Vec<Spot> = points.iter().map(|(x, y)| Spot::new(*x, *y)).collect();
        self.0.polyline(&points, &Paint::stroke(CABLE, 1.4).round());
    }

    fn stones(&mut self, left: f64, top: f64, right: f64, bottom: f64) {
        self.edged(left, top, right, bottom, STONE);
        let (mut y, mut row) = (top + 1.3, 0.0);
        while y < bottom - 0.8 {
            let mut x = left + 1.4 + row;
            while x < right - 1.0 {
                self.0.circle(Spot::new(x, y), 0.7, &Paint::stroke(palette::QUIET, 0.2));
                x += 2.4;
            }
            y += 1.9;
            row = 1.2 - row;
        }
    }

    /// A mark with a line to what it names.
    fn mark(&mut self, mark: &str, at: (f64, f64), of: (f64, f64)) {
        let (at, of) = (Spot::new(at.0, at.1), Spot::new(of.0, of.1));
        self.0.segment(at, of, &Paint::stroke(palette::INK, 0.2));
        self.0.circle(of, 0.4, &Paint::fill(palette::INK));
        self.0.circle(at, 2.3, &Paint::fill(palette::SHEET).and_stroke(palette::INK, 0.3));
        self.letter(mark, at);
    }

    fn letter(&mut self, text: &str, at: Spot) {
        let style = Lettering {
            face: Face::SemiBold,
            size_mm: LEAST_TEXT_MM,
            colour: palette::INK,
            align: Align::Middle,
            halo: None,
        };
        self.0.text(at + Spot::new(0.0, LEAST_TEXT_MM * CAP_HEIGHT / 2.0), text, style);
    }

    /// A dimension from one place to another, its number on a patch of white at the middle.
    fn dimension(&mut self, mark: &str, from: (f64, f64), to: (f64, f64)) {
        let (from, to) = (Spot::new(from.0, from.1), Spot::new(to.0, to.1));
        let paint = Paint::stroke(palette::WARNING, 0.3);
        self.0.segment(from, to, &paint);
        let across = (to - from).unit().right() * 1.3;
        for end in [from, to] {
            self.0.segment(end - across, end + across, &paint);
        }
        let middle = from.lerp(to, 0.5);
        self.0.circle(middle, 1.9, &Paint::fill(palette::SHEET));
        self.letter(mark, middle);
    }

    fn slit(&mut self) {
        self.ground(TURF, 3.5);
        let corners = [(-2.2, SURFACE), (2.2, SURFACE), (0.9, 36.0), (-0.9, 36.0)];
        let corners = corners.map(|(x, y)| Spot::new(MIDDLE + x, y));
        self.0.outline(&corners, &Paint::fill("#cbb99d").and_stroke(palette::INK, 0.2).dashed(&[1.0, 0.7]));
        self.cable(MIDDLE, 34.5);
        self.mark("1", (60.0, 6.0), (44.5, SURFACE + 1.0));
        self.mark("2", (66.0, 24.0), (MIDDLE + 1.4, 25.0));
        self.mark("3", (62.0, 38.0), (MIDDLE + 1.0, 34.6));
        self.dimension("4", (20.0, SURFACE), (20.0, 33.3));
    }

    fn trench(&mut self) {
        self.ground(TURF, 3.5);
        let (left, right) = (31.0, 53.0);
        self.edged(left, SURFACE, right, 44.0, "#d3c2a8");
        self.edged(left, 34.0, right, 44.0, SAND);
        self.cable(MIDDLE, 39.0);
        let (from, to) = (Spot::new(left + 2.0, 26.0), Spot::new(right - 2.0, 26.0));
        self.0.segment(from, to, &Paint::stroke(palette::WARNING, 1.0).dashed(&[2.5, 1.0]));
        self.mark("1", (68.0, 18.0), (50.0, 19.5));
        self.mark("2", (72.0, 26.0), (51.0, 26.0));
        self.mark("3", (72.0, 34.5), (51.5, 36.0));
        self.mark("4", (64.0, 41.5), (MIDDLE + 1.2, 39.0));
        self.dimension("5", (20.0, SURFACE), (20.0, 37.8));
    }

    fn crossing(&mut self) {
        self.ground(TURF, 3.0);
        self.edged(26.0, SURFACE, 58.0, 42.0, "#d3c2a8");
        self.0.circle(
            Spot::new(MIDDLE, 35.0),
            4.0,
            &Paint::fill(palette::SHEET).and_stroke(palette::WARNING, 0.8),
        );
        self.edged(18.0, 22.4, 66.0, 25.6, palette::SHEET);
        self.cable_along(&[(0.0, 24.0), (WIDTH, 24.0)]);
        self.mark("1", (70.0, 37.0), (MIDDLE + 4.0, 35.0));
        self.mark("2", (12.0, 37.0), (28.0, 39.0));
        self.mark("3", (64.0, 7.0), (60.0, 23.0));
        self.mark("4", (20.0, 7.0), (10.0, 24.0));
    }

    fn under_paving(&mut self) {
        self.ground(SOIL, 0.0);
        for k in 0..6 {
            let x = f64::from(k) * 14.0;
            self.edged(x + 0.3, SURFACE, x + 13.7, SURFACE + 4.5, SLAB);
        }
        self.block(0.0, SURFACE + 4.5, WIDTH, SURFACE + 8.0, SAND);
        self.edged(0.0, 31.0, WIDTH, 36.0, palette::SHEET);
        self.cable_along(&[(0.0, 34.0), (22.0, 33.8), (50.0, 34.4), (WIDTH, 34.0)]);
        let cord = format!("M0 32.4C{} 31.8 {} 33 {} 32.3", number(25.0), number(55.0), number(WIDTH));
        self.0.path(&cord, &Paint::stroke(palette::QUIET, 0.4));
        self.mark("1", (66.0, 6.5), (62.0, SURFACE + 2.0));
        self.mark("2", (12.0, 25.5), (20.0, 31.2));
        self.mark("3", (34.0, 42.0), (40.0, 34.2));
        self.mark("4", (70.0, 42.0), (64.0, 32.5));
    }

    fn roots(&mut self) {
        self.ground("#bdb892", 2.5);
        let trunk = [(10.0, 0.5), (19.0, 0.5), (21.5, SURFACE), (7.0, SURFACE)];
        let bark = Paint::fill("#a58b6b").and_stroke(palette::INK, 0.3);
        self.0.outline(&trunk.map(|(x, y)| Spot::new(x, y)), &bark);
        for (data, width) in [
            ("M19 14C34 16 50 19 80 20.5", 2.2),
            ("M17 14C26 24 44 27 66 28", 1.6),
            ("M12 14C14 26 16 34 18 42", 1.8),
        ] {
            self.0.path(data, &Paint::stroke("#a58b6b", width).round());
        }
        self.cable_along(&[(WIDTH, 31.0), (68.0, 33.5), (40.0, 35.0), (24.0, 35.0)]);
        self.mark("1", (44.0, 6.5), (47.0, 18.5));
        self.mark("2", (74.0, 7.0), (70.0, 24.5));
        self.mark("3", (58.0, 41.5), (52.0, 34.4));
    }

    fn base(&mut self) {
        self.ground(TURF, 3.0);
        self.stones(31.0, 39.0, 53.0, 44.5);
        self.edged(33.0, SURFACE - 1.5, 51.0, 39.0, "#c9c5bf");
        self.edged(37.0, 0.8, 47.0, SURFACE - 1.5, "#8d8880");
        for x in [36.0, 48.0] {
            let (top, foot) = (Spot::new(x, SURFACE - 2.6), Spot::new(x, 20.0));
            self.0.segment(top, foot, &Paint::stroke(palette::INK, 0.6));
        }
        let (from, to) = (Spot::new(0.0, 35.0), Spot::new(WIDTH, 35.0));
        self.0.segment(from, to, &Paint::stroke(CABLE, 0.3).dashed(&[2.0, 1.0]));
        self.mark("1", (62.0, 8.0), (48.0, 13.0));
        self.mark("2", (68.0, 22.0), (50.0, 26.0));
        self.mark("3", (66.0, 41.5), (52.0, 42.0));
        self.dimension("4", (18.0, SURFACE), (18.0, 35.0));
    }

    fn hole(&mut self) {
        self.ground(TURF, 3.0);
        self.edged(23.0, SURFACE, 61.0, 44.5, "#d3c2a8");
        self.stones(23.0, 37.0, 61.0, 44.5);
        self.edged(30.0, SURFACE + 2.0, 54.0, 37.0, "#8d8880");
        self.edged(38.0, 6.0, 46.0, SURFACE + 2.0, "#8d8880");
        self.cable_along(&[(0.0, 21.0), (24.0, 21.0), (26.0, 29.0), (28.0, 29.0), (30.0, 24.5)]);
        self.mark("1", (60.0, 6.0), (45.5, 8.0));
        self.mark("2", (72.0, 22.0), (57.5, 26.0));
        self.mark("3", (72.0, 38.0), (60.0, 41.0));
        self.mark("4", (8.0, 28.5), (14.0, 21.2));
        self.dimension("5", (54.0, 33.0), (61.0, 33.0));
        self.dimension("6", (17.0, 37.0), (17.0, 44.5));
    }

    fn mains(&mut self) {
        self.ground(TURF, 3.0);
        let paint = Paint::fill(palette::SHEET).and_stroke(palette::WARNING, 0.9);
        self.0.circle(Spot::new(24.0, 34.0), 3.0, &paint);
        self.0.outline(
            &[Spot::new(24.6, 31.8), Spot::new(22.6, 34.4), Spot::new(24.0, 34.4), Spot::new(23.4, 36.2)],
            &Paint::fill(palette::WARNING),
        );
        self.cable(60.0, 34.0);
        let (from, to) = (Spot::new(16.0, 24.0), Spot::new(32.0, 24.0));
        self.0.segment(from, to, &Paint::stroke(palette::WARNING, 1.0).dashed(&[2.5, 1.0]));
        self.mark("1", (8.0, 40.0), (21.3, 35.0));
        self.mark("2", (74.0, 40.0), (61.0, 34.6));
        self.mark("3", (42.0, 7.0), (28.0, 23.6));
        self.dimension("4", (27.5, 34.0), (58.5, 34.0));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    /// What a drawing bears is what is explained, each once, and within the sheet.
    #[test]
    fn every_mark_stands_once_on_its_drawing() {
        for detail in GroundDetail::ALL {
            let svg = detail.draw("Detail");
            let lettered: Vec<&str> = svg
                .split("</text>")
                .filter_map(|part| part.rsplit_once('>').map(|(_, text)| text))
                .filter(|text| text.len() == 1 && !text.trim().is_empty())
                .collect();
            let once: BTreeSet<&str> = lettered.iter().copied().collect();
            let numbers: Vec<String> = (1..=detail.marks()).map(|n| n.to_string()).collect();
            assert_eq!(once, numbers.iter().map(String::as_str).collect(), "{detail:?}");
            assert_eq!(lettered.len(), once.len(), "{detail:?}");
            for text in svg.split("<text x=\"").skip(1) {
                let x: f64 = text.split('"').next().unwrap().parse().unwrap();
                let y: f64 = text.split("y=\"").nth(1).unwrap().split('"').next().unwrap().parse().unwrap();
                assert!(
                    (2.0..=WIDTH - 2.0).contains(&x) && (2.0..=FOOT - 1.0).contains(&y),
                    "{detail:?} {x} {y}"
                );
            }
        }
    }
}
