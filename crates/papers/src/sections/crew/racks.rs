//! A sheet per rack: mains and heat, and every channel with everything to set.

use super::super::common::{Drawings, decimal, place};
use super::super::conductors::{at_rack, written};
use super::super::schedules::plain;
use super::inputs::{inputs, source_name};
use crate::material::Material;
use loamline_adapt::{loudspeakers_of_channel, run_conductors};
use loamline_model::document::Filter;
use loamline_model::{ChannelView, Choice as _};
use loamline_study::channel_plan;
use loamline_terms::hertz;
use serde_json::{Value, json};

/// Data of the rack sheets.
pub fn racks(m: &Material<'_>, drawings: &mut Drawings) -> Vec<Value> {
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
                    let own = m.job.channels().filter(|c| c.channel.amplifier == *amplifier);
                    json!({
                        "tag": amplifier,
                        "model": model.map(|x| &x.description),
                        "inputs": inputs(m, amplifier, drawings),
                        "channels": own.map(|c| channel(m, &c)).collect::<Vec<_>>(),
                    })
                })
                .collect();
            let mains = m.job.document().mains_of(rack);
            json!({
                "tag": id,
                "name": rack.name,
                "position": place(m, rack.position),
                "below": (rack.height_m < 0.0).then(|| {
                    words.fill("crew.rack_below", &[("depth", &m.options.units.length(-rack.height_m))])
                }),
                "mains": words.fill(
                    "crew.mains_text",
                    &[("volts", &plain(mains.voltage_v)), ("amps", &plain(mains.circuit_a))],
                ),
                "power": power(m, id),
                "amplifiers": amplifiers,
            })
        })
        .collect()
}

/// Draw and heat of a rack's amplifiers; null where they are not worked out.
pub fn power(m: &Material<'_>, rack: &str) -> Value {
    let Some(result) = m.results.racks.get(rack) else { return Value::Null };
    let watts = |w: f64| format!("{} W", decimal(w, 0));
    let amps = |a: f64| format!("{} A", decimal(a, 1));
    let sum = |f: fn(&crate::results::DrawResult) -> f64| result.draws.iter().map(f).sum::<f64>();
    let rows: Vec<Value> = result
        .draws
        .iter()
        .map(|d| {
            json!([
                d.amplifier,
                watts(d.idle_w),
                watts(d.idle_w),
                watts(d.eighth_w),
                watts(d.eighth_heat_w),
                amps(d.eighth_a)
            ])
        })
        .collect();
    let circuits: Vec<String> = result
        .circuits
        .iter()
        .zip(1..)
        .map(|((names, current), number)| {
            let amplifiers = names.join(", ");
            m.options.words.fill(
                "crew.circuit",
                &[
                    ("number", &number.to_string()),
                    ("amplifiers", &amplifiers),
                    ("amps", &decimal(*current, 1)),
                ],
            )
        })
        .collect();
    let idle = watts(sum(|d| d.idle_w));
    json!({
        "rows": rows,
        "total": [
            m.options.words.get("crew.rack_total"),
            idle,
            idle,
            watts(sum(|d| d.eighth_w)),
            watts(sum(|d| d.eighth_heat_w)),
            amps(sum(|d| d.eighth_a)),
        ],
        "circuits": circuits,
    })
}

/// Everything to set on a channel: name and value.
pub fn settings(m: &Material<'_>, c: &ChannelView<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let set = c.channel;
    let mut settings: Vec<Value> = Vec::new();
    let mut add = |key: &str, value: String| {
        settings.push(json!({ "name": words.get(&format!("setting.{key}")), "value": value }));
    };
    for (model, date) in makers(m, c) {
        add("maker", words.fill("setting.maker_of", &[("model", model), ("date", date)]));
    }
    let design = decimal(set.gain_db, 1);
    add(
        "gain",
        match m.results.sources.as_ref().and_then(|s| s.channels.get(c.id)?.gain_db) {
            Some(gain) => {
                words.fill("setting.gain_from_input", &[("gain", &signed(gain)), ("design", &design)])
            }
            None => format!("{design} dB"),
        },
    );
    for (key, filter) in [("high_pass", &set.high_pass), ("low_pass", &set.low_pass)] {
        if let Some(filter) = filter {
            add(key, filter_text(m, filter));
        }
    }
    add("delay", format!("{} ms", decimal(set.delay_s * 1000.0, 2)));
    add("polarity", words.get(&format!("polarity.{}", set.polarity.word())).to_owned());
    for (name, eq) in &set.equaliser {
        let kind = words.get(&format!("equaliser.{}", eq.kind.word())).to_owned();
        let values = [
            ("name", name.as_str()),
            ("kind", kind.as_str()),
            ("frequency", &hertz(eq.frequency_hz, 2)),
            ("gain", &decimal(eq.gain_db, 1)),
            ("q", &plain(eq.q)),
        ];
        add("equaliser", words.fill("setting.band", &values));
    }
    // Thresholds and times as the order of work reads them back.
    let plan = channel_plan(m.job, c).ok();
    if let Some(limiter) = plan.as_ref().and_then(|p| p.limiter) {
        let (rms, peak) = (plain(limiter.v_rms), plain(limiter.v_peak));
        add("limiter", words.fill("setting.limit", &[("rms", &rms), ("peak", &peak)]));
    }
    if let Some(times) = plan.and_then(|p| p.times) {
        let ms = |s: f64, places| decimal(s * 1000.0, places);
        let peak = [("attack", &*ms(times.peak_attack_s, 1)), ("release", &ms(times.peak_release_s, 0))];
        add("limiter_peak_times", words.fill("setting.peak_times", &peak));
        let rms = [("attack", &*plain(times.rms_attack_s)), ("release", &plain(times.rms_release_s))];
        add("limiter_rms_times", words.fill("setting.rms_times", &rms));
    }
    settings
}

fn channel(m: &Material<'_>, c: &ChannelView<'_>) -> Value {
    let words = &m.options.words;
    let set = c.channel;
    let load = m.results.channels.get(c.id).map(|u| match u.load_w {
        Some(load) => {
            let share = decimal(u.used * 100.0, 0);
            words.fill(
                "crew.load_of",
                &[("load", &plain(load)), ("rated", &plain(u.rated_w)), ("share", &share)],
            )
        }
        None => words.fill("crew.load_lowest", &[("ohm", &plain(u.lowest_ohm))]),
    });
    let headroom = m.results.channels.get(c.id).map(|u| {
        let of = words.get(&format!("headroom.{}", u.headroom.of.word())).to_owned();
        words.fill("crew.headroom", &[("db", &decimal(u.headroom.db, 1)), ("of", &of)])
    });
    let output = set.output.to_string();
    let output = if set.bridged {
        words.fill("crew.bridged", &[("output", &output), ("partner", &(set.output + 1).to_string())])
    } else {
        output
    };
    json!({
        "tag": c.id,
        "output": output,
        "inputs": set.inputs.iter().map(u32::to_string).collect::<Vec<_>>().join(", "),
        "turned_down": turned_down(m, c),
        "lines": c.lines.iter().map(|line| numbered(m, line)).collect::<Vec<_>>().join(", "),
        "wires": c.lines.iter().filter_map(|line| wires(m, line)).collect::<Vec<_>>(),
        "series": c.lines.iter().flat_map(|line| series(m, line)).collect::<Vec<_>>(),
        "load": load,
        "headroom": headroom,
        "settings": settings(m, c),
    })
}

/// A line with the number of its rhythm: its place among the lines of the document.
fn numbered(m: &Material<'_>, line: &str) -> String {
    let number = m.job.document().lines.get_index_of(line).map_or_else(String::new, |i| (i + 1).to_string());
    m.options.words.fill("crew.line_rhythm", &[("line", line), ("number", &number)])
}

/// Settings of makers for what a channel feeds: description of the model, and their date.
fn makers<'j>(m: &Material<'j>, c: &ChannelView<'j>) -> Vec<(&'j str, &'j str)> {
    let mut all: Vec<(&str, &str)> = Vec::new();
    for l in loudspeakers_of_channel(m.job, c) {
        let of = l.model.settings.as_ref().map(|s| (l.model.description.as_str(), s.date.as_str()));
        all.extend(of.filter(|s| !all.contains(s)));
    }
    all
}

/// Sources that are louder than the weakest of a channel, and how far each is turned down in that channel's mix: others
/// that get the same source may want it as it is.
fn turned_down(m: &Material<'_>, c: &ChannelView<'_>) -> Vec<String> {
    let structure = m.results.sources.as_ref().and_then(|s| s.channels.get(c.id));
    let louder = structure.into_iter().flat_map(|g| &g.sources).filter(|s| s.turn_down_db >= 0.05);
    louder
        .map(|s| {
            let db = decimal(s.turn_down_db, 1);
            let own = m.job.document().sources.get(&s.source);
            let name = own.map_or(s.source.as_str(), |o| source_name(&s.source, o));
            m.options.words.fill("inputs.turn_down", &[("source", name), ("db", &db)])
        })
        .collect()
}

/// A gain with its sign.
fn signed(gain_db: f64) -> String {
    let text = decimal(gain_db, 1);
    if text.starts_with('\u{2212}') { text } else { format!("+{text}") }
}

/// The loudspeakers of a line that stand in series.
fn series(m: &Material<'_>, line: &str) -> Vec<String> {
    let said = |(first, with): (&str, Vec<&str>)| {
        let others = with.join(", ");
        m.options.words.fill("crew.series_line", &[("line", line), ("first", first), ("others", &others)])
    };
    m.job.series_of_line(line).into_iter().map(said).collect()
}

/// On which conductors a line arrives, and through which existing cable; none while it has no runs.
fn wires(m: &Material<'_>, line: &str) -> Option<String> {
    let run = at_rack(m, line)?;
    let conductors = written(m, &run_conductors(m.job, run));
    Some(match run.existing.as_ref().and_then(|e| e.stub.as_deref()) {
        Some(stub) => m
            .options
            .words
            .fill("crew.wires_existing", &[("line", line), ("conductors", &conductors), ("stub", stub)]),
        None => m.options.words.fill("crew.wires", &[("line", line), ("conductors", &conductors)]),
    })
}

fn filter_text(m: &Material<'_>, f: &Filter) -> String {
    let kind = m.options.words.get(&format!("filter.{}", f.kind.word())).to_owned();
    let slope = (f.order * 6).to_string();
    m.options
        .words
        .fill("setting.filter", &[("corner", &hertz(f.corner_hz, 2)), ("kind", &kind), ("slope", &slope)])
}
