//! The order of work that does not blow a driver: processing first, loads after, power last.
//!
//! Written out for the channels and lines at hand, each step with boxes to tick and the values to confirm. The order
//! is common practice, no source.

use super::channel::{ChannelPlan, rounded};
use crate::signals::LineRhythm;
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
    /// Resistance of each conductor to earth, megohm, at least.
    pub insulation_mohm: f64,
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

/// The order of work for `channels`, in six stages. Lines are numbered in the order given, over all channels, for the
/// rhythm each sounds.
pub fn order_of_work(channels: &[WorkChannel]) -> Vec<OrderOfWork> {
    let stage = |stage: &str, reason: &str, steps: Vec<WorkStep>| OrderOfWork {
        stage: stage.to_owned(),
        reason: reason.to_owned(),
        steps,
    };
    vec![
        stage(
            "Load and confirm the processing",
            "A channel without its high-pass and limiter can destroy what is connected to it within a second.",
            load_steps(channels),
        ),
        stage(
            "Measure the loads",
            "A short or a wrong tap is found by a meter, not by an amplifier.",
            measure_steps(channels),
        ),
        stage(
            "Connect the loads with the power off",
            "Switching on thumps, and line voltage can shock.",
            connect_steps(channels),
        ),
        stage(
            "Switch on, gains down",
            "The first second shows a fault without feeding it.",
            power_steps(channels),
        ),
        stage(
            "Quiet tone, line by line",
            "Every line is heard where it should be before any is loud.",
            tone_steps(channels),
        ),
        stage("Set the level", "Loud comes last.", level_steps(channels)),
    ]
}

fn load_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let mut steps = vec![step(
        None,
        "Check that every loudspeaker line is unplugged from the amplifiers.",
        Some("no line is connected".to_owned()),
    )];
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
    steps
}

fn measure_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let mut steps = Vec::new();
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
            steps.push(step(
                Some(&line.id),
                "Measure each conductor to earth.",
                Some(format!("at least {} Mohm", rounded(line.insulation_mohm, 2))),
            ));
        }
    }
    steps
}

fn connect_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let mut steps = vec![step(
        None,
        "Switch every amplifier off at the mains and wait until its lamps are out.",
        Some("all lamps are out".to_owned()),
    )];
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
    steps
}

fn power_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let mut steps = vec![step(None, "Turn every gain fully down and stop all programme.", None)];
    let mut amplifiers: Vec<&str> = Vec::new();
    for c in channels {
        if !amplifiers.contains(&c.amplifier.as_str()) {
            amplifiers.push(&c.amplifier);
        }
    }
    steps.extend(amplifiers.into_iter().map(|amplifier| {
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
    let mut steps = vec![step(
        None,
        "Play pink noise, bring every channel's gain up together and stop at half the level wanted.",
        Some("no limiter lamp, no rattle".to_owned()),
    )];
    let mut areas: Vec<(&str, f64, Vec<&str>)> = Vec::new();
    for c in channels {
        for (area, wanted) in &c.wanted_dba {
            match areas.iter_mut().find(|a| a.0 == area) {
                Some(a) => a.2.push(&c.plan.id),
                None => areas.push((area, *wanted, vec![&c.plan.id])),
            }
        }
    }
    for (area, wanted, up) in areas {
        let which = match up.as_slice() {
            [one] => format!("channel {one}"),
            several => format!("channels {} together", several.join(", ")),
        };
        let mut s = step(
            Some(area),
            format!("Bring {which} up and measure at ear height."),
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
                insulation_mohm: 1.0,
                areas: vec!["terrace".to_owned()],
            }],
            wanted_dba: vec![("terrace".to_owned(), 72.0)],
        }
    }

    #[test]
    fn processing_comes_before_loads_and_power_before_sound() {
        let work = order_of_work(&[channel("A1", "A", true), channel("A2", "B", true)]);
        let stages: Vec<&str> = work.iter().map(|w| w.stage.as_str()).collect();
        assert_eq!(
            stages,
            [
                "Load and confirm the processing",
                "Measure the loads",
                "Connect the loads with the power off",
                "Switch on, gains down",
                "Quiet tone, line by line",
                "Set the level",
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
        assert_eq!(work[3].steps.len(), 2, "one amplifier is switched on once");
    }

    #[test]
    fn a_channel_without_protection_stops_the_work() {
        let work = order_of_work(&[channel("A1", "A", false)]);
        let stops = work[0].steps.iter().filter(|s| s.action.starts_with("STOP")).count();
        assert_eq!(stops, 2);
    }
}
