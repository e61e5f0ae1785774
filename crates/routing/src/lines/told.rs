//! Findings about lines whose sentences hold lengths.

use loamline_terms::{Measure, Sentence};

/// A buried service that is crossed, and how much is dug by hand there, metres.
pub(super) fn hand_dig((from, to): (&str, &str), service: &str, crossings: usize, metres: f64) -> Sentence {
    let times = match crossings {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    };
    Sentence::from(format!("the run {from}-{to} crosses {service} {times}: dig "))
        + Measure::Clearance(metres)
        + " by hand there"
}

/// A run too near to a buried service: its least distance, the clearance asked for and how long it is within it, metres.
pub(super) fn too_close(
    (from, to): (&str, &str),
    service: &str,
    (distance_m, clearance_m, within_m): (f64, f64, f64),
) -> Sentence {
    Sentence::from(format!("the run {from}-{to} comes within "))
        + Measure::Clearance(distance_m)
        + format!(" of {service}, which asks for ")
        + Measure::Clearance(clearance_m)
        + ", over "
        + Measure::Clearance(within_m)
        + " of its way: move its ends or its way"
}

/// A stub-out whose cable does not reach into a joint: what sticks out and what is needed, metres.
pub(super) fn too_short(stub_out: &str, tail_m: f64, needed_m: f64) -> Sentence {
    Sentence::from(format!("stub-out {stub_out} sticks out "))
        + Measure::Clearance(tail_m)
        + "; its joint needs "
        + Measure::Clearance(needed_m)
        + ": put the joint lower or splice an end on"
}
