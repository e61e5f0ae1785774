//! A large site designed district by district, then wired, routed and settled as a whole.
//!
//! Each district is a job of its own ([`crate::districts`]): places for loudspeakers, grids and searches are those of its areas,
//! so that the work grows with the site and no area goes without places because others take them. Their loudspeakers are then
//! written into the whole job under tags of their areas; lines, amplifiers, ways of the cable, cable sizes, filters and gains are
//! made once for all of them, and the finished design is held against the whole brief. Taps were chosen for the gain of a channel:
//! areas of one rack share channels where those gains are the same to half a decibel.

use crate::api::{Failure, OptionKind, Phase, Proposal, ProposeOptions, ProposeProgress, Proposed};
use crate::budget::budget;
use crate::build::{Built, build, without_unpinned};
use crate::districts::{districts, nearest_area, part, shares};
use crate::error::{BriefProblem, ProposeError};
use crate::make::pinned;
use crate::measure::{figures, missed, reasons};
use crate::models::offered;
use crate::price::Prices;
use crate::reporter::Reporter;
use crate::site::Site;
use crate::unmet::unmet_of;
use crate::written::as_written;
use indexmap::IndexMap;
use loamline_limits::{DESIGNED_TOGETHER, PROPOSAL_WORK_S};
use loamline_model::catalogue::LoudspeakerKind;
use loamline_model::document::JobDocument;
use loamline_model::{Choice as _, Edit, Job, JobFile, Operation};
use loamline_study::area_within;
use loamline_terms::pointer::escape;
use loamline_terms::{each_of, say};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// Work that goes into one district unless so much is asked for all of them, as the seconds that two usual cores take. More finds
/// cheaper rows in some, and costs that for each.
const DISTRICT_S: f64 = 4.0;
/// The least for one district, whatever is asked for all.
const LEAST_S: f64 = 0.5;
/// Share of the work that is done once the districts are, about.
const DISTRICTS_PART: f64 = 0.8;

/// How a district is designed: as any job of a few areas.
pub(crate) type Offers<'o> =
    &'o dyn Fn(&JobFile, &ProposeOptions, &Reporter<'_>) -> Result<Proposal, ProposeError>;

/// The design of a site of many districts; none where there is one, or where areas are so few that they are designed together.
pub(crate) fn in_districts(
    file: &JobFile,
    options: &ProposeOptions,
    reporter: &Reporter<'_>,
    offers: Offers<'_>,
) -> Result<Option<Proposal>, ProposeError> {
    let d = file.job().document();
    let all_stay = !d.loudspeakers.is_empty() && d.loudspeakers.values().all(|l| l.pinned);
    if DESIGNED_TOGETHER.check(d.areas.len()).is_ok() || d.racks.is_empty() || all_stay {
        return Ok(None);
    }
    let districts = districts(d);
    if districts.len() < 2 {
        return Ok(None);
    }
    let kind = kind_of(&options.wanted);
    let most_s = PROPOSAL_WORK_S.number as f64;
    let each_s = options.work_s.map_or(DISTRICT_S, |all| all.min(most_s) / districts.len() as f64);
    let asked = ProposeOptions { wanted: vec![kind], work_s: Some(each_s.max(LEAST_S)), ..options.clone() };
    let (pinned_only, clear) = without_unpinned(file)?;
    let shares = shares(file.job(), &districts)?;
    let mut whole = Whole::of(&pinned_only, clear);
    let (mut places, mut candidates, mut choice_cost) = (0, 0, 0.0);
    for (k, district) in districts.iter().enumerate() {
        let allowed = |n: &str| shares.get(n).and_then(|of| of.get(k)).copied().unwrap_or(1.0);
        // Where something else names an area that would be left out, the site is designed as a whole.
        let Ok(part) = part(&pinned_only, district, allowed) else { return Ok(None) };
        let told = |p: &ProposeProgress| {
            reporter.tell(|t| {
                (t.phase, t.option) = (p.phase, Some(kind));
                t.done = t.done.max(DISTRICTS_PART * (k as f64 + p.done) / districts.len() as f64);
            })
        };
        let found = offers(&part, &asked, &Reporter::new(&told)).map_err(|e| named(e, part.job()))?;
        places += found.places;
        candidates += found.candidates;
        if let Some(best) = found.options.first() {
            choice_cost += best.choice_cost;
            whole.take(&part, best)?;
        }
    }
    reporter.tell(|t| (t.phase, t.done) = (Phase::Building, DISTRICTS_PART));
    let (built, served) = whole.built(options)?;
    let option = option(file, built, (kind, choice_cost, served), options)?;
    let failure = failure(&option);
    let mut notes = vec![
        say!(
            "The {areas} areas were designed in {districts} districts that hardly hear one another, and wired and settled together.",
            areas = d.areas.len().to_string(),
            districts = districts.len().to_string()
        )
        .into(),
    ];
    if options.wanted.iter().any(|wanted| *wanted != kind) {
        notes.push(
            say!(
                "Of a site with more than {count} areas only the {kind} design is made.",
                count = DESIGNED_TOGETHER.shown(),
                kind = kind.told()
            )
            .into(),
        );
    }
    Ok(Some(Proposal {
        currency: d.about.currency.clone(),
        options: vec![option],
        failure,
        notes,
        places,
        candidates,
        bound: None,
        unfinished: false,
    }))
}

/// The one kind that is made: the cheapest, unless only others are wanted. A design louder than the brief asks is not made.
fn kind_of(wanted: &[OptionKind]) -> OptionKind {
    let others = wanted.iter().copied().find(|kind| *kind != OptionKind::Loudest);
    if wanted.contains(&OptionKind::LeastCost) {
        return OptionKind::LeastCost;
    }
    others.unwrap_or(OptionKind::LeastCost)
}

/// What is missing, with the areas it is missing for.
fn named(e: ProposeError, district: &Job) -> ProposeError {
    let ProposeError::Brief(problems) = e else { return e };
    let areas = each_of(district.document().areas.iter().map(|(id, area)| area_within(id, area)));
    let with_areas = |problem: BriefProblem| match problem {
        BriefProblem::NoPlace { reach_m } => BriefProblem::NoPlaceNear { areas: areas.clone(), reach_m },
        other => other,
    };
    ProposeError::Brief(problems.into_iter().map(with_areas).collect())
}

/// The whole job, with the loudspeakers of the districts so far.
struct Whole {
    file: JobFile,
    /// What made it of the job as it is.
    edit: Edit,
    /// Tags of the districts' loudspeakers, and all in use.
    tags: Vec<String>,
    taken: BTreeSet<String>,
    /// Loudspeakers of each area.
    served: IndexMap<String, Vec<String>>,
    /// The gain of the channel that plays each area in its district's design, half decibels: what its taps were chosen for.
    gains: BTreeMap<String, i64>,
    /// What is to be written yet.
    operations: Vec<Operation>,
}

impl Whole {
    fn of(pinned_only: &JobFile, clear: Edit) -> Self {
        let d = pinned_only.job().document();
        let ends = d.racks.keys().chain(d.stubs.keys()).chain(d.joints.keys());
        let mut operations = Vec::new();
        if pinned_only.raw().get("loudspeakers").is_none() {
            operations.push(Operation::Add { path: "/loudspeakers".into(), value: json!({}), before: None });
        }
        Self {
            edit: clear,
            tags: Vec::new(),
            taken: d.loudspeakers.keys().chain(ends).cloned().collect(),
            served: d.areas.keys().map(|id| (id.clone(), Vec::new())).collect(),
            gains: BTreeMap::new(),
            operations,
            file: pinned_only.clone(),
        }
    }

    /// Takes over what a district's design adds to its job, under tags of the areas.
    fn take(&mut self, part: &JobFile, design: &Proposed) -> Result<(), BriefProblem> {
        let mut written = part.clone();
        written.apply(&design.edit)?;
        let (before, after) = (part.job().document(), written.job().document());
        let of_areas = design.served.values().flatten();
        let others = after.loudspeakers.keys();
        let mut seen: BTreeSet<&String> = before.loudspeakers.keys().collect();
        for tag in of_areas.chain(others) {
            let Some(placed) = written.job().loudspeaker(tag).filter(|_| seen.insert(tag)) else { continue };
            let of = design.served.iter().find(|(_, tags)| tags.contains(tag)).map(|(area, _)| area.as_str());
            let area = of.map(str::to_owned).or_else(|| area_of(after, placed.placed.position));
            let is_sub = placed.model.kind == LoudspeakerKind::Subwoofer;
            let name = self.free(if is_sub { "S" } else { "L" }, area.as_deref());
            let path = format!("/loudspeakers/{}", escape(tag));
            let Some(Value::Object(mut value)) = written.raw().pointer(&path).cloned() else { continue };
            value.retain(|key, _| key != "line");
            value.insert("pinned".into(), json!(true));
            let path = format!("/loudspeakers/{}", escape(&name));
            self.operations.push(Operation::Add { path, value: Value::Object(value), before: None });
            if let Some(area) = area.filter(|_| !is_sub) {
                if let Some(gain_db) = gain_db(after, tag) {
                    self.gains.insert(area.clone(), (2.0 * gain_db).round() as i64);
                }
                self.served.entry(area).or_default().push(name.clone());
            }
            self.tags.push(name);
        }
        Ok(())
    }

    /// A tag nothing has: a letter, the number of the area in the document, and the next number there.
    fn free(&mut self, letter: &str, area: Option<&str>) -> String {
        let number =
            area.and_then(|area| self.file.job().document().areas.get_index_of(area)).map_or(0, |k| k + 1);
        let mut n = 1;
        loop {
            let tag = format!("{letter}{number}-{n}");
            if self.taken.insert(tag.clone()) {
                return tag;
            }
            n += 1;
        }
    }

    /// Everything wired, routed and settled together: areas have gains of their own where the amplifiers allow it.
    fn built(
        mut self,
        options: &ProposeOptions,
    ) -> Result<(Built, IndexMap<String, Vec<String>>), ProposeError> {
        let placed = Edit { operations: self.operations };
        self.file.apply(&placed).map_err(BriefProblem::from)?;
        self.edit.operations.extend(placed.operations);
        let job = self.file.job();
        let prices = Prices::new(job, &options.prices);
        let mut site = Site::new(job, offered(job, &prices)?, None)?;
        for zone in &mut site.zones {
            zone.chosen_at = self.gains.get(zone.id).copied().unwrap_or(0);
        }
        let poses = pinned(&site)?;
        let before = (&self.file, &self.edit);
        let built = match build(&site, &prices, before, &poses, &[], true) {
            Err(problem) if problem.of_one_design() => build(&site, &prices, before, &poses, &[], false),
            built => built,
        };
        let mut built = built?;
        // They stay because the districts chose them, not because anybody pinned them.
        let unpinned = self.tags.iter().map(|tag| format!("/loudspeakers/{}/pinned", escape(tag)));
        built.edit.operations.extend(unpinned.map(|path| Operation::Remove { path }));
        Ok((built, self.served))
    }
}

/// Gain of the channel a loudspeaker hangs on, dB.
fn gain_db(d: &JobDocument, loudspeaker: &str) -> Option<f64> {
    let line = d.lines.get(d.loudspeakers.get(loudspeaker)?.line.as_ref()?)?;
    Some(d.channels.get(line.channel.as_ref()?)?.gain_db)
}

/// The area nearest to a place, by its id.
fn area_of(d: &JobDocument, at: loamline_geometry::Point2) -> Option<String> {
    d.areas.get_index(nearest_area(d, at)?).map(|(id, _)| id.clone())
}

/// The design as it is offered.
fn option(
    file: &JobFile,
    built: Built,
    (kind, choice_cost, served): (OptionKind, f64, IndexMap<String, Vec<String>>),
    options: &ProposeOptions,
) -> Result<Proposed, BriefProblem> {
    let figures = figures(&built)?;
    let missed = missed(&built, &figures);
    let mut option = Proposed {
        kinds: vec![kind],
        unmet: unmet_of(file.job(), (&built, &figures, &missed), budget(file)),
        served,
        matching: file.job().document().brief.wishes.matching.word().to_owned(),
        notes: Vec::new(),
        robust_share: None,
        reasons: reasons(&built, &BTreeMap::new())?,
        findings: built.study.findings().to_vec(),
        replaces: Vec::new(),
        figures,
        choice_cost,
        bill: built.cost.bill,
        edit: built.edit,
    };
    as_written(file, &mut option, &options.prices)?;
    Ok(option)
}

/// Why a design does not meet the brief: what it misses first, and how much more there is.
fn failure(option: &Proposed) -> Option<Failure> {
    let first = option.unmet.first()?;
    let more = option.unmet.len() - 1;
    let wish = first.sentence.clone();
    let sentence = match more {
        0 => wish,
        1 => say!("{wish} One more wish of the brief is not met.", wish = wish),
        _ => {
            let count = more.to_string();
            say!("{wish} {count} more wishes of the brief are not met.", wish = wish, count = count)
        }
    };
    Some(Failure::new(first.constraint.clone(), sentence))
}
