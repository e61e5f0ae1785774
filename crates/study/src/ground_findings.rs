//! Findings about the ground: surfaces nobody gave an elevation that lie in what is higher, or stand over what is lower.
//!
//! A surface whose elevation is left out lies at the datum. Drawn on a terrace of some height it is then a pit in it, with walls
//! that screen sound, and nothing on the plan shows it.

use crate::finding::{Finding, Remedy, Severity, Subject};
use crate::names::named;
use loamline_geometry::Point2;
use loamline_limits::go_on;
use loamline_model::document::Surface;
use loamline_model::{Edit, Job, Operation};
use loamline_terms::{Measure, say, template};

/// A step lower than this, metres, is one people build: a sunken bed, a kerb, two stairs. Smaller and those would be asked about;
/// larger and a terrace one forgot the height of would pass.
const STEP_M: f64 = 0.5;
/// Share of the way around a surface that has to be on the far side of such a step: a terrace against a slope or at a house is open
/// to one side.
const AROUND: f64 = 0.75;
/// How far outside its outline one looks, metres: over joints between what was drawn side by side by hand.
const BESIDE_M: f64 = 0.05;
/// Places on a side are about this far apart, metres, and at most so many on one.
const APART_M: f64 = 1.0;
const MOST_ON_A_SIDE: f64 = 50.0;
/// Elevations nearer to each other than this are one, metres.
const LEVEL_M: f64 = 0.01;

/// Surfaces at the datum that what surrounds them is well above, or well below.
pub(crate) fn ground_findings(job: &Job) -> Vec<Finding> {
    let surfaces = &job.document().surfaces;
    if surfaces.values().all(|s| s.elevation_m == 0.0) {
        return Vec::new();
    }
    let at_the_datum = surfaces.iter().filter(|(_, s)| s.elevation_m == 0.0);
    at_the_datum.filter_map(|(id, s)| sunken(job, id, s)).collect()
}

fn sunken(job: &Job, id: &str, surface: &Surface) -> Option<Finding> {
    go_on();
    let (mut all_m, mut higher_m, mut lower_m) = (0.0, 0.0, 0.0);
    let mut around: Vec<f64> = Vec::new();
    let corners = surface.outline.corners();
    for (k, from) in corners.iter().enumerate() {
        let to = corners[(k + 1) % corners.len()];
        let length_m = from.distance(to);
        let steps = (length_m / APART_M).ceil().clamp(1.0, MOST_ON_A_SIDE);
        for step in 0..steps as u32 {
            let at = from.lerp(to, (f64::from(step) + 0.5) / steps);
            let Some(outside) = beside(surface, at, (to - *from) * (BESIDE_M / length_m)) else { continue };
            let elevation_m = job.ground(outside).elevation_m;
            all_m += length_m / steps;
            if elevation_m.abs() >= STEP_M {
                around.push(elevation_m);
                *(if elevation_m > 0.0 { &mut higher_m } else { &mut lower_m }) += length_m / steps;
            }
        }
    }
    let is_pit = higher_m >= AROUND * all_m && higher_m > 0.0;
    if !(is_pit || lower_m >= AROUND * all_m && lower_m > 0.0) {
        return None;
    }
    around.retain(|elevation_m| (*elevation_m > 0.0) == is_pit);
    let least = around.iter().copied().min_by(|a, b| a.abs().total_cmp(&b.abs()))?;
    let most = around.iter().copied().max_by(|a, b| a.abs().total_cmp(&b.abs()))?;
    let surface_named = named(&surface.name, template!("Surface {id}"), id);
    let step = Measure::Length(least.abs());
    let sentence = if is_pit {
        say!(
            "{surface} lies {step} below what surrounds it, at the datum.",
            surface = surface_named,
            step = step
        )
    } else {
        say!(
            "{surface} stands {step} above what surrounds it, at the datum.",
            surface = surface_named,
            step = step
        )
    };
    let about = Subject::new("surfaces", id);
    let set =
        Operation::Add { path: format!("{}/elevation", about.pointer()), value: least.into(), before: None };
    let remedy = ((most - least).abs() <= LEVEL_M).then(|| Remedy::Edit(Edit::new([set])));
    let mend = say!(
        "Give it the elevation of what surrounds it; if it lies so indeed, say its own as it was measured."
    );
    Some(Finding::new(Severity::Warning, about, sentence).mend(mend).by(remedy))
}

/// The place beside the outline at a place on it that is outside; `None` where a corner is too sharp to tell.
fn beside(surface: &Surface, at: Point2, along: Point2) -> Option<Point2> {
    let aside = Point2::new(-along.y, along.x);
    [at + aside, at - aside].into_iter().find(|p| !surface.outline.contains(*p))
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job};

    /// A terrace of 12 m by 10 m at `elevation`, and on it paving of 6 m by 4 m.
    fn told(elevation: &str, paving: &str) -> Vec<Finding> {
        let text = format!(
            "format = 1\n[job]\nname = \"Slope\"\n[surfaces.upper]\nkind = \"lawn\"\nelevation = \"{elevation}\"\n\
             outline = [[0, 0], [12, 0], [12, 10], [0, 10]]\n[surfaces.flags]\nname = \"Flagstone terrace\"\nkind = \"paving\"\n{paving}"
        );
        let job = read_job(&SourceFile::new("job.toml", text), &[]).unwrap_or_else(|e| panic!("{e}"));
        ground_findings(&job)
    }

    const WITHIN: &str = "outline = [[3, 3], [9, 3], [9, 7], [3, 7]]\n";

    /// 7 ft are 2.1336 m exactly (the foot of 1959).
    #[test]
    fn paving_without_an_elevation_on_a_raised_terrace_is_told_with_the_step() {
        let found = told("7 ft", WITHIN);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].sentence, "Flagstone terrace lies 2.1 m below what surrounds it, at the datum.");
        let Some(Remedy::Edit(edit)) = &found[0].remedy else { panic!("no edit: {found:?}") };
        let text = serde_json::to_string(edit).unwrap();
        assert!(text.contains("/surfaces/flags/elevation") && text.contains("2.1336"), "{text}");
        assert!(told("-2 m", WITHIN)[0].sentence.to_string().contains("stands 2.0 m above"));
    }

    /// By hand: half on the terrace half of the way around is open, drawn from the terrace's edge a fifth.
    #[test]
    fn what_has_its_height_or_is_open_to_a_side_is_not_told() {
        let with_its_own = format!("{WITHIN}elevation = \"2 m\"\n");
        assert!(told("7 ft", &with_its_own).is_empty());
        assert!(told("0.4 m", WITHIN).is_empty(), "a step people build");
        assert!(told("7 ft", "outline = [[3, -2], [9, -2], [9, 2], [3, 2]]\n").is_empty());
        assert_eq!(told("7 ft", "outline = [[3, 0], [7, 0], [7, 6], [3, 6]]\n").len(), 1);
        assert!(told("7 ft", "outline = [[20, 3], [29, 3], [29, 7], [20, 7]]\n").is_empty());
    }
}
