//! The crew's sheets: routes, joints, loudspeakers, holes, racks, readings.

use super::common::decimal;
use super::schedules::plain;
use crate::drawing::{self, joint_sketch, line_style, taping_sketch};
use crate::pack::Material;
use crate::quantities::{JointNeed, hole_needs};
use crate::taping::{fixed_points, tape, written};
use loamline_model::document::{EqualiserKind, Filter, Mount, Polarity};
use loamline_model::{Choice as _, Job};
use serde_json::{Value, json};

/// Drawings under way: a template finds each by its number.
#[derive(Default)]
pub struct Drawings(pub Vec<String>);

impl Drawings {
    /// Adds a drawing; its file as templates name it.
    pub fn add(&mut self, svg: String) -> String {
        self.0.push(svg);
        format!("drawings/{}.svg", self.0.len() - 1)
    }
}

fn colour_of(job: &Job, line: Option<&str>) -> &'static str {
    let place = line.and_then(|line| job.document().lines.get_index_of(line));
    place.map_or("#3a332c", |i| line_style(i).colour)
}

/// A sheet per line: every run with its stretches.
pub fn routes(m: &Material<'_>) -> Vec<Value> {
    let (words, units) = (&m.options.words, m.options.units);
    let document = m.job.document();
    m.job
        .lines()
        .map(|line| {
            let runs: Vec<Value> = m
                .results
                .runs
                .iter()
                .filter(|r| r.line == line.id)
                .map(|r| {
                    let stretches: Vec<Value> = r
                        .pieces
                        .iter()
                        .map(|p| {
                            let method = p.laying.map_or("trench", loamline_model::Choice::word);
                            let surface =
                                p.surface.as_deref().and_then(|id| document.surfaces.get_key_value(id));
                            let name =
                                surface.map_or("", |(id, s)| if s.name.is_empty() { id } else { &s.name });
                            json!({
                                "method": words.get(&format!("laying.{method}")),
                                "where": name,
                                "length": units.run(p.length_m),
                            })
                        })
                        .collect();
                    let sleeves: Vec<&str> = r
                        .sleeves
                        .iter()
                        .map(|id| match document.sleeves.get(id) {
                            Some(s) if !s.name.is_empty() => s.name.as_str(),
                            _ => id.as_str(),
                        })
                        .collect();
                    let crosses: Vec<String> = r
                        .crosses
                        .iter()
                        .filter_map(|id| document.services.get(id).map(|s| (id, s)))
                        .map(|(id, s)| {
                            let kind = words.get(&format!("service.{}", s.kind.word())).to_owned();
                            let depth = s.depth_m.map(|d| units.length(d));
                            match depth {
                                Some(depth) => words.fill(
                                    "crew.crosses_at",
                                    &[("id", id), ("kind", &kind), ("depth", &depth)],
                                ),
                                None => words.fill("crew.crosses", &[("id", id), ("kind", &kind)]),
                            }
                        })
                        .collect();
                    json!({
                        "run": r.id, "from": r.from, "to": r.to,
                        "stretches": stretches,
                        "sleeves": sleeves.join("; "),
                        "crosses": crosses.join("; "),
                        "cut": units.run(r.length.order_m),
                    })
                })
                .collect();
            let mut totals: Vec<(String, f64)> = Vec::new();
            for (laying, metres) in
                m.results.runs.iter().filter(|r| r.line == line.id).flat_map(|r| r.by_laying())
            {
                let word = laying.map_or("trench", loamline_model::Choice::word);
                let name = words.get(&format!("laying_short.{word}")).to_owned();
                match totals.iter_mut().find(|(n, _)| *n == name) {
                    Some((_, sum)) => *sum += metres,
                    None => totals.push((name, metres)),
                }
            }
            let totals: Vec<String> =
                totals.into_iter().map(|(name, sum)| format!("{name} {}", units.run(sum))).collect();
            json!({
                "title": words.fill("plan.title_line", &[("line", line.id)]),
                "colour": colour_of(m.job, Some(line.id)),
                "cable": line.cable.description,
                "start": line.tree.start,
                "totals": totals.join(" · "),
                "runs": runs,
            })
        })
        .collect()
}

/// A sheet per joint, with its sketch.
pub fn joints(m: &Material<'_>, drawings: &mut Drawings) -> Vec<Value> {
    let words = &m.options.words;
    m.joints
        .iter()
        .map(|joint| {
            let colour = colour_of(m.job, Some(&joint.line));
            let title = words.fill("crew.joint_title", &[("tag", &joint.at)]);
            let size = joint_sketch::size_mm(joint);
            let file = drawings.add(joint_sketch::draw(joint, colour, words.get("crew.capped"), &title));
            let note = m.job.document().joints.get(&joint.at).map_or("", |j| j.note.as_str());
            json!({
                "tag": joint.at,
                "line": joint.line,
                "colour": colour,
                "file": file,
                "title": title,
                "width": size.0,
                "height": size.1,
                "ties": joint.cable_ends(),
                "connectors": connector_counts(m, joint),
                "note": note,
            })
        })
        .collect()
}

fn connector_counts(m: &Material<'_>, joint: &JointNeed) -> String {
    let mut counts: indexmap::IndexMap<&str, usize> = indexmap::IndexMap::new();
    for id in joint.conductors.iter().flat_map(|c| &c.connectors) {
        *counts.entry(id).or_default() += 1;
    }
    let name =
        |id: &str| m.job.catalogue().connectors.get(id).map_or(id.to_owned(), |c| c.description.clone());
    let texts: Vec<String> = counts.iter().map(|(id, n)| format!("{n} \u{00d7} {}", name(id))).collect();
    texts.join("; ")
}

/// A sheet per loudspeaker: how it is taped in, aimed, set and fixed.
pub fn loudspeakers(m: &Material<'_>, drawings: &mut Drawings) -> Vec<Value> {
    let (words, units) = (&m.options.words, m.options.units);
    let corner = |number: usize, building: &str| {
        words.fill("crew.corner", &[("number", &number.to_string()), ("building", building)])
    };
    let points = fixed_points(m.job, corner);
    let marks = m.job.document().marks.len();
    let holes = hole_needs(m.job);
    m.job
        .loudspeakers()
        .map(|l| {
            let colour = colour_of(m.job, l.placed.line.as_deref());
            let taping = tape(l.placed.position, &points, marks, units);
            let mut file = None;
            let mut taped = Vec::new();
            let mut side = String::new();
            if let Some(t) = &taping {
                let distances = [written(t.first_m, units), written(t.second_m, units)];
                let title = words.fill("crew.taping_title", &[("tag", l.id)]);
                let shown = [distances[0].as_str(), distances[1].as_str()];
                file = Some(drawings.add(taping_sketch::draw(m.job, &l, t, shown, colour, &title)));
                for (point, distance) in [(&t.first, &distances[0]), (&t.second, &distances[1])] {
                    taped.push(json!({ "from": point.id, "name": point.name, "distance": distance }));
                }
                let key = if t.left { "crew.left_of" } else { "crew.right_of" };
                side = words.fill(key, &[("first", &t.first.id), ("second", &t.second.id)]);
            }
            let fixing = fixing(m, &l, holes.iter().find(|h| h.loudspeaker == l.id));
            json!({
                "tag": l.id,
                "colour": colour,
                "model": l.model.description,
                "line": l.placed.line,
                "tap": l.placed.tap_w.map(|w| format!("{} W", plain(w))),
                "coils": l.placed.coils.map(|c| words.get(&format!("coils.{}", c.word())).to_owned()),
                "bearing": format!("{}°", decimal(l.placed.bearing_deg.rem_euclid(360.0), 0)),
                "pitch": format!("{}°", decimal(l.placed.pitch_deg, 0)),
                "height": units.length(l.height_m),
                "reversed": l.placed.polarity == Polarity::Reversed,
                "file": file,
                "width": taping_sketch::SIZE_MM.0,
                "height_mm": taping_sketch::SIZE_MM.1,
                "taped": taped,
                "side": side,
                "fixing": fixing,
                "note": l.placed.note,
                "position": format!(
                    "{} / {}",
                    units.length(l.placed.position.x),
                    units.length(l.placed.position.y)
                ),
            })
        })
        .collect()
}

fn fixing(
    m: &Material<'_>,
    l: &loamline_model::PlacedLoudspeaker<'_>,
    hole: Option<&crate::quantities::HoleNeed>,
) -> String {
    let (words, units) = (&m.options.words, m.options.units);
    match (l.mount, hole, l.model.pilot_depth_m) {
        (Mount::Stake, _, Some(depth)) => {
            words.fill("crew.stake_pilot", &[("depth", &units.dimension(depth))])
        }
        (Mount::Stake, _, None) => words.get("crew.stake").to_owned(),
        (_, Some(hole), _) => words.fill(
            "crew.hole",
            &[
                ("length", &units.dimension(hole.length_m)),
                ("width", &units.dimension(hole.width_m)),
                ("depth", &units.dimension(hole.depth_m)),
            ],
        ),
        (mount, _, _) => words.get(&format!("mount.{}", mount.word())).to_owned(),
    }
}

/// Holes to dig.
pub fn holes(m: &Material<'_>) -> Vec<Value> {
    let units = m.options.units;
    m.holes
        .iter()
        .map(|h| {
            json!({
                "tag": h.loudspeaker,
                "size": format!(
                    "{} \u{00d7} {} \u{00d7} {}",
                    units.dimension(h.length_m),
                    units.dimension(h.width_m),
                    units.dimension(h.depth_m)
                ),
                "soil": units.volume(h.soil_m3),
                "gravel": units.volume(h.gravel_m3),
                "weight": units.mass(h.gravel_kg),
            })
        })
        .collect()
}

/// A sheet per rack: its amplifiers and their channels with everything to set.
pub fn racks(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let document = m.job.document();
    document
        .racks
        .iter()
        .map(|(id, rack)| {
            let amplifiers: Vec<Value> = document
                .amplifiers
                .iter()
                .filter(|(_, a)| a.rack == *id)
                .map(|(amplifier, a)| {
                    let model = m.job.catalogue().amplifiers.get(&a.model);
                    let channels: Vec<Value> = m
                        .job
                        .channels()
                        .filter(|c| c.channel.amplifier == *amplifier)
                        .map(|c| channel(m, &c))
                        .collect();
                    json!({
                        "tag": amplifier,
                        "model": model.map(|x| &x.description),
                        "channels": channels,
                    })
                })
                .collect();
            let position = format!(
                "{} / {}",
                m.options.units.length(rack.position.x),
                m.options.units.length(rack.position.y)
            );
            json!({
                "tag": id,
                "name": rack.name,
                "position": position,
                "mains": words.fill(
                    "crew.mains",
                    &[("volts", &plain(rack.mains_v)), ("amps", &plain(rack.circuit_a))],
                ),
                "amplifiers": amplifiers,
            })
        })
        .collect()
}

fn channel(m: &Material<'_>, c: &loamline_model::ChannelView<'_>) -> Value {
    let words = &m.options.words;
    let set = c.channel;
    let mut settings: Vec<Value> = Vec::new();
    let mut add = |key: &str, value: String| {
        settings.push(json!({ "name": words.get(&format!("setting.{key}")), "value": value }));
    };
    add("gain", format!("{} dB", decimal(set.gain_db, 1)));
    if let Some(f) = &set.high_pass {
        add("high_pass", filter(m, f));
    }
    if let Some(f) = &set.low_pass {
        add("low_pass", filter(m, f));
    }
    add("delay", format!("{} ms", decimal(set.delay_s * 1000.0, 2)));
    add("polarity", words.get(&format!("polarity.{}", set.polarity.word())).to_owned());
    for (name, eq) in &set.equaliser {
        let q = match eq.kind {
            EqualiserKind::Bell => format!(", Q {}", plain(eq.q)),
            EqualiserKind::LowShelf | EqualiserKind::HighShelf => String::new(),
        };
        let kind = words.get(&format!("equaliser.{}", eq.kind.word())).to_owned();
        let text = format!("{name}: {kind} {} Hz, {} dB{q}", plain(eq.frequency_hz), decimal(eq.gain_db, 1));
        add("equaliser", text);
    }
    if let Some(limiter) = &set.limiter {
        let peak = limiter.peak_v.map(|p| format!(", {} V {}", plain(p), words.get("setting.peak")));
        add("limiter", format!("{} V RMS{}", plain(limiter.rms_v), peak.unwrap_or_default()));
    }
    let used = m.results.channels.get(c.id);
    json!({
        "tag": c.id,
        "output": set.output,
        "bridged": set.bridged,
        "lines": c.lines.join(", "),
        "load": used.map(|u| match u.load_w {
            Some(load) => words.fill(
                "crew.load_of",
                &[("load", &plain(load)), ("rated", &plain(u.rated_w)), ("share", &decimal(u.used * 100.0, 0))],
            ),
            None => words.fill("crew.load_lowest", &[("ohm", &plain(u.lowest_ohm))]),
        }),
        "settings": settings,
    })
}

fn filter(m: &Material<'_>, f: &Filter) -> String {
    let kind = m.options.words.get(&format!("filter.{}", f.kind.word())).to_owned();
    let slope = (f.order * 6).to_string();
    m.options
        .words
        .fill("setting.filter", &[("corner", &plain(f.corner_hz)), ("kind", &kind), ("slope", &slope)])
}

/// Readings expected at the rack before an amplifier is connected; empty without results.
pub fn readings(m: &Material<'_>) -> Vec<Value> {
    m.results
        .lines
        .iter()
        .filter_map(|(id, line)| {
            let (hertz, ohms) = line.impedance_near(1000.0)?;
            Some(json!({
                "line": id,
                "colour": colour_of(m.job, Some(id)),
                "load": line.load_w.map(|w| format!("{} W", plain(w))),
                "at": format!("{} Hz", plain(hertz)),
                "ohms": format!("{} ohm", ohms_text(ohms)),
                "range": format!("{} \u{2013} {} ohm", ohms_text(ohms * 0.9), ohms_text(ohms * 1.1)),
            }))
        })
        .collect()
}

/// Three digits are what a meter is read to.
pub fn ohms_text(ohms: f64) -> String {
    let places = if ohms < 10.0 {
        2
    } else if ohms < 100.0 {
        1
    } else {
        0
    };
    format!("{ohms:.places$}")
}

/// A plan of one line, as large as fits on a page beside its table.
pub fn line_plan(m: &Material<'_>, line: &str, title: &str, size_mm: (f64, f64)) -> String {
    let (low, high) = drawing::extent(m.job);
    // It fills the page: it carries a scale bar, not a scale to measure by.
    let frame = (size_mm.0 - 8.0, size_mm.1 - 15.0);
    let mm_per_m = (frame.0 / (high.x - low.x)).min(frame.1 / (high.y - low.y));
    drawing::draw(&drawing::PlanRequest {
        job: m.job,
        words: &m.options.words,
        units: m.options.units,
        reader: drawing::Reader::Crew,
        centre: low.lerp(high, 0.5),
        mm_per_m,
        size_mm,
        field: None,
        only_line: Some(line),
        key: false,
        title,
    })
    .svg
}
