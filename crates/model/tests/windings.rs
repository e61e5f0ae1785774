//! What a catalogue may state of a transformer's windings: no more loss in its parts than in the whole.
#![expect(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use loamline_model::{Catalogue, Report, SourceFile, read_catalogue};

const TAPS: &str = "transformer = { taps_70v = [5, 10, 20, 40], taps_100v = [10, 20, 40]";

fn with(stated: &str) -> Result<Catalogue, Report> {
    let text = include_str!("fixtures/catalogue.toml");
    assert!(text.contains(TAPS));
    let text = text.replacen(TAPS, &format!("{TAPS}, {stated}"), 1);
    read_catalogue(&[SourceFile::new("catalogue.toml", text)])
}

fn refused(stated: &str) -> String {
    let report = with(stated).err().unwrap();
    report.problems.iter().map(|p| format!("{}: {}", p.key, p.message)).collect::<Vec<_>>().join("\n")
}

/// 0.8 dB are 16.8 %; 40 W at 70.7 V are 125.0 ohm, less than 100 V makes of any tap.
#[test]
fn copper_and_core_lose_no_more_than_the_insertion_loss() {
    let read = with(r#"primary_resistance = "12.5 ohm", core_loss = "2 %", leakage = "2 mH""#).unwrap();
    let t = read.loudspeakers.values().find_map(|m| m.transformer.as_ref()).unwrap();
    assert_eq!((t.primary_ohm, t.core_loss, t.leakage_h), (Some(12.5), Some(0.02), Some(2e-3)));
    assert!((t.least_tap_ohm().unwrap() - 70.7 * 70.7 / 40.0).abs() < 1e-9);

    let told = refused(r#"primary_resistance = "25 ohm", core_loss = "2 %""#);
    assert!(told.contains("transformer.primary_resistance"), "{told}");
    assert!(
        told.contains(
            "the primary's 25 ohm at the tap of 125.0 ohm take 20.0 % of the power; the 16.8 % of 0.8 dB of insertion loss \
             leave 14.8 % to it, 18.5 ohm"
        ),
        "{told}"
    );
    let told = refused(r#"core_loss = "20 %""#);
    assert!(
        told.contains("the core takes 20.0 % of the power, more than the 16.8 % of 0.8 dB of insertion loss"),
        "{told}"
    );
    // Nothing lost is what an ideal one loses.
    assert!(with(r#"insertion_loss = 0"#).is_ok());
}
