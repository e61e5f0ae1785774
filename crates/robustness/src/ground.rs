//! Ground plans: outlines, walls and services over each other at every angle, made into a map, and a way found across it.
//!
//! Bytes are coordinates on a grid of 2 cm with a little beside it now and then: near to each other is what goes wrong, not
//! far apart.

use arbitrary::Unstructured;
use loamline_geometry::{Point2, Polygon};
use loamline_routing::{
    Building, CableToLay, GroundMap, GroundPlan, Lay, Method, NoGo, OuterWall, RunEnd, Service, Sleeve,
    Surface, Wall,
};

/// Metres between lines of the grid.
const GRID_M: f64 = 0.02;
/// What a coordinate may be beside the grid, metres: nothing, less than counts, a little more, what rounding leaves.
const BESIDE_M: [f64; 8] = [0.0, 0.0, 0.0, 1e-9, 4e-6, -9e-6, 2e-5, 0.003_3];

const LAWN: Lay =
    Lay { method: Method::Slit, price_per_m: 6.0, depth_m: 0.2, joints: true, accessible: true };

pub fn ground(bytes: &[u8]) {
    // Where bytes run out, there is less on the ground.
    let Ok(plan) = plan(&mut Unstructured::new(bytes)) else { return };
    let (low, high) = plan.boundary.bounds();
    let ends = [low.lerp(high, 0.1), low.lerp(high, 0.9)];
    let map = match GroundMap::new(plan) {
        Ok(map) => map,
        Err(error) => return drop(error.to_string()),
    };
    let end = |name: &str, at: Point2| RunEnd { name: name.to_owned(), at };
    let cable = CableToLay { price_per_m: 1.5, outside_diameter_mm: 9.0 };
    match map.path(&end("rack R1", ends[0]), &end("loudspeaker L1", ends[1]), &cable) {
        Ok(path) => {
            let told = format!("{path:?}");
            assert!(
                !told.contains("NaN") && !told.contains("inf"),
                "a way with a value that is none: {told}"
            );
        }
        Err(error) => drop(error.to_string()),
    }
}

fn point(u: &mut Unstructured<'_>) -> arbitrary::Result<Point2> {
    let [x, y] = u.arbitrary::<[u16; 2]>()?;
    let beside = BESIDE_M[usize::from(u.arbitrary::<u8>()?) % BESIDE_M.len()];
    Ok(Point2::new(f64::from(x % 2500) * GRID_M + beside, f64::from(y % 2500) * GRID_M - beside))
}

/// A simple outline: a box, or the corners as they come where they make one.
fn outline(u: &mut Unstructured<'_>) -> arbitrary::Result<Option<Polygon>> {
    let (a, b) = (point(u)?, point(u)?);
    if u.arbitrary::<bool>()? {
        return Ok(Polygon::rectangle(a, b).ok());
    }
    let mut corners = vec![a, b, point(u)?];
    for _ in 0..u.arbitrary::<u8>()? % 4 {
        corners.push(point(u)?);
    }
    Ok(Polygon::new(corners).ok())
}

fn line(u: &mut Unstructured<'_>) -> arbitrary::Result<Vec<Point2>> {
    let count = 2 + u.arbitrary::<u8>()? % 3;
    (0..count).map(|_| point(u)).collect()
}

fn plan(u: &mut Unstructured<'_>) -> arbitrary::Result<GroundPlan> {
    let far = Point2::new(2500.0 * GRID_M, 2500.0 * GRID_M);
    let everything = Polygon::rectangle(Point2::new(0.0, 0.0), far).expect("a usual site");
    let boundary = if u.arbitrary::<bool>()? { everything } else { outline(u)?.unwrap_or(everything) };
    let mut plan = GroundPlan {
        boundary,
        default_lay: LAWN,
        surfaces: Vec::new(),
        no_go: Vec::new(),
        buildings: Vec::new(),
        walls: Vec::new(),
        services: Vec::new(),
        sleeves: Vec::new(),
        passages: Vec::new(),
    };
    for n in 0..u.arbitrary::<u8>()? % 12 {
        let id = format!("x{n}");
        // Where bytes run out in the middle of a thing, the plan is what there is.
        if thing(u, id, &mut plan).is_err() {
            break;
        }
    }
    Ok(plan)
}

fn thing(u: &mut Unstructured<'_>, id: String, plan: &mut GroundPlan) -> arbitrary::Result<()> {
    let width_m = |u: &mut Unstructured<'_>| -> arbitrary::Result<f64> {
        Ok([0.0, 1e-6, 0.05, 0.1, 0.3, 1.0, 5.69, 50.0][usize::from(u.arbitrary::<u8>()?) % 8])
    };
    match u.arbitrary::<u8>()? % 8 {
        0..=2 => plan.surfaces.extend(outline(u)?.map(|outline| Surface { id, outline, lay: LAWN })),
        3 => plan.no_go.extend(outline(u)?.map(|outline| NoGo { id, outline })),
        4 => {
            let outer_wall = match u.arbitrary::<u8>()? % 3 {
                0 => None,
                1 => Some(OuterWall { thickness_m: width_m(u)?, hole_price: None }),
                _ => Some(OuterWall { thickness_m: 0.3, hole_price: Some(40.0) }),
            };
            let made = |outline| Building { id, outline, indoor_price_per_m: 4.0, outer_wall, clip: None };
            plan.buildings.extend(outline(u)?.map(made));
        }
        5 => {
            let crossing_price = u.arbitrary::<bool>()?.then_some(30.0);
            plan.walls.push(Wall {
                id,
                line: line(u)?,
                thickness_m: width_m(u)?,
                crossing_price,
                clip: None,
            });
        }
        6 => {
            let (line, clearance_m) = (line(u)?, width_m(u)?);
            plan.services.push(Service { id, line, clearance_m, crossing_price: 25.0, hand_dig_factor: 2.0 });
        }
        _ => {
            let line = line(u)?;
            plan.sleeves.push(Sleeve {
                id,
                line,
                inside_diameter_mm: 50.0,
                occupants_mm: Vec::new(),
                price_per_m: 2.0,
            });
        }
    }
    Ok(())
}
