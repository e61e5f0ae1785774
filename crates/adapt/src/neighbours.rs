//! The document as the neighbours' method (ISO 9613-2) wants it: sources, places, ground, screens and buildings.

use crate::sound::{Sound, absorption, drawn_ground, sounding_walls};
use loamline_acoustics::{
    Aim, Aimed, Air, AirError, Band, BandValues, BoundaryBuilding, BoundaryGround, BoundaryReceiver,
    BoundaryScene, BoundaryScreen, BoundarySource, BoundaryStep, FaceReflection, GroundRegion, Octave,
    OctavePower, Terrain, octave_sums_db, sample_line,
};
use loamline_geometry::{Point2, Point3, polyline_length};
use loamline_limits::{Exceeded, NEIGHBOUR_PAIRS};
use loamline_model::Job;
use loamline_model::document::Neighbour;
use loamline_terms::{Fraction, POWER_OVER_LEVEL_DB, Pascals};

/// Spacing of points along a boundary line, metres.
pub const NEIGHBOUR_SPACING_M: f64 = 2.0;

/// Spacing of the points along boundary lines, metres: as usual, or so that the places of all neighbours, heard from so
/// many loudspeakers, stay within what is worked out.
///
/// # Errors
/// When the single points alone are more.
pub fn neighbour_spacing_m(job: &Job, loudspeakers: usize) -> Result<f64, Exceeded> {
    let all = || job.document().neighbours.values();
    let points: usize = all().map(|n| n.points.len() * n.levels_m().len()).sum();
    // A line once for each floor.
    let each = |n: &Neighbour| vec![polyline_length(&n.line); n.levels_m().len()];
    let lines_m: Vec<f64> = all().filter(|n| n.line.len() > 1).flat_map(each).collect();
    // Both ends and a step that is not whole.
    let ends = 2 * lines_m.len();
    NEIGHBOUR_PAIRS.check((points + ends + 1).saturating_mul(loudspeakers))?;
    let most = NEIGHBOUR_PAIRS.most() / loudspeakers.max(1);
    let total_m: f64 = lines_m.iter().sum();
    Ok(NEIGHBOUR_SPACING_M.max(total_m / most.saturating_sub(points + ends).max(1) as f64))
}

/// Where levels at a neighbour are worked out, in space: place by place, at each the floors in their order.
pub fn neighbour_receivers(job: &Job, n: &Neighbour, spacing_m: f64) -> Vec<Point3> {
    let mut places: Vec<Point2> = n.points.clone();
    if n.line.len() > 1 {
        places.extend(sample_line(&n.line, spacing_m));
    }
    let levels = n.levels_m();
    places.iter().flat_map(|p| levels.iter().map(|(_, height_m)| job.above_ground(*p, *height_m))).collect()
}

/// The floor that one of the places of [`neighbour_receivers`] is on; none where the neighbour has no floors.
pub fn floor_of_receiver(n: &Neighbour, receiver: usize) -> Option<&str> {
    let levels = n.levels_m();
    levels.get(receiver % levels.len()).and_then(|l| l.0)
}

/// The site with what sounds in it, as heard at some places.
///
/// # Errors
/// Air no atmosphere has.
pub fn neighbour_scene(job: &Job, sound: &Sound, receivers: &[Point3]) -> Result<BoundaryScene, AirError> {
    let mut sources = Vec::new();
    for (i, id) in sound.sources.iter().enumerate() {
        let (Some(source), Some(l)) = (sound.scene.source(i), job.loudspeaker(id)) else { continue };
        let at = source.position.plan();
        let aim = Aim::new(l.placed.bearing_deg, l.placed.pitch_deg, 0.0);
        let table = sound.scene.directivity_table(i).filter(|t| !t.is_omni());
        sources.push(BoundarySource {
            id: Some(id.clone()),
            position: job.above_ground(at, l.height_m.max(0.0)),
            ground_m: job.ground(at).elevation_m,
            sound_power_db: octave_power(&on_axis_db(sound, i)),
            directivity_db: Vec::new(),
            aimed: table.map(|table| Aimed { table: table.clone(), aim }),
            programme: Some(source.programme),
        });
    }
    neighbour_surroundings(job, sources, receivers)
}

/// The site as the method sees it, with sources and receivers.
///
/// # Errors
/// Air no atmosphere has.
pub fn neighbour_surroundings(
    job: &Job,
    sources: Vec<BoundarySource>,
    receivers: &[Point3],
) -> Result<BoundaryScene, AirError> {
    let d = job.document();
    let site_air = &d.site.air;
    let surfaces = drawn_ground(job);
    let terrain = Terrain { surfaces: &surfaces, default_elevation_m: 0.0 };
    let atmosphere =
        Air::new(site_air.temperature_c, Fraction(site_air.humidity), Pascals(site_air.pressure_pa))?;
    Ok(BoundaryScene {
        atmosphere,
        ground: BoundaryGround {
            default_g: d.site.ground.flow_class().ground_factor(),
            regions: d
                .surfaces
                .values()
                .map(|s| GroundRegion { outline: s.outline.corners().to_vec(), g: s.flow().ground_factor() })
                .collect(),
        },
        sources,
        receivers: receivers
            .iter()
            .map(|p| BoundaryReceiver { id: None, position: *p, ground_m: terrain.elevation_m(p.plan()) })
            .collect(),
        screens: sounding_walls(job)
            .map(|(_, w)| {
                let foot_m = w.stated_foot_m().unwrap_or_else(|| terrain.wall_foot_m(&w.line));
                BoundaryScreen {
                    line: w.line.clone(),
                    top_m: foot_m + w.height_m,
                    foot_m,
                    reflection: stated(w.absorption, w.absorption_bands.as_deref())
                        .unwrap_or(FaceReflection::hard_wall()),
                }
            })
            .collect(),
        buildings: d
            .buildings
            .values()
            .map(|b| {
                let foot_m = terrain.building_foot_m(&b.outline);
                BoundaryBuilding {
                    outline: b.outline.corners().to_vec(),
                    height_m: foot_m + b.height_m,
                    foot_m,
                    reflection: stated(b.absorption, b.absorption_bands.as_deref())
                        .unwrap_or(FaceReflection::house_wall()),
                }
            })
            .collect(),
        steps: terrain
            .steps()
            .into_iter()
            .map(|s| BoundaryStep { line: s.line, top_m: s.top_m, foot_m: s.foot_m })
            .collect(),
        in_step_to_hz: d.brief.coherent_below_hz,
    })
}

/// What a face reflects whose absorption the job says, octave means; where it says none, ISO 9613-2 Table 4 counts.
fn stated(flat: Option<f64>, bands: Option<&[(f64, f64)]>) -> Option<FaceReflection> {
    if flat.is_none() && bands.is_none() {
        return None;
    }
    let absorbed = absorption(flat, bands);
    let mut octaves = Octave::all();
    Some(FaceReflection(std::array::from_fn(|_| {
        octaves.next().map_or(0.0, |o| {
            let reflected: f64 = o.bands().map(|b| 1.0 - absorbed[b.index()]).iter().sum();
            (reflected / 3.0).clamp(0.0, 1.0)
        })
    })))
}

/// On-axis level at 1 m per third octave, of the programme at the channel's gain, free field, dB.
fn on_axis_db(sound: &Sound, source: usize) -> BandValues {
    let Some(s) = sound.scene.source(source) else {
        return [loamline_acoustics::SILENCE_DB; loamline_acoustics::BAND_COUNT];
    };
    let filter = s.filter.as_ref().map(|f| f.band_gains_db());
    let programme = sound.played[s.programme].band_levels_re_full_scale_db();
    loamline_acoustics::band_values(|b: Band| {
        let i = b.index();
        s.full_scale_db + s.response_db[i] + s.gain_db + filter.as_ref().map_or(0.0, |f| f[i]) + programme[i]
    })
}

/// Sound power by octave of something with these levels on its axis, dB re 1 pW.
pub fn octave_power(on_axis_db: &BandValues) -> OctavePower {
    let octaves = octave_sums_db(on_axis_db);
    OctavePower {
        extension_db: Some(octaves[0] + POWER_OVER_LEVEL_DB),
        bands_db: std::array::from_fn(|i| octaves[i + 1] + POWER_OVER_LEVEL_DB),
    }
}
