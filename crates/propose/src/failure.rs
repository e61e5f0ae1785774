//! Why a brief cannot be met, and the changes nearest to it that may: found by quick searches, to be confirmed by whole
//! designs.

use crate::api::Constraint;
use crate::edits::set;
use crate::error::BriefProblem;
use crate::make::Maker;
use crate::measure::Missed;
use crate::reporter::Reporter;
use crate::types::{Choice, KnownGains, LevelBand, Likeness};
use loamline_design::Effort;
use loamline_model::{Edit, Operation};
use loamline_quotation::{amount, estimate};
use loamline_study::{area_within, area_words, neighbour_place, neighbour_within};
use rust_decimal::prelude::ToPrimitive as _;
use serde_json::json;

/// Steps a target, a tolerance, a bass level are changed in, dB, and how far at most.
const TARGET_STEP_DB: f64 = 1.0;
const TARGET_MOST_DB: f64 = 25.0;
const WITHIN_STEP_DB: f64 = 0.5;
const WITHIN_MOST_DB: f64 = 9.0;
/// Farther than this a system is not turned down at night, dB: hardly anything is heard then.
const TURNED_DOWN_MOST_DB: f64 = 30.0;
/// Limits lifted so far that none binds, dB.
const LIFTED_DB: f64 = -90.0;
/// Quick searches only ask whether something can be met.
const QUICK: Effort = Effort { walks: 4, draws: 60_000, seed: 1 };
/// The search that says a number of loudspeakers will not do: one that a short search misses is told as the nearest otherwise.
const THOROUGH: Effort = Effort { walks: 8, draws: 400_000, seed: 1 };
/// Steps beyond the one the quick search gives that are tried until a whole design confirms it.
const CONFIRM: usize = 4;

/// What is known about a brief that was not met.
pub(crate) struct Unmet {
    pub constraint: Constraint,
    pub sentence: String,
    /// Changes of the brief to try, kind by kind, the nearest of each first, each as a sentence and an edit.
    pub changes: Vec<Vec<(String, Edit)>>,
}

impl Unmet {
    /// The cheapest design is dearer than the budget.
    pub fn budget(maker: &Maker<'_>, least: f64) -> Self {
        let d = maker.site.job.document();
        let (currency, budget) = (&d.about.currency, d.brief.budget.unwrap_or_default());
        let needed = least.ceil();
        let budget = budget.to_f64().unwrap_or(0.0);
        let money = |value: f64| amount(currency, value);
        Self {
            constraint: Constraint::Budget,
            sentence: format!(
                "The cheapest design found costs {}, {} over the budget of {}.",
                money(least),
                money(least - budget),
                money(budget)
            ),
            changes: vec![vec![(
                format!("A budget of {} meets it.", estimate(currency, needed)),
                set("/brief/budget", json!(needed)),
            )]],
        }
    }

    /// Finds out what stands in the way.
    pub fn of(maker: &Maker<'_>, choice: Choice, missed: Option<Missed>) -> Self {
        // What even rows cannot do, loudspeakers each for itself may.
        let likeness = Likeness::Any;
        let unseen = |_: &crate::api::ProposeProgress| true;
        let reporter = Reporter::new(&unseen);
        let first = |c: Vec<Choice>| c.into_iter().next().ok_or(BriefProblem::NothingTried);
        let can = |band: &LevelBand| {
            first(
                maker
                    .choose(likeness, (band, &maker.fixed), (QUICK, KnownGains::Nothing), &reporter, false)?
                    .0,
            )
        };
        let surely = |band: &LevelBand| {
            first(
                maker
                    .choose(
                        likeness,
                        (band, &maker.fixed),
                        (THOROUGH, KnownGains::Nothing),
                        &reporter,
                        false,
                    )?
                    .0,
            )
        };
        let band = maker.band(1.0);
        if let Some(&(z, reached)) = maker.subs.short.first() {
            return Self::bass(maker, z, reached);
        }
        let any_number = LevelBand { at_most: usize::MAX, ..band.clone() };
        let at_most = maker.site.job.document().brief.wishes.at_most;
        let too_many = missed.as_ref().is_some_and(|m| m.too_many > 0);
        if let Some(at_most) = at_most.filter(|_| !choice.meets || too_many)
            && (too_many || can(&any_number).is_ok_and(|c| c.meets))
        {
            return Self::number(maker, &any_number, at_most, (can, surely));
        }
        let lifted = LevelBand { limits_db: LIFTED_DB, ..band.clone() };
        let free = can(&lifted).ok().filter(|c| c.meets);
        let by_neighbour = missed.as_ref().is_some_and(|m| m.neighbours_db > 0.0);
        if let Some(free) = free.filter(|_| !choice.meets || by_neighbour) {
            return Self::neighbour(maker, &free, &band, can);
        }
        Self::area(maker, &choice, missed.as_ref(), &band, can)
    }

    fn bass(maker: &Maker<'_>, z: usize, reached: f64) -> Self {
        let zone = &maker.site.zones[z];
        let named = area_within(zone.id, zone.area);
        let wanted = zone.area.bass_db.unwrap_or(0.0);
        if !reached.is_finite() {
            return Self {
                constraint: Constraint::Area(zone.id.to_owned()),
                sentence: format!(
                    "{} wants a bass of {wanted:+.0} dB, and no subwoofer of the catalogue can stand near it.",
                    area_words(zone.id, zone.area)
                ),
                changes: vec![vec![(
                    format!("Without a bass asked in {named} it is met."),
                    Edit::new([Operation::Remove { path: format!("/areas/{}/bass", zone.id) }]),
                )]],
            };
        }
        let first = (reached - 0.5).floor().min(wanted - 1.0);
        let changes = (0..CONFIRM).map(|k| first - k as f64).filter(|b| *b >= -20.0);
        Self {
            constraint: Constraint::Area(zone.id.to_owned()),
            sentence: format!(
                "No subwoofers of the catalogue reach a bass of {wanted:+.0} dB in {named} from where they may stand and within the neighbours' limits; {reached:+.1} dB is the most."
            ),
            changes: vec![
                changes
                    .map(|b| {
                        (
                            format!("A bass of {b:+.0} dB in {named} meets it."),
                            set(&format!("/areas/{}/bass", zone.id), json!(b)),
                        )
                    })
                    .collect(),
            ],
        }
    }

    fn neighbour(
        maker: &Maker<'_>,
        free: &Choice,
        band: &LevelBand,
        can: impl Fn(&LevelBand) -> Result<Choice, BriefProblem>,
    ) -> Self {
        let site = &maker.site;
        // Which limit the free choice overruns most, and whose sound it is.
        let rows = site.exact(&site.coarse, &free.poses, None).unwrap_or_default();
        let share = |l: usize, z: Option<usize>| -> f64 {
            let of = free.poses.iter().zip(&rows).filter(|(p, _)| z.is_none_or(|z| p.zone == z));
            of.map(|(p, r)| free.gains.of(p) * p.tap_w * f64::from(r.limits[l])).sum()
        };
        let limits = (0..site.limits.len()).filter(|&l| site.limits[l].neighbour);
        let worst = limits.max_by(|&a, &b| share(a, None).total_cmp(&share(b, None)));
        let Some(l) = worst else { return Self::unknown() };
        let limit = &site.limits[l];
        let over_db = 10.0 * share(l, None).max(1e-9).log10();
        let zones = 0..site.zones.len();
        let z = zones.max_by(|&a, &b| share(l, Some(a)).total_cmp(&share(l, Some(b)))).unwrap_or(0);
        let zone = &site.zones[z];
        let named = area_words(zone.id, zone.area);
        let lower = |db: f64| {
            let mut b = band.clone();
            b.lower_db[z] = db;
            b
        };
        let (mut fails, mut meets) = (0.0, TARGET_MOST_DB);
        let possible = can(&lower(meets)).is_ok_and(|c| c.meets);
        while possible && meets - fails > TARGET_STEP_DB + 1e-9 {
            let middle = fails + TARGET_STEP_DB * (0.5 * (meets - fails) / TARGET_STEP_DB).round();
            if can(&lower(middle)).is_ok_and(|c| c.meets) { meets = middle } else { fails = middle }
        }
        let target = zone.area.target_dba;
        let brief = &site.job.document().brief;
        let when = match brief.night_hours.filter(|_| limit.night) {
            Some(hours) => format!("night ({hours})"),
            None => if limit.night { "night" } else { "day" }.to_owned(),
        };
        let what = if limit.octave_63 {
            format!("{when} limit of the 63 Hz octave")
        } else {
            format!("{when} limit")
        };
        let floor = limit.floor.as_deref();
        let place = match site.job.document().neighbours.get(&limit.id) {
            Some(n) => neighbour_within(&limit.id, n, floor).to_string(),
            None => neighbour_place(&limit.id, floor),
        };
        let margin = brief.neighbour_margin_db;
        let kept =
            if margin > 0.0 { format!(", which counts the margin of {margin:.0} dB") } else { String::new() };
        let steps = (0..CONFIRM)
            .map(|k| target - meets - k as f64 * TARGET_STEP_DB)
            .filter(|t| possible && *t >= 30.0);
        // Where the night's limit binds, what is played by day may stay.
        let down = (brief.night_turn_down_db + over_db).ceil();
        let turned_down = (0..CONFIRM)
            .map(|k| down + k as f64 * TARGET_STEP_DB)
            .filter(|d| limit.night && *d <= TURNED_DOWN_MOST_DB)
            .map(|d| {
                let sentence = format!("Turned down by {d:.0} dB at night it is met.");
                (sentence, set("/brief/night_turn_down", json!(d)))
            });
        Self {
            constraint: Constraint::Neighbour(limit.id.clone()),
            sentence: format!(
                "{named} at {target:.0} dBA puts {} {over_db:.1} dB over its {what} of {:.0} dB{}{kept}.",
                place,
                limit.stated_db,
                if limit.octave_63 { "" } else { "A" }
            ),
            changes: vec![
                turned_down.collect(),
                steps
                    .map(|t| {
                        (
                            format!("{named} at {t:.0} dBA meets it."),
                            set(&format!("/areas/{}/target", zone.id), json!(t)),
                        )
                    })
                    .collect(),
            ],
        }
    }

    /// Fewer loudspeakers are allowed than it takes.
    fn number(
        maker: &Maker<'_>,
        band: &LevelBand,
        at_most: u32,
        (can, surely): (
            impl Fn(&LevelBand) -> Result<Choice, BriefProblem>,
            impl Fn(&LevelBand) -> Result<Choice, BriefProblem>,
        ),
    ) -> Self {
        let kept = maker.fixed.poses.len() + maker.subs.poses.len();
        let chosen = can(band).ok().filter(|c| c.meets).map_or(0, |c| c.poses.len());
        let (mut fails, mut fewest) = (at_most as usize, (kept + chosen).max(at_most as usize + 1));
        // Fewer may do at gains of their own.
        while fewest - fails > 1 {
            let middle = fails.midpoint(fewest);
            let meets = can(&LevelBand { at_most: middle, ..band.clone() }).is_ok_and(|c| c.meets);
            if meets { fewest = middle } else { fails = middle }
        }
        while fewest - 1 > at_most as usize
            && surely(&LevelBand { at_most: fewest - 1, ..band.clone() }).is_ok_and(|c| c.meets)
        {
            fewest -= 1;
        }
        let allowed = match at_most {
            1 => "One loudspeaker".to_owned(),
            n => format!("{n} loudspeakers"),
        };
        Self {
            constraint: Constraint::AtMost,
            sentence: format!(
                "{allowed}, subwoofers and pinned ones included, cannot fill the areas; {fewest} is the fewest found."
            ),
            changes: vec![
                (0..CONFIRM)
                    .map(|k| fewest + k)
                    .map(|n| {
                        (
                            format!("At most {n} loudspeakers meets it."),
                            set("/brief/wishes/at_most", json!(n)),
                        )
                    })
                    .collect(),
            ],
        }
    }

    fn area(
        maker: &Maker<'_>,
        choice: &Choice,
        missed: Option<&Missed>,
        band: &LevelBand,
        can: impl Fn(&LevelBand) -> Result<Choice, BriefProblem>,
    ) -> Self {
        let site = &maker.site;
        let unmet = &choice.answer.unmet.areas;
        let by_missed =
            missed.and_then(|m| m.areas.first()).and_then(|id| site.zones.iter().position(|z| z.id == id));
        let most = (0..site.zones.len()).max_by_key(|&z| (unmet[z], usize::MAX - z));
        let Some(z) = most.filter(|&z| unmet[z] > 0).or(by_missed) else { return Self::unknown() };
        let zone = &site.zones[z];
        let named = area_within(zone.id, zone.area);
        let n = site.coarse.ranges[z].len().max(1);
        let allowed = (band.outside * n as f64).floor() as usize;
        let within = zone.area.within_db;
        let share = 100.0 * (1.0 - (unmet[z] + allowed) as f64 / n as f64);
        let mut wider = within + WITHIN_STEP_DB;
        while wider < within + WITHIN_MOST_DB {
            let mut b = band.clone();
            b.half_db[z] += wider - within;
            // Other areas may be just as hard: only this one is asked about.
            if can(&b).is_ok_and(|c| c.answer.unmet.areas[z] == 0) {
                break;
            }
            wider += WITHIN_STEP_DB;
        }
        let steps = (0..CONFIRM).map(|k| wider + k as f64 * WITHIN_STEP_DB).filter(|w| *w <= 12.0);
        Self {
            constraint: Constraint::Area(zone.id.to_owned()),
            sentence: if unmet[z] == 0 {
                // Chosen well enough on the coarse grid; what was made of it was not.
                format!(
                    "No finished design kept 95 % of {named} within {within:.1} dB of {:.0} dBA, though a choice of loudspeakers that should was found.",
                    zone.area.target_dba
                )
            } else {
                format!(
                    "From where loudspeakers may stand, {share:.0} % of {named} comes within {within:.1} dB of {:.0} dBA at best; 95 % is wanted.",
                    zone.area.target_dba
                )
            },
            changes: vec![
                steps
                    .map(|w| {
                        (
                            format!("Within {w:.1} dB in {named} it is met."),
                            set(&format!("/areas/{}/within", zone.id), json!(w)),
                        )
                    })
                    .collect(),
            ],
        }
    }

    fn unknown() -> Self {
        Self {
            constraint: Constraint::Checks,
            sentence: "No design was found that passes every check; give the search more time.".into(),
            changes: Vec::new(),
        }
    }
}
