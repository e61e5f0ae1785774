//! Faults in a tradesperson's words.

use loamline_electrics::Line;

use crate::hypotheses::Fault;
use crate::locate::Stretch;

pub(crate) fn explain(line: &Line, fault: &Fault, stretch: Option<&Stretch>, ohm: Option<f64>) -> String {
    let ends = |name: &str| {
        line.runs.iter().find(|run| run.name == name).map_or_else(
            || format!("run {name}"),
            |run| format!("run {name} ({} to {}, {:.1} m)", run.from, run.to, run.length_m),
        )
    };
    match fault {
        Fault::Healthy => "The line reads as it should.".to_owned(),
        Fault::Open { run } => {
            format!("{} is open: cut, or off at one of its two ends.", capital(&ends(run)))
        }
        Fault::ShortAlong { run } => match stretch {
            Some(s) => format!(
                "{} is shorted {:.1} m from {} and {:.1} m from {} (between {:.1} and {:.1} m from {}).",
                capital(&ends(run)),
                s.likely_m,
                s.from,
                s.length_m - s.likely_m,
                s.to,
                s.low_m,
                s.high_m,
                s.from
            ),
            None => format!("{} is shorted somewhere along it.", capital(&ends(run))),
        },
        Fault::ShortAt { joint } => format!("The conductors touch at joint {joint}."),
        Fault::HighSplice { run } => format!(
            "A splice at an end of {} has gone high{}: corrosion or a loose connector.",
            ends(run),
            ohm.map_or(String::new(), |ohm| format!(", about {ohm:.1} ohm"))
        ),
        Fault::Wet { joint } => format!(
            "Joint {joint} leaks{}: water in the connector.",
            ohm.map_or(String::new(), |ohm| format!(" through about {ohm:.0} ohm"))
        ),
        Fault::WrongTap { load, tap_w } => format!("Loudspeaker {load} is set to {tap_w} W."),
        Fault::LowImpedance { load } => format!("Loudspeaker {load} is set to low impedance."),
        Fault::Missing { load } => format!("Loudspeaker {load} is missing, dead or not connected."),
        Fault::Swapped { line } => format!("This is line {line}: two lines are swapped at the rack."),
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
