//! What the key of a plan says: every kind of line, thing and ground that is on it.

use super::key::{Entry, Sample};
use super::level_colours::{self, Band, STEP_DB};
use super::palette::line_style;
use super::plan::request::{PlanRequest, Reader};
use super::symbols;
use crate::cables_in_use::CableNames;
use crate::depths::Depths;
use crate::words::Words;
use loamline_model::document::{JointKind, Laying, ServiceKind, WallKind};
use loamline_model::{Choice as _, PlacedLoudspeaker};

/// The entries of the key for a job, in the order they are set.
pub fn key_entries(request: &PlanRequest<'_>) -> Vec<Entry> {
    if !request.key {
        return Vec::new();
    }
    let (document, words) = (request.job.document(), request.words);
    let crew = request.reader == Reader::Crew;
    let mut entries = Vec::new();
    let mut add = |sample: Sample, text: String| entries.push(Entry { sample, text });
    let names = CableNames { job: request.job, words, units: request.units };
    if request.reader.sees_the_system() {
        for (i, line) in request.job.lines().enumerate() {
            if request.only_line.is_none_or(|only| only == line.id) {
                let text = if crew {
                    words.fill("plan.line", &[("cable", &names.written(&line))])
                } else {
                    words.fill("plan.title_line", &[("line", line.id)])
                };
                add(Sample::Line(line_style(i), line.id.to_owned()), text);
            }
        }
    }
    let word = |key: &str| words.get(&format!("plan.{key}")).to_owned();
    let all: Vec<_> = request.job.loudspeakers().collect();
    let paired = |l: &PlacedLoudspeaker<'_>| all.iter().any(|other| symbols::back_to_back(l, other));
    let drawn: Vec<&str> = all
        .iter()
        .map(|l| if paired(l) { "pair" } else { symbols::loudspeaker_symbol(l.model.kind, l.mount) })
        .collect();
    for name in symbols::LOUDSPEAKERS.into_iter().filter(|name| drawn.contains(name)) {
        add(Sample::Loudspeaker(name), word(&format!("symbol.{name}")));
    }
    if request.reader.sees_the_system() {
        for kind in [JointKind::Buried, JointKind::Box] {
            if document.joints.values().any(|j| j.kind == kind) {
                add(Sample::Joint(kind), word(&format!("joint.{}", kind.word())));
            }
        }
        if !document.racks.is_empty() {
            add(Sample::Rack, word("rack"));
        }
    }
    if crew {
        for (any, sample, key) in [
            (!document.stubs.is_empty(), Sample::Stub, "stub"),
            (!document.stubs.is_empty(), Sample::Existing, "existing"),
            (!document.marks.is_empty(), Sample::Mark, "mark"),
            (!document.sleeves.is_empty(), Sample::Sleeve, "sleeve"),
            (!document.passages.is_empty(), Sample::Passage, "passage"),
            (!document.no_go.is_empty(), Sample::NoGo, "no_go"),
        ] {
            if any {
                add(sample, word(key));
            }
        }
        for (kind, ..) in ServiceKind::ALL {
            if document.services.values().any(|s| s.kind == *kind) {
                let name = words.get(&format!("service.{}", kind.word())).to_owned();
                let text = words.fill("plan.service", &[("kind", &name)]);
                add(Sample::Service(*kind, request.units), text);
            }
        }
    }
    if !document.areas.is_empty() {
        add(Sample::Area, word("area"));
    }
    if document.neighbours.values().any(|n| !n.points.is_empty()) {
        add(Sample::Neighbour, word("neighbour"));
    }
    for (kind, sample) in [
        (WallKind::Masonry, Sample::Masonry),
        (WallKind::Fence, Sample::Fence),
        (WallKind::Hedge, Sample::Hedge),
    ] {
        if document.walls.values().any(|w| w.kind == kind) {
            add(sample, word(&format!("wall.{}", kind.word())));
        }
    }
    if let Some(levels) = request.field {
        let bands = level_colours::top_db(levels).map(|top_db| level_colours::bands_of(levels, top_db, 0.0));
        entries.extend(level_entries(&bands.unwrap_or_default(), words));
    } else {
        let mut seen = Vec::new();
        let ground = document.site.outline.as_ref().map(|_| document.site.ground);
        for kind in ground.into_iter().chain(document.surfaces.values().map(|s| s.kind)) {
            if !seen.contains(&kind) {
                seen.push(kind);
                add(Sample::Surface(kind), word(&format!("surface.{}", kind.word())));
            }
        }
    }
    if crew {
        let depths = Depths { words, units: request.units, local: &document.site.local };
        let allowed = &document.brief.laying;
        let ways = Laying::ALL.iter().map(|way| way.0);
        let line = depths.line(ways.filter(|way| allowed.is_empty() || allowed.contains(way)));
        entries.extend(line.map(|text| Entry { sample: Sample::Note, text }));
    }
    entries
}

/// What the colours of levels stand for.
pub fn level_entries(bands: &[Band], words: &Words) -> Vec<Entry> {
    let entry = |band: &Band| {
        let (from, to) =
            (loamline_terms::fixed(band.from_db, 0), loamline_terms::fixed(band.from_db + STEP_DB, 0));
        let text = words.fill("plan.level_between", &[("from", &from), ("to", &to)]);
        Entry { sample: Sample::Level(band.colour), text }
    };
    bands.iter().map(entry).collect()
}
