//! A site of many areas is designed district by district: no area goes without places because others take them, tags are of the
//! areas, and what comes out is one design of the whole job.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use loamline_model::{JobFile, SourceFile, shipped_catalogue};
use loamline_propose::{OptionKind, ProposeOptions, ProposeProgress, propose};
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::sync::Mutex;

/// Terraces of 9 m by 6 m in rows of five, 60 m apart, each with a bed 2 m deep along its south; `beds` says which have one.
fn terraces(count: usize, beds: impl Fn(usize) -> bool) -> JobFile {
    let mut text = String::from(
        "format = 1\n[job]\nname = \"Terraces\"\ncurrency = \"EUR\"\n[brief]\nsupply = \"100 V\"\n\
         [site]\noutline = [[-20, -20], [320, -20], [320, 200], [-20, 200]]\nground = \"lawn\"\n\
         [racks.R1]\nposition = [30, 30]\n[racks.R2]\nposition = [210, 30]\n",
    );
    for k in 0..count {
        let (x, y) = (60 * (k % 5), 60 * (k / 5));
        let outline = |south: i32, north: i32| {
            let (east, south, north) = (x + 9, y as i32 + south, y as i32 + north);
            format!("[[{x}, {south}], [{east}, {south}], [{east}, {north}], [{x}, {north}]]")
        };
        let (terrace, bed) = (outline(0, 6), outline(-4, -2));
        writeln!(text, "[surfaces.paving-{k}]\noutline = {terrace}\nkind = \"paving\"").unwrap();
        writeln!(text, "[areas.terrace-{k}]\nname = \"Terrace {k}\"\noutline = {terrace}\nlisteners = \"seated\"\ntarget = \"66 dBA\"\nwithin = \"4 dB\"").unwrap();
        if beds(k) {
            writeln!(text, "[surfaces.bed-{k}]\noutline = {bed}\nkind = \"bed\"").unwrap();
        } else {
            // Lawn takes loudspeakers along its edges only, and here is none.
            writeln!(text, "[surfaces.yard-{k}]\noutline = {bed}\nkind = \"paving\"").unwrap();
        }
    }
    JobFile::from_text(&SourceFile::new("job.toml", text), shipped_catalogue().unwrap()).unwrap()
}

fn options(work_s: f64) -> ProposeOptions {
    ProposeOptions { wanted: vec![OptionKind::LeastCost], work_s: Some(work_s), ..ProposeOptions::default() }
}

#[test]
fn many_terraces_are_one_design_with_tags_of_their_areas() {
    let file = terraces(13, |_| true);
    let done = Mutex::new(Vec::new());
    let watch = |p: &ProposeProgress| {
        done.lock().unwrap().push(p.done);
        true
    };
    let proposal = propose(&file, &options(6.5), &watch).unwrap();
    let [design] = proposal.options.as_slice() else { panic!("{} options", proposal.options.len()) };
    assert_eq!(design.figures.areas.len(), 13);
    assert_eq!(design.served.len(), 13);
    let mut tags = BTreeSet::new();
    for (k, (area, own)) in design.served.iter().enumerate() {
        assert!(!own.is_empty(), "{area} has no loudspeaker");
        let start = format!("L{}-", k + 1);
        assert!(own.iter().all(|tag| tag.starts_with(&start)), "{area}: {own:?}");
        assert!(own.iter().all(|tag| tags.insert(tag.clone())), "{area}: {own:?}");
    }
    // The edit makes the whole job: every loudspeaker on a line with a channel, none of them pinned, each within reach of the
    // area it is for.
    let job = file.preview(&design.edit).unwrap();
    let d = job.document();
    assert_eq!(d.loudspeakers.len(), tags.len());
    for (area, own) in &design.served {
        for tag in own {
            let l = &d.loudspeakers[tag];
            let line = l.line.as_ref().unwrap();
            assert!(d.lines[line].channel.is_some() && !l.pinned, "{tag}");
            assert!(d.areas[area].outline.distance_to_outline(l.position) < 14.0, "{tag} for {area}");
        }
    }
    assert_eq!(design.figures.loudspeakers, tags.len());
    // Terraces 50 m apart are no part of one another: what one district meets, the whole does.
    let within = design.figures.areas.values().filter(|a| a.share_within >= 0.9).count();
    assert!(within >= 10, "{within} of 13 areas lie within their band: {:?}", design.figures.areas);
    let done = done.into_inner().unwrap();
    assert!(done.windows(2).all(|w| w[1] >= w[0] - 1e-9), "progress goes on and never back");
    assert!(done.last().is_some_and(|last| (*last - 1.0).abs() < 1e-9));
}

#[test]
fn an_area_without_places_is_named() {
    let file = terraces(13, |k| k != 7);
    let told = propose(&file, &options(6.5), &|_| true).unwrap_err().to_string();
    assert!(told.contains("no place for a loudspeaker within 14 m of Terrace 7: "), "{told}");
}
