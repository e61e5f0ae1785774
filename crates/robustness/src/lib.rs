#![doc = include_str!("../README.md")]
#![expect(clippy::expect_used, reason = "a panic is what these functions answer with")]

mod bodies;
mod calculators;
mod catalogue;
mod edits;
mod examples;
mod folder;
mod ground;
mod job;
mod listening;
mod price_book;
mod quantities;
mod readings;
mod recording;

/// A door: what reads something from outside.
#[derive(Debug, Clone, Copy)]
pub struct Target {
    /// Name of the target, of its program in `fuzz/` and of its folder of kept inputs.
    pub name: &'static str,
    /// Takes any bytes and returns; panics where something is wrong.
    pub run: fn(&[u8]),
}

/// Every door, in the order of the crates behind them.
pub const TARGETS: [Target; 12] = [
    Target { name: "quantities", run: quantities::quantities },
    Target { name: "readings", run: readings::readings },
    Target { name: "price_book", run: price_book::price_book },
    Target { name: "recording", run: recording::recording },
    Target { name: "listening", run: listening::listening },
    Target { name: "folder", run: folder::folder },
    Target { name: "ground", run: ground::ground },
    Target { name: "edits", run: edits::edits },
    Target { name: "calculators", run: calculators::calculators },
    Target { name: "catalogue", run: catalogue::catalogue },
    Target { name: "job", run: job::job },
    Target { name: "bodies", run: bodies::bodies },
];

/// Calls a door by its name.
///
/// # Panics
/// When there is none of that name, and where the door finds something wrong.
pub fn run(name: &str, bytes: &[u8]) {
    let target = TARGETS.iter().find(|t| t.name == name).expect("a door of that name");
    (target.run)(bytes);
}
