//! District by district against all lines at once, and what is asked of a part of the ground against the whole.

use super::*;
use crate::ground::{Lay, Method, NoGo, Sleeve, Surface};
use crate::lengths::LengthRules;
use crate::lines::problem::{Feed, LineCable, Terminal};
use loamline_chance::Draws;
use loamline_geometry::Polygon;

fn p(x: f64, y: f64) -> Point2 {
    Point2::new(x, y)
}

fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Polygon {
    Polygon::rectangle(p(x0, y0), p(x1, y1)).unwrap()
}

fn lay(method: Method, price_per_m: f64) -> Lay {
    Lay { method, price_per_m, depth_m: 0.0, joints: true, accessible: true }
}

/// Lawn with a paved way across it, a duct under the way and a pool.
fn garden() -> GroundPlan {
    GroundPlan {
        boundary: rect(0.0, 0.0, 120.0, 60.0),
        default_lay: lay(Method::Slit, 6.0),
        surfaces: vec![Surface {
            id: "way".into(),
            outline: rect(58.0, 0.0, 61.0, 60.0),
            lay: lay(Method::Trench, 45.0),
        }],
        no_go: vec![NoGo { id: "pool".into(), outline: rect(20.0, 25.0, 30.0, 31.0) }],
        buildings: vec![],
        walls: vec![],
        services: vec![],
        sleeves: vec![Sleeve {
            id: "duct".into(),
            line: vec![p(57.0, 30.0), p(62.0, 30.0)],
            inside_diameter_mm: 50.0,
            occupants_mm: vec![],
            price_per_m: 0.0,
        }],
        passages: vec![],
    }
}

fn feed(id: &str, at: Point2, max_w: f64) -> Feed {
    Feed { id: id.into(), at, rise_m: 0.0, max_w, opening_price: 0.0, before_ohm: 0.0, stub_out: None }
}

fn terminal(id: String, at: Point2, line: Option<&str>) -> Terminal {
    Terminal { id, at, rise_m: 0.0, watts: 10.0, line: line.map(str::to_owned) }
}

fn problem(feeds: Vec<Feed>, terminals: Vec<Terminal>) -> LineProblem {
    LineProblem {
        mode: Mode::Chain,
        terminals,
        feeds,
        cable: LineCable { price_per_m: 1.5, outside_diameter_mm: 8.0 },
        lengths: LengthRules { service_loop_m: 0.6, waste_fraction: 0.05 },
        joint_price: 4.0,
        box_price: 0.0,
        home_runs: 2,
        fixed: vec![],
        open: Opened::default(),
        effort: 100,
    }
}

/// Three racks with two lines of five loudspeakers each; those of the second rack lie on the far side of the way.
fn three_racks(seed: u64) -> LineProblem {
    let mut dice = Draws::new(seed);
    let (mut feeds, mut terminals) = (Vec::new(), Vec::new());
    for (rack, (at, from_x, to_x)) in
        [(p(5.0, 5.0), 3.0, 40.0), (p(50.0, 30.0), 64.0, 90.0), (p(115.0, 55.0), 80.0, 118.0)]
            .into_iter()
            .enumerate()
    {
        for line in 0..2 {
            let name = format!("{rack}-{line}");
            feeds.push(feed(&name, at, 100.0));
            for k in 0..5 {
                let place = p(dice.between(from_x, to_x), dice.between(34.0, 58.0));
                terminals.push(terminal(format!("L{name}-{k}"), place, Some(&name)));
            }
        }
    }
    problem(feeds, terminals)
}

/// Districts of one rack.
const OF_A_RACK: usize = 12;

fn by_district(ground: &GroundMap, asked: &LineProblem) -> RoutedLines {
    ground.lines_in_districts_of(OF_A_RACK, asked, None, &|_| {}).unwrap()
}

#[test]
fn district_by_district_costs_what_all_at_once_costs() {
    let ground = GroundMap::new(garden()).unwrap();
    for mode in [Mode::Chain, Mode::Branching, Mode::Tree] {
        for seed in 0..4 {
            let asked = LineProblem { mode, ..three_racks(seed) };
            assert_eq!(districts(&asked, OF_A_RACK).len(), 3);
            let (all, apart) = (ground.lines(&asked, None).unwrap(), by_district(&ground, &asked));
            let joined = |lines: &RoutedLines| -> Vec<(String, usize)> {
                let loudspeakers = |l: &RoutedLine| l.runs.len() - l.boxes.len();
                lines.lines.iter().map(|l| (l.id.clone(), loudspeakers(l))).collect()
            };
            assert_eq!(joined(&all), joined(&apart), "{mode:?}, seed {seed}");
            let ratio = apart.totals.price / all.totals.price;
            // Two searches that settle the same lines and open the ground in another order.
            assert!(
                (0.95..1.05).contains(&ratio),
                "{mode:?}, seed {seed}: {ratio} of the price of all at once"
            );
            let sum: f64 = apart.lines.iter().map(|l| l.totals.price).sum();
            assert!((sum - apart.totals.price).abs() < 1e-6);
            // Six vertices of a line and not all 36 of the site.
            assert!(mode == Mode::Tree || apart.work.pairs < all.work.pairs, "{mode:?}: {:?}", apart.work);
            let drawn = |lines: &RoutedLines| lines.sleeves.iter().map(|s| s.runs.len()).sum::<usize>();
            let through =
                apart.lines.iter().flat_map(|l| &l.runs).filter(|r| !r.path.sleeves.is_empty()).count();
            assert_eq!(drawn(&apart), through);
        }
    }
}

#[test]
fn one_thread_and_several_give_the_same() {
    let ground = GroundMap::new(garden()).unwrap();
    let asked = three_racks(7);
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| by_district(&ground, &asked))
    };
    assert_eq!(on(1), on(3));
}

#[test]
fn boxes_of_all_districts_have_names_of_their_own() {
    let ground = GroundMap::new(garden()).unwrap();
    let mut asked = LineProblem { mode: Mode::Tree, joint_price: 0.0, ..three_racks(2) };
    asked.lengths.service_loop_m = 0.0;
    let apart = by_district(&ground, &asked);
    let names: Vec<&String> = apart.lines.iter().flat_map(|l| &l.boxes).map(|b| &b.id).collect();
    let different: BTreeSet<&String> = names.iter().copied().collect();
    assert!(!names.is_empty() && different.len() == names.len(), "{names:?}");
}

#[test]
fn every_loudspeaker_is_in_one_district_and_a_long_line_stays_whole() {
    let mut asked = three_racks(1);
    for k in 0..20 {
        asked.terminals.push(terminal(format!("M{k}"), p(10.0 + f64::from(k), 40.0), Some("0-1")));
    }
    let found = districts(&asked, OF_A_RACK);
    let mut terminals: Vec<usize> = found.iter().flat_map(|d| d.terminals.iter().copied()).collect();
    terminals.sort_unstable();
    assert_eq!(terminals, (0..asked.terminals.len()).collect::<Vec<_>>());
    // The long line alone, the other of its rack, and the two racks.
    assert_eq!(found.iter().map(District::places).collect::<Vec<_>>(), [26, 12, 12, 6]);
    assert_eq!(found[0].feeds, [1]);
}

#[test]
fn loudspeakers_on_no_line_go_where_there_is_power_left() {
    let feeds = vec![feed("A", p(0.0, 10.0), 20.0), feed("B", p(100.0, 10.0), 40.0)];
    let at = [10.0, 20.0, 30.0, 40.0];
    let terminals = (0..).zip(at).map(|(k, x)| terminal(format!("L{k}"), p(x, 10.0), None)).collect();
    // By hand: A takes the nearest two and is full; the fourth is next to B, and the third next to the fourth.
    assert_eq!(homes(&problem(feeds, terminals)), [0, 0, 1, 1]);
}

#[test]
fn what_is_wrong_anywhere_is_told_at_once() {
    let mut plan = garden();
    plan.no_go.push(NoGo { id: "stream".into(), outline: rect(100.0, -1.0, 101.0, 61.0) });
    let ground = GroundMap::new(plan).unwrap();
    let told = |asked: &LineProblem| {
        let e = ground.lines_in_districts_of(OF_A_RACK, asked, None, &|_| {}).unwrap_err();
        e.0.iter().map(ToString::to_string).collect::<Vec<_>>()
    };
    let mut asked = three_racks(3);
    for (k, t) in asked.terminals.iter_mut().enumerate() {
        t.at = p(if k % 10 == 0 { 110.0 } else { 70.0 + k as f64 }, 40.0);
    }
    let cut_off = told(&asked);
    assert!(cut_off.len() > 2 && cut_off.iter().all(|s| s.contains("stream")), "{cut_off:?}");
    asked.terminals[3].at = p(500.0, 40.0);
    asked.terminals[25].at = p(25.0, 28.0);
    let misplaced = told(&asked);
    assert!(misplaced.len() == 2, "{misplaced:?}");
    assert!(misplaced[0].contains("outside the site") && misplaced[1].contains("pool"), "{misplaced:?}");
}

/// Ground with more corners than are searched as a whole: beds all over it.
fn beds() -> GroundPlan {
    let mut plan = garden();
    plan.boundary = rect(0.0, 0.0, 400.0, 200.0);
    plan.sleeves.clear();
    plan.no_go.clear();
    plan.surfaces.clear();
    for k in 0..200u32 {
        let (x, y) = (20.0 * f64::from(k % 20) + 8.0, 20.0 * f64::from(k / 20) + 8.0);
        let outline = rect(x, y, x + 3.0, y + 2.0);
        plan.surfaces.push(Surface { id: format!("bed{k}"), outline, lay: lay(Method::Trench, 9.0) });
    }
    plan
}

#[test]
fn ways_on_the_ground_around_cost_what_ways_on_the_whole_cost() {
    let ground = GroundMap::new(beds()).unwrap();
    let mut dice = Draws::new(11);
    let place = |dice: &mut Draws| p(dice.between(2.0, 60.0), dice.between(2.0, 60.0));
    let terminals = (0..8).map(|k| terminal(format!("L{k}"), place(&mut dice), Some("A"))).collect();
    let asked = problem(vec![feed("A", p(3.0, 3.0), 100.0)], terminals);
    let places = spots(&asked);
    assert!(ground.near(&places, &places).is_cut());
    let (near, whole) = (ground.lines(&asked, None).unwrap(), ground.whole_ground(&asked));
    let ratio = near.totals.price / whole.totals.price;
    // Each way is within 2 % of the least, on either ground.
    assert!((0.98..1.02).contains(&ratio), "{ratio}");
}

impl GroundMap {
    /// The same lines over the whole ground.
    fn whole_ground(&self, asked: &LineProblem) -> RoutedLines {
        let whole = self.around(&spots(asked));
        let stands = check(&whole, asked, None).unwrap();
        let of_all = Asked { problem: asked, limit: None, wanted: &Wanted::All, boxes_before: 0 };
        let (first, opened) = whole.searched(of_all, &stands, Shared::default()).unwrap();
        let again = whole.searched(of_all, &stands, opened).unwrap().0;
        if again.is_better_than(&first) { again } else { first }
    }
}

#[test]
fn a_way_that_leads_far_round_is_found_on_the_whole_ground() {
    let mut plan = beds();
    plan.no_go.push(NoGo { id: "stream".into(), outline: rect(34.0, -1.0, 35.0, 190.0) });
    let ground = GroundMap::new(plan).unwrap();
    let terminals = vec![terminal("L1".into(), p(40.0, 15.0), Some("A"))];
    let asked = problem(vec![feed("A", p(30.0, 15.0), 100.0)], terminals);
    let run = &ground.lines(&asked, None).unwrap().lines[0].runs[0];
    // Up to y 190 and back: at least twice 175 m.
    assert!((350.0..365.0).contains(&run.path.length_m), "{}", run.path.length_m);
}
