use super::*;
use crate::bands::Band;
use proptest::prelude::*;

const C: f64 = 343.2;

fn at(cos: f64, turn_deg: f64) -> Point3 {
    let (s, c) = turn_deg.to_radians().sin_cos();
    let sin = (1.0 - cos * cos).max(0.0).sqrt();
    Point3::new(cos, sin * c, sin * s)
}

fn stated(f: f64, h: f64, v: f64) -> CoveragePoint {
    CoveragePoint { frequency_hz: f, horizontal_deg: h, vertical_deg: v }
}

fn beam() -> Directivity {
    Directivity::coverage(vec![stated(500.0, 160.0, 120.0), stated(4000.0, 90.0, 40.0)], 24.0).unwrap()
}

/// A 10-degree grid sampled from an enclosed piston, with a delay that differs by direction.
fn measured() -> Directivity {
    let source = Directivity::piston(0.2, PistonRear::Enclosure).unwrap();
    let mut directions = vec![[0.0, -90.0], [0.0, 90.0]];
    for e in -8..=8 {
        directions.extend((0..36).map(|a| [10.0 * f64::from(a), 10.0 * f64::from(e)]));
    }
    let frequencies = [125.0, 250.0, 500.0, 1000.0];
    let (mut re, mut im) = (Vec::new(), Vec::new());
    for [az, el] in &directions {
        let d = Point3::new(
            az.to_radians().cos() * el.to_radians().cos(),
            az.to_radians().sin() * el.to_radians().cos(),
            el.to_radians().sin(),
        );
        for f in frequencies {
            let a = 3.0 * source.amplitude(f, C, d);
            let phase = -TAU * f * (0.01 + 0.1 * (1.0 - d.x) / C);
            re.push(a * phase.cos());
            im.push(a * phase.sin());
        }
    }
    Directivity::measured(MeasuredResponse {
        directions_deg: &directions,
        frequencies_hz: &frequencies,
        real: &re,
        imaginary: &im,
    })
    .unwrap()
}

/// Piston in closed form (Beranek), omni 0 dB, half space 3.01 dB.
#[test]
fn the_index_by_integration_meets_the_closed_forms() {
    assert!(Directivity::Omni.index_db(1000.0, C).abs() < 1e-9);
    assert!((Directivity::HalfSpace.index_db(1000.0, C) - 3.0103).abs() < 1e-4);
    for diameter in [0.05, 0.165, 0.3] {
        let piston = Directivity::piston(diameter, PistonRear::Baffle).unwrap();
        for b in Band::all() {
            let ka = TAU * b.centre_hz() / C * 0.5 * diameter;
            let (ours, closed) = (piston.index_db(b.centre_hz(), C), piston_directivity_index_db(ka));
            assert!((ours - closed).abs() < 1e-3, "ka {ka}: {ours} for {closed}");
        }
    }
}

/// An enclosed piston is all-round at low frequency and like one in a baffle at high frequency.
#[test]
fn an_enclosure_lets_low_sound_round() {
    let piston = Directivity::piston(0.2, PistonRear::Enclosure).unwrap();
    assert!(piston.index_db(50.0, C) < 0.05);
    let ka = TAU * 10_000.0 / C * 0.1;
    assert!((piston.index_db(10_000.0, C) - piston_directivity_index_db(ka)).abs() < 0.3);
    // Continuous at the side.
    let side = |x: f64| piston.level_db(2000.0, C, at(x, 0.0));
    assert!((side(1e-6) - side(-1e-6)).abs() < 1e-3);
}

#[test]
fn coverage_angles_are_six_decibels_down_at_half_the_angle() {
    let d = beam();
    for (f, h, v) in [(500.0, 80.0f64, 60.0f64), (4000.0, 45.0, 20.0), (12_000.0, 45.0, 20.0)] {
        for (angle, turn) in [(h, 0.0), (h, 180.0), (v, 90.0), (v, -90.0)] {
            let level = d.level_db(f, C, at(angle.to_radians().cos(), turn));
            assert!((level + 6.0206).abs() < 1e-6, "{f} Hz {angle} {turn}: {level}");
        }
    }
    let rear = d.level_db(8000.0, C, Point3::new(-1.0, 0.0, 0.0));
    assert!((-24.0..-23.0).contains(&rear), "{rear}");
    assert!(d.level_db(31.5, C, Point3::new(-1.0, 0.0, 0.0)) > -0.5, "low sound goes all round");
}

#[test]
fn a_ring_is_alike_all_round_and_narrows_upwards() {
    let d = Directivity::ring(vec![stated(1000.0, 17.0, 60.0)], 20.0).unwrap();
    for turn in 0..24 {
        let a = f64::from(turn) * 15f64.to_radians();
        assert!(d.level_db(1000.0, C, Point3::new(a.cos(), a.sin(), 0.0)).abs() < 1e-9);
    }
    let up = 30f64.to_radians();
    let level = d.level_db(1000.0, C, Point3::new(0.0, -up.cos(), up.sin()));
    assert!((level + 6.0206).abs() < 1e-6);
}

#[test]
fn measured_data_come_back_at_and_between_its_points() {
    let d = measured();
    let source = Directivity::piston(0.2, PistonRear::Enclosure).unwrap();
    assert_eq!(d.amplitude(500.0, C, Point3::new(2.0, 0.0, 0.0)), 1.0);
    let exact = at(60f64.to_radians().cos(), 0.0);
    assert!((d.amplitude(500.0, C, exact) - source.amplitude(500.0, C, exact)).abs() < 1e-9);
    let wanted_phase = -TAU * 500.0 * 0.1 * 0.5 / C;
    assert!((d.phase_rad(500.0, exact) - wanted_phase).abs() < 1e-9);
    for i in 0..200 {
        let x = f64::from(i) / 100.0 - 1.0;
        let v = at(x, 37.0 * f64::from(i));
        let (ours, wanted) = (d.amplitude(1000.0, C, v), source.amplitude(1000.0, C, v));
        assert!((ours - wanted).abs() < 0.01, "{v:?}: {ours} for {wanted}");
    }
    // Between 500 and 1000 Hz the level lies between.
    let (low, mid, high) =
        (d.level_db(500.0, C, exact), d.level_db(700.0, C, exact), d.level_db(1000.0, C, exact));
    assert!(high < mid && mid < low);
}

#[test]
fn a_grid_without_imaginary_part_and_one_with_bad_data() {
    let directions: Vec<[f64; 2]> =
        (-1..=1).flat_map(|e| (0..=8).map(move |a| [45.0 * f64::from(a), 45.0 * f64::from(e)])).collect();
    let real = vec![2.0; 27];
    let data = MeasuredResponse {
        directions_deg: &directions,
        frequencies_hz: &[1000.0],
        real: &real,
        imaginary: &[],
    };
    let flat = Directivity::measured(data).unwrap();
    assert!((flat.amplitude(31.5, C, Point3::new(-0.3, 0.2, 0.9)) - 1.0).abs() < 1e-12);
    assert!(matches!(
        Directivity::measured(MeasuredResponse { real: &real[1..], ..data }),
        Err(DirectivityError::GridShape { real: 26, .. })
    ));
    let scatter = [[0.0, 0.0], [100.0, 10.0], [200.0, -20.0]];
    let holes = MeasuredResponse { directions_deg: &scatter, real: &real[..3], ..data };
    assert!(matches!(Directivity::measured(holes), Err(DirectivityError::GridHole { .. })));
    let silent = vec![0.0; 27];
    assert!(matches!(
        Directivity::measured(MeasuredResponse { real: &silent, ..data }),
        Err(DirectivityError::GridSilentAhead { .. })
    ));
}

#[test]
fn bad_data_say_what_is_wanted() {
    let said = |r: Result<Directivity, DirectivityError>| r.unwrap_err().to_string();
    assert!(said(Directivity::piston(f64::NAN, PistonRear::Baffle)).contains("0.005 to 2 m"));
    assert!(said(Directivity::coverage(vec![], 24.0)).contains("at least one"));
    assert!(
        said(Directivity::coverage(vec![stated(500.0, 90.0, 400.0)], 24.0)).contains("400 degrees at 500 Hz")
    );
    let backwards = vec![stated(500.0, 90.0, 90.0), stated(250.0, 90.0, 90.0)];
    assert!(said(Directivity::coverage(backwards, 24.0)).contains("entry 2, 250 Hz"));
}

#[test]
fn back_to_back_is_alike_in_front_and_behind() {
    let d = beam().back_to_back();
    for f in [100.0, 1000.0, 10_000.0] {
        assert!((d.amplitude(f, C, Point3::new(1.0, 0.0, 0.0)) - 1.0).abs() < 1e-12);
        assert!((d.amplitude(f, C, Point3::new(-1.0, 0.0, 0.0)) - 1.0).abs() < 1e-12);
        let (a, b) = (at(0.5, 10.0), Point3::new(-0.5, -at(0.5, 10.0).y, at(0.5, 10.0).z));
        assert!((d.amplitude(f, C, a) - d.amplitude(f, C, b)).abs() < 1e-12);
    }
}

/// The table against the plain formula: within 0.006 of the on-axis amplitude everywhere.
#[test]
fn the_table_follows_the_formula() {
    let kinds = [
        Directivity::Omni,
        Directivity::piston(0.3, PistonRear::Enclosure).unwrap(),
        beam(),
        Directivity::ring(vec![stated(1000.0, 360.0, 60.0), stated(8000.0, 360.0, 40.0)], 20.0).unwrap(),
        beam().back_to_back(),
    ];
    for d in kinds {
        let table = DirectivityTable::new(&d, C);
        assert_eq!(table.is_omni(), d == Directivity::Omni);
        let mut worst = 0.0f64;
        for i in 0..1500 {
            // Even over the sphere, by the golden angle.
            let v = at(1.0 - (f64::from(i) + 0.5) / 750.0, 137.507_764 * f64::from(i)) * 7.5;
            let row = table.amplitudes(v.x as f32, v.y as f32, v.z as f32);
            assert_eq!(row[31], 0.0);
            for b in Band::all().step_by(3) {
                worst = worst.max((f64::from(row[b.index()]) - d.band_energy(b, C, v).sqrt()).abs());
            }
        }
        assert!(worst < 0.006, "{d:?}: {worst}");
        assert!((table.amplitude(Band::all().next().unwrap(), Point3::default()) - 1.0).abs() < 1e-6);
        assert!(table.amplitudes(f32::NAN, 0.0, 1.0).iter().all(|a| a.is_finite()));
    }
}

proptest! {
    /// Energy is conserved: the mean over many directions spread evenly, times the index, is the on-axis energy.
    #[test]
    fn the_index_balances_the_sphere(h in 40.0f64..360.0, v in 40.0f64..360.0, floor in 10.0f64..40.0, f in 63.0f64..16_000.0) {
        let d = Directivity::coverage(vec![stated(1000.0, h, v)], floor).unwrap();
        let n = 20_000;
        let mean = (0..n).map(|i| {
            let z = at(1.0 - (f64::from(i) + 0.5) * 2.0 / f64::from(n), 137.507_764 * f64::from(i));
            d.amplitude(f, C, z).powi(2)
        }).sum::<f64>() / f64::from(n);
        prop_assert!((d.index_db(f, C) + 10.0 * mean.log10()).abs() < 0.03);
    }

    #[test]
    fn an_amplitude_is_a_number_between_nothing_and_the_axis(
        x in -1.0f64..1.0, y in -1.0f64..1.0, z in -1.0f64..1.0, f in 20.0f64..20_000.0, d in 0.01f64..1.0,
    ) {
        for kind in [
            Directivity::piston(d, PistonRear::Enclosure).unwrap(),
            beam(),
            Directivity::ring(vec![stated(800.0, 360.0, 50.0)], 15.0).unwrap(),
        ] {
            let a = kind.amplitude(f, C, Point3::new(x, y, z));
            prop_assert!(a.is_finite() && (0.0..=1.0 + 1e-12).contains(&a));
        }
    }
}
