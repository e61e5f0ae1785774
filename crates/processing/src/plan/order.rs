//! The order of work that does not blow a driver: settings first, on an amplifier with nothing connected; lines measured and
//! connected with the power off; the source last and slowly. Gains that were loaded stay as they are: it is the source that
//! is turned up, so that what was confirmed is what plays.
//!
//! Written out for the channels and lines at hand, each step with boxes to tick and the values to confirm. The order
//! is common practice, no source. It is the one order of work at the rack: command line, app, phone and papers have it
//! from here.

use super::channel::rounded;
use super::level_steps::level_steps;
use super::work::{LimitInWork, LineInWork, OrderOfWork, WorkChannel, WorkStep, step};
use crate::signals::LineRhythm;
use loamline_terms::{
    INSULATION_CAUTION, INSULATION_LEAST_MOHM, INSULATION_TEST_V, Sentence, hertz, meter_digits, say,
    template,
};

/// Stages of the whole job that are done before the first one at the rack: before anything is dug, laying and digging, joints
/// and loudspeakers.
const STAGES_BEFORE_THE_RACK: u32 = 3;

/// The stages, each with why it comes where it does.
pub const WORK_STAGES: [(&str, &str); 7] = [
    (
        template!("Load and confirm the settings"),
        template!(
            "A channel without its high-pass and limiter can destroy what is connected to it within a second: they go in while nothing is."
        ),
    ),
    (template!("Switch off"), template!("Lines are measured and connected dead.")),
    (
        template!("Measure the lines"),
        template!("A short or a wrong tap is found by a meter, not by an amplifier."),
    ),
    (
        template!("Connect lines and sources with the power off"),
        template!("Switching on thumps, and line voltage can shock."),
    ),
    (template!("Switch on, source silent"), template!("The first minute shows a fault without feeding it.")),
    (
        template!("Quiet tone, line by line"),
        template!("Every line is heard where it should be before any is loud."),
    ),
    (template!("Bring the source up"), template!("Loud comes last, and slowly.")),
];

/// The order of work for `channels`, stage by stage as [`WORK_STAGES`] has them. Lines are measured and sounded in the order of
/// their numbers, whichever channels they are on. `limits` are those at the neighbours, those of one place side by side.
pub fn order_of_work(channels: &[WorkChannel], limits: &[LimitInWork]) -> Vec<OrderOfWork> {
    let steps = [
        load_steps(channels),
        off_steps(channels),
        measure_steps(channels),
        connect_steps(channels),
        power_steps(channels),
        tone_steps(channels),
        level_steps(channels, limits),
    ];
    let stages = WORK_STAGES.iter().zip(steps).zip(STAGES_BEFORE_THE_RACK + 1..);
    stages
        .map(|(((stage, reason), steps), number)| OrderOfWork {
            number,
            stage: Sentence::of(stage, Vec::new()),
            reason: Sentence::of(reason, Vec::new()),
            steps,
        })
        .collect()
}

/// Every line with its channel, in the order of the lines' numbers.
fn lines_in_turn(channels: &[WorkChannel]) -> Vec<(&WorkChannel, &LineInWork)> {
    let mut all: Vec<(&WorkChannel, &LineInWork)> =
        channels.iter().flat_map(|c| c.lines.iter().map(move |l| (c, l))).collect();
    all.sort_by_key(|(_, line)| line.number);
    all
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
        say!("Check that nothing is connected to the amplifiers' outputs, no line and no loudspeaker."),
        Some(say!("every output is empty")),
    )];
    steps.extend(
        amplifiers(channels)
            .into_iter()
            .map(|a| step(Some(a), say!("Switch it on."), Some(say!("no fault lamp, no smell")))),
    );
    for c in channels {
        let id = Some(c.plan.id.as_str());
        steps.push(step(
            id,
            say!("Load the channel's settings, then read them back from the equipment."),
            None,
        ));
        match c.plan.high_pass_hz() {
            Some(hz) => steps.push(step(id, say!("Read back the high-pass."), Some(hertz(hz, 1).into()))),
            None => steps.push(step(
                id,
                say!("STOP: no high-pass is planned. Have one set before going on."),
                None,
            )),
        }
        match &c.plan.limiter {
            Some(l) => steps.push(step(
                id,
                say!("Read back the limiter, and that it is switched on."),
                Some(say!(
                    "{rms} V RMS, {peak} V peak",
                    rms = rounded(l.v_rms, 2),
                    peak = rounded(l.v_peak, 2)
                )),
            )),
            None => {
                steps.push(step(id, say!("STOP: no limiter is planned. Have one set before going on."), None))
            }
        }
        let (gain_db, delay_s) = (c.plan.chain.gain_db, c.plan.chain.delay_s);
        steps.push(step(
            id,
            say!("Read back gain and delay."),
            Some(gain_to_set(gain_db, c.from_input_db) + format!(", {} ms", rounded(1e3 * delay_s, 2))),
        ));
    }
    steps.extend(amplifiers(channels).into_iter().map(|a| {
        let mut s = step(Some(a), say!("Store the settings in it, and a copy in a file."), None);
        s.write_down = true;
        s
    }));
    steps
}

/// A channel's gain as it is set, as the table of settings has it.
fn gain_to_set(gain_db: f64, from_input_db: Option<f64>) -> Sentence {
    match from_input_db {
        Some(from_input) => say!(
            "{gain} dB from input to output ({design} dB re full scale)",
            gain = format!("{from_input:+.1}"),
            design = format!("{gain_db:+.1}")
        ),
        None => format!("{gain_db:+.1} dB").into(),
    }
}

fn off_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let each = amplifiers(channels).into_iter().map(|a| {
        step(
            Some(a),
            say!("Switch it off at the mains, unplug it or lock it off, and wait until its lamps are out."),
            Some(say!("all lamps are out")),
        )
    });
    each.collect()
}

fn measure_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let mut steps = Vec::new();
    if channels.iter().any(|c| !c.lines.is_empty()) {
        let read = say!("Before the insulation of a line is tested, see that it is safe to.");
        steps.push(step(None, read, Some(Sentence::of(INSULATION_CAUTION, Vec::new()))));
    }
    for (c, line) in lines_in_turn(channels) {
        let (low, high) = line.accepted_ohm;
        let mut s = step(
            Some(&line.id),
            say!("Measure the impedance at the rack at {hz}.", hz = hertz(line.meter_frequency_hz, 0)),
            Some(say!(
                "{expected} ohm expected, right from {low} to {high} ohm; never below {lowest} ohm",
                expected = meter_digits(line.expected_impedance_ohm),
                low = meter_digits(low),
                high = meter_digits(high),
                lowest = rounded(c.lowest_load_ohm, 1)
            )),
        );
        s.write_down = true;
        steps.push(s);
        let mut insulation = step(
            Some(&line.id),
            say!(
                "Join both conductors and measure their insulation to earth at {volts} V DC.",
                volts = INSULATION_TEST_V.to_string()
            ),
            Some(say!(
                "at least {megohm} Mohm; discharge the line afterwards",
                megohm = INSULATION_LEAST_MOHM.to_string()
            )),
        );
        insulation.write_down = true;
        steps.push(insulation);
    }
    steps
}

fn connect_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let mut steps = Vec::new();
    let highest = channels.iter().map(|c| c.line_voltage_v).fold(0.0, f64::max);
    if highest >= 50.0 {
        steps.push(step(
            None,
            say!(
                "Keep hands off bare conductors once power is on: these lines carry up to {volts} V and can shock.",
                volts = rounded(highest, 1)
            ),
            None,
        ));
    }
    for c in channels {
        let lines = c.lines.iter().map(|l| l.id.as_str()).collect::<Vec<_>>().join(", ");
        if !lines.is_empty() {
            let action = say!(
                "Connect {lines} to channel {channel} of {amplifier}.",
                lines = lines,
                channel = c.plan.id.as_str(),
                amplifier = c.amplifier.as_str()
            );
            steps.push(step(
                Some(&c.plan.id),
                action,
                Some(say!("tags match, no loose strand, cover closed")),
            ));
        }
    }
    steps.push(step(
        None,
        say!("Connect the sources, every lead to its own input."),
        Some(say!("as the rack sheet shows; never two outputs joined together")),
    ));
    steps
}

fn power_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    let quiet = say!(
        "Turn every source down to nothing and stop all programme. Leave the channels' gains as they were loaded."
    );
    let mut steps = vec![step(None, quiet, None)];
    steps.extend(amplifiers(channels).into_iter().map(|amplifier| {
        step(
            Some(amplifier),
            say!("Switch it on and watch for a minute."),
            Some(say!("no fault lamp, no hum, no smell")),
        )
    }));
    steps
}

fn tone_steps(channels: &[WorkChannel]) -> Vec<WorkStep> {
    lines_in_turn(channels)
        .into_iter()
        .map(|(c, line)| {
            let (channel, number) = (&c.plan.id, line.number);
            let rhythm = LineRhythm::of(number).told();
            let places =
                if line.areas.is_empty() { say!("where it runs") } else { line.areas.join(", ").into() };
            step(
                Some(&line.id),
                say!(
                    "Play the rhythm of {line} through channel {channel}, quietly, and walk the line.",
                    line = line.id.as_str(),
                    channel = channel.as_str()
                ),
                Some(say!(
                    "rhythm {number}: {rhythm}, from every loudspeaker, at: {places}",
                    number = number.to_string(),
                    rhythm = rhythm,
                    places = places
                )),
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::filters::{Alignment, Chain, Pass, PassFilter};
    use crate::plan::bare_channel::bare_channel;
    use crate::plan::{ChannelPlan, PlaysIn};
    use crate::protect::limiter_threshold;

    fn channel(id: &str, (line, number): (&str, u32), protected: bool) -> WorkChannel {
        let high_pass = PassFilter::new(Alignment::Butterworth, Pass::HighPass, 4, 70.0).unwrap();
        let bare = bare_channel(id);
        WorkChannel {
            plan: ChannelPlan {
                chain: Chain { passes: if protected { vec![high_pass] } else { vec![] }, ..Chain::default() },
                limiter: protected.then(|| limiter_threshold(100.0, 8.0).unwrap()),
                ..bare.plan
            },
            lines: vec![LineInWork {
                id: line.to_owned(),
                number,
                expected_impedance_ohm: 41.7,
                meter_frequency_hz: 1_000.0,
                accepted_ohm: (37.5, 45.9),
                areas: vec!["terrace".to_owned()],
            }],
            plays_in: vec![PlaysIn { area: "terrace".to_owned(), wanted_dba: 72.0, alone_dba: 71.0 }],
            ..bare
        }
    }

    #[test]
    fn settings_come_before_lines_and_the_source_comes_last() {
        let work = order_of_work(&[channel("A1", ("A", 1), true), channel("A2", ("B", 2), true)], &[]);
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
        assert!(confirm("A1", "70 Hz") && confirm("A2", "28.28 V RMS, 56.57 V peak"));
        assert!(confirm("A", "41.7 ohm expected, right from 37.5 to 45.9 ohm; never below 16 ohm"));
        assert!(
            confirm("A", "rhythm 1: 1 short tone, ")
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

    /// Lines take turns and rhythms as the document lists them, not as the amplifier's outputs do.
    #[test]
    fn lines_come_in_the_order_of_the_document_whatever_their_channel() {
        let work = order_of_work(&[channel("A1", ("T10", 3), true), channel("A2", ("T2", 1), true)], &[]);
        let numbers: Vec<u32> = work.iter().map(|w| w.number).collect();
        assert_eq!(numbers, [4, 5, 6, 7, 8, 9, 10], "after the three stages of laying");
        let about = |stage: usize| -> Vec<&str> {
            work[stage].steps.iter().filter_map(|s| s.about.as_deref()).collect()
        };
        assert_eq!(about(2), ["T2", "T2", "T10", "T10"]);
        assert_eq!(about(5), ["T2", "T10"]);
        let rhythms = work[5].steps.iter().filter_map(|s| s.confirm.as_deref());
        let rhythms: Vec<&str> = rhythms.filter_map(|c| c.split(',').next()).collect();
        assert_eq!(rhythms, ["rhythm 1: 1 short tone", "rhythm 3: 3 short tones"]);
    }

    #[test]
    fn a_channel_without_protection_stops_the_work() {
        let work = order_of_work(&[channel("A1", ("A", 1), false)], &[]);
        let stops = work[0].steps.iter().filter(|s| s.action.starts_with("STOP")).count();
        assert_eq!(stops, 2);
    }
}
