//! A sheet per loudspeaker: how it is taped in, aimed, set and fixed; and the holes to dig.

use super::super::common::{Drawings, colour_of, decimal, gravel, volume};
use super::super::schedules::plain;
use super::taped::{side_in_short, side_of};
use super::wiring::wiring;
use crate::drawing::taping_sketch;
use crate::material::Material;
use crate::measures::{dimension, dug, mass};
use crate::taping::{Feature, fixed_points, tape, written};
use loamline_adapt::{LaidCable, LaidRun};
use loamline_model::catalogue::LoudspeakerKind;
use loamline_model::document::{Mount, Polarity};
use loamline_model::{Choice as _, PlacedLoudspeaker};
use serde_json::{Value, json};

/// Data of the loudspeaker sheets: each with its sketch, or without one where they are listed.
pub fn loudspeakers(m: &Material<'_>, drawings: &mut Drawings, sketched: bool) -> Vec<Value> {
    let (words, units) = (&m.options.words, m.options.units);
    let named = |feature: Feature, number: usize, side: &str, of: &str| {
        let key = match feature {
            Feature::Corner => "crew.corner",
            Feature::End => "crew.wall_end",
            Feature::Bend => "crew.wall_bend",
        };
        let side = words.get(&format!("side.{side}")).to_owned();
        words.fill(key, &[("number", &number.to_string()), ("side", &side), ("of", of)])
    };
    let points = fixed_points(m.job, named);
    m.job
        .loudspeakers()
        .map(|l| {
            let colour = colour_of(m.job, l.placed.line.as_deref());
            let mut file = None;
            let (mut taped, mut off) = (Vec::new(), None);
            let position = l.placed.position;
            let mut side = words.fill(
                "crew.no_taping",
                &[("position", &format!("{} / {}", units.length(position.x), units.length(position.y)))],
            );
            if let Some(t) = tape(position, &points, units) {
                let distances = [written(t.first_m, units), written(t.second_m, units)];
                let title = words.fill("crew.taping_title", &[("tag", l.id)]);
                let shown = [distances[0].as_str(), distances[1].as_str()];
                file =
                    sketched.then(|| drawings.add(taping_sketch::draw(m.job, &l, &t, shown, colour, &title)));
                for (point, distance) in [(&t.first, &distances[0]), (&t.second, &distances[1])] {
                    taped.push(json!({ "from": point.id, "name": point.name, "distance": distance }));
                }
                side = if sketched { side_of(m, &t) } else { side_in_short(m, &t) };
                off = t.off_m.map(|off| {
                    let line = [("first", t.first.id.as_str()), ("second", &t.second.id)];
                    json!({ "distance": written(off, units), "of": words.fill("crew.off_line_of", &line) })
                });
            }
            let round = matches!(l.model.kind, LoudspeakerKind::Bollard | LoudspeakerKind::Subwoofer);
            let solved = m.results.loudspeakers.get(l.id);
            json!({
                "tag": l.id,
                "colour": colour,
                "model": l.model.description,
                "line": l.placed.line,
                "tap": l.placed.tap_w.map(|w| format!("{} W", plain(w))),
                "coils": l.placed.coils.map(|c| words.get(&format!("coils.{}", c.word())).to_owned()),
                "wiring": wiring(m, &l),
                "series": series(m, l.id),
                "aim": words.fill(if round { "crew.aim_round" } else { "crew.aim_of" }, &[
                    ("bearing", &format!("{}°", decimal(l.placed.bearing_deg.rem_euclid(360.0), 0))),
                    ("pitch", &format!("{}°", decimal(l.placed.pitch_deg, 0))),
                    ("height", &units.length(l.height_m)),
                ]),
                "reversed": l.placed.polarity == Polarity::Reversed,
                "file": file,
                "width": taping_sketch::SIZE_MM.0,
                "height_mm": taping_sketch::SIZE_MM.1,
                "taped": taped,
                "off": off,
                "side": side,
                "fixing": fixing(m, &l),
                "gets": solved.map(|s| {
                    let (volts, loss) = (decimal(s.voltage_v, 1), decimal(s.loss_db, 1));
                    // Levels are meant to 0.1 dB: below that there is nothing to say but that.
                    let key = if s.loss_db < 0.05 { "crew.gets_all" } else { "crew.gets" };
                    words.fill(key, &[("volts", &volts), ("loss", &loss)])
                }),
                "note": l.placed.note,
            })
        })
        .collect()
}

/// With which loudspeakers one stands in series, and what that asks of its terminals; none where it stands across the line.
fn series(m: &Material<'_>, tag: &str) -> Option<String> {
    let words = &m.options.words;
    let with = m.job.in_series_with(tag);
    let others = with.join(", ");
    let onward: Vec<&str> = onward_in_series(m, tag);
    match (with.is_empty(), onward.is_empty()) {
        (true, _) => None,
        (_, true) => Some(words.fill("crew.series_with", &[("others", &others)])),
        _ => Some(words.fill("crew.series_first", &[("others", &others), ("onward", &onward.join(", "))])),
    }
}

/// Tags of the cables that lead on to what is in series with a loudspeaker.
pub fn onward_in_series<'m>(m: &'m Material<'_>, tag: &str) -> Vec<&'m str> {
    let leads = |run: &&LaidRun| run.in_series && run.from == tag;
    let runs: Vec<&LaidRun> = m.results.runs.iter().filter(leads).collect();
    let carries = |cable: &&LaidCable| runs.iter().any(|run| cable.holds(&run.line, &run.id));
    m.laid.iter().filter(carries).map(|cable| cable.tag.as_str()).collect()
}

pub fn fixing(m: &Material<'_>, l: &PlacedLoudspeaker<'_>) -> String {
    let words = &m.options.words;
    if let Some(other) = m.job.stake_of(l.id) {
        return words.fill("crew.stake_shared", &[("other", other)]);
    }
    let hanging: Vec<&str> =
        m.job.loudspeakers().map(|o| o.id).filter(|o| m.job.stake_of(o) == Some(l.id)).collect();
    if !hanging.is_empty() {
        let own = own_fixing(m, l);
        return words.fill("crew.stake_for_two", &[("own", &own), ("others", &hanging.join(", "))]);
    }
    own_fixing(m, l)
}

fn own_fixing(m: &Material<'_>, l: &PlacedLoudspeaker<'_>) -> String {
    let words = &m.options.words;
    let mount = words.get(&format!("mount.{}", l.mount.word())).to_owned();
    match (l.mount, l.model.pilot_depth_m) {
        (Mount::Stake, Some(depth)) => {
            words.fill("crew.stake_pilot", &[("depth", &dimension(m.options.units, depth))])
        }
        (Mount::Stake, None) => words.get("crew.stake").to_owned(),
        _ if m.holes.iter().any(|h| h.loudspeaker == l.id) => words.fill("crew.hole", &[("mount", &mount)]),
        _ => mount,
    }
}

/// Holes to dig.
pub fn holes(m: &Material<'_>) -> Vec<Value> {
    let units = m.options.units;
    m.holes
        .iter()
        .map(|h| {
            let line = m.job.loudspeaker(&h.loudspeaker).and_then(|l| l.placed.line.as_deref());
            json!({
                "tag": h.loudspeaker,
                "colour": colour_of(m.job, line),
                "size": format!(
                    "{} \u{00d7} {} \u{00d7} {}",
                    dug(units, h.length_m),
                    dug(units, h.width_m),
                    dug(units, h.depth_m)
                ),
                "soil": volume(m, h.soil_m3),
                "gravel": gravel(m, h.gravel_m3),
                "weight": mass(units, h.gravel_kg),
            })
        })
        .collect()
}
