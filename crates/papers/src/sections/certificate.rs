//! What is signed at handover: levels wanted, expected and measured, readings of every line with their verdicts, settings,
//! serial numbers, meters, what was changed against the design. Nothing is judged here: verdicts come from the study.
//!
//! It is the paper of a day: of visits it has those up to the last handover, so that upkeep and faults of later years leave what
//! was signed as it was. Before the first handover it has all there are. Readings stand with the verdict by the line as it was when
//! they were taken, whatever was changed on it since.

use super::commissioned::commissioned;
use super::common::{colour_of, common, decimal};
use super::crew::settings;
use super::schedules::plain;
use super::service::handed_over;
use super::since_accepted::since_accepted;
use super::{limits, readings};
use crate::material::Material;
use crate::results::LimitResult;
use loamline_model::Choice as _;
use loamline_model::document::{Amplifier, KeptLine, MeterKind, Visit, VisitKind, Work};
use loamline_model::{LineChange, PlacedLoudspeaker};
use loamline_study::{JudgedLevel, JudgedReading, When, judged_levels};
use serde_json::{Value, json};

/// Lines to write on where nothing is entered.
const BLANK_LINES: usize = 3;

/// Data of the certificate.
pub fn certificate(m: &Material<'_>) -> (Value, Vec<String>) {
    let mut data = common(m);
    let mut levels = judged_levels(m.job);
    levels.retain(|l| is_of_the_day(m, &l.date));
    data["areas"] = areas(m, &levels).into();
    let found = |neighbour: &str, when: When, l: &LimitResult| {
        levels.iter().rfind(|v| {
            v.neighbour.as_deref() == Some(neighbour)
                && v.floor == l.floor
                && v.night == (when == When::Night)
                && v.octave_63_hz == l.octave_63
        })
    };
    data["neighbours"] = limits::measured(m, found).into();
    data["lines"] = lines(m).into();
    data["insulation"] = readings::insulation(m);
    data["loudspeakers"] = loudspeakers(m).into();
    data["amplifiers"] = amplifiers(m).into();
    data["meters"] = meters(m).into();
    data["changed"] = since_accepted(m).into_iter().chain(changed(m)).collect::<Vec<_>>().into();
    data["remarks"] = remarks(m).into();
    data["blank_lines"] = BLANK_LINES.into();
    (data, Vec::new())
}

/// Whether what was done on a day is on the certificate.
fn is_of_the_day(m: &Material<'_>, date: &str) -> bool {
    let until = handed_over(m);
    until.is_empty() || date <= until
}

/// Visits up to the last handover, the oldest first.
fn visits<'m>(m: &'m Material<'_>) -> Vec<&'m Visit> {
    let all = m.job.document().visits.values();
    let mut visits: Vec<&Visit> = all.filter(|v| is_of_the_day(m, &v.date)).collect();
    visits.sort_by(|a, b| a.date.cmp(&b.date));
    visits
}

fn areas(m: &Material<'_>, levels: &[JudgedLevel]) -> Vec<Value> {
    let words = &m.options.words;
    m.job
        .document()
        .areas
        .iter()
        .map(|(id, area)| {
            let measured = levels.iter().rfind(|v| v.area.as_ref() == Some(id));
            let target = [("target", &*plain(area.target_dba)), ("within", &plain(area.within_db))];
            json!({
                "name": if area.name.is_empty() { id } else { &area.name },
                "wanted": words.fill("certificate.within", &target),
                "expected": m.results.areas.get(id).map(|a| format!("{} dBA", decimal(a.mean_dba, 1))),
                "measured": measured.map(|l| format!("{} dBA", decimal(l.measured_db, 1))),
                "apart": measured.map(|l| words.fill("certificate.db", &[("db", &signed(l.over_db()))])),
                "verdict": measured.map(|l| words.get(area_verdict(l))),
                "kept": measured.is_none_or(|l| l.kept),
            })
        })
        .collect()
}

/// Key of what is said of a level measured in an area.
fn area_verdict(l: &JudgedLevel) -> &'static str {
    match l.kept {
        true => "certificate.as_wanted",
        false if l.over_db() > 0.0 => "certificate.too_loud",
        false => "certificate.too_quiet",
    }
}

/// A difference with its sign.
fn signed(db: f64) -> String {
    let text = decimal(db, 1);
    if db >= 0.05 { format!("+{text}") } else { text }
}

/// Every line with the last word of each of its readings by the day of the handover; the finished line first, as the study has
/// them. One that was replaced since stands with what was read of it, and of the one that came in its place nothing was then.
fn lines(m: &Material<'_>) -> Vec<Value> {
    let of_the_day = |r: &&JudgedReading| is_of_the_day(m, &r.date) && stood(m, r);
    let taken: Vec<&JudgedReading> = m.results.judged.iter().filter(of_the_day).collect();
    let last = |k: usize, r: &JudgedReading| !taken[k + 1..].iter().any(|later| later.is_of_same(r));
    let one = |line: &String| {
        let of_line = taken.iter().enumerate().filter(|(k, r)| r.line == *line && last(*k, r));
        // On this paper it is the line, whatever became of it.
        let row = |r: &JudgedReading| {
            let mut row = readings::row(m, r);
            row["line"] = json!(r.line);
            row
        };
        let rows: Vec<Value> = of_line.map(|(_, r)| row(r)).collect();
        json!({ "line": line, "colour": colour_of(m.job, Some(line.as_str())), "rows": rows })
    };
    let mut all: Vec<&String> = m.job.document().lines.keys().collect();
    for r in &taken {
        if !all.contains(&&r.line) {
            all.push(&r.line);
        }
    }
    all.into_iter().map(one).collect()
}

/// Whether the line a reading is of was the one handed over: one that was not replaced since, or that a handover measured.
fn stood(m: &Material<'_>, r: &JudgedReading) -> bool {
    let visits = &m.job.document().visits;
    let own = r.as_it_was.as_deref().and_then(|key| visits.get(&r.visit)?.lines.get(key));
    let Some(own) = own.filter(|k| k.replaced) else { return true };
    let handovers = visits.values().filter(|v| v.kind == VisitKind::Handover && is_of_the_day(m, &v.date));
    let mut handed_over = handovers.flat_map(|v| v.lines.values()).filter(|k| !k.readings.is_empty());
    handed_over.any(|k| k.line == own.line && k.is_same_line(own))
}

fn loudspeakers(m: &Material<'_>) -> Vec<Value> {
    let one = |l: PlacedLoudspeaker<'_>| {
        json!({
            "tag": l.id,
            "colour": colour_of(m.job, l.placed.line.as_deref()),
            "model": l.model.description,
            "tap": l.placed.tap_w.map(|w| format!("{} W", plain(w))),
            "serial": l.placed.serial,
        })
    };
    m.job.loudspeakers().map(one).collect()
}

fn amplifiers(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let one = |(id, amplifier): (&String, &Amplifier)| {
        let own = m.job.channels().filter(|c| c.channel.amplifier == *id);
        let channels: Vec<Value> = own
            .map(|c| {
                let lines = c.lines.join(", ");
                let lines = if lines.is_empty() { words.get("page.none").to_owned() } else { lines };
                let title = words.fill("certificate.channel", &[("channel", c.id), ("lines", &lines)]);
                json!({ "title": title, "settings": settings(m, &c) })
            })
            .collect();
        let model = m.job.catalogue().amplifiers.get(&amplifier.model);
        json!({
            "tag": id,
            "model": model.map(|x| &x.description),
            "serial": amplifier.serial,
            "record": commissioned(m, id),
            "channels": channels,
        })
    };
    m.job.document().amplifiers.iter().map(one).collect()
}

/// Meters that were used, each once; of a sort that none is named of, a row to fill in.
fn meters(m: &Material<'_>) -> Vec<Value> {
    let words = &m.options.words;
    let kind = |k: MeterKind| words.get(&format!("certificate.meters_kind.{}", k.word())).to_owned();
    let used: Vec<_> = visits(m).into_iter().flat_map(|v| v.meters.values()).collect();
    let mut rows: Vec<Value> = Vec::new();
    for sort in [MeterKind::Impedance, MeterKind::Resistance, MeterKind::Insulation, MeterKind::Level] {
        let of_sort = used.iter().filter(|x| x.kind == sort);
        let before = rows.len();
        for x in of_sort {
            let row = json!([kind(sort), x.name, x.serial, x.calibrated]);
            if !rows.contains(&row) {
                rows.push(row);
            }
        }
        if rows.len() == before {
            rows.push(json!([kind(sort), "", "", ""]));
        }
    }
    rows
}

/// What visits say that differs from the design.
fn changed(m: &Material<'_>) -> Vec<String> {
    let (words, document) = (&m.options.words, m.job.document());
    let mut told = Vec::new();
    for visit in visits(m) {
        for done in visit.done.values().filter(|d| d.work == Work::Tap) {
            let Some((at, found_w)) = done.at.as_deref().zip(done.tap_w) else { continue };
            let design = document.loudspeakers.get(at).and_then(|l| l.tap_w);
            if let Some(design_w) = design.filter(|w| (w - found_w).abs() > 1e-6) {
                let values = [
                    ("tag", at),
                    ("found", &*plain(found_w)),
                    ("date", &visit.date),
                    ("design", &plain(design_w)),
                ];
                told.push(words.fill("certificate.changed_tap", &values));
            }
        }
        let measured = visit.lines.values().filter(|k| !k.readings.is_empty());
        told.extend(measured.filter_map(|kept| changed_line(m, kept, &visit.date)));
    }
    // Two records of one line say it once.
    let mut once: Vec<String> = Vec::new();
    for sentence in told {
        if !once.contains(&sentence) {
            once.push(sentence);
        }
    }
    once
}

/// What became of a line that was measured; nothing where it is again what it was.
fn changed_line(m: &Material<'_>, kept: &KeptLine, date: &str) -> Option<String> {
    let words = &m.options.words;
    let values = [("line", kept.line.as_str()), ("date", date)];
    let now = m.job.line_to_keep(&kept.line).filter(|_| !kept.replaced);
    let Some(now) = now else { return Some(words.fill("certificate.changed_line", &values)) };
    let what: Vec<String> = kept.changes_to(&now).iter().map(|change| what_changed(m, change)).collect();
    let what = what.join(", ");
    let values = [values[0], values[1], ("what", what.as_str())];
    (!what.is_empty()).then(|| words.fill("certificate.changed_part", &values))
}

fn what_changed(m: &Material<'_>, change: &LineChange) -> String {
    let words = &m.options.words;
    match change {
        LineChange::TakenOut(tag) => words.fill("certificate.taken_out", &[("tag", tag)]),
        LineChange::HungOn(tag) => words.fill("certificate.hung_on", &[("tag", tag)]),
        LineChange::Model(tag) => words.fill("certificate.other_model", &[("tag", tag)]),
        LineChange::Tap(tag) => words.fill("certificate.other_tap", &[("tag", tag)]),
        LineChange::Supply => words.get("certificate.other_supply").to_owned(),
        LineChange::Wiring => words.get("certificate.other_wiring").to_owned(),
        LineChange::Cable => words.get("certificate.other_cable").to_owned(),
    }
}

/// Notes of the visits, each with its day.
fn remarks(m: &Material<'_>) -> Vec<String> {
    let with_notes = visits(m).into_iter().filter(|v| !v.notes.is_empty());
    let one =
        |v: &Visit| m.options.words.fill("certificate.remark", &[("date", &v.date), ("text", &v.notes)]);
    with_notes.map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::options::{Accepted, PackOptions};
    use crate::results::{NeighbourResult, Results};
    use loamline_faults::Tolerances;
    use loamline_model::{JobFile, SourceFile, read_job};
    use loamline_study::{DesignChange, judged};

    const HANDED_OVER: &str = r#"
format = 1
[job]
name = "Handed over"
[areas.A1]
name = "Terrace"
outline = [[0, 0], [4, 0], [4, 4], [0, 4]]
target = "70 dBA"
[neighbours.N1]
name = "House"
day = "55 dBA"
night = "45 dBA"
day_63hz = "47 dB"
floors = { g = { height = 1.5 } }
points = [[20, 0]]
[racks.R1]
position = [0, 0]
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
serial = "P-77"
[channels.C1]
amplifier = "P1"
output = 1
[lines.A]
channel = "C1"
cable = "burial-2x14awg"
runs = { A1 = { from = "R1", to = "L1" } }
[loudspeakers.L1]
model = "stake-110-wide"
position = [5, 5]
line = "A"
tap = "10 W"
serial = "L-1"
[visits.V2]
date = "2026-05-02"
kind = "handover"
notes = "All of it heard."
levels.a = { area = "A1", level = "69.4 dBA" }
levels.n = { neighbour = "N1", floor = "g", level = "50.2 dBA", octave_63hz = "48 dB" }
levels.q = { neighbour = "N1", floor = "g", level = "41 dBA", night = true }
meters.m = { kind = "impedance", name = "Bridge", serial = "B-9", calibrated = "2026-01-15" }
done.t = { work = "tap", at = "L1", tap = "5 W" }
[visits.V1]
date = "2026-04-30"
levels.a = { area = "A1", level = "60 dBA" }
meters.m = { kind = "impedance", name = "Bridge", serial = "B-9", calibrated = "2026-01-15" }
"#;

    fn made(text: &str) -> Value {
        made_since(text, None)
    }

    fn made_since(text: &str, accepted: Option<Accepted>) -> Value {
        let job =
            read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap_or_else(|e| panic!("{e}"));
        let limit = |limit_db: f64, octave_63: bool| LimitResult {
            floor: Some("g".to_owned()),
            octave_63,
            level_db: 40.0,
            limit_db,
            uncertainty_db: 3.0,
            reflected_db: 0.0,
        };
        let mut results = Results::runs_of(&job);
        results.judged = judged(&job, &results.runs, &Tolerances::default());
        let of_the_house = NeighbourResult {
            day: vec![limit(55.0, false), limit(47.0, true)],
            night: vec![limit(45.0, false)],
        };
        results.neighbours.insert("N1".to_owned(), of_the_house);
        let options = PackOptions { accepted, ..PackOptions::usual().unwrap() };
        let m = Material::gather(&job, &results, &options).unwrap();
        certificate(&m).0
    }

    /// What differs from what was accepted stands before what visits say, with both prices.
    #[test]
    fn the_certificate_has_what_changed_since_it_was_accepted() {
        let (was, now) = ("Spike, wide".to_owned(), "Spike, narrow".to_owned());
        let accepted = Accepted {
            by: "Cleo".to_owned(),
            day: "2026-04-01".to_owned(),
            total: Some("EUR 3 760.00".to_owned()),
            total_now: Some("EUR 3 930.00".to_owned()),
            changes: vec![
                DesignChange::Model { tag: "L1".to_owned(), was, now },
                DesignChange::Tap { tag: "L1".to_owned(), was_w: Some(5.0), now_w: Some(10.0) },
            ],
        };
        let data = made_since(HANDED_OVER, Some(accepted));
        assert_eq!(
            data["changed"],
            json!([
                "L1: Spike, narrow; accepted was Spike, wide",
                "L1: tap at 10 W; accepted was 5 W",
                "Price: EUR 3 930.00; Cleo accepted EUR 3 760.00 on 2026-04-01",
                "L1: tap set to 5 W on 2026-05-02; the design has 10 W",
            ])
        );
    }

    /// What stands on the certificate is what visits have: the last level of each place and sort, what differs from the
    /// design, every meter once. Values are those of the document.
    #[test]
    fn the_certificate_has_what_visits_have() {
        let data = made(HANDED_OVER);
        let area = &data["areas"][0];
        assert_eq!(
            (area["measured"].as_str(), area["apart"].as_str(), area["verdict"].as_str()),
            (Some("69.4 dBA"), Some("\u{2212}0.6 dB"), Some("as wanted"))
        );
        let rows = data["neighbours"].as_array().unwrap();
        let measured: Vec<_> = rows.iter().map(|r| (r["measured"].as_str(), r["kept"].as_bool())).collect();
        assert_eq!(
            measured,
            [(Some("50.2 dBA"), Some(true)), (Some("48.0 dB"), Some(false)), (Some("41.0 dBA"), Some(true)),]
        );
        let verdicts: Vec<_> = rows.iter().map(|r| r["verdict"].as_str()).collect();
        assert_eq!(verdicts, [Some("kept"), Some("1.0 dB over"), Some("kept")], "48 less 47 dB");
        assert_eq!(data["loudspeakers"][0]["serial"], "L-1");
        assert_eq!(data["amplifiers"][0]["serial"], "P-77");
        let meters = data["meters"].as_array().unwrap();
        assert_eq!(meters.len(), 4, "the bridge once, a row to fill in for each other sort: {meters:?}");
        assert_eq!(meters[0], json!(["impedance of a line", "Bridge", "B-9", "2026-01-15"]));
        assert_eq!(data["changed"], json!(["L1: tap set to 5 W on 2026-05-02; the design has 10 W"]));
        assert_eq!(data["remarks"], json!(["2026-05-02: All of it heard."]));
        assert_eq!(data["lines"][0]["rows"], json!([]), "nothing was read of the line");
    }

    /// A loudspeaker taken out after the handover: the reading stays as it was judged, and what was done is told once. Verdict
    /// and interval are those before the edit.
    #[test]
    fn a_line_changed_after_the_handover_stays_as_it_was_judged() {
        let read = HANDED_OVER
            .replace("[visits.V1]", "readings.r = { line = \"A\", dc = \"209 ohm\" }\n[visits.V1]")
            .replace("L1\" } }\n", "L1\" }, A2 = { from = \"L1\", to = \"L2\" } }\n")
            + "[loudspeakers.L2]\nmodel = \"stake-110-wide\"\nposition = [9, 5]\nline = \"A\"\ntap = \"10 W\"\n";
        let before = made(&read);
        let catalogue = loamline_model::shipped_catalogue().unwrap();
        let file = JobFile::from_text(&SourceFile::new("job.toml".to_owned(), read.as_str()), catalogue);
        let mut file = file.unwrap_or_else(|e| panic!("{e}"));
        let out = file.take_out("loudspeakers", "L2").unwrap();
        file.apply(&out.edit).unwrap_or_else(|e| panic!("{e}"));
        let after = made(file.text());
        assert_eq!(after["lines"], before["lines"]);
        assert_eq!(after["changed"][1], "Line A was measured on 2026-05-02; since then: L2 taken out");
        assert_eq!(after["changed"].as_array().unwrap().len(), 2);
    }

    /// What a later visit reads, measures, remarks and brings along leaves the handover's as it was signed.
    #[test]
    fn visits_after_the_handover_change_nothing_on_it() {
        let read = HANDED_OVER
            .replace("[visits.V1]", "readings.r = { line = \"A\", dc = \"209 ohm\" }\n[visits.V1]");
        let later = format!(
            "{read}[visits.V3]\ndate = \"2031-03-01\"\nkind = \"fault\"\nnotes = \"A spade.\"\n\
             levels.a = {{ area = \"A1\", level = \"75 dBA\" }}\n\
             levels.q = {{ neighbour = \"N1\", floor = \"g\", level = \"49 dBA\", night = true }}\n\
             readings.r = {{ line = \"A\", dc = \"106 ohm\" }}\n\
             meters.m = {{ kind = \"level\", name = \"Another\" }}\ndone.t = {{ work = \"tap\", at = \"L1\", tap = \"2.5 W\" }}\n"
        );
        let (before, after) = (made(&read), made(&later));
        for part in ["areas", "neighbours", "lines", "meters", "changed", "remarks"] {
            assert_eq!(before[part], after[part], "{part}");
        }
        assert_eq!(after["lines"][0]["rows"][0]["read"], "209");
        // Nothing was handed over: all there is.
        let open = made(&later.replace("kind = \"handover\"", "kind = \"building\""));
        assert_eq!(open["areas"][0]["measured"], "75.0 dBA");
        assert_eq!(open["lines"][0]["rows"][0]["read"], "106");
    }
}
