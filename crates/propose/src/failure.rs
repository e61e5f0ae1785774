//! Why a brief cannot be met, and the changes nearest to it that may: found by quick searches, to be confirmed by whole
//! designs.

use crate::api::Constraint;
use crate::edits::set;
use crate::error::BriefProblem;
use crate::farther::{Kind, least};
use crate::make::Maker;
use crate::measure::Missed;
use crate::over_limits::{TARGET_MOST_DB, lower_targets, over_limits};
use crate::reporter::Reporter;
use crate::types::{Choice, KnownGains, LevelBand, Likeness};
use loamline_design::Effort;
use loamline_model::{Edit, Operation};
use loamline_quotation::{amount, estimate};
use loamline_study::{area_within, area_words};
use loamline_terms::pointer::escape;
use loamline_terms::{Sentence, say};
use rust_decimal::prelude::ToPrimitive as _;
use serde_json::json;

/// Steps a tolerance is widened in, dB, and the widest; the lowest bass level asked for, dB over the mid band.
const WITHIN_STEP_DB: f64 = 0.5;
const WIDEST_DB: f64 = 12.0;
const LOWEST_BASS_DB: f64 = -20.0;
/// Limits lifted so far that none binds, dB.
const LIFTED_DB: f64 = -90.0;
/// Quick searches only ask whether something can be met.
const QUICK: Effort = Effort { walks: 4, draws: 60_000, seed: 1 };
/// The search that says a number of loudspeakers will not do: one that a short search misses is told as the nearest otherwise.
const THOROUGH: Effort = Effort { walks: 8, draws: 400_000, seed: 1 };
/// Loudspeakers beyond the fewest found that are looked at, at most.
const MORE_ALLOWED: usize = 16;

/// What is known about a brief that was not met.
pub(crate) struct Unmet {
    pub constraint: Constraint,
    pub sentence: Sentence,
    /// Changes of the brief to try, kind by kind.
    pub changes: Vec<Kind>,
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
            sentence: say!(
                "The cheapest design found costs {price}, {over} over the budget of {budget}.",
                price = money(least),
                over = money(least - budget),
                budget = money(budget)
            ),
            changes: vec![Kind::Apart(vec![(
                say!("A budget of {budget} meets it.", budget = estimate(currency, needed)),
                set("/brief/budget", json!(needed)),
            )])],
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
            // A level that nothing reaches where nobody has a limit is out of reach by itself, and its bass with it.
            let free = LevelBand { limits_db: LIFTED_DB, at_most: usize::MAX, ..band.clone() };
            let outside = can(&free).map_or(0, |c| c.answer.unmet.areas[z]);
            return if 2 * outside > maker.site.coarse.ranges[z].len() {
                Self::level(maker, (z, outside), bass_short(maker, z, reached), (&band, can))
            } else {
                Self::bass(maker, z, reached)
            };
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
            let over = over_limits(maker, &free, &band, can);
            return over.map_or_else(Self::unknown, |over| Self {
                constraint: Constraint::Neighbour(over.id),
                sentence: over.sentence,
                changes: over.changes,
            });
        }
        Self::area(maker, &choice, missed.as_ref(), &band, can)
    }

    fn bass(maker: &Maker<'_>, z: usize, reached: f64) -> Self {
        let zone = &maker.site.zones[z];
        let named = area_within(zone.id, zone.area);
        let wanted = zone.area.bass_db.unwrap_or(0.0);
        let path = format!("/areas/{}/bass", escape(zone.id));
        if !reached.is_finite() {
            return Self {
                constraint: Constraint::Area(zone.id.to_owned()),
                sentence: say!(
                    "{area} wants a bass of {wanted} dB, and no subwoofer of the catalogue can stand near it.",
                    area = area_words(zone.id, zone.area),
                    wanted = format!("{wanted:+.0}")
                ),
                changes: vec![Kind::Apart(vec![(
                    say!("Without a bass asked in {area} it is met.", area = named),
                    Edit::new([Operation::Remove { path }]),
                )])],
            };
        }
        let first = (reached - 0.5).floor().min(wanted - 1.0);
        let lower = (0..).map(|k: u32| first - f64::from(k)).take_while(|b| *b >= LOWEST_BASS_DB);
        let bass = |b: f64| {
            say!("A bass of {bass} dB in {area} meets it.", bass = format!("{b:+.0}"), area = named.clone())
        };
        let lower = lower.map(|b| (bass(b), set(&path, json!(b))));
        Self {
            constraint: Constraint::Area(zone.id.to_owned()),
            sentence: say!(
                "No subwoofers of the catalogue reach a bass of {wanted} dB in {area} from where they may stand and within the neighbours' limits; {reached} dB is the most.",
                wanted = format!("{wanted:+.0}"),
                area = named.clone(),
                reached = format!("{reached:+.1}")
            ),
            changes: vec![
                Kind::Farther { all: lower.collect(), may: 0, should: 0 },
                // Bass is asked for over the level: a lower one asks for less of it.
                Kind::Farther {
                    all: lower_targets(maker, z),
                    may: 0,
                    should: bass_short(maker, z, reached).max(1) - 1,
                },
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
        let most = |n: usize| say!("At most {count} loudspeakers meets it.", count = n.to_string());
        let more =
            (fewest..=fewest + MORE_ALLOWED).map(|n| (most(n), set("/brief/wishes/at_most", json!(n))));
        let allowed = match at_most {
            1 => say!("One loudspeaker"),
            n => say!("{count} loudspeakers", count = n.to_string()),
        };
        Self {
            constraint: Constraint::AtMost,
            sentence: say!(
                "{allowed}, subwoofers and pinned ones included, cannot fill the areas; {fewest} is the fewest found.",
                allowed = allowed,
                fewest = fewest.to_string()
            ),
            changes: vec![Kind::Farther { all: more.collect(), may: 0, should: 0 }],
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
        Self::level(maker, (z, unmet[z]), 0, (band, can))
    }

    /// An area is not filled: so many points beyond those that may are outside its band. Its target is to be lowered by so many
    /// decibels for something else, or by none.
    fn level(
        maker: &Maker<'_>,
        (z, outside): (usize, usize),
        lower_by: usize,
        (band, can): (&LevelBand, impl Fn(&LevelBand) -> Result<Choice, BriefProblem>),
    ) -> Self {
        let site = &maker.site;
        let zone = &site.zones[z];
        let named = area_within(zone.id, zone.area);
        let n = site.coarse.ranges[z].len().max(1);
        let allowed = (band.outside * n as f64).floor() as usize;
        let within = zone.area.within_db;
        let share = |outside: usize| 100.0 * (1.0 - (outside + allowed) as f64 / n as f64).max(0.0);
        // Other areas may be just as hard: only this one is asked about.
        let met = |b: &LevelBand| can(b).is_ok_and(|c| c.answer.unmet.areas[z] == 0);
        let by = |k: usize| k as f64 * WITHIN_STEP_DB;
        let steps = ((WIDEST_DB - within) / WITHIN_STEP_DB + 1e-9).floor().max(0.0) as usize;
        let wider = least(steps, |k| {
            let mut b = band.clone();
            b.half_db[z] += by(k);
            met(&b)
        });
        let lower = least(TARGET_MOST_DB, |db| {
            let mut b = band.clone();
            b.lower_db[z] = db as f64;
            met(&b)
        });
        let path = format!("/areas/{}/within", escape(zone.id));
        let widened = (1..=steps).map(|k| {
            let w = within + by(k);
            let told = say!(
                "Within {within} dB in {area} it is met.",
                within = loamline_terms::fixed(w, 1),
                area = named.clone()
            );
            (told, set(&path, json!(w)))
        });
        let wider = wider.map(|k| Kind::Farther { all: widened.collect(), may: k - 1, should: k - 1 });
        // Where no target is low enough, it is the evenness, or what the target is lowered for.
        let lower = lower.or((lower_by > 0).then_some(1)).map(|k| Kind::Farther {
            all: lower_targets(maker, z),
            may: k - 1,
            should: k.max(lower_by) - 1,
        });
        let changes = wider.into_iter().chain(lower).collect();
        let (within, target) =
            (loamline_terms::fixed(within, 1), loamline_terms::fixed(zone.area.target_dba, 0));
        let sentence = if outside == 0 {
            // Chosen well enough on the coarse grid; what was made of it was not.
            say!(
                "No finished design kept 95 % of {area} within {within} dB of {target} dBA, though a choice of loudspeakers that should was found.",
                area = named,
                within = within,
                target = target
            )
        } else {
            match best_alone(maker, z, outside, band, &can) {
                0 => say!(
                    "{area} comes within {within} dB of {target} dBA by itself, and not with all else that is wanted.{blame}",
                    area = area_words(zone.id, zone.area),
                    within = within,
                    target = target,
                    blame = blame(maker, z, band, &can)
                ),
                outside => say!(
                    "From where loudspeakers may stand, {share} % of {area} comes within {within} dB of {target} dBA at best; 95 % is wanted.",
                    share = loamline_terms::fixed(share(outside), 0),
                    area = named,
                    within = within,
                    target = target
                ),
            }
        };
        Self { constraint: Constraint::Area(zone.id.to_owned()), sentence, changes }
    }

    fn unknown() -> Self {
        Self {
            constraint: Constraint::Checks,
            sentence: say!("No design was found that passes every check; give the search more time."),
            changes: Vec::new(),
        }
    }
}

/// Points of an area beyond those that may that stay outside its band where nothing else is wanted: no other area, no limit at
/// the neighbours, any number of loudspeakers. No more than the `outside` of a choice that was made.
fn best_alone(
    maker: &Maker<'_>,
    z: usize,
    outside: usize,
    band: &LevelBand,
    can: &impl Fn(&LevelBand) -> Result<Choice, BriefProblem>,
) -> usize {
    let mut alone = LevelBand { limits_db: LIFTED_DB, at_most: usize::MAX, ..band.clone() };
    for other in (0..maker.site.zones.len()).filter(|&other| other != z) {
        alone.ignored[other] = true;
    }
    can(&alone).map_or(outside, |c| c.answer.unmet.areas[z].min(outside))
}

/// What else that is wanted keeps an area from its level, a sentence each: another area's target beside it, the limit that is
/// overrun most where no limit is kept.
fn blame(
    maker: &Maker<'_>,
    z: usize,
    band: &LevelBand,
    can: &impl Fn(&LevelBand) -> Result<Choice, BriefProblem>,
) -> Sentence {
    let site = &maker.site;
    let lifted = LevelBand { limits_db: LIFTED_DB, ..band.clone() };
    let kept_from = area_within(site.zones[z].id, site.zones[z].area);
    let mut told = Sentence::default();
    let without = can(&lifted).ok();
    let unmet = without.as_ref().is_some_and(|c| c.answer.unmet.areas[z] > 0);
    for other in (0..site.zones.len()).filter(|&other| other != z && unmet) {
        let mut quieter = lifted.clone();
        quieter.lower_db[other] = TARGET_MOST_DB as f64;
        if can(&quieter).is_ok_and(|c| c.answer.unmet.areas[z] == 0) {
            let zone = &site.zones[other];
            told = told
                + say!(
                    " {other} at {target} dBA beside it keeps {area} from it.",
                    other = area_words(zone.id, zone.area),
                    target = loamline_terms::fixed(zone.area.target_dba, 0),
                    area = kept_from.clone()
                );
        }
    }
    let over =
        without.and_then(|free| over_limits(maker, &free, band, can)).filter(|over| over.over_db > 0.0);
    match over {
        Some(over) => told + " " + over.sentence,
        None => told,
    }
}

/// By how many whole decibels the bass that is reached in an area is short of what it wants; 1 where none can be had.
fn bass_short(maker: &Maker<'_>, z: usize, reached: f64) -> usize {
    let wanted = maker.site.zones[z].area.bass_db.unwrap_or(0.0);
    if reached.is_finite() { (wanted - reached).ceil().max(0.0) as usize } else { 1 }
}
