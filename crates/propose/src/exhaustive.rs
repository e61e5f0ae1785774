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
use crate::types::Pose;
use loamline_model::{JobFile, SourceFile, shipped_catalogue};
use loamline_quotation::PriceBook;

/// Places tried, and loudspeakers in a design, at most.
const PLACES: usize = 6;
const MOST: usize = 3;

fn job(seed: u64) -> String {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    let mut between = |low: f64, high: f64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * ((state >> 33) as f64 / (1u64 << 31) as f64)
    };
    let (w, h) = (between(3.0, 7.0), between(2.5, 4.5));
    let (target, bed) = (between(60.0, 68.0).round(), between(1.1, 1.6));
    format!(
        r#"format = 1
[job]
name = "Tiny {seed}"
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

/// Price of the cheapest of every design there is at six places of a tiny job; none when none meets the brief.
fn cheapest(file: &JobFile) -> Option<f64> {
    let (pinned_only, clear) = without_unpinned(file).unwrap();
    let book = PriceBook::default();
    let maker = Maker::new(&pinned_only, clear, false, &book).unwrap();
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
                let price = figures.price;
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
    for seed in 1..=3 {
        let text = job(seed);
        let file =
            JobFile::from_text(&SourceFile::new("job.toml", &text), shipped_catalogue().unwrap()).unwrap();
        let Some(best) = cheapest(&file) else { continue };
        let options = ProposeOptions { wanted: vec![OptionKind::LeastCost], ..ProposeOptions::default() };
        let proposal = propose(&file, &options, &|_| true).unwrap();
        let first = &proposal.options[0];
        assert!(first.unmet.is_empty(), "seed {seed}: everything tried meets the brief for {best:.2}");
        assert!(
            first.figures.price <= best + 0.005,
            "seed {seed}: {:.2}, best {best:.2}",
            first.figures.price
        );
        compared += 1;
    }
    assert!(compared > 0, "no tiny job that can be met");
}
