//! Which ground lies where: regions by outline, found through a raster so that the field may ask millions of times.

use super::input::Surface;
use loamline_geometry::{Boxes, Point2, Polygon};

/// Cells along the longer side of the raster. More cells find more places without looking at an outline, and take
/// more memory (four bytes each).
const CELLS: usize = 128;
/// From here on a cell has the number of a list of regions: an outline passes through it.
const MIXED: u32 = 1 << 31;

/// The ground regions with a raster over them; surface 0 is the default ground, region i is surface i + 1.
#[derive(Debug, Clone)]
pub(crate) struct GroundMap {
    outlines: Vec<Polygon>,
    elevations_m: Vec<f64>,
    origin: Point2,
    cell_m: f64,
    columns: usize,
    rows: usize,
    /// Surface of each cell, or [`MIXED`] and the number of its list.
    cells: Vec<u32>,
    /// Regions of cells an outline passes through, those that may hold a place of the cell, in their order.
    lists: Vec<Box<[u32]>>,
}

impl GroundMap {
    pub(crate) fn new(regions: &[Surface], default_elevation_m: f64) -> Self {
        let outlines: Vec<Polygon> = regions.iter().map(|r| r.outline.clone()).collect();
        let elevations_m =
            std::iter::once(default_elevation_m).chain(regions.iter().map(|r| r.elevation_m)).collect();
        let mut map = Self {
            outlines,
            elevations_m,
            origin: Point2::default(),
            cell_m: 1.0,
            columns: 0,
            rows: 0,
            cells: Vec::new(),
            lists: Vec::new(),
        };
        map.raster();
        map
    }

    fn raster(&mut self) {
        let bounds = self.outlines.iter().map(Polygon::bounds).reduce(|(lo, hi), (a, b)| {
            (Point2::new(lo.x.min(a.x), lo.y.min(a.y)), Point2::new(hi.x.max(b.x), hi.y.max(b.y)))
        });
        let Some((lo, hi)) = bounds else { return };
        let size = hi - lo;
        self.cell_m = (size.x.max(size.y) / CELLS as f64).max(1e-3);
        self.origin = lo;
        self.columns = (size.x / self.cell_m) as usize + 1;
        self.rows = (size.y / self.cell_m) as usize + 1;
        // An outline within half a cell diagonal of the middle may pass through the cell.
        let reach = self.cell_m * 0.7072;
        let boxes = Boxes::around(self.outlines.iter().map(Polygon::corners));
        let half = Point2::new(reach, reach);
        let mut cells = Vec::with_capacity(self.columns * self.rows);
        for row in 0..self.rows {
            for column in 0..self.columns {
                let middle = lo + Point2::new(column as f64 + 0.5, row as f64 + 0.5) * self.cell_m;
                let mut over = boxes.within(middle - half, middle + half);
                let near = |i: &usize| self.outlines[*i].distance_to_outline(middle) <= reach;
                let mixed = over.iter().any(near);
                over.retain(|i| near(i) || self.outlines[*i].contains(middle));
                let last = over.last().map_or(0, |i| *i as u32 + 1);
                cells.push(if mixed { MIXED + self.lists.len() as u32 } else { last });
                if mixed {
                    self.lists.push(over.into_iter().map(|i| i as u32).collect());
                }
            }
        }
        self.cells = cells;
    }

    /// Surface by looking at every outline.
    #[cfg(test)]
    fn look(&self, p: Point2) -> usize {
        self.outlines.iter().rposition(|o| o.contains(p)).map_or(0, |i| i + 1)
    }

    /// Surface at a place.
    pub(crate) fn surface_at(&self, p: Point2) -> usize {
        let (x, y) = ((p.x - self.origin.x) / self.cell_m, (p.y - self.origin.y) / self.cell_m);
        // Outside (a negative number turns into a huge one) lies the default ground.
        if !(x >= 0.0 && y >= 0.0) || x as usize >= self.columns || y as usize >= self.rows {
            return 0;
        }
        match self.cells[y as usize * self.columns + x as usize] {
            list if list >= MIXED => {
                let mut over = self.lists[(list - MIXED) as usize].iter().rev().map(|i| *i as usize);
                over.find(|i| self.outlines[*i].contains(p)).map_or(0, |i| i + 1)
            }
            surface => surface as usize,
        }
    }

    /// Elevation of the ground at a place, metres.
    pub(crate) fn elevation_m(&self, p: Point2) -> f64 {
        self.elevations_m[self.surface_at(p)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::Ground;
    use proptest::prelude::*;

    fn map() -> GroundMap {
        let region = |list: &[[f64; 2]], elevation_m| Surface {
            outline: Polygon::new(list.iter().map(|&p| p.into())).unwrap(),
            ground: Ground::new(500.0).unwrap(),
            elevation_m,
        };
        GroundMap::new(
            &[
                region(&[[0.0, 0.0], [20.0, 0.0], [20.0, 10.0], [0.0, 10.0]], 0.5),
                region(&[[5.0, 2.0], [9.0, 1.0], [8.0, 7.0]], 1.0),
            ],
            0.0,
        )
    }

    #[test]
    fn the_later_region_counts_and_outside_is_the_default() {
        let m = map();
        assert_eq!(m.surface_at(Point2::new(7.5, 3.0)), 2);
        assert_eq!(m.surface_at(Point2::new(1.0, 3.0)), 1);
        assert_eq!(m.surface_at(Point2::new(-1.0, 3.0)), 0);
        assert_eq!(m.surface_at(Point2::new(1e9, 3.0)), 0);
        assert_eq!(m.elevation_m(Point2::new(7.5, 3.0)), 1.0);
        assert_eq!(GroundMap::new(&[], 2.0).elevation_m(Point2::new(0.0, 0.0)), 2.0);
    }

    proptest! {
        #[test]
        fn the_raster_agrees_with_the_outlines(x in -3.0f64..23.0, y in -3.0f64..13.0) {
            let m = map();
            prop_assert_eq!(m.surface_at(Point2::new(x, y)), m.look(Point2::new(x, y)));
        }
    }
}
