//! Faults in a tradesperson's words.

use loamline_electrics::{Line, Run};
use loamline_terms::{Measure, Sentence, all_of, any_of, say, template};

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
        None => say!("run {name}", name = name),
    };
    match fault {
        Fault::Healthy => say!("The line reads as it should."),
        Fault::Open { run: name } => {
            let (run, silent) = (run(name).capitalised(), silent_with(line, name));
            match stretch {
                Some(s) => say!(
                    "{run} is open: cut {place}.{silent}",
                    run = run,
                    place = stretch_words(s),
                    silent = silent
                ),
                None => say!(
                    "{run} is open: cut somewhere along it, as by a spade, or off at one of its two ends.{silent}",
                    run = run,
                    silent = silent
                ),
            }
        }
        Fault::ShortAlong { run: name } => {
            let run = run(name).capitalised();
            match stretch {
                Some(s) => {
                    say!("{run} is shorted, as by a staple, {place}.", run = run, place = stretch_words(s))
                }
                None => say!("{run} is shorted somewhere along it, as by a staple.", run = run),
            }
        }
        Fault::ShortAt { joint } => {
            say!("The conductors touch at {place}.", place = Spot::of(line, joint).at(joint))
        }
        Fault::HighSplice { run: name } => match ohm {
            Some(ohm) => say!(
                "A splice at an end of {run} has gone high, about {ohm} ohm: corrosion or a loose connector.",
                run = run(name),
                ohm = digits(ohm)
            ),
            None => say!(
                "A splice at an end of {run} has gone high: corrosion or a loose connector.",
                run = run(name)
            ),
        },
        Fault::Wet { joint } => wet(line, joint, ohm),
        Fault::WrongTap { load, tap_w } => {
            say!("Loudspeaker {load} is set to {tap} W.", load = load.as_str(), tap = tap_w.to_string())
        }
        Fault::LowImpedance { load } => {
            say!("Loudspeaker {load} is left on low impedance.", load = load.as_str())
        }
        Fault::Missing { load } => say!(
            "Loudspeaker {load} is missing, dead or not connected.{silent}",
            load = load.as_str(),
            silent = silent_with(line, load)
        ),
        Fault::Swapped { line } => {
            say!("This is line {line}: two lines are swapped at the rack.", line = line.as_str())
        }
        Fault::SwappedAt { joint, line } => say!(
            "Behind {joint} this is line {line}: the pairs of the two lines are swapped there.",
            joint = joint.as_str(),
            line = line.as_str()
        ),
        Fault::Two { first, second } => {
            two(explain(line, first, None, None), explain(line, second, None, None))
        }
    }
}

/// Two faults, one after the other.
pub(crate) fn two(first: Sentence, second: Sentence) -> Sentence {
    say!("Two faults. {first} {second}", first = first, second = second)
}

/// Water where runs of a line meet.
fn wet(line: &Line, joint: &str, ohm: Option<f64>) -> Sentence {
    let through =
        ohm.map_or_else(Sentence::default, |ohm| say!(" through about {ohm} ohm", ohm = digits(ohm)));
    match Spot::of(line, joint) {
        Spot::Rack => say!(
            "The rack's terminals {joint} leak{through}: water on them.",
            joint = joint,
            through = through
        ),
        Spot::Loudspeaker => say!(
            "The connector at loudspeaker {joint} leaks{through}: water in it.",
            joint = joint,
            through = through
        ),
        Spot::Joint => {
            say!("Joint {joint} leaks{through}: water in the connector.", joint = joint, through = through)
        }
    }
}

/// `run A3 (J1 to L4, 12.5 m of cable as laid)`: longer than its way on the plan by what goes up and down and lies loose, shorter
/// than what is cut by the waste.
fn ends(run: &Run) -> Sentence {
    say!(
        "run {run} ({from} to {to}, {length} of cable as laid)",
        run = run.name.as_str(),
        from = run.from.as_str(),
        to = run.to.as_str(),
        length = Measure::Length(run.length_m)
    )
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

    /// What stands behind `at`.
    fn at(self, joint: &str) -> Sentence {
        match self {
            Self::Rack => say!("the rack's terminals {joint}", joint = joint),
            Self::Loudspeaker => say!("loudspeaker {joint}", joint = joint),
            Self::Joint => say!("joint {joint}", joint = joint),
        }
    }
}

/// Of a run or loudspeaker in series: which others are silent when it is open.
fn silent_with(line: &Line, name: &str) -> Sentence {
    let others = line.also_silent_without(name);
    match others.as_slice() {
        [] => Sentence::default(),
        [only] => say!(" {other} stands in series with it and is silent too.", other = *only),
        several => {
            say!(" {others} stand in series with it and are silent too.", others = all_of(several))
        }
    }
}

/// `12.3 m from J1 and 4.2 m from L4 (95 times in 100 between 10.1 m and 13.8 m from J1)`
fn stretch_words(s: &SuspectStretch) -> Sentence {
    say!(
        "{likely} from {from} and {rest} from {to} (95 times in 100 between {low} and {high} from {from})",
        likely = Measure::Length(s.likely_m),
        from = s.from.as_str(),
        rest = Measure::Length(s.length_m - s.likely_m),
        to = s.to.as_str(),
        low = Measure::Length(s.low_m),
        high = Measure::Length(s.high_m)
    )
}

/// Two meaningful digits.
fn digits(ohm: f64) -> String {
    let places = if ohm < 10.0 { 1 } else { 0 };
    let step = if ohm >= 100.0 { 10f64.powf(ohm.log10().floor() - 1.0) } else { 1.0 };
    if ohm >= 100.0 {
        loamline_terms::fixed((ohm / step).round() * step, 0)
    } else {
        loamline_terms::fixed(ohm, places)
    }
}

/// A kind of fault in few words, to be said of one name or of several.
#[derive(Debug, Clone, PartialEq)]
struct FewWords {
    template: &'static str,
    /// What stands in it besides the name.
    values: Vec<(&'static str, Sentence)>,
}

impl FewWords {
    fn of(line: &Line, fault: &Fault) -> Self {
        let at = |joint: &str, [rack, loudspeaker, alone]: [&'static str; 3]| match Spot::of(line, joint) {
            Spot::Rack => rack,
            Spot::Loudspeaker => loudspeaker,
            Spot::Joint => alone,
        };
        let mut values = Vec::new();
        let template = match fault {
            Fault::Healthy => template!("nothing wrong"),
            Fault::Open { .. } => template!("run {name} open"),
            Fault::ShortAlong { .. } => template!("run {name} shorted"),
            Fault::ShortAt { joint } => at(
                joint,
                [
                    template!("a short at the rack's terminals {name}"),
                    template!("a short at loudspeaker {name}"),
                    template!("a short at joint {name}"),
                ],
            ),
            Fault::HighSplice { .. } => template!("a splice of run {name} gone high"),
            Fault::Wet { joint } => at(
                joint,
                [
                    template!("water at the rack's terminals {name}"),
                    template!("water at loudspeaker {name}"),
                    template!("water at joint {name}"),
                ],
            ),
            Fault::WrongTap { tap_w, .. } => {
                values.push(("tap", tap_w.to_string().into()));
                template!("{tap} W set on {name}")
            }
            Fault::LowImpedance { .. } => template!("low impedance set on {name}"),
            Fault::Missing { .. } => template!("{name} missing"),
            Fault::Swapped { .. } => template!("line {name} in place of this one"),
            Fault::SwappedAt { line: other, .. } => {
                values.push(("line", other.as_str().into()));
                template!("pairs swapped with line {line} at {name}")
            }
            Fault::Two { first, second } => {
                values.extend([("first", phrase(line, first)), ("second", phrase(line, second))]);
                template!("{first} with {second}")
            }
        };
        Self { template, values }
    }

    fn said_of(self, names: &[&str]) -> Sentence {
        let mut values = self.values;
        values.push(("name", any_of(names)));
        Sentence::of(self.template, values)
    }
}

/// What a fault is of; nothing where it is of no one thing.
fn name_of(fault: &Fault) -> &str {
    match fault {
        Fault::Healthy | Fault::Two { .. } => "",
        Fault::Open { run } | Fault::ShortAlong { run } | Fault::HighSplice { run } => run,
        Fault::ShortAt { joint } | Fault::Wet { joint } | Fault::SwappedAt { joint, .. } => joint,
        Fault::WrongTap { load, .. } | Fault::LowImpedance { load } | Fault::Missing { load } => load,
        Fault::Swapped { line } => line,
    }
}

/// Several faults in few words: those of one kind together.
pub(crate) fn several(line: &Line, faults: &[&Fault]) -> Sentence {
    let mut kinds: Vec<(FewWords, Vec<&str>)> = Vec::new();
    for fault in faults {
        let (words, name) = (FewWords::of(line, fault), name_of(fault));
        match kinds.iter_mut().find(|kind| kind.0 == words) {
            Some(kind) => kind.1.push(name),
            None => kinds.push((words, vec![name])),
        }
    }
    let mut all = Sentence::default();
    for (words, names) in kinds {
        if !all.is_empty() {
            all = all + "; ";
        }
        all = all + words.said_of(&names);
    }
    all
}

/// One fault in few words.
pub(crate) fn phrase(line: &Line, fault: &Fault) -> Sentence {
    FewWords::of(line, fault).said_of(&[name_of(fault)])
}
