//! The order of work that does not blow a driver: settings first, on an amplifier with nothing connected; lines measured and
//! connected with the power off; the source last and slowly. Gains that were loaded stay as they are: it is the source that
//! is turned up, so that what was confirmed is what plays.
//!
//! Written out for the channels and lines at hand, each step with boxes to tick and the values to confirm. The order
//! is common practice, no source. It is the one order of work at the rack: command line, app, phone and papers have it
//! from here.

use super::channel::{ChannelPlan, rounded};
use crate::signals::LineRhythm;
use loamline_terms::{INSULATION_CAUTION, INSULATION_LEAST_MOHM, INSULATION_TEST_V};
use serde::{Deserialize, Serialize};

/// A line as the crew meets it at the rack.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LineInWork {
    /// What the crew calls it.
    pub id: String,
    /// Impedance the meter should show before the amplifier is connected, ohm.
    pub expected_impedance_ohm: f64,
    /// Frequency of that reading, Hz.
    pub meter_frequency_hz: f64,
    /// Lowest and highest reading that is still right, ohm.
    pub accepted_ohm: (f64, f64),
    /// Areas in which it is heard.
    pub areas: Vec<String>,
}

/// A channel and what hangs on it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WorkChannel {
    /// Its processing.
    pub plan: ChannelPlan,
    /// Amplifier it belongs to.
    pub amplifier: String,
    /// Lowest impedance the amplifier may drive on this channel, ohm.
    pub lowest_load_ohm: f64,
    /// Voltage at which line voltage can shock: stated in the safety words when 50 V or more.
    pub line_voltage_v: f64,
    /// Lines on the channel.
    pub lines: Vec<LineInWork>,
    /// Areas this channel leads, alone or with others, with the level wanted at the listening place, dBA.
    pub wanted_dba: Vec<(String, f64)>,
}

/// One box to tick.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WorkStep {
    /// Channel, line or area it is about; none when it is about the whole rack.
    pub about: Option<String>,
    /// What to do, one sentence.
    pub action: String,
    /// What to see or read before the box is ticked, with units; none when doing it is enough.
    pub confirm: Option<String>,
    /// Whether a figure is written down beside the box.
    pub write_down: bool,
}

/// The steps of one stage; the next stage starts when all its boxes are ticked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OrderOfWork {
    /// Name of the stage.
    pub stage: String,
    /// Why it comes here.
    pub reason: String,
    /// Its steps in order.
    pub steps: Vec<WorkStep>,
}

fn step(about: Option<&str>, action: impl Into<String>, confirm: Option<String>) -> WorkStep {
    WorkStep { about: about.map(str::to_owned), action: action.into(), confirm, write_down: false }
}

/// The stages, each with why it comes where it does.
pub const WORK_STAGES: [(&str, &str); 7] = [
    (
        "Load and confirm the settings",
        "A channel without its high-pass and limiter can destroy what is connected to it within a second: they go in while nothing is.",
    ),
    ("Switch off", "Lines are measured and connected dead."),
    ("Measure the lines", "A short or a wrong tap is found by a meter, not by an amplifier."),
    ("Connect lines and sources with the power off", "Switching on thumps, and line voltage can shock."),
    ("Switch on, source silent", "The first minute shows a fault without feeding it."),
    ("Quiet tone, line by line", "Every line is heard where it should be before any is loud."),
    ("Bring the source up", "Loud comes last, and slowly."),
];

/// How far below the level wanted the first stop is, dB (common practice, no source: a tenth of the power).
const FIRST_STOP_DB: f64 = 10.0;

/// The order of work for `channels`, stage by stage as [`WORK_STAGES`] has them. Lines are numbered in the order given, over all
/// channels, for the rhythm each sounds.
pub fn order_of_work(channels: &[WorkChannel]) -> Vec<OrderOfWork> {
    let steps = [
        load_steps(channels),
        off_steps(channels),
        measure_steps(channels),
        connect_steps(channels),
        power_steps(channels),
        tone_steps(channels),
        level_steps(channels),
    ];
    let stages = WORK_STAGES.iter().zip(steps);
    stages
        .map(|((stage, reason), steps)| OrderOfWork {
            stage: (*stage).to_owned(),
            reason: (*reason).to_owned(),
            steps,
        })
        .collect()
}

/// Amplifiers of channels, each once, in their order.
fn amplifiers(channels: &[WorkChannel]) -> Vec<&str> {
    let mut all: Vec<&str> = Vec::new();
    for c in channels {
        if !all.contains(&c.amplifier.as_str()) {
            all.push(&c.amplifier);
        }
    }
    all
}

fn load_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let mut steps = vec![step(
        None,
        "Check that nothing is connected to the amplifiers' outputs, no line and no loudspeaker.",
        Some("every output is empty".to_owned()),
    )];
    steps.extend(
        amplifiers(channels)
            .into_iter()
            .map(|a| step(Some(a), "Switch it on.", Some("no fault lamp, no smell".to_owned()))),
    );
    for c in channels {
        let id = Some(c.plan.id.as_str());
        steps.push(step(id, "Load the channel's settings, then read them back from the equipment.", None));
        match c.plan.high_pass_hz() {
            Some(hz) => {
                steps.push(step(id, "Read back the high-pass.", Some(format!("{} Hz", rounded(hz, 1)))))
            }
            None => {
                steps.push(step(id, "STOP: no high-pass is planned. Have one set before going on.", None))
            }
        }
        match &c.plan.limiter {
            Some(l) => steps.push(step(
                id,
                "Read back the limiter, and that it is switched on.",
                Some(format!("{:.1} V RMS, {:.1} V peak", l.v_rms, l.v_peak)),
            )),
            None => steps.push(step(id, "STOP: no limiter is planned. Have one set before going on.", None)),
        }
        let (gain_db, delay_s) = (c.plan.chain.gain_db, c.plan.chain.delay_s);
        steps.push(step(
            id,
            "Read back gain and delay.",
            Some(format!("{gain_db:+.1} dB, {} ms", rounded(1e3 * delay_s, 2))),
        ));
    }
    steps.extend(amplifiers(channels).into_iter().map(|a| {
        let mut s = step(Some(a), "Store the settings in it, and a copy in a file.", None);
        s.write_down = true;
        s
    }));
    steps
}

fn off_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let each = amplifiers(channels).into_iter().map(|a| {
        step(
            Some(a),
            "Switch it off at the mains, unplug it or lock it off, and wait until its lamps are out.",
            Some("all lamps are out".to_owned()),
        )
    });
    each.collect()
}

fn measure_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let mut steps = Vec::new();
    if channels.iter().any(|c| !c.lines.is_empty()) {
        let read = "Before the insulation of a line is tested, see that it is safe to.";
        steps.push(step(None, read, Some(INSULATION_CAUTION.to_owned())));
    }
    for c in channels {
        for line in &c.lines {
            let (low, high) = line.accepted_ohm;
            let mut s = step(
                Some(&line.id),
                format!("Measure the impedance at the rack at {} Hz.", rounded(line.meter_frequency_hz, 0)),
                Some(format!(
                    "{} ohm expected, right from {} to {} ohm; never below {} ohm",
                    rounded(line.expected_impedance_ohm, 1),
                    rounded(low, 1),
                    rounded(high, 1),
                    rounded(c.lowest_load_ohm, 1)
                )),
            );
            s.write_down = true;
            steps.push(s);
            let mut insulation = step(
                Some(&line.id),
                format!(
                    "Join both conductors and measure their insulation to earth at {INSULATION_TEST_V} V DC."
                ),
                Some(format!("at least {INSULATION_LEAST_MOHM} Mohm; discharge the line afterwards")),
            );
            insulation.write_down = true;
            steps.push(insulation);
        }
    }
    steps
}

fn connect_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let mut steps = Vec::new();
    let highest = channels.iter().map(|c| c.line_voltage_v).fold(0.0, f64::max);
    if highest >= 50.0 {
        steps.push(step(
            None,
            format!(
                "Keep hands off bare conductors once power is on: these lines carry up to {} V and can shock.",
                rounded(highest, 1)
            ),
            None,
        ));
    }
    for c in channels {
        let lines = c.lines.iter().map(|l| l.id.as_str()).collect::<Vec<_>>().join(", ");
        if !lines.is_empty() {
            let action = format!("Connect {lines} to channel {} of {}.", c.plan.id, c.amplifier);
            steps.push(step(
                Some(&c.plan.id),
                action,
                Some("tags match, no loose strand, cover closed".to_owned()),
            ));
        }
    }
    steps.push(step(
        None,
        "Connect the sources, every lead to its own input.",
        Some("as the rack sheet shows; never two outputs joined together".to_owned()),
    ));
    steps
}

fn power_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let quiet =
        "Turn every source fully down and stop all programme. Leave the channels' gains as they were loaded.";
    let mut steps = vec![step(None, quiet, None)];
    steps.extend(amplifiers(channels).into_iter().map(|amplifier| {
        step(
            Some(amplifier),
            "Switch it on and watch for a minute.",
            Some("no fault lamp, no hum, no smell".to_owned()),
        )
    }));
    steps
}

fn tone_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let lines = channels.iter().flat_map(|c| c.lines.iter().map(move |l| (&c.plan.id, l)));
    lines
        .zip(1..)
        .map(|((channel, line), number)| {
            let rhythm = LineRhythm::of(number).in_words();
            let places =
                if line.areas.is_empty() { "where it runs".to_owned() } else { line.areas.join(", ") };
            step(
                Some(&line.id),
                format!(
                    "Play the rhythm of {} through channel {channel}, quietly, and walk the line.",
                    line.id
                ),
                Some(format!("{rhythm}, from every loudspeaker, at: {places}")),
            )
        })
        .collect()
}

fn level_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let mut areas: Vec<(&str, f64, Vec<&str>)> = Vec::new();
    for c in channels {
        for (area, wanted) in &c.wanted_dba {
            match areas.iter_mut().find(|a| a.0 == area) {
                Some(a) => a.2.push(&c.plan.id),
                None => areas.push((area, *wanted, vec![&c.plan.id])),
            }
        }
    }
    let loudest = areas.iter().max_by(|a, b| a.1.total_cmp(&b.1));
    let stop = loudest.map_or_else(String::new, |(area, wanted, _)| {
        format!(": {} dBA in {area}", rounded(wanted - FIRST_STOP_DB, 1))
    });
    let mut steps = vec![
        step(
            None,
            format!(
                "Play pink noise and bring the source up slowly. Stop {FIRST_STOP_DB} dB below the level wanted{stop}."
            ),
            Some("no limiter lamp".to_owned()),
        ),
        step(
            None,
            "Walk past every loudspeaker and listen.",
            Some("each one plays, clean, without a rattle".to_owned()),
        ),
        step(None, "Bring the source up to the level wanted.", Some("no limiter lamp, no rattle".to_owned())),
    ];
    for (area, wanted, up) in areas {
        let which = match up.as_slice() {
            [one] => format!("channel {one} plays"),
            several => format!("channels {} play together", several.join(", ")),
        };
        let mut s = step(
            Some(area),
            format!(
                "Measure at ear height where {which}; put a difference right in their gain, and write it down."
            ),
            Some(format!("{} dBA wanted", rounded(wanted, 1))),
        );
        s.write_down = true;
        steps.push(s);
    }
    steps.push(step(
        None,
        "Measure at the neighbours' boundary with everything on.",
        Some("below the limits in the job's papers".to_owned()),
    ));
    steps
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::filters::{Alignment, Chain, Pass, PassFilter};
    use crate::plan::ChannelRole;
    use crate::protect::limiter_threshold;

    fn channel(id: &str, line: &str, protected: bool) -> WorkChannel {
        let high_pass = PassFilter::new(Alignment::Butterworth, Pass::HighPass, 4, 70.0).unwrap();
        WorkChannel {
            plan: ChannelPlan {
                id: id.to_owned(),
                role: ChannelRole::Mains,
                chain: Chain { passes: if protected { vec![high_pass] } else { vec![] }, ..Chain::default() },
                limiter: protected.then(|| limiter_threshold(100.0, 8.0).unwrap()),
                times: None,
                drives_load: true,
            },
            amplifier: "rack amplifier".to_owned(),
            lowest_load_ohm: 16.0,
            line_voltage_v: 70.7,
            lines: vec![LineInWork {
                id: line.to_owned(),
                expected_impedance_ohm: 41.7,
                meter_frequency_hz: 1_000.0,
                accepted_ohm: (37.5, 45.9),
                areas: vec!["terrace".to_owned()],
            }],
            wanted_dba: vec![("terrace".to_owned(), 72.0)],
        }
    }

    #[test]
    fn settings_come_before_lines_and_the_source_comes_last() {
        let work = order_of_work(&[channel("A1", "A", true), channel("A2", "B", true)]);
        let stages: Vec<&str> = work.iter().map(|w| w.stage.as_str()).collect();
        assert_eq!(
            stages,
            [
                "Load and confirm the settings",
                "Switch off",
                "Measure the lines",
                "Connect lines and sources with the power off",
                "Switch on, source silent",
                "Quiet tone, line by line",
                "Bring the source up",
            ]
        );
        assert!(work.iter().all(|w| !w.steps.is_empty()));
        let all: Vec<&WorkStep> = work.iter().flat_map(|w| &w.steps).collect();
        let confirm = |about: &str, part: &str| {
            all.iter().any(|s| {
                s.about.as_deref() == Some(about) && s.confirm.as_deref().is_some_and(|c| c.contains(part))
            })
        };
        assert!(confirm("A1", "70 Hz") && confirm("A2", "28.3 V RMS, 40.0 V peak"));
        assert!(confirm("A", "41.7 ohm expected, right from 37.5 to 45.9 ohm; never below 16 ohm"));
        assert!(
            confirm("A", "1 short tone, ")
                && confirm("B", "2 short tones, from every loudspeaker, at: terrace")
        );
        assert!(all.iter().any(|s| s.action.contains("carry up to 70.7 V and can shock")));
        assert_eq!(work[4].steps.len(), 2, "one amplifier is switched on once");
        assert!(work[6].steps[0].action.ends_with("Stop 10 dB below the level wanted: 62 dBA in terrace."));
        assert!(confirm("A", "at least 1 Mohm; discharge"));
        let says = |part: &str| all.iter().any(|s| s.action.contains(part));
        assert!(says("at 250 V DC") && says("Leave the channels' gains as they were loaded"));
        assert!(!says("gain fully down"), "what was loaded and confirmed is not turned away");
    }

    #[test]
    fn a_channel_without_protection_stops_the_work() {
        let work = order_of_work(&[channel("A1", "A", false)]);
        let stops = work[0].steps.iter().filter(|s| s.action.starts_with("STOP")).count();
        assert_eq!(stops, 2);
    }
}
