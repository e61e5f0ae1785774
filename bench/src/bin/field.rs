//! How fast the field is: guesthouse-garden beside the same model in NumPy, one of its loudspeakers moved, quayside-hotel on
//! 200000 points, and the cost from 10 to 5000 loudspeakers; and how near the inner loops come to the machine's
//! arithmetic.
//!
//! Run with `cargo run --release -p loamline-bench --bin field`. The partner is `bench/field_numpy.py`, run by the
//! interpreter named in the environment variable PYTHON (python3 if absent), which needs numpy and scipy; without
//! them the figures that need no partner are printed. Words after `--` choose parts: garden, move, harbour, curve, peak.
#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use loamline_acoustics::{
    Band, DirectivityTable, Field, IncrementalField, Mounting, Points, Scene, SourceShare, Weighting,
    energy_from_db, field, probe,
};
use loamline_bench::gardens::{example, lawn_with, places};
use loamline_bench::timing::shortest;
use loamline_geometry::Point3;
use pulp::{Arch, Simd, WithSimd};
use serde_json::{Value, json};
use std::error::Error;
use std::hint::black_box;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::Instant;

type Failure = Box<dyn Error>;
type Outcome = Result<(), Failure>;
/// Time in ms and band energies of the partner.
type Partner = (f64, Vec<f64>);

fn main() -> Outcome {
    let chosen: Vec<String> = std::env::args().skip(1).collect();
    let wanted = |part: &str| chosen.is_empty() || chosen.iter().any(|c| c == part);
    if wanted("garden") {
        garden()?;
    }
    if wanted("move") {
        moved()?;
    }
    if wanted("harbour") {
        waterfront()?;
    }
    if wanted("curve") {
        curve()?;
    }
    if wanted("peak") {
        peak()?;
    }
    Ok(())
}

fn garden_points() -> Vec<Point3> {
    places(0.0, 0.0, 38.0, 26.0, 172, 117)
}

fn garden() -> Outcome {
    let scene = example("guesthouse-garden")?;
    let points = Points::new(&scene, garden_points())?;
    let (ms, ours) = shortest(5, || field(&scene, &points));
    println!(
        "guesthouse-garden: {} loudspeakers, {} points, 31 bands, all paths   {ms:8.1} ms",
        scene.source_count(),
        points.len()
    );
    match numpy(&scene, &points)? {
        None => println!("  no NumPy to compare with: set PYTHON to an interpreter with numpy and scipy"),
        Some((plain_ms, energies)) => {
            compare(&points, &ours, &energies)?;
            println!(
                "  NumPy, float64, the same model            {plain_ms:8.0} ms   {:.0} times as long",
                plain_ms / ms
            );
        }
    }
    Ok(())
}

/// Time in ms and band energies of the partner; `None` where it cannot run.
fn numpy(scene: &Scene, points: &Points) -> Result<Option<Partner>, Failure> {
    let python = std::env::var("PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let able =
        Command::new(&python).args(["-c", "import numpy, scipy.special"]).stderr(Stdio::null()).status();
    if !able.is_ok_and(|s| s.success()) {
        return Ok(None);
    }
    let out = std::env::temp_dir().join(format!("loamline-field-{}.json", std::process::id()));
    let file = out.with_extension("in.json");
    std::fs::write(&file, serde_json::to_vec(&describe(scene, points))?)?;
    let partner = concat!(env!("CARGO_MANIFEST_DIR"), "/field_numpy.py");
    let done = Command::new(&python).arg(partner).arg(&file).arg(&out).status()?;
    assert!(done.success(), "the NumPy partner failed");
    let answer: Value = serde_json::from_slice(&std::fs::read(&out)?)?;
    std::fs::remove_file(&file)?;
    std::fs::remove_file(&out)?;
    let numbers = |v: &Value| v.as_array().map(|a| a.iter().filter_map(Value::as_f64).collect::<Vec<f64>>());
    Ok(Some((answer["ms"].as_f64().unwrap_or(f64::NAN), numbers(&answer["energy"]).unwrap_or_default())))
}

fn describe(scene: &Scene, points: &Points) -> Value {
    let input = scene.input();
    let c = scene.sound_speed_m_per_s();
    // Directivity tables are large and shared.
    let mut tables: Vec<&Arc<DirectivityTable>> = Vec::new();
    let hz: Vec<f64> = (0..=1000).map(|i| 17.0 * 10f64.powf(f64::from(i) * 0.0031)).collect();
    let mut sources = Vec::new();
    for (i, s) in input.sources.iter().enumerate() {
        let programme = input.programmes[s.programme].band_levels_re_full_scale_db();
        let energy: Vec<f64> = (0..31)
            .map(|b| energy_from_db(s.full_scale_db + s.response_db[b] + s.gain_db + programme[b]))
            .collect();
        let Some(table) = scene.directivity_table(i) else { continue };
        let known = tables.iter().position(|t| Arc::ptr_eq(t, table));
        let table = known.unwrap_or_else(|| {
            tables.push(table);
            tables.len() - 1
        });
        let axes = [Point3::new(1.0, 0.0, 0.0), Point3::new(0.0, 1.0, 0.0), Point3::new(0.0, 0.0, 1.0)];
        // exp(-i w t) there, exp(+j w t) in a filter's table.
        let filter: Vec<[f64; 2]> = hz
            .iter()
            .map(|f| s.filter.as_ref().map_or([1.0, 0.0], |t| [t.at(*f).re, -t.at(*f).im]))
            .map(|[re, im]| if s.reversed { [-re, -im] } else { [re, im] })
            .collect();
        sources.push(json!({ "at": s.position, "turn": axes.map(|a| s.aim.to_local(a)), "energy": energy,
            "delay": s.delay_s, "programme": s.programme, "table": table, "filter": filter,
            "in_ground": s.mounting == Mounting::InGround }));
    }
    let walls = input.walls.iter().map(|w| {
        json!({ "corners": w.line, "closed": false, "top": w.height_m,
        "reflectance": w.absorption.map(|a| (1.0 - a).sqrt()) })
    });
    let buildings = input.buildings.iter().map(|b| {
        json!({ "corners": b.outline.corners(), "closed": true,
        "top": b.height_m, "reflectance": b.absorption.map(|a| (1.0 - a).sqrt()) })
    });
    let ground: Vec<Value> = input
        .ground
        .iter()
        .map(|g| json!({ "outline": g.outline.corners(), "flow": g.ground.flow_resistivity() }))
        .collect();
    json!({
        "c": c,
        "alpha": input.air.band_absorption_db_per_m(),
        "coherent": Band::all().filter(|b| b.centre_hz() <= input.settings.coherent_to_hz).count(),
        "lines": input.settings.lines_per_band,
        "default_flow": input.default_ground.flow_resistivity(),
        "ground": ground,
        "obstacles": walls.chain(buildings).collect::<Vec<_>>(),
        "sources": sources,
        "filter_hz": hz,
        "tables": tables.iter().map(|t| t.rows()).collect::<Vec<_>>(),
        "points": points.places(),
    })
}

/// The partner goes simpler ways where several obstacles stand in one line, so a few points may differ.
fn compare(points: &Points, ours: &Field, energies: &[f64]) -> Outcome {
    assert_eq!(energies.len(), points.len() * 31);
    let mut off = Vec::new();
    for i in (0..points.len()).filter(|i| !points.is_indoors(*i)) {
        let theirs: [f64; 31] = std::array::from_fn(|b| 10.0 * energies[i * 31 + b].log10());
        off.push((ours.level_db(i, Weighting::A) - Weighting::A.level_db(&theirs)).abs());
    }
    off.sort_by(f64::total_cmp);
    let at = |share: f64| off[((off.len() - 1) as f64 * share) as usize];
    println!("  LAeq differs by {:.3} dB at half of the points, {:.3} dB at 95 %", at(0.5), at(0.95));
    assert!(at(0.95) < 0.25, "the two do not compute the same");
    Ok(())
}

/// Time the processor gave to this process on all cores together, ms (Linux): unlike the time on the clock, it does
/// not count others on the machine.
fn processor_ms() -> Option<f64> {
    let mut ns = 0.0;
    for task in std::fs::read_dir("/proc/self/task").ok()? {
        let text = std::fs::read_to_string(task.ok()?.path().join("schedstat")).ok()?;
        ns += text.split_whitespace().next()?.parse::<f64>().ok()?;
    }
    Some(ns / 1e6)
}

fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

fn moved() -> Outcome {
    let scene = example("guesthouse-garden")?;
    for (what, places) in
        [("a fine grid", garden_points()), ("a coarse grid", places(0.0, 0.0, 38.0, 26.0, 66, 45))]
    {
        let points = Points::new(&scene, places)?;
        let mut kept = IncrementalField::new(&scene, points);
        let mut step = |index: usize, to: f64| -> Result<(f64, f64), Failure> {
            let mut source = kept.scene().source(index).ok_or("no such loudspeaker")?.clone();
            source.position.x += 0.1 * to;
            source.position.y += 0.15 * to;
            let before = processor_ms().unwrap_or(f64::NAN);
            let start = Instant::now();
            kept.set_source(index, source)?;
            let ms = start.elapsed().as_secs_f64() * 1e3;
            Ok((ms, processor_ms().unwrap_or(f64::NAN) - before))
        };
        let (mut taken, mut moved, mut worked) = (Vec::new(), Vec::new(), Vec::new());
        for index in [4, 13, 21, 0, 9] {
            taken.push(step(index, 1.0)?.0);
            for i in 0..12 {
                let (ms, on_processor) = step(index, if i % 2 == 0 { 1.0 } else { -1.0 })?;
                moved.push(ms);
                worked.push(on_processor);
            }
        }
        let best = moved.iter().copied().fold(f64::INFINITY, f64::min);
        let anew = field(kept.scene(), kept.points());
        let worst = (0..anew.len())
            .map(|i| (kept.field().level_db(i, Weighting::A) - anew.level_db(i, Weighting::A)).abs())
            .fold(0.0, f64::max);
        assert!(worst < 0.01, "moved and computed anew differ by {worst} dB");
        println!(
            "one loudspeaker of guesthouse-garden moved, {what}, {} points: {:.1} ms in the middle, {best:.1} ms at best, {:.1} ms of \
             processor on all cores (asked of 20000 points: at most 8 ms); taking another in hand {:.1} ms",
            anew.len(),
            middle(moved),
            middle(worked),
            middle(taken)
        );
    }
    Ok(())
}

/// Highest resident memory so far, MB (Linux).
fn high_water_mb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse::<f64>().ok().map(|kb| kb / 1024.0)
}

fn waterfront() -> Outcome {
    let scene = example("quayside-hotel")?;
    let mut places = places(0.0, 0.0, 240.0, 70.0, 800, 250);
    places.iter_mut().for_each(|p| p.z += scene.ground_elevation_m(p.plan()));
    let points = Points::new(&scene, places)?;
    let before = processor_ms().unwrap_or(f64::NAN);
    let (ms, answer) = shortest(1, || field(&scene, &points));
    let worked = processor_ms().unwrap_or(f64::NAN) - before;
    assert_eq!(answer.len(), 200_000);
    println!(
        "quayside-hotel: {} loudspeakers, {} points {ms:8.0} ms; processor {worked:.0} ms; memory at most {} MB (asked: \
         under 200 MB)",
        scene.source_count(),
        points.len(),
        high_water_mb().map_or("?".to_owned(), |mb| format!("{mb:.0}"))
    );
    Ok(())
}

fn curve() -> Outcome {
    println!(
        "loudspeakers at 50 m2 each, 4 points each; those over 100 m away lumped, at most 0.1 dB off (LAeq). A point has \
         more of them within 100 m the larger the site, up to 628:"
    );
    for n in [10, 100, 1000, 5000] {
        let mut input = lawn_with(n)?;
        input.settings.cut_off_db = 0.1;
        let near = |p: &Point3| {
            input.sources.iter().filter(|s| s.position.plan().distance(p.plan()) <= 100.0).count() as f64
        };
        let side = 7.0 * (n as f64).sqrt();
        let steps = ((4 * n) as f64).sqrt().round() as usize;
        let places = places(-3.5, -3.5, side - 3.5, side - 3.5, steps, steps);
        let pairs: f64 = places.iter().map(near).sum();
        let scene = Scene::new(input)?;
        let points = Points::new(&scene, places)?;
        let before = processor_ms().unwrap_or(f64::NAN);
        let rounds = if n < 500 { 5 } else { 1 };
        let (ms, _) = shortest(rounds, || field(&scene, &points));
        let worked = (processor_ms().unwrap_or(f64::NAN) - before) / rounds as f64;
        println!(
            "  {n:5} loudspeakers, {:6} points {ms:10.1} ms; processor {worked:8.1} ms, {:.3} ms per loudspeaker, {:.2} \
             us per point and loudspeaker within 100 m",
            points.len(),
            worked / n as f64,
            1e3 * worked / pairs
        );
    }
    Ok(())
}

/// Chains of multiply-adds that depend on nothing but themselves.
struct Chains(usize);
impl WithSimd for Chains {
    type Output = f32;
    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> f32 {
        let (k, d) = (simd.splat_f32s(black_box(0.999_9)), simd.splat_f32s(black_box(1e-4)));
        let mut a: [S::f32s; 12] = std::array::from_fn(|i| simd.splat_f32s(black_box(i as f32)));
        for _ in 0..self.0 {
            for v in &mut a {
                *v = simd.mul_add_e_f32s(*v, k, d);
            }
        }
        a.iter().fold(0.0, |sum, v| sum + simd.reduce_sum_f32s(*v))
    }
}

/// Additions, multiplications and (as two) multiply-adds of the inner loops, counted from the source of the field;
/// divisions and roots count one. A path's row: air, directivity, spreading over 32 bands.
const PER_PATH: f64 = 32.0 * 17.0;
/// More for a path by the ground: the coefficient between four nodes, and its product.
const MORE_BY_GROUND: f64 = 32.0 * 16.0;
/// Two paths on one way: their cross term, and both as one.
const PER_TWO: f64 = 32.0 * 52.0;
/// A row on the lines: 7 for the lowest 8 bands and 16 for the next make 23 vectors of 8.
const PER_WAVE: f64 = 23.0 * 8.0 * 16.0 + 16.0 * 50.0;
/// A cross term between two ways: 18 bands in three vectors, at most.
const PER_CROSS: f64 = 24.0 * 62.0;
/// Drive and sum of one loudspeaker.
const PER_SOURCE: f64 = 184.0 * 8.0 + 32.0 * 3.0;

/// Operations of one loudspeaker at one point.
fn operations(share: &SourceShare, sound_speed_m_per_s: f64) -> f64 {
    let (mut flop, mut ways) = (PER_SOURCE, Vec::new());
    for path in &share.paths {
        flop += PER_PATH + if path.way.ground.is_some() { MORE_BY_GROUND } else { 0.0 };
        let on_way = share.paths.iter().filter(|p| p.way.reflectors == path.way.reflectors);
        let lengths: Vec<f64> = on_way.map(|p| p.length_m).collect();
        if ways.contains(&path.way.reflectors) {
            continue;
        }
        ways.push(path.way.reflectors);
        let apart_m = lengths.iter().fold(0.0f64, |a, l| a.max((l - lengths[0]).abs()));
        let together = apart_m * 398.1 / sound_speed_m_per_s <= 0.127;
        flop += if together { PER_WAVE } else { lengths.len() as f64 * PER_WAVE };
        flop += if lengths.len() > 1 { PER_TWO } else { 0.0 };
    }
    flop + PER_CROSS * (ways.len() * (ways.len() - 1) / 2) as f64
}

fn peak() -> Outcome {
    let lanes = 8.0;
    let rounds = 16_000_000;
    // Processor time on both sides of the comparison: others may be using the machine.
    let mut ms = f64::INFINITY;
    for _ in 0..5 {
        let before = processor_ms().ok_or("the processor's time is told on Linux only")?;
        black_box(Arch::new().dispatch(Chains(black_box(rounds))));
        ms = ms.min(processor_ms().unwrap_or(f64::NAN) - before);
    }
    let peak = rounds as f64 * 12.0 * lanes * 2.0 / ms / 1e6;
    let scene = example("guesthouse-garden")?;
    let points = Points::new(&scene, garden_points())?;
    let cores = std::thread::available_parallelism()?.get() as f64;
    let mut worked = f64::INFINITY;
    for _ in 0..5 {
        let before = processor_ms().ok_or("the processor's time is told on Linux only")?;
        black_box(field(&scene, &points));
        worked = worked.min(processor_ms().unwrap_or(f64::NAN) - before);
    }
    let (mut paths, mut flop) = (0.0, 0.0);
    let sample: Vec<Point3> = places(0.0, 0.0, 38.0, 26.0, 20, 15);
    for p in &sample {
        for s in &probe(&scene, *p)?.sources {
            paths += s.paths.len() as f64;
            flop += operations(s, scene.sound_speed_m_per_s());
        }
    }
    let sources = scene.source_count() as f64 * sample.len() as f64;
    let flop = flop * points.len() as f64 / sample.len() as f64;
    println!(
        "machine: {peak:.0} Gflop/s on one core (8 lanes of 32 bits), {:.0} on {cores:.0}",
        peak * cores
    );
    println!(
        "field: {:.1} paths per loudspeaker and point, {:.2} Gflop in {worked:.0} ms of processor, {:.1} Gflop/s on one \
         core: {:.0} % of the machine, path finding included",
        paths / sources,
        flop / 1e9,
        flop / worked / 1e6,
        100.0 * flop / worked / 1e6 / peak
    );
    Ok(())
}
