//! Labels: cable ends, joints, loudspeakers, outputs and inputs of the amplifiers, existing cable by pair. Each has its
//! tag, what a person at the thing must know of it, and a QR code that opens it on a telephone.

use super::common::{Drawings, colour_of, common, decimal, sentence};
use super::conductors::written;
use super::crew::source_name;
use super::schedules::plain;
use crate::drawing::square_code;
use crate::label_stock::LabelStock;
use crate::material::Material;
use crate::table::Table;
use indexmap::IndexMap;
use loamline_adapt::{LaidCable, leads, pair_conductors};
use loamline_model::Choice as _;
use loamline_model::catalogue::LoudspeakerKind;
use loamline_model::document::Stub;
use serde_json::{Value, json};

/// Most lines of text on a label.
const LINES: usize = 3;

/// Kept clear along every edge of a label, millimetres: printers and knives are a millimetre out.
const CLEAR_MM: f64 = 1.5;
/// What office printers leave white along the edges of a sheet, millimetres (common practice, no source: 4.2 at most).
const UNPRINTED_MM: f64 = 4.5;

/// What hangs on a thing.
struct Label<'a> {
    /// What sort of thing it is: a key below `labels.kind`.
    kind: &'static str,
    /// Its tag, which the schedules have too.
    tag: String,
    /// The line whose colour it has.
    line: Option<&'a str>,
    /// What else is to be known of it.
    text: [String; LINES],
}

/// Data and drawings of the sheets.
pub fn labels(m: &Material<'_>) -> (Value, Vec<String>) {
    let mut drawings = Drawings::default();
    let mut codes: IndexMap<String, Option<String>> = IndexMap::new();
    let one = |label: Label<'_>| {
        let text = code_text(m, &label);
        let file = codes.entry(text.clone()).or_insert_with(|| {
            square_code(&text, m.options.words.get("as_built.code_title")).map(|svg| drawings.add(svg))
        });
        json!({
            "tag": label.tag,
            "kind": m.options.words.get(&format!("labels.kind.{}", label.kind)),
            "colour": colour_of(m.job, label.line),
            "text": label.text.iter().filter(|t| !t.is_empty()).collect::<Vec<_>>(),
            "code": *file,
        })
    };
    let labels: Vec<Value> = all(m).into_iter().map(one).collect();
    let mut data = common(m);
    let (width, height) = m.label_stock.size_mm();
    let (sheet_width, sheet_height) = LabelStock::sheet_mm(m.options.paper);
    let sheets: Vec<Value> = labels
        .chunks(m.label_corners_mm.len().max(1))
        .map(|sheet| {
            let cell = |(label, corner): (&Value, &(f64, f64))| json!({ "left": corner.0, "top": corner.1, "label": label });
            sheet.iter().zip(&m.label_corners_mm).map(cell).collect::<Vec<_>>().into()
        })
        .collect();
    let (left, top) = m.label_corners_mm.first().copied().unwrap_or_default();
    data["stock"] = json!({
        "width": width, "height": height, "sheet_width": sheet_width, "sheet_height": sheet_height,
        "clear_across": CLEAR_MM.max(UNPRINTED_MM - left), "clear_down": CLEAR_MM.max(UNPRINTED_MM - top),
    });
    data["sheets"] = sheets.into();
    (data, drawings.0)
}

/// The same for printers that take one label after the other: a row each.
pub fn label_list(m: &Material<'_>) -> Table {
    let w = |key: &str| m.options.words.get(key).to_owned();
    let texts = (1..=LINES).map(|n| m.options.words.fill("labels.text", &[("number", &n.to_string())]));
    let mut table = Table::new(
        [w("labels.what"), w("crew.tag")].into_iter().chain(texts).chain([w("as_built.code_title")]),
    );
    for label in all(m) {
        let code = code_text(m, &label);
        let kind = w(&format!("labels.kind.{}", label.kind));
        table.rows.push([kind, label.tag].into_iter().chain(label.text).chain([code]).collect());
    }
    table
}

/// Whether there is anything to put a label on.
pub fn has_labels(m: &Material<'_>) -> bool {
    !all(m).is_empty()
}

/// Every label, in the order they are used: while cable is cut, while it is joined, at the loudspeakers, at the rack.
fn all<'m>(m: &'m Material<'_>) -> Vec<Label<'m>> {
    let document = m.job.document();
    let stubs = document.stubs.iter().flat_map(|(id, stub)| stub_pairs(m, id, stub));
    // Cable of a stub has its labels pair by pair.
    let of_stub = |c: &&LaidCable| m.results.runs[c.lead].existing.as_ref().is_some_and(|e| e.stub.is_some());
    let ends = m.laid.iter().filter(|c| !of_stub(c));
    let ends = ends.flat_map(|cable| [&cable.from, &cable.to].map(|end| cable_end(m, cable, end)));
    let joints = document.joints.iter().map(|(id, joint)| {
        let made = m.joints.iter().find(|j| j.at == *id);
        let cables = made.map_or_else(String::new, |j| {
            let (from, on) = (j.arriving.join(", "), j.onward.join(", "));
            m.options.words.fill("labels.joint", &[("arriving", &from), ("onward", &on)])
        });
        let lines = made.map_or(&[][..], |j| j.lines.as_slice());
        let kind = m.options.words.get(&format!("plan.joint.{}", joint.kind.word())).to_owned();
        Label {
            kind: "joint",
            tag: id.clone(),
            line: lines.first().map(String::as_str),
            text: [
                sentence(&kind),
                on_lines(m, &lines.iter().map(String::as_str).collect::<Vec<_>>()),
                cables,
            ],
        }
    });
    let mut all: Vec<Label<'m>> = ends.chain(stubs).chain(joints).collect();
    all.extend(loudspeakers(m));
    all.extend(rack(m));
    all
}

/// One end of a cable: what it carries, from where to where, and which end this is.
fn cable_end<'m>(m: &'m Material<'_>, cable: &'m LaidCable, end: &str) -> Label<'m> {
    let words = &m.options.words;
    let pairs = m.job.catalogue().cables.get(&cable.cable).is_some_and(|c| c.conductors > 2);
    let carries: Vec<String> = cable
        .carries
        .iter()
        .map(|c| match pairs {
            true => words.fill("labels.line_pair", &[("line", &c.line), ("pair", &c.pair.to_string())]),
            false => c.line.clone(),
        })
        .collect();
    let way = [("from", cable.from.as_str()), ("to", cable.to.as_str())];
    Label {
        kind: "cable",
        tag: cable.tag.clone(),
        line: cable.carries.first().map(|c| c.line.as_str()),
        text: [
            on_lines(m, &carries.iter().map(String::as_str).collect::<Vec<_>>()),
            words.fill("labels.way", &way),
            words.fill("labels.end", &[("end", end)]),
        ],
    }
}

/// "Line A" or "Lines A, B"; empty for none.
fn on_lines(m: &Material<'_>, lines: &[&str]) -> String {
    let key = match lines.len() {
        0 => return String::new(),
        1 => "labels.line",
        _ => "labels.lines",
    };
    m.options.words.fill(key, &[("lines", &lines.join(", "))])
}

/// A pair of existing cable, at both of its ends.
fn stub_pairs<'m>(m: &'m Material<'_>, id: &'m str, stub: &Stub) -> Vec<Label<'m>> {
    let (words, document) = (&m.options.words, m.job.document());
    let count = m.job.catalogue().cables.get(&stub.cable).map_or(0, |c| c.conductors / 2);
    let free = document.free_pairs_of_stub(stub, m.job.catalogue());
    let lines = document.pairs_of_stub(id, m.job.catalogue());
    let mut labels = Vec::new();
    for pair in 1..=count {
        let found = lines.iter().find(|(_, pairs)| pairs.contains(&pair)).map(|(line, _)| line.as_str());
        let line = document.lines.keys().map(String::as_str).find(|l| Some(*l) == found);
        let conductors = written(m, &pair_conductors(m.job, &stub.cable, &[pair]));
        let values = [("pair", &*pair.to_string()), ("conductors", &conductors)];
        let used = match line {
            Some(line) => on_lines(m, &[line]),
            None if free.contains(&pair) => sentence(words.get("stub.spare")),
            None => sentence(words.get("stub.taken")),
        };
        for end in [document.rack_of_stub(stub), Some(id)].into_iter().flatten() {
            labels.push(Label {
                kind: "stub",
                tag: id.to_owned(),
                line,
                text: [
                    words.fill("labels.pair", &values),
                    used.clone(),
                    words.fill("labels.end", &[("end", end)]),
                ],
            });
        }
    }
    labels
}

fn loudspeakers<'m>(m: &'m Material<'_>) -> Vec<Label<'m>> {
    let words = &m.options.words;
    m.job
        .loudspeakers()
        .map(|l| {
            let line = l.placed.line.as_deref();
            let tap = l.placed.tap_w.map(|w| words.fill("labels.tap", &[("tap", &plain(w))]));
            let round = matches!(l.model.kind, LoudspeakerKind::Bollard | LoudspeakerKind::Subwoofer);
            let bearing = decimal(l.placed.bearing_deg.rem_euclid(360.0), 0);
            let aim = match round {
                true => words.get("labels.round").to_owned(),
                false => words.fill("labels.bearing", &[("bearing", &bearing)]),
            };
            let on = on_lines(m, line.as_slice());
            let electrical: Vec<String> =
                [Some(on).filter(|t| !t.is_empty()), tap].into_iter().flatten().collect();
            Label {
                kind: "loudspeaker",
                tag: l.id.to_owned(),
                line,
                text: [l.model.description.clone(), electrical.join(", "), aim],
            }
        })
        .collect()
}

/// Outputs in use and inputs with a lead, rack by rack as the document has its amplifiers.
fn rack<'m>(m: &'m Material<'_>) -> Vec<Label<'m>> {
    let words = &m.options.words;
    let outputs = m.job.channels().map(|c| {
        let output = c.channel.output.to_string();
        let output = if c.channel.bridged {
            let partner = (c.channel.output + 1).to_string();
            words.fill("crew.bridged", &[("output", &output), ("partner", &partner)])
        } else {
            output
        };
        let values = [("amplifier", c.channel.amplifier.as_str()), ("output", &output)];
        Label {
            kind: "output",
            tag: c.id.to_owned(),
            line: c.lines.first().copied(),
            text: [words.fill("labels.output", &values), on_lines(m, &c.lines), String::new()],
        }
    });
    let inputs = leads(m.job).map(|l| {
        let input = l.lead.input.to_string();
        let side = words.get(&format!("side_of_source.{}", l.lead.side.word())).to_owned();
        let values = [("amplifier", l.lead.amplifier.as_str()), ("input", &input)];
        let from = [("source", source_name(&l.lead.source, l.source)), ("side", &side)];
        Label {
            kind: "input",
            tag: l.id.to_owned(),
            line: None,
            text: [words.fill("labels.input", &values), words.fill("labels.source", &from), String::new()],
        }
    });
    outputs.chain(inputs).collect()
}

/// What the code of a thing says: where it opens, or which thing of which job it is. A cable and an output may have one
/// tag, so that the sort of thing belongs to it.
fn code_text(m: &Material<'_>, label: &Label<'_>) -> String {
    let about = &m.job.document().about;
    let thing = format!("{}/{}", label.kind, encoded(&label.tag));
    let server = m.options.firm.server.trim_end_matches('/');
    match &m.options.app {
        Some(app) => format!("{app}{thing}"),
        None if !server.is_empty() && !about.reference.is_empty() => {
            format!("{server}/#tag/{}/{thing}", encoded(&about.reference))
        }
        None => {
            let job = if about.reference.is_empty() { &about.name } else { &about.reference };
            let kind = m.options.words.get(&format!("labels.kind.{}", label.kind)).to_owned();
            format!("{job} {kind} {}", label.tag)
        }
    }
}

/// A text as a part of an address (RFC 3986 2.3: what is reserved stands as per cent and its bytes).
pub fn encoded(text: &str) -> String {
    let mut out = String::new();
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::encoded;

    /// RFC 3986 2.1 and 2.3, by hand: `+` is 2B, a space 20, U+00E9 the bytes C3 A9.
    #[test]
    fn tags_are_parts_of_an_address() {
        assert_eq!(encoded("A1+B1"), "A1%2BB1");
        assert_eq!(encoded("JC-26.0_1~4"), "JC-26.0_1~4");
        assert_eq!(encoded("L 1/\u{e9}"), "L%201%2F%C3%A9");
    }
}
