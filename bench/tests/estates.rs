//! What is heard on an estate, and what it costs: counted, not timed.

use loamline_acoustics::{
    AreaHeard, LimitQuantity, Points, ReceiverLevel, Scene, Weighting, area_heard, boundary_levels, field,
};
use loamline_adapt::{NEIGHBOUR_SPACING_M, neighbour_receivers, neighbour_scene};
use loamline_bench::estates::estate;
use loamline_model::{SourceFile, read_job};
use loamline_routing::Work;
use loamline_study::{Crowd, Sampling, Study, neighbours, route_each_alone};

/// Places of the first areas of an estate with what is heard there.
fn heard(loudspeakers: usize, areas: usize, mut each: impl FnMut(&Scene, &Points, AreaHeard)) {
    let Ok(job) = read_job(&SourceFile::new("job.toml", estate(loudspeakers, 1)), &[]) else {
        unreachable!("an estate is a job that can be read")
    };
    let study = Study::new(job);
    let scene = study.sound();
    let Ok(sound) = &*scene else { unreachable!("an estate can be heard") };
    let document = study.job().document();
    let crowd = Crowd { loudspeakers: sound.sources.len(), areas: document.areas.len() };
    for area in document.areas.values().take(areas) {
        let spacing_m = Sampling::of(area, crowd).spacing_m;
        let Ok(points) = Points::grid(&sound.scene, &area.outline, area.ear_m(), spacing_m) else {
            unreachable!("an area of an estate has places")
        };
        let wanted = study.job().programme_of_area(area);
        let programme = wanted.and_then(|id| sound.programmes.iter().position(|p| p == id)).unwrap_or(0);
        let Ok(heard) = area_heard(&sound.scene, &points, programme) else {
            unreachable!("an area of an estate is no great calculation")
        };
        each(&sound.scene, &points, heard);
    }
}

#[test]
fn an_area_is_followed_by_what_is_around_it_and_not_by_the_whole_site() {
    let followed = |loudspeakers| {
        let mut most = 0;
        heard(loudspeakers, 4, |_, _, heard| most = most.max(heard.shares.followed()));
        most
    };
    let (fewer, more) = (followed(160), followed(320));
    // Twice the site, no more around each area than a few of its neighbours.
    assert!(fewer < 80 && more < 80 && more <= fewer + 20, "{fewer} of 160, {more} of 320");
}

#[test]
fn an_estate_is_heard_as_if_everyone_were_followed() {
    let mut areas = 0;
    heard(320, 2, |scene, points, heard| {
        areas += 1;
        let (all, some) = (field(scene, points), heard.field);
        let (all, some) = (all.levels_db(Weighting::A), some.levels_db(Weighting::A));
        for (p, (a, b)) in all.iter().zip(&some).enumerate() {
            assert!((a - b).abs() < 0.1, "area {areas}, point {p}: {a} dBA with everyone, {b} dBA");
        }
    });
    assert_eq!(areas, 2);
}

/// What is settled and priced to route an estate, for each of its loudspeakers.
fn routing_work(loudspeakers: usize) -> (f64, f64) {
    let Ok(job) = read_job(&SourceFile::new("job.toml", estate(loudspeakers, 1)), &[]) else {
        unreachable!("an estate is a job that can be read")
    };
    let Ok(routed) = route_each_alone(&job) else { unreachable!("cable reaches all of an estate") };
    let runs: usize = routed.groups.iter().flat_map(|g| &g.lines).map(|l| l.runs.len()).sum();
    assert_eq!(runs, loudspeakers, "a run to each loudspeaker");
    let mut work = Work::default();
    routed.groups.iter().for_each(|g| work.add(&g.work));
    (work.settled as f64 / loudspeakers as f64, work.pairs as f64 / loudspeakers as f64)
}

#[test]
fn each_loudspeaker_more_takes_as_much_work_to_route_as_the_one_before() {
    let [whole, fewer, more] = [100, 200, 300].map(routing_work);
    assert!(fewer.0 > 0.0 && fewer.1 > 0.0, "{fewer:?}");
    // Rack by rack from 150 places on: the same for each, give or take how racks fall into rows of plots.
    assert!(more.0 < 1.3 * fewer.0 && more.1 < 1.3 * fewer.1, "{fewer:?} of 200, {more:?} of 300");
    // A hundred are searched together, each from and to all others.
    assert!(more.0 < whole.0 && more.1 < whole.1, "{whole:?} of 100, {more:?} of 300");
}

/// Every place of a boundary worked out, against those that are looked at.
#[test]
fn the_loudest_place_of_a_boundary_is_found() {
    for seed in [1, 2] {
        let job = read_job(&SourceFile::new("job.toml", estate(160, seed)), &[]).unwrap();
        let study = Study::new(job);
        let scene = study.sound();
        let sound = (*scene).as_ref().unwrap();
        let (levels, _) = neighbours(study.job(), sound);
        assert_eq!(levels.len(), 4);
        for side in ["south", "east"] {
            let n = &study.job().document().neighbours[side];
            let all = neighbour_receivers(study.job(), n, NEIGHBOUR_SPACING_M);
            let everywhere = boundary_levels(&neighbour_scene(study.job(), sound, &all).unwrap()).unwrap();
            let told = &levels[side];
            assert!(told.receivers.len() < everywhere.len(), "{} places", told.receivers.len());
            for j in &told.day {
                let value = |r: &ReceiverLevel| match j.judgement.quantity {
                    LimitQuantity::TotalDba => r.levels.total_dba,
                    LimitQuantity::Octave63Hz => r.levels.bands_db[0],
                };
                let highest = everywhere.iter().map(value).fold(f64::NEG_INFINITY, f64::max);
                let found = j.judgement.level_db;
                assert!(
                    (highest - found).abs() < 0.05,
                    "{side} of {seed}: {found} dB, {highest} dB everywhere"
                );
            }
        }
    }
}
