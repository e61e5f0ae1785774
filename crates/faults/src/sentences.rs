//! Faults in a tradesperson's words.

use loamline_electrics::{Line, Run};
use loamline_terms::capitalised;

use crate::explanation::SuspectStretch;
use crate::hypotheses::Fault;

/// A fault as a sentence.
pub(crate) fn explain(
    line: &Line,
    fault: &Fault,
    stretch: Option<&SuspectStretch>,
    ohm: Option<f64>,
) -> String {
    let run_named = |name: &str| line.runs.iter().find(|run| run.name == name);
    let ends = |run: &Run| format!("run {} ({} to {}, {:.1} m)", run.name, run.from, run.to, run.length_m);
    let run = |name: &str| run_named(name).map_or_else(|| format!("run {name}"), ends);
    match fault {
        Fault::Healthy => "The line reads as it should.".to_owned(),
        Fault::Open { run: name } => match stretch {
            Some(s) => format!("{} is open: cut {}.", capitalised(&run(name)), stretch_words(s)),
            None => format!(
                "{} is open: cut somewhere along it, as by a spade, or off at one of its two ends.",
                capitalised(&run(name))
            ),
        },
        Fault::ShortAlong { run: name } => match stretch {
            Some(s) => {
                format!("{} is shorted, as by a staple, {}.", capitalised(&run(name)), stretch_words(s))
            }
            None => format!("{} is shorted somewhere along it, as by a staple.", capitalised(&run(name))),
        },
        Fault::ShortAt { joint } => format!("The conductors touch at joint {joint}."),
        Fault::HighSplice { run: name } => format!(
            "A splice at an end of {} has gone high{}: corrosion or a loose connector.",
            run(name),
            ohm.map_or(String::new(), |ohm| format!(", about {} ohm", digits(ohm)))
        ),
        Fault::Wet { joint } => format!(
            "Joint {joint} leaks{}: water in the connector.",
            ohm.map_or(String::new(), |ohm| format!(" through about {} ohm", digits(ohm)))
        ),
        Fault::WrongTap { load, tap_w } => format!("Loudspeaker {load} is set to {tap_w} W."),
        Fault::LowImpedance { load } => format!("Loudspeaker {load} is left on low impedance."),
        Fault::Missing { load } => format!("Loudspeaker {load} is missing, dead or not connected."),
        Fault::Swapped { line } => {
            format!("This is line {line}: two lines are swapped at the rack.")
        }
        Fault::Two { first, second } => {
            format!("Two faults. {} {}", explain(line, first, None, None), explain(line, second, None, None))
        }
    }
}

fn stretch_words(s: &SuspectStretch) -> String {
    format!(
        "{:.1} m from {} and {:.1} m from {} (95 times in 100 between {:.1} m and {:.1} m from {})",
        s.likely_m,
        s.from,
        s.length_m - s.likely_m,
        s.to,
        s.low_m,
        s.high_m,
        s.from
    )
}

/// Two meaningful digits.
fn digits(ohm: f64) -> String {
    let places = if ohm < 10.0 { 1 } else { 0 };
    let step = if ohm >= 100.0 { 10f64.powf(ohm.log10().floor() - 1.0) } else { 1.0 };
    if ohm >= 100.0 { format!("{:.0}", (ohm / step).round() * step) } else { format!("{ohm:.places$}") }
}

/// Several faults in few words: those of one kind together.
pub(crate) fn several(faults: &[&Fault]) -> String {
    let mut kinds: Vec<(String, &'static str, Vec<&str>)> = Vec::new();
    for fault in faults {
        let (before, name, after) = phrase_parts(fault);
        match kinds.iter_mut().find(|kind| kind.0 == before && kind.1 == after) {
            Some(kind) => kind.2.push(name),
            None => kinds.push((before, after, vec![name])),
        }
    }
    let words = kinds.iter().map(|(before, after, names)| format!("{before}{}{after}", or_list(names)));
    words.collect::<Vec<_>>().join("; ")
}

/// Words before the name, the name, words after it.
fn phrase_parts(fault: &Fault) -> (String, &str, &'static str) {
    match fault {
        Fault::Healthy => ("nothing wrong".to_owned(), "", ""),
        Fault::Open { run } => ("run ".to_owned(), run, " open"),
        Fault::ShortAlong { run } => ("run ".to_owned(), run, " shorted"),
        Fault::ShortAt { joint } => ("a short at joint ".to_owned(), joint, ""),
        Fault::HighSplice { run } => ("a splice of run ".to_owned(), run, " gone high"),
        Fault::Wet { joint } => ("water in joint ".to_owned(), joint, ""),
        Fault::WrongTap { load, tap_w } => (format!("{tap_w} W set on "), load, ""),
        Fault::LowImpedance { load } => ("low impedance set on ".to_owned(), load, ""),
        Fault::Missing { load } => (String::new(), load, " missing"),
        Fault::Swapped { line } => ("line ".to_owned(), line, " in place of this one"),
        Fault::Two { first, second } => (format!("{} with {}", phrase(first), phrase(second)), "", ""),
    }
}

/// One fault in few words.
pub(crate) fn phrase(fault: &Fault) -> String {
    let (before, name, after) = phrase_parts(fault);
    format!("{before}{name}{after}")
}

/// `A`, `A or B`, `A, B or C`.
fn or_list(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [first @ .., last] => format!("{} or {last}", first.join(", ")),
    }
}
