//! The document as the neighbours' method (ISO 9613-2) wants it: sources, places, ground, screens and buildings.

use crate::sound::Sound;
use loamline_acoustics::{
    Aim, Air, AirError, Band, BandValues, BoundaryBuilding, BoundaryGround, BoundaryReceiver, BoundaryScene,
    BoundaryScreen, BoundarySource, GroundRegion, OctavePower, octave_directivity_db, octave_sums_db,
    sample_line,
};
use loamline_geometry::{Point2, Point3, polyline_length};
use loamline_limits::{Exceeded, NEIGHBOUR_PAIRS};
use loamline_model::Job;
use loamline_model::document::{Neighbour, WallKind};
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

/// Where levels at a neighbour are worked out: place by place, at each the floors in their order.
pub fn neighbour_receivers(n: &Neighbour, spacing_m: f64) -> Vec<Point3> {
    let mut places: Vec<Point2> = n.points.clone();
    if n.line.len() > 1 {
        places.extend(sample_line(&n.line, spacing_m));
    }
    let levels = n.levels_m();
    places.iter().flat_map(|p| levels.iter().map(|(_, height_m)| p.at_height(*height_m))).collect()
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
        // The method's ground is flat: heights count from the ground under each thing.
        let position = source.position.plan().at_height(l.height_m.max(0.0));
        let aim = Aim::new(l.placed.bearing_deg, l.placed.pitch_deg, 0.0);
        let table = sound.scene.directivity_table(i);
        sources.push(BoundarySource {
            id: Some(id.clone()),
            position,
            sound_power_db: octave_power(&on_axis_db(sound, i)),
            directivity_db: match table {
                Some(t) if !t.is_omni() => {
                    receivers.iter().map(|r| octave_directivity_db(t, &aim, position, *r)).collect()
                }
                _ => Vec::new(),
            },
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
        receivers: receivers.iter().map(|p| BoundaryReceiver { id: None, position: *p }).collect(),
        screens: d
            .walls
            .values()
            .filter(|w| w.kind != WallKind::Hedge)
            .map(|w| BoundaryScreen { line: w.line.clone(), top_m: w.height_m })
            .collect(),
        buildings: d
            .buildings
            .values()
            .map(|b| BoundaryBuilding { outline: b.outline.corners().to_vec(), height_m: b.height_m })
            .collect(),
    })
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
