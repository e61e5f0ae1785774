//! Faults in a tradesperson's words.

use loamline_electrics::{Line, Run};
use loamline_terms::{Measure, Sentence, listed};

use crate::explanation::SuspectStretch;
use crate::hypotheses::Fault;

/// A fault as a sentence.
pub(crate) fn explain(
    line: &Line,
    fault: &Fault,
    stretch: Option<&SuspectStretch>,
    ohm: Option<f64>,
) -> Sentence {
    let run = |name: &str| match line.runs.iter().find(|run| run.name == name) {
        Some(run) => ends(run),
        None => format!("run {name}").into(),
    };
    let silent = |with: &str| silent_with(line, with);
    match fault {
        Fault::Healthy => "The line reads as it should.".into(),
        Fault::Open { run: name } => {
            let run = run(name).capitalised();
            match stretch {
                Some(s) => run + " is open: cut " + stretch_words(s) + "." + silent(name),
                None => {
                    run + " is open: cut somewhere along it, as by a spade, or off at one of its two ends."
                        + silent(name)
                }
            }
        }
        Fault::ShortAlong { run: name } => {
            let run = run(name).capitalised();
            match stretch {
                Some(s) => run + " is shorted, as by a staple, " + stretch_words(s) + ".",
                None => run + " is shorted somewhere along it, as by a staple.",
            }
        }
        Fault::ShortAt { joint } => {
            format!("The conductors touch at {}{joint}.", Spot::of(line, joint).at()).into()
        }
        Fault::HighSplice { run: name } => {
            let about = ohm.map_or(String::new(), |ohm| format!(", about {} ohm", digits(ohm)));
            Sentence::from("A splice at an end of ")
                + run(name)
                + format!(" has gone high{about}: corrosion or a loose connector.")
        }
        Fault::Wet { joint } => {
            let about = ohm.map_or(String::new(), |ohm| format!(" through about {} ohm", digits(ohm)));
            match Spot::of(line, joint) {
                Spot::Rack => format!("The rack's terminals {joint} leak{about}: water on them."),
                Spot::Loudspeaker => {
                    format!("The connector at loudspeaker {joint} leaks{about}: water in it.")
                }
                Spot::Joint => format!("Joint {joint} leaks{about}: water in the connector."),
            }
            .into()
        }
        Fault::WrongTap { load, tap_w } => format!("Loudspeaker {load} is set to {tap_w} W.").into(),
        Fault::LowImpedance { load } => format!("Loudspeaker {load} is left on low impedance.").into(),
        Fault::Missing { load } => {
            format!("Loudspeaker {load} is missing, dead or not connected.{}", silent(load)).into()
        }
        Fault::Swapped { line } => format!("This is line {line}: two lines are swapped at the rack.").into(),
        Fault::SwappedAt { joint, line } => {
            format!("Behind {joint} this is line {line}: the pairs of the two lines are swapped there.")
                .into()
        }
        Fault::Two { first, second } => {
            Sentence::from("Two faults. ")
                + explain(line, first, None, None)
                + " "
                + explain(line, second, None, None)
        }
    }
}

/// `run A3 (J1 to L4, 12.5 m)`
fn ends(run: &Run) -> Sentence {
    Sentence::from(format!("run {} ({} to {}, ", run.name, run.from, run.to))
        + Measure::Length(run.length_m)
        + ")"
}

/// What a person finds where runs of a line meet.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Spot {
    /// The terminals the line leaves the rack from.
    Rack,
    /// The connector of a loudspeaker, which has the loudspeaker's tag.
    Loudspeaker,
    /// A joint by itself.
    Joint,
}

impl Spot {
    fn of(line: &Line, joint: &str) -> Self {
        if line.source_joint == joint {
            Self::Rack
        } else if line.loads.iter().any(|load| load.name == joint) {
            Self::Loudspeaker
        } else {
            Self::Joint
        }
    }

    /// Words that stand between `at` and the tag.
    const fn at(self) -> &'static str {
        match self {
            Self::Rack => "the rack's terminals ",
            Self::Loudspeaker => "loudspeaker ",
            Self::Joint => "joint ",
        }
    }
}

/// Of a run or loudspeaker in series: which others are silent when it is open.
fn silent_with(line: &Line, name: &str) -> String {
    let others = line.also_silent_without(name);
    match others.as_slice() {
        [] => String::new(),
        [only] => format!(" {only} stands in series with it and is silent too."),
        several => format!(" {} stand in series with it and are silent too.", listed(several)),
    }
}

/// `12.3 m from J1 and 4.2 m from L4 (95 times in 100 between 10.1 m and 13.8 m from J1)`
fn stretch_words(s: &SuspectStretch) -> Sentence {
    let (from, to) = (s.from.as_str(), s.to.as_str());
    Sentence::from(Measure::Length(s.likely_m))
        + format!(" from {from} and ")
        + Measure::Length(s.length_m - s.likely_m)
        + format!(" from {to} (95 times in 100 between ")
        + Measure::Length(s.low_m)
        + " and "
        + Measure::Length(s.high_m)
        + format!(" from {from})")
}

/// Two meaningful digits.
fn digits(ohm: f64) -> String {
    let places = if ohm < 10.0 { 1 } else { 0 };
    let step = if ohm >= 100.0 { 10f64.powf(ohm.log10().floor() - 1.0) } else { 1.0 };
    if ohm >= 100.0 { format!("{:.0}", (ohm / step).round() * step) } else { format!("{ohm:.places$}") }
}

/// Several faults in few words: those of one kind together.
pub(crate) fn several(line: &Line, faults: &[&Fault]) -> String {
    let mut kinds: Vec<(String, &'static str, Vec<&str>)> = Vec::new();
    for fault in faults {
        let (before, name, after) = phrase_parts(line, fault);
        match kinds.iter_mut().find(|kind| kind.0 == before && kind.1 == after) {
            Some(kind) => kind.2.push(name),
            None => kinds.push((before, after, vec![name])),
        }
    }
    let words = kinds.iter().map(|(before, after, names)| format!("{before}{}{after}", or_list(names)));
    words.collect::<Vec<_>>().join("; ")
}

/// Words before the name, the name, words after it.
fn phrase_parts<'a>(line: &Line, fault: &'a Fault) -> (String, &'a str, &'static str) {
    match fault {
        Fault::Healthy => ("nothing wrong".to_owned(), "", ""),
        Fault::Open { run } => ("run ".to_owned(), run, " open"),
        Fault::ShortAlong { run } => ("run ".to_owned(), run, " shorted"),
        Fault::ShortAt { joint } => (format!("a short at {}", Spot::of(line, joint).at()), joint, ""),
        Fault::HighSplice { run } => ("a splice of run ".to_owned(), run, " gone high"),
        Fault::Wet { joint } => (format!("water at {}", Spot::of(line, joint).at()), joint, ""),
        Fault::WrongTap { load, tap_w } => (format!("{tap_w} W set on "), load, ""),
        Fault::LowImpedance { load } => ("low impedance set on ".to_owned(), load, ""),
        Fault::Missing { load } => (String::new(), load, " missing"),
        Fault::Swapped { line: other } => ("line ".to_owned(), other, " in place of this one"),
        Fault::SwappedAt { joint, line: other } => {
            (format!("pairs swapped with line {other} at "), joint, "")
        }
        Fault::Two { first, second } => {
            (format!("{} with {}", phrase(line, first), phrase(line, second)), "", "")
        }
    }
}

/// One fault in few words.
pub(crate) fn phrase(line: &Line, fault: &Fault) -> String {
    let (before, name, after) = phrase_parts(line, fault);
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
