//! Reflections from vertical faces: image sources, ISO 9613-2:1996 clause 7.5.
//!
//! A face gives an image where a specular reflection can be constructed on it (in plan and in height), in the octaves in
//! which its coefficient is greater than 0.2 and it is large enough, equation 19:
//! 1/lambda > 2/(l_min cos beta)^2 * d_so d_or/(d_so + d_or). The image has Lw + 10 lg rho + D_Ir (equation 20), with the
//! directivity towards the point of reflection; divergence, air, ground and screening are those of the reflected way.
//! That equation 19 asks for a face wider than the Fresnel zone, sqrt(2 lambda d_so d_or/(d_so + d_or)), is how CSTB's
//! reference code for CNOSSOS-EU (ISO-9613-2.cpp, 2013) reads it, too.
//!
//! What the standard leaves open:
//! - One bounce. Each further one costs another 10 lg rho and a longer way, and the standard says nothing of it; in a
//!   court with four hard walls, seen from inside, it may be 1 to 2 dB that are missing.
//! - The point of reflection is that of the straight (unfolded) line, also where something stands in its way: then the
//!   reflected way is screened like any other. A face hidden behind a building that touches it gives nothing.
//! - Pieces of one wall that go on straight are one face; faces of different things side by side are not, so that each
//!   must be large enough by itself. Faces in one plane give one image at one receiver.
//! - A receiver on a face, or a source, counts as in front of it.
//! - The 31.5 Hz octave is treated like the others, outside the standard as everywhere.

use super::octave_levels::OctaveLevels;
use super::propagation::{Way, losses, wavelength_m};
use super::scene::BoundarySource;
use super::screening::End;
use super::site::{Face, FaceOf, Shape, Site, TOUCH_M};
use super::towards::octave_directivity_db;
use crate::level::SILENCE_DB;
use loamline_geometry::{Point2, Point3};
use serde::Serialize;

/// A coefficient must be greater than this to count (clause 7.5).
const LEAST_RHO: f64 = 0.2;
/// How far in front of a face is looked for what covers it, m: a house wall that a shed leans on is no face there.
const COVER_M: f64 = 1e-3;

/// What one source gives at one receiver by way of one face.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reflection {
    /// What the face belongs to.
    pub face: FaceOf,
    /// Point of reflection.
    pub at: Point3,
    /// Length of the way, m.
    pub distance_m: f64,
    /// What comes by it; [`SILENCE_DB`](crate::SILENCE_DB) in octaves the face is too small or too soft for.
    #[serde(flatten)]
    pub levels: OctaveLevels,
}

/// Where a way bounces.
struct Bounce {
    at: Point3,
    image: Point2,
    /// Image to receiver, m.
    length_m: f64,
    /// Cosine of the angle of incidence.
    cos_beta: f64,
    /// d_so d_or/(d_so + d_or), m.
    harmonic_m: f64,
}

/// The point of specular reflection, if it lies on the face; the ways to and from it are not looked at.
fn bounce(face: &Face, source: Point3, receiver: Point3) -> Option<Bounce> {
    let (ds, dr) = (face.ahead_m(source.plan()), face.ahead_m(receiver.plan()));
    if ds < -TOUCH_M || dr < -TOUCH_M {
        return None;
    }
    let (ds, dr) = (ds.max(0.0), dr.max(0.0));
    let image = face.mirrored(source.plan());
    // Both on the face: it is at grazing, where nothing bounces.
    let share = if ds + dr > TOUCH_M { ds / (ds + dr) } else { return None };
    let plan = image.lerp(receiver.plan(), share);
    let at = plan.at_height(source.z + (receiver.z - source.z) * share);
    let along = face.b - face.a;
    let u = along.dot(plan - face.a) / along.norm();
    let on_face = u >= -TOUCH_M
        && u <= along.norm() + TOUCH_M
        && at.z >= face.foot_m - TOUCH_M
        && at.z <= face.top_m + TOUCH_M;
    let length_m = image.at_height(source.z).distance(receiver);
    on_face.then(|| Bounce {
        at,
        image,
        length_m,
        cos_beta: (ds + dr) / length_m,
        harmonic_m: share * (1.0 - share) * length_m,
    })
}

/// Whether a building stands right in front of a face at a place on it.
fn covered(site: &Site, face: &Face, at: Point3) -> bool {
    let before = at.plan() + face.normal * COVER_M;
    site.obstacle_boxes
        .at(before)
        .into_iter()
        .map(|i| &site.obstacles[i])
        .any(|o| matches!(o.shape, Shape::Building(_)) && at.z < o.top_m && o.is_under(before))
}

/// Gain of an image over its source by octave, 31.5 Hz to 8 kHz, without directivity, dB; `None` where there is none.
fn image_gains_db(face: &Face, bounce: &Bounce) -> [Option<f64>; 9] {
    let least_m = face.a.distance(face.b).min(face.top_m - face.foot_m);
    std::array::from_fn(|i| {
        let rho = face.rho[i];
        // Equation 19.
        let large = (least_m * bounce.cos_beta).powi(2) > 2.0 * wavelength_m(i) * bounce.harmonic_m;
        (rho > LEAST_RHO && large).then(|| 10.0 * rho.log10())
    })
}

/// Directivity correction towards a point of reflection, octaves 31.5 Hz to 8 kHz, dB.
fn towards_face_db(source: &BoundarySource, at: Point3) -> [f64; 9] {
    let Some(a) = &source.aimed else {
        let most = |i: usize| source.directivity_db.iter().map(|row| row[i]).fold(0.0, f64::max);
        return std::array::from_fn(most);
    };
    octave_directivity_db(&a.table, &a.aim, source.position, at)
}

/// Everything that comes from a source by way of one face.
pub(super) fn reflections(
    site: &Site,
    absorption_db_per_m: &[f64; 9],
    source: &BoundarySource,
    (from, to): (End, End),
) -> Vec<Reflection> {
    let mut all: Vec<(Point2, Reflection)> = Vec::new();
    for face in &site.faces {
        let Some(bounce) = bounce(face, from.at, to.at) else { continue };
        let gains = image_gains_db(face, &bounce);
        if gains.iter().all(Option::is_none) || covered(site, face, bounce.at) {
            continue;
        }
        let reflection = reflection(site, absorption_db_per_m, (source, from, to), (face, &bounce, &gains));
        match all.iter_mut().find(|(image, _)| image.distance(bounce.image) <= COVER_M) {
            // Faces in one plane: one image, of the one that gives most.
            Some((_, known)) if known.levels.total_dba < reflection.levels.total_dba => *known = reflection,
            Some(_) => {}
            None => all.push((bounce.image, reflection)),
        }
    }
    all.into_iter().map(|(_, r)| r).collect()
}

fn reflection(
    site: &Site,
    absorption_db_per_m: &[f64; 9],
    (source, from, to): (&BoundarySource, End, End),
    (face, bounce, gains): (&Face, &Bounce, &[Option<f64>; 9]),
) -> Reflection {
    let way = Way {
        from: End { at: bounce.image.at_height(from.at.z), ground_m: from.ground_m },
        to,
        plan: vec![from.at.plan(), bounce.at.plan(), to.at.plan()],
    };
    let losses = losses(site, site.seen_by(face), absorption_db_per_m, &way);
    let directivity = towards_face_db(source, bounce.at);
    let power = &source.sound_power_db;
    let level = |i: usize, power: f64| {
        gains[i].map_or(SILENCE_DB, |gain| losses.level(power + gain + directivity[i], i))
    };
    let levels = OctaveLevels::of(
        std::array::from_fn(|b| level(b + 1, power.bands_db[b])),
        power.extension_db.map(|p| level(0, p)),
    );
    Reflection { face: face.of, at: bounce.at, distance_m: bounce.length_m, levels }
}
