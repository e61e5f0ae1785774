//! What is drawn on the plan, found by where it lies.

use super::Job;
use super::plan_index::PlanBoxes;
use crate::document::{Building, Service, Surface, Wall};
use indexmap::IndexMap;
use loamline_geometry::{Boxes, Point2, Segment};

impl Job {
    fn boxes(&self) -> &PlanBoxes {
        self.plan_index.of(self.document())
    }

    /// Surfaces whose box holds a place, the last in the file first: those that cover it are among them.
    pub(super) fn surfaces_at(&self, at: Point2) -> impl Iterator<Item = (&String, &Surface)> {
        let over = self.boxes().surfaces.at(at);
        over.into_iter().rev().filter_map(move |i| self.document().surfaces.get_index(i))
    }

    /// Surfaces that a way may cross, in the order of the file: all that it does cross are among them.
    pub fn surfaces_along(&self, way: &[Point2]) -> impl Iterator<Item = (&String, &Surface)> {
        of_numbers(&self.document().surfaces, along(&self.boxes().surfaces, way))
    }

    /// Buildings that a way may cross or touch, in the order of the file.
    pub fn buildings_along(&self, way: &[Point2]) -> impl Iterator<Item = (&String, &Building)> {
        of_numbers(&self.document().buildings, along(&self.boxes().buildings, way))
    }

    /// Services that a way may cross, in the order of the file.
    pub fn services_along(&self, way: &[Point2]) -> impl Iterator<Item = (&String, &Service)> {
        of_numbers(&self.document().services, along(&self.boxes().services, way))
    }

    /// Buildings that may lie within a distance of a place, in the order of the file.
    pub fn buildings_near(&self, at: Point2, within_m: f64) -> impl Iterator<Item = (&String, &Building)> {
        of_numbers(&self.document().buildings, near(&self.boxes().buildings, at, within_m))
    }

    /// Walls that may lie within a distance of a place, in the order of the file.
    pub fn walls_near(&self, at: Point2, within_m: f64) -> impl Iterator<Item = (&String, &Wall)> {
        of_numbers(&self.document().walls, near(&self.boxes().walls, at, within_m))
    }
}

fn of_numbers<T>(all: &IndexMap<String, T>, numbers: Vec<usize>) -> impl Iterator<Item = (&String, &T)> {
    numbers.into_iter().filter_map(move |i| all.get_index(i))
}

/// Numbers of what a way may meet, ascending, each once.
fn along(boxes: &Boxes, way: &[Point2]) -> Vec<usize> {
    let legs = way.windows(2).map(|w| Segment::new(w[0], w[1]));
    let mut met: Vec<usize> = legs.flat_map(|leg| boxes.along(leg)).collect();
    met.sort_unstable();
    met.dedup();
    met
}

fn near(boxes: &Boxes, at: Point2, within_m: f64) -> Vec<usize> {
    let reach = Point2::new(within_m, within_m);
    boxes.within(at - reach, at + reach)
}

#[cfg(test)]
mod tests {
    use crate::{SourceFile, read_job};
    use loamline_geometry::{Point2, Segment};

    /// Against looking at everything, over beds that overlap, a house and a drain.
    #[test]
    fn what_is_found_by_boxes_is_what_is_found_by_looking_at_all() {
        let mut text = String::from("format = 1\n[job]\nname = \"Plan\"\n");
        for i in 0..30 {
            let (x, y) = (7 * (i % 6), 5 * (i / 6));
            text += &format!(
                "[surfaces.s{i}]\nkind = \"bed\"\noutline = [[{x}, {y}], [{}, {y}], [{}, {}]]\nelevation = 0.{i:02}\n",
                x + 11,
                x + 9,
                y + 8
            );
        }
        text += "[buildings.house]\noutline = [[10, 10], [20, 10], [20, 20], [10, 20]]\nheight = 5\n";
        text += "[services.drain]\nkind = \"drain\"\nline = [[0, 3], [40, 12]]\n";
        let job = read_job(&SourceFile::new("job.toml", text), &[]).unwrap();
        let surfaces = &job.document().surfaces;
        let mut covered = 0;
        for i in 0..400 {
            let at = Point2::new(-2.0 + 2.6 * f64::from(i % 20), -2.0 + 1.7 * f64::from(i / 20));
            let last = surfaces.iter().rev().find(|(_, s)| s.outline.contains(at));
            covered += usize::from(last.is_some());
            assert_eq!(job.ground(at).surface.map(|s| s.0), last.map(|s| s.0.as_str()));
            let way = [at, Point2::new(30.0, 7.5)];
            let met = |id: &String| job.surfaces_along(&way).any(|(other, _)| other == id);
            let line = Segment::new(way[0], way[1]);
            for (id, s) in surfaces {
                assert!(s.outline.inside_intervals(line).is_empty() || met(id), "{id} from {at:?}");
            }
        }
        assert!(covered > 50 && covered < 400);
        assert_eq!(job.buildings_near(Point2::new(9.8, 15.0), 0.35).count(), 1);
        assert_eq!(job.buildings_near(Point2::new(9.0, 15.0), 0.35).count(), 0);
        let across = [Point2::new(20.0, 0.0), Point2::new(20.0, 9.0)];
        assert_eq!((job.services_along(&across).count(), job.buildings_along(&across).count()), (1, 0));
    }
}
