//! The prices the search for lines works on against the ways that are laid in the end.

mod common;

use common::*;
use loamline_chance::Draws;
use loamline_geometry::{Point2, Polygon};
use loamline_routing::{
    Building, CableToLay, Clip, GroundMap, GroundPlan, LineCable, LineProblem, Method, Mode, Path, RunEnd,
    Wall,
};

/// A garden of dear ground with two buildings and a wall that cable can be clipped to, a bed, and a no-go area.
fn garden(random: &mut Draws) -> GroundPlan {
    let mut g = plan(0.0, 0.0, 40.0, 30.0, random.between(2.0, 10.0));
    let clip = |random: &mut Draws| Clip {
        price_per_m: random.between(0.5, 2.0),
        height_m: random.between(0.0, 0.3),
        transition_price: if random.unit() < 0.5 { 0.0 } else { random.between(0.0, 3.0) },
    };
    let paving = random.between(20.0, 200.0);
    let (x, y) = (random.between(2.0, 12.0), random.between(2.0, 8.0));
    g.surfaces.push(surface("paving", rect(x, y, x + 22.0, y + 18.0), Method::Trench, paving));
    let (x, y) = (x + random.between(-1.0, 4.0), y + random.between(-1.0, 4.0));
    let house = rect(x, y, x + random.between(6.0, 14.0), y + random.between(4.0, 9.0));
    let shed_x = random.between(29.0, 32.0);
    let shed = rect(shed_x, 20.0, shed_x + 5.0, 25.0);
    for (id, outline) in [("house", house), ("shed", shed)] {
        let clip = Some(clip(random));
        g.buildings.push(Building {
            id: id.into(),
            outline,
            indoor_price_per_m: 2.0,
            outer_wall: None,
            clip,
        });
    }
    let wall_y = random.between(22.0, 26.0);
    g.walls.push(Wall {
        id: "wall".into(),
        line: vec![p(3.0, wall_y), p(26.0, wall_y + random.between(-1.0, 1.0))],
        thickness_m: 0.25,
        crossing_price: (random.unit() < 0.5).then_some(random.between(20.0, 200.0)),
        clip: Some(clip(random)),
    });
    let bed_x = random.between(5.0, 25.0);
    g.surfaces.push(surface("bed", rect(bed_x, 1.0, bed_x + 9.0, 4.0), Method::Staked, 1.5));
    g.no_go.push(no_go("pond", rect(35.0, 5.0, 38.0, 12.0)));
    g
}

/// Places on faces, a hand's breadth off them, and anywhere.
fn places(random: &mut Draws, g: &GroundPlan, ground: &GroundMap) -> Vec<Point2> {
    let mut found = Vec::new();
    while found.len() < 12 {
        let anywhere = p(random.between(0.5, 39.5), random.between(0.5, 29.5));
        let house = &g.buildings[found.len() % 2].outline;
        let at = match found.len() % 4 {
            0 => house.nearest_on_outline(anywhere),
            1 | 2 => {
                let foot = house.nearest_on_outline(anywhere);
                foot + (anywhere - foot) * (random.between(0.0, 0.5) / foot.distance(anywhere))
            }
            _ => anywhere,
        };
        let inside = |o: &Polygon| o.contains(at) && o.distance_to_outline(at) > 1e-6;
        let clear = g.buildings.iter().all(|b| !inside(&b.outline));
        if clear && ground.check_place(&RunEnd { name: "here".into(), at }).is_ok() {
            found.push(at);
        }
    }
    found
}

fn problem(at: &[Point2]) -> LineProblem {
    let terminals = (1..at.len()).map(|i| terminal_at(&format!("P{i}"), at[i], 1.0)).collect();
    LineProblem {
        cable: LineCable { price_per_m: CABLE.price_per_m, outside_diameter_mm: CABLE.outside_diameter_mm },
        ..lines_of(Mode::Chain, vec![feed_at("P0", at[0], 1e3)], terminals)
    }
}

const CABLE: CableToLay = CableToLay { price_per_m: 1.0, outside_diameter_mm: 8.0 };

#[expect(clippy::unwrap_used, reason = "a test helper")]
fn laid(ground: &GroundMap, at: &[Point2], i: usize, j: usize) -> Path {
    let end = |k: usize| RunEnd { name: format!("P{k}"), at: at[k] };
    ground.path(&end(i), &end(j), &CABLE).unwrap()
}

/// Laying and cable, with the cable that climbs on to faces.
fn cost(path: &Path) -> f64 {
    path.cost(CABLE.price_per_m) + path.vertical_m * CABLE.price_per_m
}

#[test]
fn prices_between_places_are_those_of_the_ways_laid() {
    let mut random = Draws::new(11);
    let (mut dearer, mut cheaper): (f64, f64) = (0.0, 0.0);
    for case in 0..8 {
        let g = garden(&mut random);
        let ground = GroundMap::new(g.clone()).unwrap();
        let at = places(&mut random, &g, &ground);
        let prices = ground.run_prices(&problem(&at)).unwrap();
        for i in 0..at.len() {
            for j in i + 1..at.len() {
                let least = cost(&laid(&ground, &at, i, j));
                if least < 1e-9 {
                    continue;
                }
                let ratio = prices[i][j] / least;
                assert!(
                    (0.98..=1.02).contains(&ratio),
                    "case {case}, {:?} to {:?}: {} priced, {least} laid",
                    at[i],
                    at[j],
                    prices[i][j]
                );
                (dearer, cheaper) = (dearer.max(ratio), cheaper.max(1.0 / ratio));
            }
        }
    }
    println!("dearest {dearer:.4}, cheapest {:.4}", 1.0 / cheaper);
}

#[test]
fn a_run_that_may_share_ground_is_never_dearer_than_its_own_way() {
    let mut random = Draws::new(12);
    let mut shared = 0;
    for case in 0..8 {
        let g = garden(&mut random);
        let ground = GroundMap::new(g.clone()).unwrap();
        let at = places(&mut random, &g, &ground);
        let lines = ground.lines(&problem(&at), None).unwrap();
        for run in lines.lines.iter().flat_map(|l| &l.runs) {
            let number = |id: &str| id[1..].parse::<usize>().unwrap();
            let own = cost(&laid(&ground, &at, number(&run.from), number(&run.to)));
            // What the bends of either way may cost is no difference.
            assert!(cost(&run.path) <= 1.003 * own + 1e-9, "case {case}, {}-{}", run.from, run.to);
            shared += usize::from(run.path.stretches.iter().any(|s| s.method == Method::SharedTrench));
        }
    }
    assert!(shared > 3, "{shared}");
}
