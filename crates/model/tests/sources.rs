//! Sources, leads and inputs: what is refused, in which words.
#![expect(clippy::panic, reason = "a fixture that does not read must show its report")]

use loamline_model::document::{LeadSide, SourceOutput};
use loamline_model::{Job, JobFile, Report, SourceFile, catalogue_with, read_job};

const CATALOGUE: &str = r#"
[amplifiers.two-by-four]
description = "Two channels, four inputs"
channels = 2
line_voltages = ["70.7 V"]
line_power = "100 W"
maximum_voltage = "100 V"
maximum_current = "2 A"
noise = "-70 dBu"
idle = "20 W"
price = 400
inputs = { count = 4, connector = "screw terminals", sensitivity = "0 dBu", greatest = "+20 dBu", impedance = "20 kohm", optical = 1 }

[amplifiers.nothing-said]
description = "Nothing is known of its inputs"
channels = 2
line_voltages = ["70.7 V"]
line_power = "100 W"
maximum_voltage = "100 V"
maximum_current = "2 A"
idle = "20 W"
price = 300
"#;

/// A stereo player on the first two inputs, both added by one channel, and a mono source on the third.
const GOOD: &str = r#"
format = 1
[job]
name = "Leads"
[racks.R1]
position = [0, 0]
[amplifiers.P1]
model = "two-by-four"
rack = "R1"
[amplifiers.P2]
model = "nothing-said"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
inputs = [1, 2]
[channels.C2]
amplifier = "P2"
output = 1
[sources.player]
kind = "player"
rack = "R1"
signal = "stereo"
output = "unbalanced"
connector = "phono"
nominal = "-10 dBV"
highest = "2 V"
[sources.tv]
kind = "television"
rack = "R1"
signal = "stereo"
output = "optical"
connector = "optical"
[sources.mic]
kind = "microphone receiver"
rack = "R1"
signal = "mono"
output = "balanced"
connector = "XLR"
[leads.W1]
source = "player"
side = "left"
amplifier = "P1"
input = 1
[leads.W2]
source = "player"
side = "right"
amplifier = "P1"
input = 2
length = "1.5 m"
[leads.W3]
source = "mic"
amplifier = "P1"
input = 3
[leads.W4]
source = "tv"
amplifier = "P1"
input = 5
"#;

fn read(text: &str) -> Result<Job, Report> {
    let file = |name: &str, text: &str| SourceFile::new(name.to_owned(), text.to_owned());
    read_job(&file("job.toml", text), &[file("catalogue/own.toml", CATALOGUE)])
}

fn changed(from: &str, to: &str) -> String {
    assert!(GOOD.contains(from), "{from}");
    GOOD.replacen(from, to, 1)
}

/// What is said of a job, without its hints.
#[track_caller]
fn refused(text: &str) -> Vec<String> {
    match read(text) {
        Ok(_) => panic!("it was taken"),
        Err(r) => r.problems.iter().map(|p| format!("{}: {}", p.key, p.message)).collect(),
    }
}

#[test]
fn a_good_job_reads_with_its_levels() {
    let job = read(GOOD).unwrap_or_else(|r| panic!("{r}"));
    let d = job.document();
    assert_eq!(d.channels["C1"].inputs, [1, 2]);
    assert_eq!((d.leads["W2"].side, d.leads["W2"].length_m), (LeadSide::Right, Some(1.5)));
    assert_eq!(d.leads["W3"].side, LeadSide::Both);
    assert_eq!(d.sources["mic"].output, SourceOutput::Balanced);
    // +4 dBu of a balanced output where nothing is stated, none of light.
    let level = |id: &str| d.sources[id].level_v();
    assert!(level("mic").is_some_and(|v| (20.0 * (v / 0.6_f64.sqrt()).log10() - 4.0).abs() < 1e-9));
    assert!(level("player").is_some_and(|v| (20.0 * v.log10() + 10.0).abs() < 1e-9));
    assert_eq!(level("tv"), None);
}

#[test]
fn a_source_may_be_split() {
    let two = changed("source = \"mic\"", "source = \"player\"\nside = \"left\"");
    assert!(read(&two).is_ok());
}

#[test]
fn each_mistake_has_its_sentence() {
    for (from, to, said) in [
        (
            "input = 2",
            "input = 1",
            "leads.W2.input: leads W1 and W2 both go to input 1 of amplifier P1: two outputs are never joined, they would drive each other",
        ),
        (
            "input = 5",
            "input = 6",
            "leads.W4.input: amplifier P1 has no input 6: \"two-by-four\" has inputs 1 to 4 and optical input 5",
        ),
        (
            "amplifier = \"P1\"\ninput = 3",
            "amplifier = \"P2\"\ninput = 3",
            "leads.W3.amplifier: nothing is known of the inputs of amplifier P2: the catalogue states none for \"nothing-said\"",
        ),
        (
            "[channels.C2]",
            "[channels.C2]\ninputs = [1]",
            "channels.C2.inputs: nothing is known of the inputs of amplifier P2: the catalogue states none for \"nothing-said\"",
        ),
        (
            "inputs = [1, 2]",
            "inputs = [1, 9]",
            "channels.C1.inputs item 2: amplifier P1 has no input 9: \"two-by-four\" has inputs 1 to 4 and optical input 5",
        ),
        ("inputs = [1, 2]", "inputs = [1, 1]", "channels.C1.inputs item 2: channel C1 names input 1 twice"),
        ("source = \"mic\"", "source = \"mik\"", "leads.W3.source: there is no source called \"mik\""),
        (
            "amplifier = \"P1\"\ninput = 5",
            "amplifier = \"P9\"\ninput = 5",
            "leads.W4.amplifier: there is no amplifier called \"P9\"",
        ),
        (
            "kind = \"player\"\nrack = \"R1\"",
            "kind = \"player\"\nrack = \"R2\"",
            "sources.player.rack: there is no rack called \"R2\"",
        ),
        (
            "source = \"mic\"",
            "source = \"mic\"\nside = \"left\"",
            "leads.W3.side: lead W3 cannot bring the left side: source mic is mono and has one signal",
        ),
        (
            "source = \"tv\"",
            "source = \"tv\"\nside = \"right\"",
            "leads.W4.side: lead W4 cannot bring the right side alone: the light guide of source tv carries both",
        ),
        (
            "connector = \"XLR\"",
            "connector = \"phono\"",
            "sources.mic.connector: a phono connector has two contacts, a balanced output needs three",
        ),
        (
            "connector = \"optical\"",
            "connector = \"phono\"",
            "sources.tv.connector: an output that is optical does not end in a connector \"phono\"",
        ),
        (
            "connector = \"optical\"",
            "connector = \"optical\"\nnominal = \"1 V\"",
            "sources.tv.nominal: an optical output gives light and has no voltage: its peaks are taken to reach full scale",
        ),
        (
            "highest = \"2 V\"",
            "highest = \"0.2 V\"",
            "sources.player.highest: the source cannot play at 0.316 V: the most it gives is 0.200 V",
        ),
        (
            "highest = \"2 V\"",
            "noise = \"0 dBV\"",
            "sources.player.noise: the noise of 1.000000 V is as loud as what it plays, 0.316 V",
        ),
        (
            "nominal = \"-10 dBV\"",
            "nominal = \"-10 dB\"",
            "sources.player.nominal: \"-10 dB\" is a level; a signal voltage is wanted, e.g. 0.316 V or -10 dBV or +4 dBu",
        ),
        (
            "nominal = \"-10 dBV\"",
            "nominal = \"90 V\"",
            "sources.player.nominal: \"90 V\" is out of range; a signal voltage from 0.0001 to 20 V is possible here",
        ),
        (
            "signal = \"mono\"",
            "signal = \"both\"",
            "sources.mic.signal: \"both\" is not one of: stereo, mono",
        ),
    ] {
        assert_eq!(refused(&changed(from, to)), [said], "{to}");
    }
}

#[test]
fn what_hangs_on_a_thing_goes_with_it() {
    let own = SourceFile::new("catalogue/own.toml".to_owned(), CATALOGUE.to_owned());
    let catalogue = catalogue_with(&[own]).unwrap_or_else(|r| panic!("{r}"));
    let text = SourceFile::new("job.toml".to_owned(), GOOD.to_owned());
    let mut file = JobFile::from_text(&text, catalogue).unwrap_or_else(|r| panic!("{r}"));
    let out = file.take_out("sources", "player").unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(out.along, ["lead W1", "lead W2"]);
    file.apply(&out.edit).unwrap_or_else(|e| panic!("{e}"));
    let out = file.take_out("amplifiers", "P1").unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(out.along, ["channel C1", "lead W3", "lead W4"]);
    file.apply(&out.edit).unwrap_or_else(|e| panic!("{e}"));
    assert!(file.job().document().leads.is_empty());
}
