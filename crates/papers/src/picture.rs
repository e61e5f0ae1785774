//! A garden in perspective with its sound, for papers and screens: whose levels are written where, in which colours.

use crate::drawing::LevelField;
use crate::drawing::level_colours;
use crate::drawing::perspective::{self, NeighbourMark, PerspectiveRequest};
use crate::results::{
    AreaResult, LimitResult, NeighbourResult, Results, areas_of, level_field, neighbours_of,
};
use crate::words::Words;
use indexmap::IndexMap;
use loamline_limits::Exceeded;
use loamline_model::Job;
use loamline_study::{Played, PlayedAt, Study};
use std::sync::Arc;
use thiserror::Error;

/// From where and how a garden is shown.
#[derive(Debug, Clone, PartialEq)]
pub struct PictureView {
    /// Width and height, millimetres: 60 to 420 each.
    pub size_mm: (f64, f64),
    /// Bearing one looks along, degrees clockwise from plan north; the usual one of the job when absent.
    pub bearing_deg: Option<f64>,
    /// How far down one looks, degrees below the horizon: 15 to 85; the usual for the job when absent.
    pub tilt_deg: Option<f64>,
    /// How loud it is played.
    pub played: Played,
    /// Programme whose sound alone is shown; everything when absent.
    pub programme: Option<String>,
    /// Top of the scale of colours, dBA; that of the field when absent.
    pub top_db: Option<f64>,
    /// Whether there is a key under it.
    pub key: bool,
    /// Whether areas and neighbours are named.
    pub named: bool,
    /// Whether it is read by itself, with whatever letters its reader has, and not on a paper that carries its own.
    pub alone: bool,
}

impl PictureView {
    /// Least and most tilt, degrees: flatter, one sees walls and no ground; steeper, it is the plan.
    pub const TILTS_DEG: (f64, f64) = (15.0, 85.0);
    /// Least and most width and height of a picture, millimetres: what a telephone shows, the larger side of A3.
    pub const SIZES_MM: (f64, f64) = (60.0, 420.0);

    /// The usual view at a size, the system as it is set.
    pub const fn usual(size_mm: (f64, f64)) -> Self {
        Self {
            size_mm,
            bearing_deg: None,
            tilt_deg: None,
            played: Played { at: PlayedAt::Party, turned_down_db: 0.0 },
            programme: None,
            top_db: None,
            key: true,
            named: true,
            alone: false,
        }
    }
}

/// Why there is no picture.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PictureError {
    /// Too much stands on the site.
    #[error("{0}")]
    TooMuch(Exceeded),
    /// There is no such programme.
    #[error("there is no programme \"{programme}\"; {}", known_words(known))]
    Programme {
        /// What was asked for.
        programme: String,
        /// What there is.
        known: Vec<String>,
    },
    /// Nothing can be said of the sound.
    #[error("nothing can be said of the sound of one programme: {reason}")]
    Sound {
        /// What is wrong.
        reason: String,
    },
}

fn known_words(known: &[String]) -> String {
    if known.is_empty() { "the job names none".to_owned() } else { format!("there is {}", known.join(", ")) }
}

/// The top of the scale of colours that suits a studied job, dBA; none where nothing is heard.
pub fn scale_top_db(study: &Study) -> Option<f64> {
    let seen: Arc<Seen> = study.derived(Seen::of);
    seen.field.as_ref().and_then(level_colours::top_db)
}

/// What is seen and written of a job, worked out once for a revision however often it is turned.
struct Seen {
    field: Option<LevelField>,
    areas: IndexMap<String, AreaResult>,
    neighbours: IndexMap<String, NeighbourResult>,
}

impl Seen {
    fn of(study: &Study) -> Self {
        let heard = study.heard();
        Self {
            field: heard.sound.as_ref().and_then(|sound| level_field(study.job(), &sound.scene)),
            areas: areas_of(&heard),
            neighbours: neighbours_of(&heard),
        }
    }
}

/// The picture of a studied job, SVG.
///
/// # Errors
/// [`PictureError`] where too much stands on the site, or there is no such programme.
pub fn perspective(study: &Study, view: &PictureView, words: &Words) -> Result<String, PictureError> {
    let seen: Arc<Seen> = study.derived(Seen::of);
    let job = study.job();
    let Some(programme) = &view.programme else {
        let shown = Shown { field: seen.field.as_ref(), areas: &seen.areas, neighbours: &seen.neighbours };
        return draw(job, &shown, view, words);
    };
    let field = field_of(study, programme)?;
    let wanted = |id: &String| {
        let area = job.document().areas.get(id);
        area.and_then(|a| job.programme_of_area(a)) == Some(programme.as_str())
    };
    let areas = seen.areas.iter().filter(|(id, _)| wanted(id)).map(|(id, a)| (id.clone(), *a)).collect();
    // The limits at the neighbours hold for everything together: of one programme nothing is said there.
    let neighbours = seen.neighbours.keys().map(|id| (id.clone(), NeighbourResult::default())).collect();
    draw(job, &Shown { field: field.as_ref(), areas: &areas, neighbours: &neighbours }, view, words)
}

/// The field of one programme alone.
fn field_of(study: &Study, programme: &str) -> Result<Option<LevelField>, PictureError> {
    let heard = study.heard();
    let programmes = &study.job().document().programmes;
    let unknown = || PictureError::Programme {
        programme: programme.to_owned(),
        known: programmes.keys().cloned().collect(),
    };
    if !programmes.contains_key(programme) {
        return Err(unknown());
    }
    let Some(sound) = &heard.sound else { return Ok(None) };
    let number = sound.programmes.iter().position(|p| p == programme).ok_or_else(unknown)?;
    let playing = (0..sound.scene.source_count()).filter_map(|k| sound.scene.source(k));
    let sources = playing.filter(|s| s.programme == number).cloned().collect();
    let alone = sound.scene.with_sources(sources);
    let alone = alone.map_err(|e| PictureError::Sound { reason: e.to_string() })?;
    Ok(level_field(study.job(), &alone))
}

/// What is painted and written.
struct Shown<'a> {
    field: Option<&'a LevelField>,
    areas: &'a IndexMap<String, AreaResult>,
    neighbours: &'a IndexMap<String, NeighbourResult>,
}

/// The picture of a job with what its papers know.
///
/// # Errors
/// As [`perspective`].
pub(crate) fn picture(
    job: &Job,
    results: &Results,
    view: &PictureView,
    words: &Words,
) -> Result<String, PictureError> {
    let shown =
        Shown { field: results.field.as_ref(), areas: &results.areas, neighbours: &results.neighbours };
    draw(job, &shown, view, words)
}

fn draw(job: &Job, shown: &Shown<'_>, view: &PictureView, words: &Words) -> Result<String, PictureError> {
    perspective::can_be_drawn(job).map_err(PictureError::TooMuch)?;
    let d = job.document();
    let down_db = view.played.turned_down_db;
    let named = |id: &str, name: &str| if name.is_empty() { id.to_owned() } else { name.to_owned() };
    let areas = d.areas.iter().map(|(id, a)| {
        let name = named(id, &a.name);
        let text = shown.areas.get(id).map(|level| {
            let level = loamline_terms::fixed(level.mean_dba - down_db, 0);
            words.fill("perspective.area", &[("name", &name), ("level", &level)])
        });
        (id.clone(), text.unwrap_or(name))
    });
    let areas: IndexMap<String, String> = areas.filter(|_| view.named).collect();
    let neighbours: Vec<NeighbourMark> = d
        .neighbours
        .iter()
        .map(|(id, n)| {
            let tightest = shown.neighbours.get(id).and_then(|r| tightest(r, view.played));
            let mark = mark(id, &named(id, &n.name), tightest, words);
            if view.named { mark } else { NeighbourMark { text: String::new(), ..mark } }
        })
        .collect();
    let bearing_deg = view.bearing_deg.unwrap_or_else(|| perspective::usual_bearing_deg(job));
    Ok(perspective::draw(&PerspectiveRequest {
        job,
        words,
        size_mm: view.size_mm,
        bearing_deg,
        tilt_deg: view.tilt_deg.unwrap_or_else(|| perspective::usual_tilt_deg(job)),
        field: shown.field,
        turned_down_db: down_db,
        top_db: view.top_db,
        areas: &areas,
        neighbours: &neighbours,
        key: view.key,
        alone: view.alone,
        title: words.get("perspective.title"),
    }))
}

/// The limit at a neighbour that leaves least, at the level the system is played at: level, limit, dB, and whether it is of
/// the 63 Hz octave.
fn tightest(result: &NeighbourResult, played: Played) -> Option<(f64, f64, bool)> {
    held(result, played)
        .map(|(l, level_db)| (level_db, l.limit_db, l.octave_63))
        .min_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)))
}

/// The limits that hold when a system is played, each with the level then.
pub(crate) fn held(result: &NeighbourResult, played: Played) -> impl Iterator<Item = (&LimitResult, f64)> {
    // Levels by night are turned down already.
    let (limits, down_db) = match played.at {
        PlayedAt::Night => (&result.night, 0.0),
        PlayedAt::Party | PlayedAt::Evening => (&result.day, played.turned_down_db),
    };
    limits.iter().map(move |l| (l, l.level_db - down_db))
}

fn mark(id: &str, name: &str, tightest: Option<(f64, f64, bool)>, words: &Words) -> NeighbourMark {
    let Some((level_db, limit_db, octave_63)) = tightest else {
        return NeighbourMark { id: id.to_owned(), text: name.to_owned(), kept: true };
    };
    let key = if octave_63 { "perspective.level_octave" } else { "perspective.level" };
    let level = words.fill(key, &[("level", &loamline_terms::fixed(level_db, 0))]);
    let margin_db = limit_db - level_db;
    let kept = margin_db >= 0.0;
    let apart = format!("{} dB", loamline_terms::fixed(margin_db.abs(), 0));
    let values =
        [("name", name), ("level", level.as_str()), ("margin", apart.as_str()), ("excess", apart.as_str())];
    let key = if kept { "perspective.neighbour" } else { "perspective.neighbour_over" };
    NeighbourMark { id: id.to_owned(), text: words.fill(key, &values), kept }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limit(level_db: f64, limit_db: f64, octave_63: bool) -> LimitResult {
        LimitResult { floor: None, octave_63, level_db, limit_db, uncertainty_db: 3.0, reflected_db: 0.0 }
    }

    #[test]
    fn the_tightest_limit_follows_how_loud_it_is_played() {
        let result = NeighbourResult {
            day: vec![limit(48.0, 50.0, false), limit(60.0, 65.0, true)],
            // By night 12 dB lower.
            night: vec![limit(36.0, 40.0, false)],
        };
        let at = |at: PlayedAt, turned_down_db: f64| tightest(&result, Played { at, turned_down_db });
        assert_eq!(at(PlayedAt::Party, 0.0), Some((48.0, 50.0, false)));
        assert_eq!(at(PlayedAt::Evening, 6.0), Some((42.0, 50.0, false)));
        assert_eq!(at(PlayedAt::Night, 12.0), Some((36.0, 40.0, false)));
    }

    #[test]
    fn a_neighbour_says_its_level_and_what_is_left() {
        let words = Words::english().unwrap();
        let kept = mark("flat", "Flat", Some((43.4, 50.0, false)), &words);
        assert_eq!((kept.text.as_str(), kept.kept), ("Flat\n43 dBA, 7 dB below the limit", true));
        let over = mark("flat", "Flat", Some((67.0, 65.0, true)), &words);
        assert_eq!((over.text.as_str(), over.kept), ("Flat\n67 dB at 63 Hz, 2 dB above the limit", false));
        assert_eq!(mark("flat", "Flat", None, &words).text, "Flat");
    }
}
