//! Routing speed and quality: a garden like a guesthouse's (22 loudspeakers, 38 m by 26 m) and a waterfront (over
//! 100 loudspeakers, four racks), side by side with ortools' routing solver on the same prices in the same time.
//!
//! `cargo run --release -p loamline-bench --bin routes`; the partner `routes.py` beside this file needs Python with
//! ortools (`LOAMLINE_PYTHON` names the interpreter, `python3` otherwise). Limits: 300 ms and 5 s.

#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use loamline_geometry::{Point2, Polygon};
use loamline_routing::{
    Building, Clip, Feed, GroundMap, GroundPlan, Lay, LengthRules, LineCable, LineProblem, Method, Mode,
    NoGo, Opened, RoutedLines, Service, Sleeve, Surface, Terminal, Wall,
};
use serde_json::{Value, json};
use std::error::Error;
use std::io::Write;
use std::process::{Command, Stdio};
use std::time::Instant;

fn main() -> Result<(), Box<dyn Error>> {
    let cases =
        [("garden, 22 loudspeakers", garden()?, 0.3), ("waterfront, 120 loudspeakers", waterfront()?, 5.0)];
    println!(
        "{:<32} {:<10} {:>9} {:>9} {:>11} {:>11} {:>7}",
        "case", "mode", "map ms", "lines ms", "ours", "ortools", "ratio"
    );
    let mut late = Vec::new();
    for (name, (plan, problem), limit_s) in cases {
        for mode in [Mode::Chain, Mode::Branching, Mode::Tree] {
            let problem = LineProblem { mode, ..problem.clone() };
            // The best of three: what the machine does beside should not count.
            let (mut map_s, mut total_s) = (f64::INFINITY, f64::INFINITY);
            let mut answer = None;
            for _ in 0..3 {
                let start = Instant::now();
                let ground = GroundMap::new(plan.clone())?;
                let map = start.elapsed().as_secs_f64();
                let lines = ground.lines(&problem, None)?;
                let total = start.elapsed().as_secs_f64();
                assert_eq!(joined(&lines), problem.terminals.len(), "every loudspeaker is joined");
                if total < total_s {
                    (map_s, total_s) = (map, total);
                }
                answer = Some((ground, lines));
            }
            let (ground, lines) = answer.ok_or("nothing was run")?;
            if total_s > limit_s {
                late.push(format!("{name}, {mode:?}: {total_s:.2} s, and the limit is {limit_s} s"));
            }
            let mut beside = "".to_owned();
            if mode == Mode::Chain {
                let prices = ground.run_prices(&problem)?;
                let ours = searched_price(&problem, &prices, &lines)?;
                let theirs = ortools(&problem, &prices, total_s.max(0.5))?;
                beside = format!("{ours:>11.2} {theirs:>11.2} {:>7.4}", ours / theirs);
            }
            println!(
                "{name:<32} {:<10} {:>9.0} {:>9.0} {beside}",
                format!("{mode:?}"),
                map_s * 1e3,
                (total_s - map_s) * 1e3
            );
        }
    }
    if late.is_empty() { Ok(()) } else { Err(late.join("\n").into()) }
}

fn joined(lines: &RoutedLines) -> usize {
    lines.lines.iter().map(|l| l.runs.len() - l.boxes.len()).sum()
}

/// Price of an answer on the prices the search worked on.
fn searched_price(
    problem: &LineProblem,
    prices: &[Vec<f64>],
    lines: &RoutedLines,
) -> Result<f64, Box<dyn Error>> {
    let names: Vec<&str> = problem
        .feeds
        .iter()
        .map(|f| f.id.as_str())
        .chain(problem.terminals.iter().map(|t| t.id.as_str()))
        .collect();
    let index = |id: &str| names.iter().position(|n| *n == id).ok_or("a run names nothing");
    let mut sum = 0.0;
    for run in lines.lines.iter().flat_map(|l| &l.runs) {
        sum += prices[index(&run.from)?][index(&run.to)?];
    }
    Ok(sum)
}

/// What ortools finds on the same prices in the same time.
fn ortools(problem: &LineProblem, prices: &[Vec<f64>], seconds: f64) -> Result<f64, Box<dyn Error>> {
    let python = std::env::var("LOAMLINE_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/src/bin/routes.py");
    let mut child = Command::new(python).arg(script).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn()?;
    let ask = json!({
        "feeds": problem.feeds.len(),
        "prices": prices,
        "watts": problem.terminals.iter().map(|t| t.watts).collect::<Vec<_>>(),
        "max_w": problem.feeds.iter().map(|f| f.max_w).collect::<Vec<_>>(),
        "allowed": problem.terminals.iter().map(|t| {
            problem.feeds.iter().map(|f| t.line.as_ref().is_none_or(|l| *l == f.id)).collect::<Vec<_>>()
        }).collect::<Vec<_>>(),
        "seconds": seconds,
    });
    child.stdin.take().ok_or("no way to write to the partner")?.write_all(ask.to_string().as_bytes())?;
    let out = child.wait_with_output()?;
    let answer: Value = serde_json::from_slice(&out.stdout)?;
    Ok(answer["price"].as_f64().ok_or("the partner found no answer")?)
}

type Case = (GroundPlan, LineProblem);

fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Result<Polygon, Box<dyn Error>> {
    Ok(Polygon::rectangle(Point2::new(x0, y0), Point2::new(x1, y1))?)
}

fn surface(id: &str, outline: Polygon, method: Method, price_per_m: f64) -> Surface {
    Surface { id: id.to_owned(), outline, lay: lay(method, price_per_m) }
}

fn lay(method: Method, price_per_m: f64) -> Lay {
    let bed = method == Method::Staked;
    Lay { method, price_per_m, depth_m: if bed { 0.05 } else { 0.2 }, joints: bed, accessible: bed }
}

fn line(points: &[[f64; 2]]) -> Vec<Point2> {
    points.iter().map(|&p| p.into()).collect()
}

fn service(id: &str, points: &[[f64; 2]], clearance_m: f64) -> Service {
    Service { id: id.to_owned(), line: line(points), clearance_m, crossing_price: 25.0, hand_dig_factor: 3.0 }
}

fn wall(id: &str, points: &[[f64; 2]]) -> Wall {
    let clip = Some(Clip { price_per_m: 4.0, height_m: 0.3, transition_price: 6.0 });
    Wall { id: id.to_owned(), line: line(points), thickness_m: 0.25, crossing_price: Some(80.0), clip }
}

fn terminal(id: String, x: f64, y: f64, watts: f64, line: Option<&str>) -> Terminal {
    Terminal { id, at: Point2::new(x, y), rise_m: 0.3, watts, line: line.map(str::to_owned) }
}

fn problem(feeds: Vec<Feed>, terminals: Vec<Terminal>) -> LineProblem {
    LineProblem {
        mode: Mode::Chain,
        terminals,
        feeds,
        cable: LineCable { price_per_m: 2.2, outside_diameter_mm: 9.0 },
        lengths: LengthRules::default(),
        joint_price: 14.0,
        box_price: 35.0,
        home_runs: 1,
        fixed: vec![],
        open: Opened::default(),
        effort: 100,
    }
}

fn feed(id: &str, x: f64, y: f64, max_w: f64) -> Feed {
    Feed {
        id: id.to_owned(),
        at: Point2::new(x, y),
        rise_m: 0.4,
        max_w,
        opening_price: 20.0,
        before_ohm: 0.0,
        stub_out: None,
    }
}

/// A guesthouse garden: terrace, lawn, beds, court, fire circle, a house, two walls, three services, two sleeves.
fn garden() -> Result<Case, Box<dyn Error>> {
    let ring = |cx: f64, cy: f64, r: f64| {
        Polygon::new((0..8).map(|i| {
            let a = std::f64::consts::TAU * f64::from(i) / 8.0;
            Point2::new(cx + r * a.cos(), cy + r * a.sin())
        }))
    };
    let sleeve = |id: &str, points: &[[f64; 2]]| Sleeve {
        id: id.to_owned(),
        line: line(points),
        inside_diameter_mm: 50.0,
        occupants_mm: vec![],
        price_per_m: 1.5,
    };
    let plan = GroundPlan {
        boundary: rect(0.0, 0.0, 38.0, 26.0)?,
        default_lay: lay(Method::Slit, 6.0),
        surfaces: vec![
            surface("terrace", rect(4.0, 14.5, 22.0, 20.5)?, Method::Trench, 120.0),
            surface("lawn", rect(8.0, 4.0, 24.0, 13.0)?, Method::Slit, 7.0),
            surface("terrace-bed", rect(4.0, 13.0, 22.0, 14.5)?, Method::Staked, 3.0),
            surface("west-border", rect(0.4, 0.6, 4.0, 14.5)?, Method::Staked, 3.0),
            surface("orchard", rect(4.0, 0.6, 26.0, 4.0)?, Method::Staked, 3.5),
            surface("path", rect(22.0, 13.0, 24.5, 20.5)?, Method::Trench, 110.0),
            surface("corner-bed", rect(24.0, 9.0, 26.5, 13.0)?, Method::Staked, 3.0),
            surface("court", rect(25.5, 14.0, 36.0, 22.0)?, Method::Trench, 45.0),
            surface("court-bed", rect(25.5, 22.0, 37.6, 23.6)?, Method::Staked, 3.0),
            surface("east-border", rect(36.0, 0.6, 37.6, 22.0)?, Method::Staked, 3.0),
            surface("fire", ring(30.5, 6.5, 4.7)?, Method::Trench, 45.0),
        ],
        no_go: vec![
            NoGo { id: "fire-pit".to_owned(), outline: ring(30.5, 6.5, 1.2)? },
            NoGo { id: "old-apple".to_owned(), outline: rect(12.6, 1.2, 14.4, 3.0)? },
        ],
        buildings: vec![Building {
            id: "house".to_owned(),
            outline: rect(4.0, 20.5, 22.0, 26.0)?,
            indoor_price_per_m: 8.0,
            outer_wall: None,
            clip: Some(Clip { price_per_m: 4.0, height_m: 2.4, transition_price: 6.0 }),
        }],
        walls: vec![wall("west", &[[0.0, 0.0], [0.0, 26.0]]), wall("south", &[[0.0, 0.0], [38.0, 0.0]])],
        services: vec![
            service("water", &[[23.2, 26.0], [23.2, 0.0]], 0.3),
            service("supply", &[[2.5, 26.0], [2.5, 0.0]], 0.5),
            service("irrigation", &[[8.3, 12.7], [23.0, 12.7]], 0.15),
        ],
        passages: Vec::new(),
        sleeves: vec![
            sleeve("terrace", &[[18.0, 20.4], [18.0, 14.3]]),
            sleeve("path", &[[21.8, 13.6], [24.7, 13.6]]),
        ],
    };
    let at = [
        (
            "A",
            10.0,
            [[6.5, 13.9], [10.8, 13.9], [15.2, 13.9], [19.5, 13.9], [8.0, 20.25], [15.0, 20.25]].as_slice(),
        ),
        ("B", 10.0, &[[10.0, 3.4], [16.0, 3.4], [22.0, 3.4], [9.0, 13.3], [14.5, 13.3], [20.5, 13.3]]),
        (
            "C",
            8.0,
            &[
                [28.5, 22.6],
                [33.5, 22.6],
                [36.7, 19.0],
                [36.7, 15.5],
                [34.3, 8.8],
                [34.3, 4.2],
                [26.8, 4.2],
                [26.8, 8.8],
            ],
        ),
        ("D", 75.0, &[[13.0, 13.8], [25.2, 12.0]]),
    ];
    let terminals = at
        .iter()
        .flat_map(|(l, w, places)| places.iter().map(move |p| (*l, *w, *p)))
        .enumerate()
        .map(|(i, (l, w, p))| terminal(format!("L{}", i + 1), p[0], p[1], w, Some(l)))
        .collect();
    let feeds = ["A", "B", "C", "D"].map(|id| feed(id, 18.0, 20.4, 240.0)).to_vec();
    Ok((plan, problem(feeds, terminals)))
}

/// A hotel waterfront of 160 m by 60 m: terraces, promenade, beds, six pavilions, four racks with three lines each.
fn waterfront() -> Result<Case, Box<dyn Error>> {
    let mut surfaces = vec![surface("promenade", rect(0.0, 0.0, 160.0, 9.0)?, Method::Trench, 90.0)];
    let (mut buildings, mut no_go, mut services, mut feeds) =
        (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for i in 0..8u32 {
        let x = 20.0 * f64::from(i);
        surfaces.push(surface(&format!("bed-{i}"), rect(x + 1.0, 9.0, x + 19.0, 13.0)?, Method::Staked, 3.0));
        surfaces.push(surface(
            &format!("steps-{i}"),
            rect(x + 8.0, 13.0, x + 12.0, 46.0)?,
            Method::Trench,
            110.0,
        ));
        surfaces.push(surface(
            &format!("hedge-bed-{i}"),
            rect(x + 1.0, 28.0, x + 7.5, 31.0)?,
            Method::Staked,
            3.5,
        ));
        no_go.push(NoGo { id: format!("tree-{i}"), outline: rect(x + 15.0, 20.0, x + 17.5, 22.5)? });
        services.push(service(&format!("drain-{i}"), &[[x + 13.5, 0.0], [x + 13.5, 60.0]], 0.3));
    }
    for i in 0..6u32 {
        let x = 8.0 + 26.0 * f64::from(i);
        buildings.push(Building {
            id: format!("pavilion-{i}"),
            outline: rect(x, 48.0, x + 14.0, 57.0)?,
            indoor_price_per_m: 8.0,
            outer_wall: None,
            clip: Some(Clip { price_per_m: 4.0, height_m: 2.4, transition_price: 6.0 }),
        });
    }
    for rack in 0..4u32 {
        let x = 15.0 + 40.0 * f64::from(rack);
        for l in 0..3u32 {
            feeds.push(feed(&format!("R{rack}{}", ["a", "b", "c"][l as usize]), x, 47.5, 240.0));
        }
    }
    let plan = GroundPlan {
        boundary: rect(0.0, 0.0, 160.0, 60.0)?,
        default_lay: lay(Method::Slit, 7.0),
        surfaces,
        no_go,
        buildings,
        walls: vec![],
        services,
        sleeves: vec![],
        passages: Vec::new(),
    };
    let terminals = (0..120u32)
        .map(|i| {
            let (column, row) = (f64::from(i % 24), f64::from(i / 24));
            // Five rows across the site, shifted so that no two columns line up.
            let x = 3.3 + 6.6 * column + 0.7 * ((1.7 * row + 0.9 * column).sin());
            let y = [11.0, 17.0, 25.5, 33.0, 41.0][i as usize / 24] + 1.1 * (0.6 * column + row).cos();
            terminal(format!("L{}", i + 1), x, y, [7.5, 15.0, 30.0][(i % 3) as usize], None)
        })
        .collect();
    Ok((plan, problem(feeds, terminals)))
}
