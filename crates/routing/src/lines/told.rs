//! Findings about lines whose sentences hold lengths.

use loamline_terms::{Measure, Sentence, say};

/// A buried service that is crossed, and how much is dug by hand there, metres.
pub(super) fn hand_dig(run: &str, service: &str, crossings: usize, metres: f64) -> Sentence {
    let times = match crossings {
        1 => say!("once"),
        2 => say!("twice"),
        n => say!("{count} times", count = n.to_string()),
    };
    say!(
        "the run {run} crosses {service} {times}: dig {length} by hand there",
        run = run,
        service = service,
        times = times,
        length = Measure::Clearance(metres)
    )
}

/// A run too near to a buried service: its least distance, the clearance asked for and how long it is within it, metres.
pub(super) fn too_close(
    run: &str,
    service: &str,
    (distance_m, clearance_m, within_m): (f64, f64, f64),
) -> Sentence {
    say!(
        "the run {run} comes within {distance} of {service}, which asks for {clearance}, over {within} of its way: move its \
         ends or its way",
        run = run,
        distance = Measure::Clearance(distance_m),
        service = service,
        clearance = Measure::Clearance(clearance_m),
        within = Measure::Clearance(within_m)
    )
}

/// A sleeve without room for a run: cables in it, how full they make it and how full it may be; and what another way costs more.
pub(super) fn too_full(
    sleeve: &str,
    run: &str,
    (cables, fill_fraction, limit_fraction): (usize, f64, f64),
    detour_price: Option<f64>,
) -> Sentence {
    let detour = match detour_price {
        Some(more) => {
            say!(
                "goes another way, {more} dearer; a further sleeve may pay",
                more = loamline_terms::fixed(more, 2)
            )
        }
        None => say!("has no other way; lay a further sleeve"),
    };
    say!(
        "sleeve {sleeve} would be {full} % full with {cables} cables and the limit is {limit} %: the run {run} {detour}",
        sleeve = sleeve,
        full = loamline_terms::fixed(fill_fraction * 100.0, 0),
        cables = cables.to_string(),
        limit = loamline_terms::fixed(limit_fraction * 100.0, 0),
        run = run,
        detour = detour
    )
}

/// A stub-out whose cable does not reach into a joint: what sticks out and what is needed, metres.
pub(super) fn too_short(stub_out: &str, tail_m: f64, needed_m: f64) -> Sentence {
    say!(
        "stub-out {stub} sticks out {tail}; its joint needs {needed}: put the joint lower or splice an end on",
        stub = stub_out,
        tail = Measure::Clearance(tail_m),
        needed = Measure::Clearance(needed_m)
    )
}
