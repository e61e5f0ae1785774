//! What a client looks at in a proposal: the garden in perspective as it is set, in the evening and by night; what is heard
//! when; the photos of the site with their places.

use super::common::{Drawings, decimal, sentence};
use super::limits;
use crate::drawing::{self, PlanRequest, Reader};
use crate::material::Material;
use crate::picture::{PictureView, held, picture};
use loamline_geometry::Point2;
use loamline_limits::{PROPOSAL_PHOTOS, go_on};
use loamline_model::document::Photo;
use loamline_study::{Played, PlayedAt, played};
use serde_json::{Value, json};

/// Height of the large picture, millimetres: with the names and the key it fills half of a page.
const LARGE_MM: f64 = 128.0;
/// The same of a small one.
const SMALL_MM: f64 = 58.0;
/// Room between pictures side by side, millimetres.
const APART_MM: f64 = 5.0;
/// Height of the plan beside the photos, millimetres.
const PHOTO_PLAN_MM: f64 = 82.0;

fn width_mm(m: &Material<'_>) -> f64 {
    m.options.paper.size_mm().0 - 2.0 * drawing::MARGIN_X_MM
}

/// How loud it is played, in words: "In the evening, 6 dB lower".
fn played_words(m: &Material<'_>, p: Played) -> String {
    let words = &m.options.words;
    let name = match p.at {
        PlayedAt::Party => words.get("played.party").to_owned(),
        PlayedAt::Evening => words.get("played.evening").to_owned(),
        PlayedAt::Night => sentence(&limits::by_night(m)),
    };
    if p.turned_down_db < 0.05 {
        return name;
    }
    let down = format!("{} dB", decimal(p.turned_down_db, 0));
    words.fill("played.lower", &[("when", &name), ("down", &down)])
}

/// The large picture and, where the system is played lower too, those of that; null where there is none.
pub fn views(m: &Material<'_>, drawings: &mut Drawings) -> (Value, Value) {
    let words = &m.options.words;
    let width = width_mm(m);
    let large = PictureView::usual((width, LARGE_MM));
    // A site too large for a picture has its plan.
    let Ok(svg) = picture(m.job, m.results, &large, words) else { return (Value::Null, json!([])) };
    let title = words.get("perspective.title");
    let view = json!({
        "file": drawings.add(svg), "width": width, "height": LARGE_MM, "title": title,
        "sound": m.results.field.is_some(),
    });
    let others: Vec<Played> = played(m.job).into_iter().filter(|p| p.turned_down_db >= 0.05).collect();
    if m.results.field.is_none() || others.is_empty() {
        return (view, json!([]));
    }
    let each = ((width - APART_MM) / 2.0).max(60.0);
    let small = others.into_iter().filter_map(|p| {
        go_on();
        let size_mm = (each, SMALL_MM);
        let view = PictureView { played: p, key: false, ..PictureView::usual(size_mm) };
        let svg = picture(m.job, m.results, &view, words).ok()?;
        let title = played_words(m, p);
        Some(json!({ "file": drawings.add(svg), "width": each, "height": SMALL_MM, "title": title }))
    });
    let small: Vec<Value> = small.collect();
    (view, small.into())
}

/// What is heard when: a column for each way the system is played, a row for each area and neighbour; null where it is always
/// played alike.
pub fn heard_when(m: &Material<'_>) -> Value {
    let ways = played(m.job);
    if ways.len() < 2 {
        return Value::Null;
    }
    let document = m.job.document();
    let areas = document.areas.iter().filter_map(|(id, area)| {
        let level = m.results.areas.get(id)?;
        let cell = |p: &Played| json!({ "text": format!("{} dBA", decimal(level.mean_dba - p.turned_down_db, 0)), "kept": true });
        let name = if area.name.is_empty() { id } else { &area.name };
        Some(json!({ "name": name, "cells": ways.iter().map(cell).collect::<Vec<_>>() }))
    });
    let neighbours = document.neighbours.keys().filter_map(|id| {
        let result = m.results.neighbours.get(id)?;
        let cells: Vec<Value> = ways.iter().map(|p| neighbour_cell(m, result, *p)).collect();
        Some(json!({ "name": limits::name(m, id), "cells": cells }))
    });
    let rows: Vec<Value> = areas.chain(neighbours).collect();
    if rows.is_empty() {
        return Value::Null;
    }
    let heads: Vec<String> = ways.iter().map(|p| played_words(m, *p)).collect();
    json!({ "heads": heads, "rows": rows })
}

/// The tightest limit at a neighbour, with the level then.
fn neighbour_cell(m: &Material<'_>, result: &crate::results::NeighbourResult, p: Played) -> Value {
    let tightest =
        held(result, p).min_by(|(a, at_a), (b, at_b)| (a.limit_db - at_a).total_cmp(&(b.limit_db - at_b)));
    let Some((l, level_db)) = tightest else { return json!({ "text": "", "kept": true }) };
    let unit = limits::unit(l);
    let written = |db: f64| format!("{} {unit}", decimal(db, 0));
    let key = if l.octave_63 { "played.of_limit_octave" } else { "played.of_limit" };
    let text = m.options.words.fill(key, &[("level", &written(level_db)), ("limit", &written(l.limit_db))]);
    json!({ "text": text, "kept": level_db <= l.limit_db })
}

/// The photos of the visits that are at hand, each with its place among the photos of the pack: those of places first, of the
/// newest visit first.
fn shown<'a>(m: &'a Material<'_>) -> Vec<(usize, &'a Photo)> {
    let at_hand = |photo: &Photo| m.options.photos.iter().position(|p| p.name() == photo.file);
    let mut visits: Vec<_> = m.job.document().visits.values().collect();
    visits.sort_by(|a, b| b.date.cmp(&a.date));
    let photos = visits.into_iter().flat_map(|v| v.photos.values());
    let mut all: Vec<(usize, &Photo)> = photos.filter_map(|p| Some((at_hand(p)?, p))).collect();
    all.sort_by_key(|(_, p)| place_of(m, p).is_none());
    let mut seen = Vec::new();
    all.retain(|(k, _)| {
        !seen.contains(k) && {
            seen.push(*k);
            true
        }
    });
    all.truncate(PROPOSAL_PHOTOS.most());
    all
}

fn place_of(m: &Material<'_>, photo: &Photo) -> Option<Point2> {
    photo.at.as_deref().and_then(|at| m.job.node(at)).map(|node| node.position())
}

/// The page of photos with the places marked on a small plan; null where there are none.
pub fn photos(m: &Material<'_>, drawings: &mut Drawings) -> Value {
    let shown = shown(m);
    if shown.is_empty() {
        return Value::Null;
    }
    let words = &m.options.words;
    let mut numbered: Vec<(Point2, String)> = Vec::new();
    let photos: Vec<Value> = shown
        .iter()
        .enumerate()
        .map(|(k, (file, photo))| {
            let number = (k + 1).to_string();
            let place = place_of(m, photo);
            numbered.extend(place.map(|p| (p, number.clone())));
            let at = photo.at.as_deref().filter(|_| place.is_some()).unwrap_or_default();
            let caption = match (at, photo.notes.as_str()) {
                ("", notes) => notes.to_owned(),
                (at, "") => at.to_owned(),
                (at, notes) => words.fill("photos.caption", &[("at", at), ("notes", notes)]),
            };
            let ending = m.options.photos.get(*file).map_or("jpg", |p| p.ending());
            let alt = if caption.is_empty() { words.fill("photos.number", &[("number", &number)]) } else { caption.clone() };
            json!({ "file": format!("photos/{file}.{ending}"), "number": number, "caption": caption, "alt": alt })
        })
        .collect();
    let size = (width_mm(m), PHOTO_PLAN_MM);
    let title = words.get("photos.plan");
    let plan = (!numbered.is_empty()).then(|| {
        let svg = drawing::draw(&drawing::filled(PlanRequest {
            job: m.job,
            laid: &m.laid,
            words,
            units: m.options.units,
            reader: Reader::Client,
            centre: Default::default(),
            mm_per_m: 1.0,
            size_mm: size,
            field: None,
            only_line: None,
            parts: &[],
            numbered: &numbered,
            key: false,
            title,
        }));
        json!({ "file": drawings.add(svg.svg), "width": size.0, "height": size.1, "title": title })
    });
    json!({ "photos": photos, "plan": plan })
}
