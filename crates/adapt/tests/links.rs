//! Sound that comes over a link from another rack arrives so much later: the delay of the link is that of every channel it feeds.
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use loamline_adapt::{Reaching, directivity, scene_parts, sound};
use loamline_model::{Job, SourceFile, read_job};
use std::sync::Arc;

/// A player in R1, an amplifier beside it, another at the end of a link; a loudspeaker on each.
fn job(link: &str) -> Job {
    let text = format!(
        r#"
format = 1
[job]
name = "Links"
[racks.R1]
position = [0, 0]
[racks.R2]
position = [60, 0]
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[amplifiers.P2]
model = "line-4x280"
rack = "R2"
[channels.C1]
amplifier = "P1"
output = 1
inputs = [1]
delay = "1 ms"
[channels.C2]
amplifier = "P2"
output = 1
inputs = [1]
delay = "1 ms"
[sources.Q1]
kind = "player"
rack = "R1"
signal = "mono"
output = "balanced"
connector = "XLR"
[leads.K1]
source = "Q1"
amplifier = "P1"
input = 1
[leads.K2]
source = "Q1"
amplifier = "P2"
input = 1
{link}
[loudspeakers.L1]
model = "stake-110-wide"
position = [4, 0]
tap = "10 W"
line = "A"
[loudspeakers.L2]
model = "stake-110-wide"
position = [64, 0]
tap = "10 W"
line = "B"
[lines.A]
channel = "C1"
cable = "burial-2x2.5mm2"
runs = {{ A-1 = {{ from = "R1", to = "L1" }} }}
[lines.B]
channel = "C2"
cable = "burial-2x2.5mm2"
runs = {{ B-1 = {{ from = "R2", to = "L2" }} }}
"#
    );
    read_job(&SourceFile::new("job.toml", text), &[]).unwrap()
}

fn delays_ms(job: &Job) -> Vec<f64> {
    let bands = [70.0; 31];
    let reaching = |_: &str| Some(Reaching { terminals_v: &bands, most_gain_db: None });
    let parts = scene_parts(job, &reaching, &|_, model| directivity(model).map(Arc::new)).unwrap();
    let sound = sound(None, &parts).unwrap();
    (0..sound.sources.len()).map(|s| 1e3 * sound.scene.source(s).unwrap().delay_s).collect()
}

#[test]
fn the_delay_of_a_link_is_that_of_the_channels_it_feeds() {
    let near = |all: Vec<f64>, wanted: [f64; 2]| {
        assert!(all.len() == 2 && all.iter().zip(wanted).all(|(a, w)| (a - w).abs() < 1e-9), "{all:?}");
    };
    near(delays_ms(&job("")), [1.0, 1.0]);
    near(
        delays_ms(&job("link = \"N1\"\n[links.N1]\nfrom = \"R1\"\nto = \"R2\"\ndelay = \"5 ms\"\n")),
        [1.0, 6.0],
    );
    // A link that no lead comes through delays nothing.
    near(delays_ms(&job("[links.N1]\nfrom = \"R1\"\nto = \"R2\"\ndelay = \"5 ms\"\n")), [1.0, 1.0]);
}
