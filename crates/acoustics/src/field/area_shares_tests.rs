//! What is followed to a few points against everyone followed to every point.

use super::*;
use crate::areas::area_arrivals;
use crate::field::energy_matrix;
use crate::field::gardens::lawn;
use crate::scene::{Building, Source, Wall};
use crate::{Aim, Directivity, PistonRear, arrivals_of};
use loamline_geometry::Polygon;
use std::sync::Arc;

/// Gardens 50 m apart, each with ten loudspeakers along a terrace, a house behind it and a wall beside it; two programmes.
fn estate(gardens: usize) -> Scene {
    let mut s = lawn();
    s.programmes.push(s.programmes[0].clone());
    let cone = Arc::new(Directivity::piston(0.16, PistonRear::Enclosure).unwrap());
    for g in 0..gardens {
        let at = Point2::new(50.0 * (g % 4) as f64, 50.0 * (g / 4) as f64);
        let house = Polygon::rectangle(at + Point2::new(2.0, 10.0), at + Point2::new(20.0, 20.0)).unwrap();
        s.buildings.push(Building { outline: house, height_m: 5.0, absorption: [0.05; BAND_COUNT] });
        let line = vec![at + Point2::new(-5.0, -5.0), at + Point2::new(-5.0, 20.0)];
        s.walls.push(Wall { line, height_m: 2.0, foot_m: None, absorption: [0.05; BAND_COUNT] });
        for i in 0..10 {
            let place = at + Point2::new(1.0 + 2.2 * f64::from(i), 0.0);
            let mut source = Source::omni(place.at_height(0.4), 98.0);
            source.aim = Aim::new(0.0, 0.0, 0.0);
            source.directivity = cone.clone();
            source.programme = usize::from(g % 3 == 1);
            s.sources.push(source);
        }
    }
    Scene::new(s).unwrap()
}

/// Energy of some of the loudspeakers together, all bands.
fn whole(means: &[[f64; BAND_COUNT]], which: impl Fn(usize) -> bool) -> f64 {
    means.iter().enumerate().filter(|(s, _)| which(*s)).flat_map(|(_, m)| m).sum()
}

fn terrace(scene: &Scene) -> Points {
    let outline = Polygon::rectangle(Point2::new(0.0, 1.0), Point2::new(22.0, 9.0)).unwrap();
    Points::grid(scene, &outline, 1.2, 0.8).unwrap()
}

#[test]
fn far_loudspeakers_give_what_they_give_when_followed_to_every_point() {
    let scene = estate(20);
    let points = terrace(&scene);
    let all = energy_matrix(&scene, &points).unwrap();
    let shares = area_heard(&scene, &points, 0).unwrap().shares;
    assert!(shares.followed() < scene.source_count() / 2, "{} are followed", shares.followed());
    let exact: Vec<[f64; BAND_COUNT]> =
        (0..scene.source_count()).map(|s| mean(&all, s, all.points())).collect();
    let everyone = db_from_energy(whole(&exact, |_| true));
    assert!((db_from_energy(whole(&shares.means, |_| true)) - everyone).abs() < 0.05);
    // What other programmes give together, far as they are, is known to a fraction of a decibel.
    let other = |s: usize| scene.source(s).is_some_and(|x| x.programme == 1);
    let others = (whole(&exact, other), whole(&shares.means, other));
    assert!((db_from_energy(others.0) - db_from_energy(others.1)).abs() < 0.5, "{others:?}");
    // Those followed are the same to the last bit.
    for s in &shares.near {
        assert_eq!(shares.means[*s], exact[*s]);
    }
}

#[test]
fn echoes_are_those_of_all_loudspeakers() {
    let scene = estate(20);
    let points = terrace(&scene);
    let plays = |s: usize| scene.source(s).is_some_and(|x| x.programme == 0);
    let all = arrivals_of(&scene, &points, &energy_matrix(&scene, &points).unwrap());
    let all: Vec<Vec<Arrival>> = all
        .into_iter()
        .map(|list| list.into_iter().enumerate().filter(|(s, _)| plays(*s)).map(|(_, a)| a).collect())
        .collect();
    let (who, some) = area_heard(&scene, &points, 0).unwrap().shares.arrivals(&scene, &points, plays);
    assert!(some.iter().all(|list| list.len() == who.len()) && who.len() < all[0].len());
    let (all, some) = (area_arrivals(&all).unwrap(), area_arrivals(&some).unwrap());
    assert_eq!(
        (all.worst_point, all.largest_spread_s, all.median_spread_s, all.echo_share),
        (some.worst_point, some.largest_spread_s, some.median_spread_s, some.echo_share)
    );
}

/// Against the field of everyone, point by point.
#[test]
fn far_loudspeakers_are_heard_as_their_mean() {
    let scene = estate(44);
    let points = terrace(&scene);
    let (all, some) = (field(&scene, &points), area_heard(&scene, &points, 0).unwrap().field);
    let (all, some) = (all.levels_db(Weighting::A), some.levels_db(Weighting::A));
    let off: Vec<f64> = all.iter().zip(&some).map(|(a, b)| (a - b).abs()).collect();
    assert!(off.iter().all(|off| *off < 0.1), "{:?}", off.iter().copied().reduce(f64::max));
    assert!(off.iter().sum::<f64>() / (off.len() as f64) < 0.05);
    assert!(off.iter().any(|off| *off > 0.0), "nothing was far");
}

/// What is kept of each, added up at every point, against everyone followed there; all programmes, not weighted: bass carries
/// further than what the stated tenth of a decibel is of.
#[test]
fn what_each_gives_at_a_point_adds_up_to_what_all_give() {
    let scene = estate(20);
    let points = terrace(&scene);
    let all = energy_matrix(&scene, &points).unwrap();
    let shares = area_shares(&scene, &points, 0).unwrap();
    let far = (0..scene.source_count()).filter(|s| shares.band_energies(0, *s).is_none()).count();
    assert_eq!(far, scene.source_count() - shares.followed());
    assert!(far > 0, "nothing was far");
    for p in 0..all.points() {
        let exact: f64 = (0..scene.source_count())
            .flat_map(|s| &all.band_energies(p, s)[..BAND_COUNT])
            .map(|e| f64::from(*e))
            .sum();
        let kept = |s: usize| match shares.band_energies(p, s) {
            Some(row) => row.iter().map(|e| f64::from(*e)).sum::<f64>(),
            None => shares.mean(s).iter().sum(),
        };
        let together: f64 = (0..scene.source_count()).map(kept).sum();
        let off_db = db_from_energy(together) - db_from_energy(exact);
        assert!(off_db.abs() < 0.2, "point {p}: {off_db} dB");
    }
}

#[test]
fn a_garden_is_followed_whole() {
    let scene = estate(2);
    let points = terrace(&scene);
    assert_eq!(area_heard(&scene, &points, 0).unwrap().shares.followed(), 20);
}
