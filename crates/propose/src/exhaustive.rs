//! Tiny jobs against every design there is: at most six places and two models, each set of alike loudspeakers evenly apart
//! built and held against the brief like a proposal. The second way is the plainest there is: try everything.

use crate::api::{OptionKind, ProposeOptions};
use crate::build::without_unpinned;
use crate::candidates::aims;
use crate::make::Maker;
use crate::measure::missed;
use crate::run::propose;
use crate::site::pose_at;
use crate::spacing::even;
use crate::types::{Likeness, Pose};
use loamline_model::{JobFile, SourceFile, shipped_catalogue};
use loamline_quotation::PriceBook;

/// Places tried, and loudspeakers in a design, at most.
const PLACES: usize = 6;
const MOST: usize = 3;

/// A seat with a bed along it, metres, and the level asked there, dBA.
struct Tiny {
    width: f64,
    depth: f64,
    target: u32,
    bed: f64,
}

/// Drawn once (width 3 to 7 m, depth 2.5 to 4.5 m, 60 to 68 dBA, bed 1.1 to 1.6 m) and kept.
const TINY: [Tiny; 3] = [
    Tiny { width: 3.70, depth: 3.83, target: 66, bed: 1.47 },
    Tiny { width: 5.47, depth: 3.78, target: 67, bed: 1.13 },
    Tiny { width: 4.48, depth: 4.09, target: 67, bed: 1.30 },
];

fn job(tiny: &Tiny) -> String {
    let Tiny { width: w, depth: h, target, bed } = tiny;
    format!(
        r#"format = 1
[job]
name = "Tiny"
currency = "EUR"
[brief]
supply = "70.7 V"
[brief.wishes]
models = ["stake-110-wide", "stake-165-wide"]
[programmes.one]
[areas.seat]
outline = [[0, 0], [{w:.2}, 0], [{w:.2}, {h:.2}], [0, {h:.2}]]
target = "{target} dBA"
within = "4 dB"
[site]
outline = [[-2, -4], [12, -4], [12, 9], [-2, 9]]
ground = "paving"
[surfaces.bed]
outline = [[0, {low:.2}], [{w:.2}, {low:.2}], [{w:.2}, -0.3], [0, -0.3]]
kind = "bed"
[racks.R1]
position = [-1, 5]
"#,
        low = -0.3 - bed
    )
}

/// Price, with what is left to be wished, of the best of every design there is at six places of a tiny job; none when none
/// meets the brief.
fn cheapest(file: &JobFile) -> Option<f64> {
    let (pinned_only, clear) = without_unpinned(file).unwrap();
    let book = PriceBook::default();
    let maker = Maker::new(&pinned_only, clear, &book).unwrap();
    let apart_m = file.job().document().brief.wishes.apart_m;
    let step = maker.spots.len().div_ceil(PLACES).max(1);
    let spots: Vec<_> = maker.spots.iter().step_by(step).take(PLACES).collect();
    let mut best: Option<f64> = None;
    for set in 1..1u32 << spots.len() {
        let taken: Vec<_> = (0..spots.len()).filter(|i| set & (1 << i) != 0).map(|i| spots[i]).collect();
        let places: Vec<_> = taken.iter().map(|s| s.at).collect();
        if taken.len() > MOST || !even(&places, apart_m) {
            continue;
        }
        for (m, offered) in maker.site.models.iter().enumerate().filter(|(_, o)| !o.is_subwoofer()) {
            // Larger taps than the third give nothing that a smaller does not, at these levels: gains only go down.
            for &tap_w in offered.taps_w.iter().take(3) {
                let pose = |s: &&crate::places::Spot| {
                    let aim = aims(&maker.site, s, 0, offered)[0];
                    Pose { tap_w, ..pose_at(s, m, offered, aim, 0) }
                };
                let layout: Vec<Pose> = taken.iter().map(pose).collect();
                let Ok((built, figures)) = maker.finish(&layout, false) else { continue };
                // With what is wished of rows: that they are mirrored.
                let price = figures.price + maker.left_to_wish(Likeness::Rows, &layout);
                if missed(&built, &figures).nothing() && best.is_none_or(|b| price < b) {
                    best = Some(price);
                }
            }
        }
    }
    best
}

#[test]
fn nothing_cheaper_is_found_by_trying_everything() {
    let mut compared = 0;
    for (n, tiny) in TINY.iter().enumerate() {
        let text = job(tiny);
        let file =
            JobFile::from_text(&SourceFile::new("job.toml", &text), shipped_catalogue().unwrap()).unwrap();
        let Some(best) = cheapest(&file) else { continue };
        let options = ProposeOptions { wanted: vec![OptionKind::LeastCost], ..ProposeOptions::default() };
        let proposal = propose(&file, &options, &|_| true).unwrap();
        let first = &proposal.options[0];
        assert!(first.unmet.is_empty(), "number {n}: everything tried meets the brief for {best:.2}");
        // Where within its place a loudspeaker stands is settled to the centimetre of cable: cents are no other design.
        assert!(
            first.figures.price <= best * 1.0001,
            "number {n}: {:.2}, best {best:.2}",
            first.figures.price
        );
        compared += 1;
    }
    assert!(compared > 0, "no tiny job that can be met");
}
