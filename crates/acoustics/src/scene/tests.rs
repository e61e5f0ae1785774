use super::*;
use crate::{Air, Ground};
use loamline_geometry::{Point2, Polygon};
use loamline_terms::FlowClass;

fn lawn() -> SceneInput {
    let mut s = SceneInput::open(Air::default(), Ground::of_class(FlowClass::E));
    s.programmes.push(Programme::pink(12.0).unwrap());
    s
}

fn house() -> Building {
    let outline = Polygon::rectangle(Point2::new(10.0, 0.0), Point2::new(20.0, 8.0)).unwrap();
    Building { outline, height_m: 5.0, absorption: [0.05; 31] }
}

#[test]
fn everything_wrong_is_told_at_once() {
    let mut s = lawn();
    s.walls.push(Wall {
        line: vec![Point2::new(1.0, 1.0); 2],
        height_m: f64::NAN,
        foot_m: None,
        absorption: [2.0; 31],
    });
    s.walls.push(Wall { line: vec![], height_m: 2.0, foot_m: None, absorption: [0.0; 31] });
    let mut source = Source::omni(Point3::new(f64::NAN, 0.0, 1.0), 100.0);
    source.programme = 7;
    s.sources.push(source);
    s.settings.lines_per_band = 0;
    let text = Scene::new(s).unwrap_err().to_string();
    for part in [
        "scene: the number of lines per third octave is 0 ; give 1 to 64",
        "wall 1: the height is NaN m; give 0.05 to 500 m",
        "wall 1: piece 1 has no length",
        "wall 1: the share of energy absorbed is 2",
        "wall 2: a wall needs at least 2 points; this one has 0",
        "loudspeaker 1: the x is NaN m",
        "loudspeaker 1: it plays programme 8, but there are 1",
    ] {
        assert!(text.contains(part), "{part}\nmissing from\n{text}");
    }
}

#[test]
fn a_loudspeaker_inside_a_building_is_told_how_to_get_out() {
    let mut s = lawn();
    s.buildings.push(house());
    s.sources.push(Source::omni(Point3::new(11.0, 4.0, 1.0), 100.0));
    let text = Scene::new(s.clone()).unwrap_err().to_string();
    assert!(text.contains("inside building 1") && text.contains("move it 1.00 m"), "{text}");
    // On the roof is outside; on the face is put just in front of it.
    s.sources[0].position.z = 6.0;
    assert!(Scene::new(s.clone()).is_ok());
    s.sources[0].position = Point3::new(10.0, 4.0, 2.0);
    let scene = Scene::new(s).unwrap();
    assert!((scene.placed[0].at.x - 9.99).abs() < 1e-9);
}

#[test]
fn a_flush_loudspeaker_needs_a_face() {
    let mut s = lawn();
    s.buildings.push(house());
    let mut source = Source::omni(Point3::new(3.0, 4.0, 2.0), 100.0);
    source.mounting = Mounting::InFace;
    s.sources.push(source);
    assert!(Scene::new(s.clone()).unwrap_err().to_string().contains("no wall or building face lies within"));
    s.sources[0].position.x = 9.8;
    let scene = Scene::new(s).unwrap();
    assert!((scene.placed[0].at.x - 9.99).abs() < 1e-9);
    assert_eq!(scene.placed[0].images.iter().filter(|i| i.flush).count(), 1);
}

#[test]
fn drive_adds_up_to_the_programme_level() {
    let mut s = lawn();
    let mut source = Source::omni(Point3::new(0.0, 0.0, 1.0), 100.0);
    source.delay_s = 0.013;
    source.gain_db = -4.0;
    s.sources.push(source);
    let scene = Scene::new(s).unwrap();
    let total: f64 = scene.placed[0].energy.iter().map(|e| f64::from(*e)).sum();
    assert!((10.0 * total.log10() - (100.0 - 4.0 - 12.0 + crate::SINE_CREST_DB)).abs() < 1e-4);
}

#[test]
fn a_bad_move_leaves_the_scene_as_it_was() {
    let mut s = lawn();
    s.buildings.push(house());
    s.sources.push(Source::omni(Point3::new(1.0, 4.0, 1.0), 100.0));
    let mut scene = Scene::new(s).unwrap();
    let inside = Source::omni(Point3::new(15.0, 4.0, 1.0), 100.0);
    assert!(scene.set_source(0, inside.clone()).is_err());
    assert!(scene.set_source(1, inside).unwrap_err().to_string().contains("there is no loudspeaker 2"));
    assert_eq!(scene.source(0).unwrap().position.x, 1.0);
}

/// Ground 2 m higher from x = 10 on, its edge a retaining wall of 2 m: it ends where the high ground begins.
#[test]
fn a_retaining_wall_is_no_higher_than_the_ground_it_holds() {
    let rect = |a: f64, b: f64| Polygon::rectangle(Point2::new(a, -40.0), Point2::new(b, 40.0)).unwrap();
    let high =
        Surface { outline: rect(10.0, 60.0), ground: Ground::of_class(FlowClass::E), elevation_m: 2.0 };
    let wall = |foot_m| Wall {
        line: vec![Point2::new(10.0, -40.0), Point2::new(10.0, 40.0)],
        height_m: 2.0,
        foot_m,
        absorption: [0.03; 31],
    };
    let top = |s: SceneInput| {
        Scene::new(s).unwrap().world.obstacles.iter().map(|o| (o.base_m, o.top_m)).collect::<Vec<_>>()
    };
    let mut s = lawn();
    s.ground.push(high);
    s.walls.push(wall(None));
    assert_eq!(top(s.clone()), [(0.0, 2.0)], "measured from below");
    s.walls[0] = wall(Some(2.0));
    assert_eq!(top(s), [(2.0, 4.0)], "a parapet says its foot");
}
