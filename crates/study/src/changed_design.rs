//! What of a design differs from what it was when it was accepted: equipment, models, places, taps, lines, cable. Words, prices
//! and visits are not of the design.

use loamline_model::{Job, PlacedLoudspeaker};
use loamline_terms::{Measure, Sentence, say};

/// A loudspeaker that was moved by less stands where it was accepted, metres: what a stake is off by when it is driven (common
/// practice, no source). Smaller tells what nobody sees; larger hides a move that changes what is heard.
const SAME_PLACE_M: f64 = 0.05;
/// Taps nearer than this are the same, watts.
const SAME_TAP_W: f64 = 1e-6;

/// One thing in which a design differs from what was accepted.
#[derive(Debug, Clone, PartialEq)]
pub enum DesignChange {
    /// Something is there that was not: its tag and model.
    Added {
        /// Its tag.
        tag: String,
        /// What it is.
        model: String,
    },
    /// Something is gone.
    Gone {
        /// Its tag.
        tag: String,
        /// What it was.
        model: String,
    },
    /// Another model.
    Model {
        /// Its tag.
        tag: String,
        /// What was accepted.
        was: String,
        /// What stands.
        now: String,
    },
    /// Another place.
    Moved {
        /// Its tag.
        tag: String,
        /// How far, metres.
        by_m: f64,
    },
    /// Another tap; none on low impedance.
    Tap {
        /// Its tag.
        tag: String,
        /// What was accepted, watts.
        was_w: Option<f64>,
        /// What stands, watts.
        now_w: Option<f64>,
    },
    /// Another line, or none.
    Line {
        /// The loudspeaker.
        tag: String,
        /// The line that was accepted.
        was: Option<String>,
        /// That it hangs on.
        now: Option<String>,
    },
    /// A line that was not there.
    NewLine {
        /// Its tag.
        line: String,
    },
    /// A line that is gone.
    NoLine {
        /// Its tag.
        line: String,
    },
    /// A line of other cable.
    Cable {
        /// Its tag.
        line: String,
        /// What was accepted.
        was: String,
        /// What is laid.
        now: String,
    },
}

/// Every difference of a design from what it was, in the order of the tags of now, then of what is gone.
#[must_use]
pub fn design_changes(was: &Job, now: &Job) -> Vec<DesignChange> {
    let mut found = loudspeakers(was, now);
    found.extend(amplifiers(was, now));
    found.extend(lines(was, now));
    found
}

fn loudspeakers(was: &Job, now: &Job) -> Vec<DesignChange> {
    let mut found = Vec::new();
    for l in now.loudspeakers() {
        match was.loudspeaker(l.id) {
            None => {
                found.push(DesignChange::Added { tag: l.id.to_owned(), model: l.model.description.clone() });
            }
            Some(before) => of_loudspeaker(&before, &l, &mut found),
        }
    }
    for l in was.loudspeakers().filter(|l| now.loudspeaker(l.id).is_none()) {
        found.push(DesignChange::Gone { tag: l.id.to_owned(), model: l.model.description.clone() });
    }
    found
}

fn of_loudspeaker(was: &PlacedLoudspeaker<'_>, now: &PlacedLoudspeaker<'_>, found: &mut Vec<DesignChange>) {
    let tag = || now.id.to_owned();
    if was.placed.model != now.placed.model {
        let (was, now) = (was.model.description.clone(), now.model.description.clone());
        found.push(DesignChange::Model { tag: tag(), was, now });
    }
    let (from, to) = (was.placed.position, now.placed.position);
    let by_m = (from.x - to.x).hypot(from.y - to.y);
    if by_m > SAME_PLACE_M {
        found.push(DesignChange::Moved { tag: tag(), by_m });
    }
    let (was_w, now_w) = (was.placed.tap_w, now.placed.tap_w);
    let same = match (was_w, now_w) {
        (Some(a), Some(b)) => (a - b).abs() <= SAME_TAP_W,
        (a, b) => a.is_none() && b.is_none(),
    };
    if !same {
        found.push(DesignChange::Tap { tag: tag(), was_w, now_w });
    }
    if was.placed.line != now.placed.line {
        let (was, now) = (was.placed.line.clone(), now.placed.line.clone());
        found.push(DesignChange::Line { tag: tag(), was, now });
    }
}

/// What an amplifier is, by the catalogue, else the id of its model.
fn amplifier_words(job: &Job, model: &str) -> String {
    job.catalogue().amplifiers.get(model).map_or_else(|| model.to_owned(), |a| a.description.clone())
}

fn amplifiers(was: &Job, now: &Job) -> Vec<DesignChange> {
    let (before, after) = (&was.document().amplifiers, &now.document().amplifiers);
    let mut found = Vec::new();
    for (tag, a) in after {
        let model = amplifier_words(now, &a.model);
        match before.get(tag) {
            None => found.push(DesignChange::Added { tag: tag.clone(), model }),
            Some(b) if b.model != a.model => {
                let was = amplifier_words(was, &b.model);
                found.push(DesignChange::Model { tag: tag.clone(), was, now: model });
            }
            Some(_) => {}
        }
    }
    for (tag, b) in before.iter().filter(|(tag, _)| !after.contains_key(*tag)) {
        found.push(DesignChange::Gone { tag: tag.clone(), model: amplifier_words(was, &b.model) });
    }
    found
}

fn cable_words(job: &Job, cable: &str) -> String {
    job.catalogue().cables.get(cable).map_or_else(|| cable.to_owned(), |c| c.description.clone())
}

fn lines(was: &Job, now: &Job) -> Vec<DesignChange> {
    let (before, after) = (&was.document().lines, &now.document().lines);
    let mut found = Vec::new();
    for (id, line) in after {
        match before.get(id) {
            None => found.push(DesignChange::NewLine { line: id.clone() }),
            Some(b) if b.cable != line.cable => {
                let (was, now) = (cable_words(was, &b.cable), cable_words(now, &line.cable));
                found.push(DesignChange::Cable { line: id.clone(), was, now });
            }
            Some(_) => {}
        }
    }
    let gone = before.keys().filter(|id| !after.contains_key(*id));
    found.extend(gone.map(|id| DesignChange::NoLine { line: id.clone() }));
    found
}

impl DesignChange {
    /// As a part of a sentence.
    #[must_use]
    pub fn told(&self) -> Sentence {
        match self {
            Self::Added { tag, model } => say!("{tag}, {model}, is new", tag = tag, model = model),
            Self::Gone { tag, model } => say!("{tag}, {model}, is gone", tag = tag, model = model),
            Self::Model { tag, was, now } => {
                say!("{tag} is {now}, not {was}", tag = tag, now = now, was = was)
            }
            Self::Moved { tag, by_m } => {
                say!("{tag} stands {far} from its place", tag = tag, far = Measure::Clearance(*by_m))
            }
            Self::Tap { tag, was_w, now_w } => {
                say!("{tag} is tapped at {now}, not {was}", tag = tag, now = tap(*now_w), was = tap(*was_w))
            }
            Self::Line { tag, was, now } => {
                say!(
                    "{tag} hangs on {now}, not on {was}",
                    tag = tag,
                    now = line_words(now.as_deref()),
                    was = line_words(was.as_deref())
                )
            }
            Self::NewLine { line } => say!("line {line} is new", line = line),
            Self::NoLine { line } => say!("line {line} is gone", line = line),
            Self::Cable { line, was, now } => {
                say!("line {line} is of {now}, not of {was}", line = line, now = now, was = was)
            }
        }
    }
}

fn tap(watts: Option<f64>) -> Sentence {
    watts.map_or_else(|| say!("no tap"), |w| format!("{w} W").into())
}

fn line_words(id: Option<&str>) -> Sentence {
    id.map_or_else(|| say!("no line"), |id| say!("line {line}", line = id))
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job};

    const ACCEPTED: &str = r#"
format = 1
[job]
name = "Accepted"
[racks.R1]
position = [0, 0]
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
[lines.A]
channel = "C1"
cable = "burial-2x14awg"
runs = { A1 = { from = "R1", to = "L1" }, A2 = { from = "L1", to = "L2" } }
[loudspeakers.L1]
model = "stake-110-wide"
position = [5, 5]
line = "A"
tap = "10 W"
[loudspeakers.L2]
model = "stake-110-wide"
position = [9, 5]
line = "A"
tap = "10 W"
"#;

    fn job(text: &str) -> Job {
        read_job(&SourceFile::new("job.toml".to_owned(), text), &[]).unwrap_or_else(|e| panic!("{e}"))
    }

    /// Words, notes and what was measured are no change; places, taps, models and lines are. A move of 3 and 4 metres is one
    /// of 5 (Pythagoras).
    #[test]
    fn what_differs_from_what_was_accepted_is_told() {
        let was = job(ACCEPTED);
        assert_eq!(design_changes(&was, &was), []);
        let words = ACCEPTED.replace("\"Accepted\"", "\"Another name\"");
        let words = format!(
            "{words}[visits.V1]\ndate = \"2026-05-01\"\nreadings.r = {{ line = \"A\", dc = \"200 ohm\" }}\n"
        );
        assert_eq!(design_changes(&was, &job(&words)), []);
        let moved = ACCEPTED.replace("[9, 5]", "[12, 9]");
        let changes = design_changes(&was, &job(&moved));
        let [DesignChange::Moved { tag, by_m }] = changes.as_slice() else { panic!("one move: {changes:?}") };
        assert!(tag == "L2" && (by_m - 5.0).abs() < 1e-9, "{by_m}");
        let tapped = ACCEPTED.replacen("10 W", "5 W", 1);
        let told: Vec<String> =
            design_changes(&was, &job(&tapped)).iter().map(|c| c.told().to_string()).collect();
        assert_eq!(told, ["L1 is tapped at 5 W, not 10 W"]);
        let cable = ACCEPTED.replace("burial-2x14awg", "burial-2x12awg");
        let changes = design_changes(&was, &job(&cable));
        assert!(
            matches!(changes.as_slice(), [DesignChange::Cable { line, .. }] if line == "A"),
            "{changes:?}"
        );
    }

    /// What comes and what goes, seen from either side.
    #[test]
    fn what_is_new_from_one_side_is_gone_from_the_other() {
        let was = job(ACCEPTED);
        let fewer = ACCEPTED
            .split("[loudspeakers.L2]")
            .next()
            .unwrap_or_default()
            .replace(", A2 = { from = \"L1\", to = \"L2\" }", "");
        let fewer = job(&fewer);
        let (there, back) = (design_changes(&was, &fewer), design_changes(&fewer, &was));
        assert!(matches!(there.as_slice(), [DesignChange::Gone { tag, .. }] if tag == "L2"), "{there:?}");
        assert!(matches!(back.as_slice(), [DesignChange::Added { tag, .. }] if tag == "L2"), "{back:?}");
    }
}
