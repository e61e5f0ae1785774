//! Lines on ground: shared digging, sleeves, limits, fixed runs, findings and errors.

mod common;

use common::*;
use loamline_chance::Draws;
use loamline_routing::{
    ConstantVoltage, Feed, FixedRun, GroundMap, GroundPlan, LengthRules, LineFinding, LineProblem, LossLimit,
    Method, Mode, RoutedLines, Service, Sleeve, StubOut, Terminal,
};

fn terminal(id: &str, x: f64, y: f64, watts: f64) -> Terminal {
    terminal_at(id, p(x, y), watts)
}

fn feed(id: &str, x: f64, y: f64, max_w: f64) -> Feed {
    feed_at(id, p(x, y), max_w)
}

fn problem(mode: Mode, feeds: Vec<Feed>, terminals: Vec<Terminal>) -> LineProblem {
    LineProblem { effort: 30, ..lines_of(mode, feeds, terminals) }
}

#[expect(clippy::unwrap_used, reason = "a test helper")]
fn solve(plan: GroundPlan, problem: &LineProblem) -> RoutedLines {
    GroundMap::new(plan).unwrap().lines(problem, None).unwrap()
}

fn joins(lines: &RoutedLines) -> Vec<String> {
    lines.lines.iter().flat_map(|l| l.runs.iter().map(|r| format!("{}-{}", r.from, r.to))).collect()
}

#[test]
fn a_chain_along_a_row_goes_from_one_to_the_next_and_lengths_add_up() {
    let mut pr = problem(
        Mode::Chain,
        vec![feed("A", 0.0, 5.0, 100.0)],
        vec![
            terminal("L2", 20.0, 5.0, 10.0),
            terminal("L1", 10.0, 5.0, 10.0),
            terminal("L3", 30.0, 5.0, 10.0),
        ],
    );
    pr.lengths = LengthRules { service_loop_m: 0.6, waste_fraction: 0.1 };
    pr.terminals[0].rise_m = 0.3;
    let mut g = plan(-1.0, 0.0, 40.0, 10.0, 2.0);
    g.default_lay.depth_m = 0.2;
    let lines = solve(g, &pr);
    assert_eq!(joins(&lines), ["A-L1", "L1-L2", "L2-L3"]);
    let run = &lines.lines[0].runs[1];
    // 10 m, down and up 0.2 m each, 0.3 m to the joint of L2, two loops, 10 % waste.
    assert!((run.length.order_m - (10.0 + 0.4 + 0.3 + 1.2) * 1.1).abs() < 1e-9, "{:?}", run.length);
    assert!((lines.totals.by_method_m[&Method::Slit] - 30.0).abs() < 1e-9);
    let sum: f64 = lines.lines[0].runs.iter().map(|r| r.price).sum();
    assert!((sum - lines.totals.price).abs() < 1e-9);
    assert!(lines.findings.is_empty());
}

#[test]
fn a_tree_uses_a_box_where_it_pays_and_only_where_boxes_are_allowed() {
    // Three corners of an equilateral triangle and a feed far below: the Fermat point of the upper part saves.
    let h = 10.0 * 3f64.sqrt();
    let terminals = vec![terminal("L1", 5.0, 5.0 + h, 5.0), terminal("L2", 25.0, 5.0 + h, 5.0)];
    let feeds = vec![feed("A", 15.0, 5.0, 100.0)];
    let with = |mode, box_price, accessible| {
        // Laying is free here, so that nothing is gained by sharing ground.
        let mut g = plan(0.0, 0.0, 30.0, 30.0, 0.0);
        g.default_lay.accessible = accessible;
        let mut pr = problem(mode, feeds.clone(), terminals.clone());
        pr.cable.price_per_m = 4.0;
        pr.box_price = box_price;
        solve(g, &pr)
    };
    // Closed form: spanning tree two sides of 20 m, Steiner tree sqrt(3) x 20 m; 4 a metre.
    let flat = with(Mode::Branching, 0.0, true);
    assert!((flat.totals.price - 160.0).abs() < 0.01, "{}", flat.totals.price);
    let boxed = with(Mode::Tree, 0.0, true);
    let exact = 4.0 * 20.0 * 3f64.sqrt();
    assert!(
        boxed.totals.price < exact * 1.01 && boxed.totals.price >= exact - 1e-6,
        "{}",
        boxed.totals.price
    );
    assert_eq!(boxed.lines[0].boxes.len(), 1);
    for none in [with(Mode::Tree, 50.0, true), with(Mode::Tree, 0.0, false)] {
        assert!(none.lines[0].boxes.is_empty());
        assert!((none.totals.price - 160.0).abs() < 0.01);
    }
}

/// A box on one line changed which prices the next line's boxes were looked for on, and a site with several such lines ended
/// the program.
#[test]
fn each_of_several_lines_gets_the_box_that_it_would_get_alone() {
    let (h, apart) = (10.0 * 3f64.sqrt(), 0.3);
    let (mut feeds, mut terminals) = (Vec::new(), Vec::new());
    for k in 0..4u32 {
        let x = 15.0 + apart * f64::from(k);
        feeds.push(feed(&format!("F{k}"), x, 5.0, 10.0));
        for (side, x) in [("a", x - 10.0), ("b", x + 10.0)] {
            let line = Some(format!("F{k}"));
            terminals.push(Terminal { line, ..terminal(&format!("L{k}{side}"), x, 5.0 + h, 5.0) });
        }
    }
    // Free laying, as above.
    let mut pr = problem(Mode::Tree, feeds, terminals);
    pr.cable.price_per_m = 4.0;
    let lines = solve(plan(0.0, 0.0, 30.0 + 3.0 * apart, 30.0, 0.0), &pr);
    // Closed form: four Steiner trees of sqrt(3) x 20 m, 4 a metre.
    let exact = 4.0 * 4.0 * 20.0 * 3f64.sqrt();
    assert!(
        lines.totals.price < exact * 1.01 && lines.totals.price >= exact - 1e-6,
        "{}",
        lines.totals.price
    );
    assert!(lines.lines.iter().all(|l| l.boxes.len() == 1));
}

#[test]
fn two_lines_side_by_side_open_the_ground_once() {
    let terminals = vec![terminal("L1", 30.0, 5.0, 60.0), terminal("L2", 30.0, 6.0, 60.0)];
    let feeds = vec![feed("A", 1.0, 5.0, 100.0), feed("B", 1.0, 5.0, 100.0)];
    let lines = solve(plan(0.0, 0.0, 40.0, 10.0, 20.0), &problem(Mode::Chain, feeds, terminals));
    assert_eq!(lines.lines.len(), 2);
    // About 29 m of slit at 20, shared but for a metre or so, and twice the cable.
    assert!(lines.totals.by_method_m[&Method::Slit] < 30.5, "{:?}", lines.totals.by_method_m);
    assert!(lines.totals.laying_price < 20.0 * 30.5);
    assert!((lines.totals.order_m - 59.0).abs() < 0.5);
}

#[test]
fn power_decides_how_many_lines_and_what_is_left_out_is_named() {
    let row: Vec<Terminal> =
        (0..6).map(|i| terminal(&format!("L{i}"), 5.0 + 5.0 * f64::from(i), 5.0, 30.0)).collect();
    let feeds = vec![feed("A", 0.0, 5.0, 100.0), feed("B", 0.0, 5.0, 100.0)];
    for mode in [Mode::Chain, Mode::Branching] {
        let lines = solve(plan(0.0, 0.0, 40.0, 10.0, 1.0), &problem(mode, feeds.clone(), row.clone()));
        assert_eq!(lines.lines.iter().map(|l| l.runs.len()).collect::<Vec<_>>(), [3, 3], "{mode:?}");
        assert!(lines.lines.iter().all(|l| l.load_w <= 100.0) && lines.findings.is_empty());
        let short = solve(plan(0.0, 0.0, 40.0, 10.0, 1.0), &problem(mode, feeds[..1].to_vec(), row.clone()));
        assert_eq!(short.findings.len(), 3);
        assert!(
            short.findings.iter().all(|f| f.is_error() && f.to_string().ends_with("more than 10.0 W left")),
            "{:?}",
            short.findings
        );
    }
}

#[test]
fn a_loss_limit_is_kept_or_reported() {
    let row: Vec<Terminal> =
        (0..5).map(|i| terminal(&format!("L{i}"), 20.0 * f64::from(i + 1), 5.0, 40.0)).collect();
    let pr = problem(Mode::Branching, vec![feed("A", 0.0, 5.0, 1000.0)], row);
    let ground = GroundMap::new(plan(0.0, 0.0, 120.0, 10.0, 1.0)).unwrap();
    let model = ConstantVoltage { volts: 70.7, loop_ohm_per_m: 0.0166 };
    let at = |limit_db| ground.lines(&pr, Some(LossLimit { model: &model, limit_db })).unwrap();
    let loose = at(10.0);
    let loss = loose.lines[0].loss_db.unwrap();
    assert!((loose.totals.order_m - 100.0).abs() < 1e-6 && loose.findings.is_empty());
    let held = at(0.8 * loss);
    assert!(held.lines[0].loss_db.unwrap() <= 0.8 * loss && held.totals.order_m > 100.0);
    assert!(held.findings.is_empty());
    let broken = at(0.01);
    assert!(matches!(&broken.findings[..], [LineFinding::LossOverLimit { line, .. }] if line == "A"));
}

#[test]
fn a_fixed_run_keeps_its_way_and_the_rest_is_solved_around_it() {
    let mut pr = problem(
        Mode::Chain,
        vec![feed("A", 0.0, 5.0, 100.0), feed("B", 0.0, 5.0, 100.0)],
        vec![
            terminal("L1", 10.0, 5.0, 10.0),
            terminal("L2", 20.0, 5.0, 10.0),
            terminal("L3", 30.0, 5.0, 10.0),
        ],
    );
    pr.fixed = vec![FixedRun { from: "A".into(), to: "L3".into(), via: vec![p(15.0, 9.0)] }];
    pr.terminals[1].line = Some("B".into());
    let lines = solve(plan(-1.0, 0.0, 40.0, 10.0, 1.0), &pr);
    assert!(lines.findings.is_empty(), "{:?}", lines.findings);
    let fixed = lines.lines.iter().flat_map(|l| &l.runs).find(|r| r.fixed).unwrap();
    assert_eq!((fixed.from.as_str(), fixed.to.as_str()), ("A", "L3"));
    assert!(fixed.path.waypoints.iter().any(|w| w.at.distance(p(15.0, 9.0)) < 1e-6));
    assert!(lines.lines[1].runs.iter().any(|r| r.to == "L2"));
    pr.fixed.push(FixedRun { from: "A".into(), to: "L1".into(), via: vec![] });
    let crowded = solve(plan(-1.0, 0.0, 40.0, 10.0, 1.0), &pr);
    assert!(crowded.findings.iter().any(|f| matches!(f, LineFinding::FixedRunDropped { .. })));
}

#[test]
fn a_sleeve_takes_as_many_runs_as_fit() {
    let mut g = plan(0.0, 0.0, 40.0, 10.0, 1.0);
    g.surfaces.push(surface("drive", rect(18.0, 0.0, 22.0, 10.0), Method::Trench, 50.0));
    g.sleeves.push(Sleeve {
        id: "S".into(),
        line: vec![p(17.0, 5.0), p(23.0, 5.0)],
        inside_diameter_mm: 16.0,
        occupants_mm: vec![],
        price_per_m: 0.0,
    });
    // One 8 mm cable fills 25 % of 16 mm (53 % allowed), two 50 % (31 % allowed).
    let pr = problem(
        Mode::Chain,
        vec![feed("A", 2.0, 5.0, 10.0), feed("B", 2.0, 5.0, 10.0)],
        vec![terminal("L1", 35.0, 5.0, 10.0), terminal("L2", 36.0, 5.0, 10.0)],
    );
    let lines = solve(g, &pr);
    assert_eq!(lines.sleeves.len(), 1);
    assert_eq!(lines.sleeves[0].runs.len(), 1);
    assert!(lines.sleeves[0].fill.fits);
    let full = lines.findings.iter().find(|f| matches!(f, LineFinding::FillOverLimit { .. })).unwrap();
    assert!(
        full.to_string().starts_with("sleeve S would be 50 % full with 2 cables and the limit is 31 %"),
        "{full}"
    );
}

#[test]
fn stub_outs_and_services_are_reported_with_their_numbers() {
    let stub = StubOut { id: "T1".into(), conductors: 2, loop_ohm: 0.5, tail_m: 0.4 };
    let mut feeds = vec![feed("A", 2.0, 5.0, 10.0), feed("B", 2.0, 5.0, 10.0)];
    for f in &mut feeds {
        f.stub_out = Some(stub.clone());
    }
    let mut pr =
        problem(Mode::Chain, feeds, vec![terminal("L1", 35.0, 5.0, 10.0), terminal("L2", 35.0, 8.0, 10.0)]);
    pr.lengths.service_loop_m = 0.6;
    let mut g = plan(0.0, 0.0, 40.0, 10.0, 1.0);
    g.services.push(Service {
        id: "water".into(),
        line: vec![p(20.0, 0.0), p(20.0, 10.0)],
        clearance_m: 0.3,
        crossing_price: 5.0,
        hand_dig_factor: 3.0,
    });
    let said: Vec<String> = solve(g, &pr).findings.iter().map(ToString::to_string).collect();
    assert!(
        said.iter().any(|s| s.starts_with("stub-out T1 sticks out 0.40 m; its joint needs 0.60 m")),
        "{said:?}"
    );
    assert!(said.iter().any(|s| s == "stub-out T1 has 2 conductors; the lines A, B need 4"), "{said:?}");
    assert!(said.iter().any(|s| s.contains("crosses water once")), "{said:?}");
}

#[test]
fn everything_wrong_is_named_at_once() {
    let mut g = plan(0.0, 0.0, 40.0, 10.0, 1.0);
    g.no_go.push(no_go("roots", rect(10.0, 2.0, 14.0, 8.0)));
    let mut pr = problem(
        Mode::Tree,
        vec![feed("A", -3.0, 5.0, 10.0)],
        vec![
            terminal("L3", 12.0, 5.0, 10.0),
            terminal("L4", 20.0, 5.0, -1.0),
            terminal("L4", 22.0, 5.0, 1.0),
        ],
    );
    pr.terminals[0].line = Some("Z".into());
    let e = GroundMap::new(g).unwrap().lines(&pr, None).unwrap_err();
    let said = e.to_string();
    for part in [
        "L4: power (W) is -1; it must be 0 or more",
        "L4 is used twice",
        "loudspeaker L3 names Z, and there is no such line",
        "the start of line A at x -3.00 m, y 5.00 m lies outside the site, 3.00 m from its edge",
        "loudspeaker L3 at x 12.00 m, y 5.00 m stands in the no-go area roots",
    ] {
        assert!(said.contains(part), "{part} is not in:\n{said}");
    }
    assert_eq!(e.0.len(), 5);
}

#[test]
fn a_loudspeaker_behind_a_barrier_is_an_error_that_names_it() {
    let mut g = plan(0.0, 0.0, 40.0, 10.0, 1.0);
    g.no_go.push(no_go("stream", rect(20.0, -1.0, 21.0, 11.0)));
    let pr = problem(Mode::Chain, vec![feed("A", 2.0, 5.0, 10.0)], vec![terminal("L1", 35.0, 5.0, 10.0)]);
    let said = GroundMap::new(g).unwrap().lines(&pr, None).unwrap_err().to_string();
    assert!(
        said.contains("from the start of line A to loudspeaker L1: no-go area stream stands in the way"),
        "{said}"
    );
}

#[test]
fn the_same_problem_gives_the_same_answer() {
    let mut random = Draws::new(9);
    let terminals: Vec<Terminal> = (0..15)
        .map(|i| terminal(&format!("L{i}"), random.between(1.0, 39.0), random.between(1.0, 29.0), 10.0))
        .collect();
    let feeds = vec![feed("A", 20.0, 15.0, 90.0), feed("B", 20.0, 15.0, 90.0)];
    for mode in [Mode::Chain, Mode::Branching, Mode::Tree] {
        let pr = problem(mode, feeds.clone(), terminals.clone());
        let once = solve(plan(0.0, 0.0, 40.0, 30.0, 2.0), &pr);
        assert_eq!(once, solve(plan(0.0, 0.0, 40.0, 30.0, 2.0), &pr));
        assert_eq!(joins(&once).len(), 15 + once.lines.iter().map(|l| l.boxes.len()).sum::<usize>());
    }
}

#[test]
fn a_way_that_is_open_already_is_followed_and_not_dug_again() {
    let ground = GroundMap::new(plan(-1.0, 0.0, 40.0, 10.0, 2.0)).unwrap();
    let mut pr =
        problem(Mode::Chain, vec![feed("A", 1.0, 5.0, 100.0)], vec![terminal("L1", 25.0, 5.0, 10.0)]);
    let alone = ground.lines(&pr, None).unwrap();
    let way: Vec<_> = alone.lines[0].runs[0].path.waypoints.iter().map(|w| w.at).collect();
    pr.open.ground = way.windows(2).map(|w| [w[0], w[1]]).collect();
    let after = ground.lines(&pr, None).unwrap();
    assert!(alone.totals.laying_price > 1.0);
    let dug: f64 = after.totals.by_method_m.values().sum();
    assert!(dug < 1e-6 && after.totals.laying_price < 1e-6, "{dug} m dug again");
    assert!((after.totals.order_m - alone.totals.order_m).abs() < 1e-6);
}
