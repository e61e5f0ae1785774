//! What a scene is made of: plain data, checked by [`Scene::new`](super::Scene::new).

use crate::air::Air;
use crate::bands::BandValues;
use crate::directivity::{Aim, Directivity};
use crate::ground::Ground;
use crate::source::{FilterTable, Programme};
use loamline_geometry::{Point2, Point3, Polygon};
use std::sync::Arc;

/// Everything the field depends on. Elevations (`z`) are metres above the site datum.
#[derive(Debug, Clone, PartialEq)]
pub struct SceneInput {
    /// Still air.
    pub air: Air,
    /// Ground where no region lies.
    pub default_ground: Ground,
    /// Elevation of the ground where no region lies, metres.
    pub default_elevation_m: f64,
    /// Regions of other ground; where two overlap, the later one counts.
    pub ground: Vec<Surface>,
    /// Walls and solid fences. Hedges and planting do not screen: leave them out.
    pub walls: Vec<Wall>,
    /// Buildings.
    pub buildings: Vec<Building>,
    /// What is played. Sources on the same programme are coherent.
    pub programmes: Vec<Programme>,
    /// Loudspeakers.
    pub sources: Vec<Source>,
    /// How the field is computed.
    pub settings: Settings,
}

impl SceneInput {
    /// An open lawn at elevation 0 without anything on it.
    pub fn open(air: Air, default_ground: Ground) -> Self {
        Self {
            air,
            default_ground,
            default_elevation_m: 0.0,
            ground: Vec::new(),
            walls: Vec::new(),
            buildings: Vec::new(),
            programmes: Vec::new(),
            sources: Vec::new(),
            settings: Settings::default(),
        }
    }
}

/// A piece of ground: lawn, terrace, court.
#[derive(Debug, Clone, PartialEq)]
pub struct Surface {
    /// Outline in plan.
    pub outline: Polygon,
    /// What it is.
    pub ground: Ground,
    /// Elevation of its surface, metres.
    pub elevation_m: f64,
}

/// A wall or solid fence along a line of two or more points, its top level.
#[derive(Debug, Clone, PartialEq)]
pub struct Wall {
    /// Line in plan.
    pub line: Vec<Point2>,
    /// Height above its foot, metres.
    pub height_m: f64,
    /// Elevation of its foot, metres; `None`: the lowest ground on either side of it
    /// ([`Terrain::wall_foot_m`](crate::Terrain::wall_foot_m)).
    pub foot_m: Option<f64>,
    /// Share of the energy its faces absorb, per band, 0 to 1.
    pub absorption: BandValues,
}

/// A building with a flat top. It stands on the lowest ground outside along its outline
/// ([`Terrain::building_foot_m`](crate::Terrain::building_foot_m)).
#[derive(Debug, Clone, PartialEq)]
pub struct Building {
    /// Outline in plan.
    pub outline: Polygon,
    /// Height above what it stands on, metres.
    pub height_m: f64,
    /// Share of the energy its faces absorb, per band, 0 to 1.
    pub absorption: BandValues,
}

/// How a loudspeaker is fixed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Mounting {
    /// On a stake, a bracket, a stand: sound leaves towards a reflecting surface by the loudspeaker's directivity.
    #[default]
    Free,
    /// Flush in the ground, facing up: it sits at [`crate::LOWEST_HEIGHT_M`], and what the ground reflects leaves
    /// as what goes straight to the listener does.
    InGround,
    /// Flush in the nearest wall or building face, at most 0.5 m away: what that face reflects leaves as what goes
    /// straight to the listener does.
    InFace,
}

/// A loudspeaker in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// Acoustic centre; `z` is an elevation. Raised to [`crate::LOWEST_HEIGHT_M`] above the ground; within 5 cm
    /// of a face of a wall or building it is put 1 cm in front of it.
    pub position: Point3,
    /// Where it points.
    pub aim: Aim,
    /// How it is fixed.
    pub mounting: Mounting,
    /// How its sound differs with direction. Sources that share one `Arc` share its tables.
    pub directivity: Arc<Directivity>,
    /// Free-field level at 1 m on axis of a full-scale sine at the frequency its response calls 0 dB, dB re 20 uPa
    /// ([`full_scale_level_db`](crate::full_scale_level_db)).
    pub full_scale_db: f64,
    /// On-axis response, dB re `full_scale_db`.
    pub response_db: BandValues,
    /// Gain of its channel, dB.
    pub gain_db: f64,
    /// Delay of its channel, seconds.
    pub delay_s: f64,
    /// Polarity reversed.
    pub reversed: bool,
    /// Filters of its channel.
    pub filter: Option<Arc<FilterTable>>,
    /// Index of its programme in [`SceneInput::programmes`].
    pub programme: usize,
}

impl Source {
    /// A free-standing omnidirectional source, flat, on the first programme.
    pub fn omni(position: Point3, full_scale_db: f64) -> Self {
        Self {
            position,
            aim: Aim::new(0.0, 0.0, 0.0),
            mounting: Mounting::Free,
            directivity: Arc::new(Directivity::Omni),
            full_scale_db,
            response_db: [0.0; crate::bands::BAND_COUNT],
            gain_db: 0.0,
            delay_s: 0.0,
            reversed: false,
            filter: None,
            programme: 0,
        }
    }
}

/// How the field is computed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Bands centred at or below this add sources on one programme as waves; above, by energy, because path
    /// differences exceed what stays in step within a band and in moving air. Hz, 20 to 25000. Too high asks for
    /// detail no garden shows; too low hides real cancellation in the bass.
    pub coherent_to_hz: f64,
    /// Lines per third octave in the coherent bands from 125 Hz up, 1 to 64; bands below get nine fewer, and at least
    /// two fifths as many. Few are fast; with too few, waves from loudspeakers far apart add by chance instead of by
    /// band average. [`Settings::lines_for`] says how many a site needs.
    pub lines_per_band: usize,
    /// Also follow sound by way of two faces.
    pub second_order: bool,
    /// Distance beyond which a loudspeaker may be added in energy in all bands, because waves do not keep in step so
    /// far over moving air, metres, 10 to 50000 (common practice, no source). Smaller is faster on sites with hundreds
    /// of loudspeakers; sites smaller than this do not feel it.
    pub in_step_m: f64,
    /// Most an A-weighted level, and a band up to 6.3 kHz, may be off because loudspeakers farther than `in_step_m` were
    /// computed once for a patch of points, or a group of patches, instead of point by point: dB, 0 (never done) to 1,
    /// 0.1 by default. Bands above 6.3 kHz may be off by four times as much where a far loudspeaker's lobe falls across
    /// a patch. With it, cost grows in proportion to loudspeakers at constant density.
    pub cut_off_db: f64,
}

impl Settings {
    /// Lines per band that keep 95 % of points within 0.5 dB of a dense sum in every band, on a site `span_m` metres
    /// across: 16 up to 60 m, 24 beyond (where waves farther than `in_step_m` apart no longer count as in step, a still
    /// larger site needs no more). Measured on sites of 20 to 150 m, not proven.
    pub fn lines_for(span_m: f64) -> usize {
        if span_m <= 60.0 { 16 } else { 24 }
    }
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            coherent_to_hz: 400.0,
            lines_per_band: 16,
            second_order: false,
            in_step_m: 100.0,
            cut_off_db: 0.1,
        }
    }
}
