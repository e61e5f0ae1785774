//! What the engines get, held against the document as it is written (`whole/whole.toml`): every figure is worked out here
//! from the file's own numbers, by the formula or table named.
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

mod whole;

use loamline_acoustics::{Air, Mounting};
use loamline_adapt::{
    Reaching, directivity, filters_of, floor_of_receiver, ground_plan, laid_runs, line_input,
    neighbour_receivers, neighbour_surroundings, role, scene_parts, sound, surroundings,
};
use loamline_electrics::{Connection, Service};
use loamline_geometry::Point2;
use loamline_model::{JobFile, SourceFile, shipped_catalogue};
use loamline_processing::{ChannelRole, Pass};
use loamline_terms::{Fraction, Pascals};
use std::sync::Arc;
use whole::{TEXT, VOLTAGE_V, file};

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * b.abs().max(1.0)
}

/// Resistance of a wire gauge at 20 C, ohm per km (ASTM B258 sizes, IEC 60028 copper, as in wire tables).
const AWG14_OHM_PER_KM: f64 = 8.286;
const AWG12_OHM_PER_KM: f64 = 5.211;
/// Strands are longer than the cable they are laid in (ASTM B8: 2 per cent).
const LAY: f64 = 1.02;

#[test]
fn runs_and_lines() {
    let file = file();
    let job = file.job();
    let runs = laid_runs(job);
    let run = |id: &str| runs.iter().find(|r| r.id == id).unwrap();
    // K1 (-14, -2) by (-4, 1) to J1 (0, 0); the rack is 0.5 m up, the lawn 0.2 m above the ground round it.
    let a1 = run("A1");
    assert!(near(a1.length.path_m, 109f64.sqrt() + 17f64.sqrt()), "{}", a1.length.path_m);
    assert!(near(a1.length.vertical_m, 0.5 + 0.2), "{}", a1.length.vertical_m);
    // K2 is in a cellar, 2.4 m below the ground; the subwoofer's middle is 0.1 m above it (catalogue).
    let c1 = run("C1");
    assert!(near(c1.length.vertical_m, 2.4 + 0.1), "{}", c1.length.vertical_m);
    assert!(near(c1.electrical_m(), 80f64.sqrt() + 2.4 + 0.1 + 2.0 * 0.6), "{}", c1.electrical_m());
    // A stated length is what carries current.
    assert!(near(run("A3").electrical_m(), 12.0));
    assert_eq!(
        (run("A2").sleeves.as_slice(), run("A3").cable.as_str()),
        (["E1".to_owned()].as_slice(), "burial-4x12awg")
    );
    // A2 crosses the gas pipe at (4, 0.53) on open ground.
    assert_eq!(run("A2").crosses, ["V1"]);

    let input = |line: &str| line_input(job, &job.line(line).unwrap(), &runs).unwrap().unwrap();
    let a = input("A");
    assert_eq!(a.line.service, Service::ConstantVoltage { rated_v: 70.7 });
    assert!(near(a.limits.loss_db, 0.6) && near(a.limits.share, 0.75));
    let per_m = |id: &str| a.line.runs.iter().find(|r| r.name == id).unwrap().pair.loop_resistance_ohm_per_m;
    assert!((per_m("A1") / (2e-3 * LAY * AWG14_OHM_PER_KM) - 1.0).abs() < 0.01, "{}", per_m("A1"));
    assert!((per_m("A3") / (2e-3 * LAY * AWG12_OHM_PER_KM) - 1.0).abs() < 0.01, "{}", per_m("A3"));
    for load in &a.line.loads {
        let Connection::Tapped { tap_w, .. } = &load.connection else { unreachable!("a tapped line") };
        assert!(near(*tap_w, 10.0));
    }
    let tags: Vec<&str> = a.line.loads.iter().map(|l| l.name.as_str()).collect();
    // From the rack on.
    assert_eq!(tags, ["L2", "L1", "L3"]);
    let high_pass = a.channel.high_pass.unwrap();
    assert!(near(a.channel.rated_power_w, 280.0) && near(high_pass.corner_hz, 90.0) && high_pass.order == 2);
    assert_eq!(input("D").line.service, Service::ConstantVoltage { rated_v: 100.0 });

    // In series: the first of the two, and the run that leads on from behind it. What the output gives into both follows from
    // its ratings (catalogue: 250 W into 2 and 4 ohm, 200 W into 8 ohm, 75 V).
    let e = input("E");
    let in_series: Vec<(&str, bool)> = e.line.loads.iter().map(|l| (l.name.as_str(), l.in_series)).collect();
    assert_eq!(in_series, [("L7", true), ("L8", false)]);
    assert_eq!(e.line.runs.iter().map(|r| r.in_series).collect::<Vec<_>>(), [false, true]);
    let rated: Vec<(f64, f64)> = e.channel.ratings.iter().map(|r| (r.load_ohm, r.power_w)).collect();
    assert_eq!(rated, [(2.0, 250.0), (4.0, 250.0), (8.0, 200.0)]);
    assert!(near(e.channel.max_voltage_v, 75.0), "{}", e.channel.max_voltage_v);

    // A line that starts at the stub comes through its cable: 31 m, one pair of 14 AWG, fed at the rack.
    let b = input("B");
    assert_eq!((b.line.source_joint.as_str(), b.line.runs[0].to.as_str()), ("K1", "U1"));
    assert!(near(b.line.runs[0].length_m, 31.0));
    assert!(
        (b.line.runs[0].pair.loop_resistance_ohm_per_m / (2e-3 * LAY * AWG14_OHM_PER_KM) - 1.0).abs() < 0.01
    );
}

#[test]
fn the_field_and_the_neighbours() {
    let file = file();
    let job = file.job();
    let (input, programmes) = surroundings(job).unwrap();
    assert_eq!(programmes, ["M", "T"]);
    assert_eq!(input.air, Air::new(18.0, Fraction(0.55), Pascals(99_000.0)).unwrap());
    assert!(near(input.settings.coherent_to_hz, 250.0));
    assert_eq!(input.ground.len(), 2);
    assert!(near(input.ground[0].elevation_m, 0.2));
    let heights: Vec<f64> =
        input.walls.iter().map(|w| w.height_m).chain(input.buildings.iter().map(|b| b.height_m)).collect();
    assert_eq!(heights, [2.0, 1.8, 7.0, 2.6, 3.0]);
    // 17 is the place of 1 kHz among the third octaves from 20 Hz on (IEC 61260-1); one value stands for all bands.
    assert!(near(input.walls[0].absorption[17], 0.10) && near(input.buildings[0].absorption[17], 0.10));
    assert!(input.walls[1].absorption.iter().chain(&input.buildings[1].absorption).all(|a| near(*a, 0.12)));

    let bands = [VOLTAGE_V; 31];
    let reaching = |_: &str| Some(Reaching { terminals_v: &bands, most_gain_db: None });
    let parts = scene_parts(job, &reaching, &|_, model| directivity(model).map(Arc::new)).unwrap();
    let sound = sound(None, &parts).unwrap();
    assert!(sound.silent.is_empty() && sound.sources.len() == 9);
    let l1 = sound.scene.source(0).unwrap();
    // 1 m above the lawn, which is 0.2 m up.
    assert!(near(l1.position.x, 2.0) && near(l1.position.y, 3.0) && near(l1.position.z, 1.2));
    assert!(near(l1.gain_db, -3.0) && near(l1.delay_s, 0.002) && !l1.reversed && l1.programme == 0);
    assert_eq!(l1.mounting, Mounting::Free);
    // Sensitivity at 1 W and 1 m (IEC 60268-5), the watts of the voltage at the terminals into the nominal impedance.
    let model = job.loudspeaker("L1").unwrap().model;
    let level_db = model.sensitivity_db + 10.0 * (VOLTAGE_V.powi(2) / model.nominal_ohm).log10();
    assert!((l1.full_scale_db - level_db).abs() <= 0.0005 + 1e-9, "{} against {level_db}", l1.full_scale_db);
    // The subwoofer's sensitivity is stated in half space: 6 dB of it are the ground's.
    let s1 = sound.sources.iter().position(|s| s == "S1").unwrap();
    assert_eq!(sound.scene.source(s1).unwrap().mounting, Mounting::InGround);

    let n1 = &job.document().neighbours["N1"];
    let places = neighbour_receivers(job, n1, 2.0);
    // The point, and a line of 20 m every 2 m with both ends.
    assert_eq!(places.len(), 1 + 11);
    assert!(places.iter().all(|p| near(p.z, 4.0)));
    // One point, two floors one above the other, each known by its own.
    let n2 = &job.document().neighbours["N2"];
    let floors = neighbour_receivers(job, n2, 2.0);
    assert!(floors.iter().all(|p| near(p.x, 40.0) && near(p.y, -14.0)));
    let heights: Vec<(Option<&str>, f64)> =
        (0..floors.len()).map(|i| (floor_of_receiver(n2, i), floors[i].z)).collect();
    assert_eq!(heights, [(Some("1"), 4.5), (Some("2"), 7.5)]);
    assert_eq!(floor_of_receiver(n1, 3), None);
    let scene = neighbour_surroundings(job, Vec::new(), &places).unwrap();
    assert_eq!(scene.atmosphere, input.air);
    let tops: Vec<f64> =
        scene.screens.iter().map(|s| s.top_m).chain(scene.buildings.iter().map(|b| b.height_m)).collect();
    assert_eq!(tops, [2.0, 1.8, 7.0, 2.6, 3.0]);
    assert_eq!((scene.receivers.len(), scene.ground.regions.len()), (12, 2));
}

#[test]
fn filters_and_routes() {
    let file = file();
    let job = file.job();
    let c1 = job.channel("C1").unwrap();
    let chain = filters_of(c1.channel).unwrap();
    let passes: Vec<(Pass, f64)> = chain.passes.iter().map(|p| (p.response(), p.corner_hz())).collect();
    assert_eq!(passes, [(Pass::HighPass, 90.0), (Pass::LowPass, 12_000.0)]);
    let bell = &chain.equaliser[0];
    assert!(near(bell.frequency_hz(), 630.0) && near(bell.gain_db(), -3.0) && near(bell.q(), 1.2));
    assert_eq!(role(job, &c1), ChannelRole::FullRange);

    let plan = ground_plan(job).unwrap();
    assert_eq!(plan.boundary.corners(), job.document().site.outline.as_ref().unwrap().corners());
    assert_eq!(plan.boundary.corners()[0], Point2::new(-20.0, -20.0));
    assert!(near(plan.surfaces[0].lay.price_per_m, 4.5));
    assert!(near(plan.services[0].clearance_m, 0.6) && near(plan.services[0].crossing_price, 40.0));
    assert!(near(plan.sleeves[0].inside_diameter_mm, 40.0) && plan.sleeves[0].occupants_mm == [12.0]);
    assert_eq!(plan.no_go.len(), 1);
    let clipped: Vec<bool> = plan
        .walls
        .iter()
        .map(|w| w.clip.is_some())
        .chain(plan.buildings.iter().map(|b| b.clip.is_some()))
        .collect();
    assert_eq!(clipped, [true, false, true, true, false]);
    // Only the building with a rack in it has a wall that cable has to go through.
    let holes: Vec<bool> =
        plan.buildings.iter().map(|b| b.outer_wall.is_some_and(|w| w.hole_price.is_some())).collect();
    assert_eq!(holes, [false, false, true]);
    assert_eq!(plan.passages.iter().map(|p| p.id.as_str()).collect::<Vec<_>>(), ["P1"]);
}

/// What a maker states of a transformer's windings holds at the tap of least impedance, V^2/P: 40 W at 70.7 V, 125.0 ohm.
#[test]
fn stated_windings_reach_the_line() {
    let mut catalogue = shipped_catalogue().unwrap().as_ref().clone();
    let model = file().job().loudspeaker("L1").unwrap().placed.model.clone();
    let stated = catalogue.loudspeakers.get_mut(&model).unwrap().transformer.as_mut().unwrap();
    stated.taps_25v_w.clear();
    stated.taps_70v_w = vec![5.0, 10.0, 20.0, 40.0];
    stated.taps_100v_w = vec![10.0, 20.0, 40.0];
    (stated.primary_ohm, stated.core_loss, stated.leakage_h) = (Some(9.0), Some(0.02), Some(3e-3));
    let file = JobFile::from_text(&SourceFile::new("job.toml", TEXT), Arc::new(catalogue)).unwrap();
    let job = file.job();
    let input = line_input(job, &job.line("A").unwrap(), &laid_runs(job)).unwrap().unwrap();
    let load = input.line.loads.iter().find(|l| l.name == "L1").unwrap();
    let windings = load.tapped().unwrap().windings;
    assert!(near(windings.stated_at_ohm.unwrap(), 70.7 * 70.7 / 40.0));
    assert_eq!(
        (windings.primary_resistance_ohm, windings.core_share, windings.leakage_inductance_h),
        (Some(9.0), Some(0.02), Some(3e-3))
    );
    // At 10 W there are twice the turns: twice the ohms, four times the leakage.
    let circuit = load.circuit().unwrap();
    assert!(near(circuit.primary_resistance_ohm, 18.0) && near(circuit.leakage_inductance_h, 12e-3));
}

/// Full drive 6 dB below full scale: the level at full scale is as much above that at full drive, and no gain goes beyond it.
#[test]
fn gain_counts_from_full_scale_and_ends_at_full_drive() {
    let file = file();
    let job = file.job();
    let bands = [VOLTAGE_V; 31];
    let first = |most_gain_db| {
        let reaching = |_: &str| Some(Reaching { terminals_v: &bands, most_gain_db });
        let parts = scene_parts(job, &reaching, &|_, model| directivity(model).map(Arc::new)).unwrap();
        let sound = sound(None, &parts).unwrap();
        let source = sound.scene.source(0).unwrap();
        (source.full_scale_db, source.gain_db)
    };
    let (at_drive_db, set_db) = first(None);
    assert!(near(set_db, -3.0));
    assert!(near(first(Some(-2.0)).0, at_drive_db + 2.0) && near(first(Some(-2.0)).1, -3.0));
    assert!(near(first(Some(-6.0)).0, at_drive_db + 6.0) && near(first(Some(-6.0)).1, -6.0));
}
