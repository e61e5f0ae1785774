use super::*;
use crate::drawing::LevelField;
use crate::words::Words;
use loamline_model::{SourceFile, read_job};

/// A job on a property of 30 m by 30 m.
fn job(text: &str) -> Job {
    let text = format!(
        "format = 1\n[job]\nname = \"View\"\n[site]\noutline = [[0, 0], [30, 0], [30, 30], [0, 30]]\n{text}"
    );
    read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap()
}

fn field(level_db: impl Fn(Point2) -> f64) -> LevelField {
    let at = |k: usize| Point2::new((k % 31) as f64, (k / 31) as f64);
    let levels_db = (0..31 * 31).map(|k| level_db(at(k))).collect();
    LevelField { origin: Point2::default(), step_m: 1.0, columns: 31, levels_db }
}

fn drawn(job: &Job, field: Option<&LevelField>, bearing_deg: f64, turned_down_db: f64) -> String {
    let words = Words::english().unwrap();
    let neighbours: Vec<NeighbourMark> = job
        .document()
        .neighbours
        .keys()
        .map(|id| NeighbourMark { id: id.clone(), text: format!("{id}\n40 dBA"), kept: id != "loud" })
        .collect();
    let areas = job.document().areas.keys().map(|id| (id.clone(), format!("{id}\n60 dBA"))).collect();
    draw(&PerspectiveRequest {
        job,
        words: &words,
        size_mm: (180.0, 130.0),
        bearing_deg,
        tilt_deg: 35.0,
        field,
        turned_down_db,
        top_db: Some(72.0),
        areas: &areas,
        neighbours: &neighbours,
        key: true,
        alone: false,
        title: "View",
    })
}

/// Every filled path in the order painted: its colour and its corners, rings parted.
fn painted(svg: &str) -> Vec<(String, Vec<Vec<Spot>>)> {
    let attribute = |line: &str, name: &str| -> Option<String> {
        let from = line.find(&format!(" {name}=\""))? + name.len() + 3;
        Some(line[from..from + line[from..].find('"')?].to_owned())
    };
    let mut all = Vec::new();
    for line in svg.lines().filter(|l| l.trim_start().starts_with("<path ") && !l.contains("clipPath")) {
        let (Some(fill), Some(data)) = (attribute(line, "fill"), attribute(line, "d")) else { continue };
        if fill == "none" || attribute(line, "opacity").is_some() {
            continue;
        }
        let ring = |text: &str| -> Vec<Spot> {
            let number = |t: &str| t.parse::<f64>().unwrap();
            let spot = |pair: &str| {
                let (x, y) = pair.split_once(' ').unwrap();
                Spot::new(number(x), number(y))
            };
            text.trim_end_matches('Z').split('L').map(spot).collect()
        };
        all.push((fill, data.split('M').skip(1).map(ring).collect()));
    }
    all
}

fn holds(rings: &[Vec<Spot>], at: Spot) -> bool {
    let mut within = false;
    for ring in rings {
        for (i, a) in ring.iter().enumerate() {
            let b = ring[(i + 1) % ring.len()];
            if (a.y > at.y) != (b.y > at.y) && at.x < a.x + (at.y - a.y) / (b.y - a.y) * (b.x - a.x) {
                within = !within;
            }
        }
    }
    within
}

/// The colour that is seen at a place in space, on a picture drawn without a key below it changing the frame.
fn seen_at(svg: &str, camera: &Camera, place: Point3) -> Option<String> {
    let at = camera.spot(place);
    painted(svg).into_iter().rfind(|(_, rings)| holds(rings, at)).map(|(colour, _)| colour)
}

/// The camera as [`draw`] sets it, for a job without neighbours beyond the picture and with the key it has.
fn camera(job: &Job, svg: &str, bearing_deg: f64) -> Camera {
    let clip = svg.lines().find(|l| l.contains("clipPath id=\"garden-frame\"")).unwrap();
    let part = |name: &str| -> f64 {
        let from = clip.find(&format!(" {name}=\"")).unwrap() + name.len() + 3;
        clip[from..from + clip[from..].find('"').unwrap()].parse().unwrap()
    };
    let (x, y) = (part("x"), part("y"));
    let frame = Frame::new(x, y, x + part("width"), y + part("height"));
    let words = Words::english().unwrap();
    let request = PerspectiveRequest {
        job,
        words: &words,
        size_mm: (180.0, 130.0),
        bearing_deg,
        tilt_deg: 35.0,
        field: None,
        turned_down_db: 0.0,
        top_db: None,
        areas: &IndexMap::new(),
        neighbours: &[],
        key: false,
        alone: false,
        title: "",
    };
    Camera::fitting(bearing_deg, 35.0, &seen(&request, &[]), frame.grown(-AROUND_MM))
}

const HOUSES: &str = "[buildings.u]\noutline = [[8, 12], [12, 12], [12, 20], [20, 20], [20, 12], [24, 12], [24, 24], [8, 24]]\n\
    height = \"4 m\"\n[walls.w]\nline = [[2, 5], [28, 5]]\nheight = \"2 m\"\n";

#[test]
fn a_wall_hides_what_lies_behind_it_and_nothing_before_it() {
    let job = job(HOUSES);
    let field = field(|_| 60.0);
    // Looking north, the wall stands before the ground north of it.
    let svg = drawn(&job, Some(&field), 0.0, 0.0);
    let camera = camera(&job, &svg, 0.0);
    let ground = level_colours::bands(72.0).iter().rfind(|b| b.from_db <= 60.0).unwrap().colour;
    let at = |x: f64, y: f64, z: f64| seen_at(&svg, &camera, Point3::new(x, y, z)).unwrap();
    // With the eye at 35 degrees and more, 2 m of wall hide less than 2 / tan 35 = 2.9 m behind it.
    assert_eq!(at(15.0, 4.0, 0.0), ground);
    assert_ne!(at(15.0, 5.3, 0.0), ground, "just behind the wall");
    assert_eq!(at(15.0, 9.0, 0.0), ground, "seen over the wall");
    // In the yard of the U: its ground is seen, the ground behind its back is not.
    assert_eq!(at(16.0, 14.0, 0.0), ground);
    assert_ne!(at(16.0, 25.0, 0.0), ground, "behind the house");
    // The roof of the far part is over everything below it.
    assert_eq!(at(16.0, 22.0, 4.0), at(10.0, 15.0, 4.0));
    // From the other side the wall is behind the house: the house's north face hides the yard.
    let svg = drawn(&job, Some(&field), 180.0, 0.0);
    let camera = self::camera(&job, &svg, 180.0);
    let at = |x: f64, y: f64, z: f64| seen_at(&svg, &camera, Point3::new(x, y, z)).unwrap();
    assert_eq!(at(16.0, 26.0, 0.0), ground);
    assert_ne!(at(16.0, 19.5, 0.0), ground, "the yard, close behind the house");
    assert_eq!(at(16.0, 22.0, 4.0), at(10.0, 15.0, 4.0));
}

#[test]
fn raised_and_sunken_ground_hide_and_are_hidden() {
    let text = "[surfaces.terrace]\nkind = \"paving\"\noutline = [[8, 8], [22, 8], [22, 16], [8, 16]]\nelevation = \"2 m\"\n";
    for (text, pit) in [(text.to_owned(), false), (text.replace("2 m", "-2 m"), true)] {
        let job = job(&text);
        let field = field(|_| 60.0);
        let svg = drawn(&job, Some(&field), 0.0, 0.0);
        let camera = camera(&job, &svg, 0.0);
        let ground = level_colours::bands(72.0).iter().rfind(|b| b.from_db <= 60.0).unwrap().colour;
        let at = |y: f64, z: f64| seen_at(&svg, &camera, Point3::new(15.0, y, z)).unwrap();
        assert_eq!(at(4.0, 0.0), ground);
        assert_eq!(at(13.0, if pit { -2.0 } else { 2.0 }), ground, "what is level carries its level");
        // The step that faces the eye: the near one of a terrace, the far one of a pit.
        assert_ne!(if pit { at(16.0 - 1e-3, -1.0) } else { at(8.0, 1.0) }, ground);
        assert_eq!(at(25.0, 0.0), ground);
    }
}

#[test]
fn turning_down_pales_the_ground_and_says_so_in_the_key() {
    let job = job("");
    let falls = field(|p| 70.0 - p.y);
    let (party, night) = (drawn(&job, Some(&falls), 0.0, 0.0), drawn(&job, Some(&falls), 0.0, 12.0));
    let camera = camera(&job, &party, 0.0);
    let colours = level_colours::COLOURS;
    let step = |svg: &str, camera: &Camera, y: f64| {
        let seen = seen_at(svg, camera, Point3::new(15.0, y, 0.0)).unwrap();
        colours.iter().position(|c| *c == seen).unwrap()
    };
    // 64.5 dBA lies in the band from 63; the first of them begins at 36. Twelve decibels are four bands.
    assert_eq!(step(&party, &camera, 5.5), 9);
    let camera = self::camera(&job, &night, 0.0);
    assert_eq!(step(&night, &camera, 5.5), 5);
    assert!(party.contains("63 to 66 dBA") && !night.contains("63 to 66 dBA"));
}

#[test]
fn neighbours_are_named_with_what_is_expected_there_or_told_beside_the_picture() {
    let job = job("[neighbours.loud]\npoints = [[15, 32]]\nday = \"50 dBA\"\n\
         [neighbours.lane]\nline = [[0, 31], [30, 31]]\nday = \"50 dBA\"\n\
         [neighbours.far]\npoints = [[400, 15]]\nday = \"50 dBA\"\n");
    let svg = drawn(&job, None, 0.0, 0.0);
    assert!(svg.contains(">loud</text>") && svg.contains(">lane</text>"));
    assert!(svg.contains("far: 40 dBA"), "told under the picture");
    let loud = svg.lines().find(|l| l.contains(">loud</text>")).unwrap();
    assert!(loud.contains(crate::drawing::palette::WARNING), "{loud}");
}

#[test]
fn what_is_read_by_itself_keeps_the_width_of_each_text() {
    let job = job("[areas.lawn]\noutline = [[5, 5], [25, 5], [25, 25], [5, 25]]\ntarget = \"60 dBA\"\n");
    let (words, areas) =
        (Words::english().unwrap(), IndexMap::from([("lawn".into(), "Lawn\n60 dBA".into())]));
    let drawn = |alone: bool| {
        draw(&PerspectiveRequest {
            job: &job,
            words: &words,
            size_mm: (180.0, 130.0),
            bearing_deg: 0.0,
            tilt_deg: 35.0,
            field: Some(&field(|p| 70.0 - p.y)),
            turned_down_db: 0.0,
            top_db: None,
            areas: &areas,
            neighbours: &[],
            key: true,
            alone,
            title: "",
        })
    };
    let texts =
        |svg: &str| svg.lines().filter(|l| l.contains("<text ")).map(str::to_owned).collect::<Vec<_>>();
    let held = texts(&drawn(true));
    assert!(
        held.len() > 6 && held.iter().all(|l| l.contains("lengthAdjust=\"spacingAndGlyphs\"")),
        "{held:?}"
    );
    // A letter is from three tenths to eight tenths as wide as it is high (common of text faces, no source).
    let row = held.iter().find(|l| l.contains(">Lawn</text>")).unwrap();
    let long = row.split("textLength=\"").nth(1).and_then(|t| t.split('"').next()).unwrap();
    let size = row.split("font-size=\"").nth(1).and_then(|t| t.split('"').next()).unwrap();
    let (long, size): (f64, f64) = (long.parse().unwrap(), size.parse().unwrap());
    assert!((1.2..3.2).contains(&(long / size)), "4 letters are {long} mm long at a size of {size} mm");
    assert!(!drawn(false).contains("textLength"));
}

#[test]
fn walls_round_a_small_place_are_looked_over() {
    let walled = |height: &str| job(&format!("[walls.w]\nline = [[2, 5], [28, 5]]\nheight = \"{height}\"\n"));
    assert_eq!(usual_tilt_deg(&walled("2 m")), 35.0);
    // 31.6 m with the room round it: 12 m of wall hide 0.3 of it, 9.48 m, at atan(12 / 9.48) = 51.7 degrees.
    assert_eq!(usual_tilt_deg(&walled("12 m")), 52.0);
    assert_eq!(usual_tilt_deg(&walled("60 m")), 60.0);
}

#[test]
fn a_small_picture_still_shows_the_garden() {
    let job = job(HOUSES);
    let (words, field) = (Words::english().unwrap(), field(|p| 75.0 - p.y));
    for size_mm in [(60.0, 60.0), (60.0, 420.0), (420.0, 60.0)] {
        let svg = draw(&PerspectiveRequest {
            job: &job,
            words: &words,
            size_mm,
            bearing_deg: 30.0,
            tilt_deg: 15.0,
            field: Some(&field),
            turned_down_db: 0.0,
            top_db: None,
            areas: &IndexMap::new(),
            neighbours: &[],
            key: true,
            alone: false,
            title: "",
        });
        let spots: Vec<Spot> = painted(&svg).into_iter().flat_map(|(_, rings)| rings).flatten().collect();
        let wide = spots.iter().map(|s| s.x).fold(f64::MIN, f64::max)
            - spots.iter().map(|s| s.x).fold(f64::MAX, f64::min);
        assert!(wide > 25.0, "{size_mm:?}: {wide} mm");
        assert!(spots.iter().all(|s| (0.0..=size_mm.0).contains(&s.x) && (0.0..=size_mm.1).contains(&s.y)));
    }
}

#[test]
fn the_examples_stay_light() {
    for name in ["guesthouse-garden", "walled-courtyard", "quayside-hotel"] {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
        let job = loamline_model::load_job(&folder).unwrap();
        let (low, high) = crate::drawing::extent(&job);
        let step_m = ((high.x - low.x) * (high.y - low.y) / 3000.0).sqrt();
        let columns = ((high.x - low.x) / step_m).ceil() as usize + 1;
        let rows = ((high.y - low.y) / step_m).ceil() as usize + 1;
        // As uneven as a garden: a peak at every loudspeaker.
        let at = |k: usize| low + Point2::new((k % columns) as f64, (k / columns) as f64) * step_m;
        let level = |p: Point2| {
            let from = |l: loamline_model::PlacedLoudspeaker<'_>| {
                10f64.powf(7.5) / l.placed.position.distance(p).max(0.5).powi(2)
            };
            10.0 * job.loudspeakers().map(from).sum::<f64>().max(1.0).log10()
        };
        let levels_db = (0..columns * rows).map(|k| level(at(k))).collect();
        let field = LevelField { origin: low, step_m, columns, levels_db };
        for bearing in [0.0, 45.0, 200.0] {
            let svg = drawn(&job, Some(&field), bearing, 0.0);
            // What a phone loads in a second on a poor network.
            assert!(svg.len() < 300_000, "{name} from {bearing}: {} bytes", svg.len());
            assert_eq!(svg, drawn(&job, Some(&field), bearing, 0.0));
        }
    }
}
