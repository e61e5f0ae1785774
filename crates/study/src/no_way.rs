//! Why cable finds no way: what the engine says, with what it is about, in any language.

use loamline_model::exceeded;
use loamline_routing::{GroundMapError, GroundProblem, LineProblemError, RouteError};
use loamline_terms::{Sentence, all_of, each_of, say, template};
use std::fmt;
use thiserror::Error;

/// One reason why a job cannot be routed.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum RouteProblem {
    /// The site is empty.
    EmptySite,
    /// Nothing is to be led anywhere.
    NoLines,
    /// A line that starts nowhere.
    NoStart {
        /// The line.
        line: String,
    },
    /// The ground as drawn.
    Ground(GroundProblem),
    /// Lines that cannot be led.
    Line(LineProblemError),
    /// Loudspeakers that no cable of a line reaches.
    CutOff {
        /// Where the cable would start.
        from: String,
        /// What it cannot reach, in order.
        to: Vec<String>,
        /// What stands in the way, in order.
        barriers: Vec<String>,
        /// Stubs whose cable may lead out, and whose length is not known.
        unmeasured: Vec<String>,
    },
}

impl RouteProblem {
    /// The reason as a sentence, to be said in any language.
    pub fn told(&self) -> Sentence {
        match self {
            Self::EmptySite => say!("There is nothing on the site to route between."),
            Self::NoLines => say!("There are no lines to route; add one with a channel and a cable."),
            Self::NoStart { line } => {
                say!("Line {line} has no rack to start from; give it a channel or a start.", line = line)
            }
            Self::Ground(problem) => ground_told(problem).capitalised() + ".",
            Self::Line(LineProblemError::Route(RouteError::NoWay { from, to, barriers })) => {
                let to = std::slice::from_ref(to);
                no_way(from, to, barriers).capitalised() + ". " + ways_through() + "."
            }
            Self::Line(problem) => Sentence::from(problem.to_string()).capitalised() + ".",
            Self::CutOff { from, to, barriers, unmeasured } => {
                no_way(from, to, barriers).capitalised()
                    + ". "
                    + ways_through()
                    + or_measure(unmeasured)
                    + "."
            }
        }
    }

    /// How many loudspeakers it keeps from their lines; 1 for a reason that names none.
    pub(crate) fn cut_off(&self) -> usize {
        if let Self::CutOff { to, .. } = self { to.len().max(1) } else { 1 }
    }
}

/// That no way leads from one place to others, and what stands between.
fn no_way(from: &str, to: &[String], barriers: &[String]) -> Sentence {
    say!(
        "there is no way for cable from {from} to {to}: {barriers} in the way",
        from = named(from),
        to = all_named(to),
        barriers = match barriers {
            [] => say!("the edge of the site stands"),
            [one] => say!("{barrier} stands", barrier = named(one)),
            several => say!("{barriers} stand", barriers = each_of(several.iter().map(|b| named(b)))),
        }
    )
}

fn ways_through() -> Sentence {
    say!("Open a gap, add a sleeve or a passage, or allow a crossing")
}

/// Sorts of things by which the engine is told what stands where, and each with its tag or name in any language.
const SORTS: [(&str, &str); 6] = [
    ("loudspeaker ", template!("loudspeaker {id}")),
    ("joint ", template!("joint {id}")),
    ("rack ", template!("rack {id}")),
    ("stub-out ", template!("stub-out {id}")),
    ("wall ", template!("wall {id}")),
    ("building ", template!("building {id}")),
];

/// A thing by what it is and its tag or name.
fn named(name: &str) -> Sentence {
    let sort = SORTS.iter().find_map(|(sort, told)| Some((name.strip_prefix(*sort)?, *told)));
    match sort {
        Some((id, told)) => Sentence::of(told, vec![("id", id.into())]),
        None => name.into(),
    }
}

/// Names of one sort told once: "loudspeakers L1, L2 and L3"; of several sorts one by one.
fn all_named(names: &[String]) -> Sentence {
    const SORT: &str = "loudspeaker ";
    match names.iter().map(|n| n.strip_prefix(SORT)).collect::<Option<Vec<_>>>() {
        Some(tags) if tags.len() > 1 => say!("loudspeakers {tags}", tags = all_of(&tags)),
        _ => each_of(names.iter().map(|name| named(name))),
    }
}

fn or_measure(stubs: &[String]) -> Sentence {
    match stubs {
        [] => Sentence::default(),
        [one] => say!(
            "; or measure the existing cable at stub-out {stub} from the rack, far end joined: once its length is known, lines can start there",
            stub = one
        ),
        several => say!(
            "; or measure the existing cables at stub-outs {stubs} from the rack, far end joined: once a length is known, lines can start there",
            stubs = all_of(several)
        ),
    }
}

/// What is wrong with the ground as drawn.
fn ground_told(problem: &GroundProblem) -> Sentence {
    match problem {
        GroundProblem::TooLarge(more) => exceeded(more),
        other => other.to_string().into(),
    }
}

/// Why a job cannot be routed: one sentence for each reason; never empty.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
pub struct RouteProblems(pub Vec<RouteProblem>);

/// Why loudspeakers find no way to a line.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NoWay {
    /// The site is empty.
    EmptySite,
    /// There is no such loudspeaker.
    NoLoudspeaker {
        /// The tag given.
        tag: String,
    },
    /// The ground cannot be looked over.
    Ground(GroundMapError),
    /// Nothing leads there.
    Refused {
        /// The loudspeaker.
        tag: String,
        /// The line.
        line: String,
        /// Why not.
        error: Box<RouteError>,
    },
    /// The line has nothing to join.
    NothingToJoin {
        /// The loudspeaker.
        tag: String,
        /// The line.
        line: String,
    },
}

impl RouteProblems {
    /// One sentence for each reason, to be said in any language.
    pub fn told(&self) -> Sentence {
        let joined = |all: Sentence, one: Sentence| if all.is_empty() { one } else { all + "\n" + one };
        self.0.iter().map(RouteProblem::told).fold(Sentence::default(), joined)
    }
}

impl NoWay {
    /// The reason as a sentence, to be said in any language.
    pub fn told(&self) -> Sentence {
        match self {
            Self::EmptySite => say!("There is nothing on the site to lead cable over."),
            Self::NoLoudspeaker { tag } => say!("There is no loudspeaker {tag}.", tag = tag),
            Self::Ground(error) => {
                let joined =
                    |all: Sentence, one: Sentence| if all.is_empty() { one } else { all + "; " + one };
                let reasons = error.0.iter().map(ground_told).fold(Sentence::default(), joined);
                say!("No way can be found for cable: {reasons}.", reasons = reasons)
            }
            Self::Refused { tag, line, error } => {
                let why = match error.as_ref() {
                    RouteError::NoWay { from, to, barriers } => {
                        no_way(from, std::slice::from_ref(to), barriers) + ". " + ways_through()
                    }
                    other => other.to_string().into(),
                };
                say!("{tag} cannot be put on line {line}: {why}.", tag = tag, line = line, why = why)
            }
            Self::NothingToJoin { tag, line } => say!(
                "{tag} cannot be put on line {line}: line {line} joins nothing yet.",
                tag = tag,
                line = line
            ),
        }
    }
}

impl fmt::Display for RouteProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.told())
    }
}

impl fmt::Display for NoWay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.told())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_terms::Phrases;

    #[test]
    fn a_way_that_is_barred_is_told_with_what_bars_it() {
        let error = NoWay::NothingToJoin { tag: "L1".into(), line: "A".into() };
        assert_eq!(error.to_string(), "L1 cannot be put on line A: line A joins nothing yet.");
        let barred = RouteProblem::CutOff {
            from: "rack R1".into(),
            to: vec!["loudspeaker L1".into(), "loudspeaker L2".into()],
            barriers: vec!["wall west".into(), "Pond".into()],
            unmeasured: vec!["T1".into()],
        };
        assert_eq!(
            barred.to_string(),
            "There is no way for cable from rack R1 to loudspeakers L1 and L2: wall west and Pond stand in the way. \
             Open a gap, add a sleeve or a passage, or allow a crossing; or measure the existing cable at stub-out T1 \
             from the rack, far end joined: once its length is known, lines can start there."
        );
        // A name stays as it was given; what has none is called what it is.
        let told = barred.told().spoken(Phrases::of("es"));
        assert!(told.contains("el rack R1") && told.contains("el muro west y Pond"), "{told}");
    }
}
