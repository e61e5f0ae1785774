//! The steps of the last stage: the source brought up, levels measured in the areas and at the neighbours.

use super::channel::rounded;
use super::work::{LimitInWork, WorkChannel, WorkStep, step};
use loamline_terms::{Sentence, all_of, say};

/// An area, the level wanted there, and the channels that play in it with what each gives alone, dBA.
type Playing<'a> = (&'a str, f64, Vec<(&'a str, f64)>);

/// How far below the level wanted the first stop is, dB (common practice, no source: a tenth of the power).
const FIRST_STOP_DB: f64 = 10.0;

pub(super) fn level_steps(channels: &[WorkChannel], limits: &[LimitInWork]) -> Vec<WorkStep> {
    let mut areas: Vec<Playing<'_>> = Vec::new();
    for c in channels {
        for p in &c.plays_in {
            let plays = (c.plan.id.as_str(), p.alone_dba);
            match areas.iter_mut().find(|a| a.0 == p.area) {
                Some(a) => a.2.push(plays),
                None => areas.push((&p.area, p.wanted_dba, vec![plays])),
            }
        }
    }
    let loudest = areas.iter().max_by(|a, b| a.1.total_cmp(&b.1));
    let stop = loudest.map_or_else(Sentence::default, |(area, wanted, _)| {
        say!(": {level} dBA in {area}", level = rounded(wanted - FIRST_STOP_DB, 1), area = *area)
    });
    let mut steps = vec![
        step(
            None,
            say!(
                "Play pink noise and bring the source up slowly. Stop {down} dB below the level wanted{stop}.",
                down = FIRST_STOP_DB.to_string(),
                stop = stop
            ),
            Some(say!("no limiter lamp")),
        ),
        step(
            None,
            say!("Walk past every loudspeaker and listen."),
            Some(say!("each one plays, clean, without a rattle")),
        ),
        step(
            None,
            say!("Bring the source up to the level wanted."),
            Some(say!("no limiter lamp, no rattle")),
        ),
    ];
    for (area, wanted, mut play) in areas {
        play.sort_by(|a, b| b.1.total_cmp(&a.1));
        let ids: Vec<&str> = play.iter().map(|p| p.0).collect();
        let action = match ids.as_slice() {
            [one] => say!(
                "Measure at ear height where channel {channel} plays; put a difference right in its gain, and write it down.",
                channel = *one
            ),
            several => say!(
                "Measure at ear height with every channel on that plays there: {channels}; put a difference right first in the gain of {loudest}, the loudest there, and write it down.",
                channels = all_of(several),
                loudest = ids.first().copied().unwrap_or_default()
            ),
        };
        let wanted = say!("{level} dBA wanted", level = rounded(wanted, 1));
        let mut s = step(Some(area), action, Some(wanted));
        s.write_down = true;
        steps.push(s);
    }
    steps.extend(neighbour_steps(limits));
    steps
}

/// A step for every place at a neighbour, its limits beside it.
fn neighbour_steps(limits: &[LimitInWork]) -> Vec<WorkStep> {
    let mut places: Vec<(&str, Sentence)> = Vec::new();
    for l in limits {
        let limit = limit_told(l);
        match places.last_mut().filter(|p| p.0 == l.place) {
            Some(p) => p.1 = std::mem::take(&mut p.1) + "; " + limit,
            None => places.push((&l.place, limit)),
        }
    }
    let one = |(place, limits): (&str, Sentence)| {
        let there = say!("Measure there, or at the boundary towards it, with everything on.");
        let mut s = step(Some(place), there, Some(limits));
        s.write_down = true;
        s
    };
    places.into_iter().map(one).collect()
}

/// `at most 42 dBA by night, everything turned down by 15 dB`
fn limit_told(l: &LimitInWork) -> Sentence {
    let (limit, when) = (rounded(l.limit_db, 1), when_told(&l.when));
    let down = match l.turned_down_db {
        db if db > 0.0 => say!(", everything turned down by {down} dB", down = rounded(db, 1)),
        _ => Sentence::default(),
    };
    if l.octave_63_hz {
        say!("at most {limit} dB in the 63 Hz octave {when}{down}", limit = limit, when = when, down = down)
    } else {
        say!("at most {limit} dBA {when}{down}", limit = limit, when = when, down = down)
    }
}

/// When a limit holds, with its hours where the brief states them.
fn when_told(when: &str) -> Sentence {
    let behind = |begins: &str| when.strip_prefix(begins).map(hours_told);
    if let Some(hours) = behind("by day and night") {
        say!("by day and night{hours}", hours = hours)
    } else if let Some(hours) = behind("by day") {
        say!("by day{hours}", hours = hours)
    } else if let Some(hours) = behind("by night") {
        say!("by night{hours}", hours = hours)
    } else {
        when.into()
    }
}

/// ` (22:00 to 06:00)`
fn hours_told(hours: &str) -> Sentence {
    let inner = hours.strip_prefix(" (").and_then(|h| h.strip_suffix(')'));
    match inner.and_then(|h| h.split_once(" to ")) {
        Some((from, until)) => say!(" ({from} to {until})", from = from, until = until),
        None => hours.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::PlaysIn;
    use crate::plan::bare_channel::bare_channel;
    use loamline_terms::Phrases;

    fn plays(area: &str, wanted_dba: f64, alone_dba: f64) -> PlaysIn {
        PlaysIn { area: area.to_owned(), wanted_dba, alone_dba }
    }

    fn channel(id: &str, plays_in: Vec<PlaysIn>) -> WorkChannel {
        WorkChannel { plays_in, ..bare_channel(id) }
    }

    /// Who measures an area hears every channel that plays there, the loudest and those behind it.
    #[test]
    fn a_level_step_names_every_channel_that_plays_there() {
        let one = channel("T1", vec![plays("steps", 68.0, 55.0), plays("quay", 64.0, 64.0)]);
        let two = channel("T2", vec![plays("steps", 68.0, 67.8)]);
        let steps = level_steps(&[one, two], &[]);
        let of = |area: &str| {
            let mut all = steps.iter().filter(|s| s.about.as_deref() == Some(area));
            all.next().map(|s| s.action.clone()).unwrap_or_default()
        };
        assert!(
            of("steps").contains("with every channel on that plays there: T2 and T1;"),
            "{}",
            of("steps")
        );
        assert!(of("steps").contains("first in the gain of T2, the loudest there"), "{}", of("steps"));
        assert!(of("quay").contains("where channel T1 plays; put a difference right in its gain"));
    }

    #[test]
    fn limits_at_the_neighbours_stand_beside_the_level() {
        let limit = |when: &str, limit_db: f64, turned_down_db: f64, octave_63_hz: bool| LimitInWork {
            place: "flats".to_owned(),
            when: when.to_owned(),
            limit_db,
            octave_63_hz,
            turned_down_db,
        };
        let by_day = [limit("by day", 55.0, 0.0, false), limit("by day", 64.0, 0.0, true)];
        let limits = [by_day.as_slice(), &[limit("by night", 42.0, 15.0, false)]].concat();
        let steps = level_steps(&[channel("A1", Vec::new())], &limits);
        let last = steps.last().unwrap();
        assert_eq!(last.about.as_deref(), Some("flats"));
        assert_eq!(
            last.confirm.as_deref(),
            Some(
                "at most 55 dBA by day; at most 64 dB in the 63 Hz octave by day; at most 42 dBA by night, everything turned down by 15 dB"
            )
        );
        let spoken = when_told("by night (22:00 to 06:00)").spoken(Phrases::of("es"));
        assert_eq!(spoken, "de noche (22:00 a 06:00)");
        let without = level_steps(&[channel("A1", Vec::new())], &[]);
        assert!(without.iter().all(|s| !s.action.contains("boundary")), "no neighbour, no such step");
    }
}
