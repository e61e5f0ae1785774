//! Findings about places: what stands or lies where it should not.

use crate::finding::{Finding, Remedy, Severity, Subject};
use crate::names::{called, tagged};
use loamline_adapt::{LaidCable, LaidRun, NIPPLE_M, laid_cables, on_lawn_edge};
use loamline_geometry::{Point2, Segment, polyline_length};
use loamline_limits::go_on;
use loamline_model::catalogue::CableRating;
use loamline_model::document::{Laying, Mount, SurfaceKind};
use loamline_model::{Job, PlacedLoudspeaker};
use loamline_routing::conduit_fill;
use loamline_terms::{Measure, Sentence, all_of, say, template};

/// Findings about places.
pub fn site_findings(job: &Job, runs: &[LaidRun]) -> Vec<Finding> {
    let mut found: Vec<Finding> = job.loudspeakers().flat_map(|l| loudspeaker_findings(job, &l)).collect();
    found.extend(cable_findings(job, runs, &laid_cables(job, runs)));
    found.extend(passage_findings(job, runs));
    found.extend(sleeve_findings(job, runs));
    found
}

/// How far from a building's outline a passage may be drawn, metres.
const AT_WALL_M: f64 = 0.25;

/// Passages that are in no wall, and those too small for what is drawn through them.
fn passage_findings(job: &Job, runs: &[LaidRun]) -> Vec<Finding> {
    let d = job.document();
    let mut found = Vec::new();
    for (id, passage) in &d.passages {
        let about = || Subject::new("passages", id);
        let named = tagged(&passage.name, template!("Passage {id}"), id);
        if !d.buildings.values().any(|b| b.outline.distance_to_outline(passage.position) <= AT_WALL_M) {
            found.push(
                Finding::new(
                    Severity::Error,
                    about(),
                    say!(
                        "{passage} is in no building's outer wall, so no cable can be led through it.",
                        passage = named.clone()
                    ),
                )
                .mend(say!("Move it onto the outline of the building.")),
            );
        }
        // Cable of several lines is drawn once.
        let cables = laid_cables(job, runs);
        let leads = cables.iter().filter(|c| !c.existing);
        let through = leads.filter(|c| runs[c.lead].through.iter().any(|o| o.passage.as_ref() == Some(id)));
        let mend = say!("Use thinner cable, another passage, or make it larger.");
        let inside = (passage.inside_diameter_m, passage.holds_m.as_slice());
        found.extend(overfull(job, named, about(), inside, NIPPLE_M, &through.collect::<Vec<_>>(), mend));
    }
    found
}

/// Sleeves too small for what is drawn through them.
fn sleeve_findings(job: &Job, runs: &[LaidRun]) -> Vec<Finding> {
    let cables = laid_cables(job, runs);
    let one = |(id, sleeve): (&String, &loamline_model::document::Sleeve)| {
        let through = cables.iter().filter(|c| !c.existing && runs[c.lead].sleeves.contains(id));
        let through: Vec<&LaidCable> = through.collect();
        let mend = say!("Use thinner cable, lead it another way, or state the sleeve as it is.");
        let inside = (sleeve.inside_diameter_m, sleeve.holds_m.as_slice());
        let (name, about) = (tagged(&sleeve.name, template!("Sleeve {id}"), id), Subject::new("sleeves", id));
        overfull(job, name, about, inside, polyline_length(&sleeve.line), &through, mend)
    };
    job.document().sleeves.iter().filter_map(one).collect()
}

/// What is said of a passage or sleeve that is too full: its inside diameter and what it holds already, m, and its length.
fn overfull(
    job: &Job,
    name: Sentence,
    about: Subject,
    (inside_m, holds_m): (f64, &[f64]),
    length_m: f64,
    drawn: &[&LaidCable],
    mend: Sentence,
) -> Option<Finding> {
    let outside = |c: &&LaidCable| Some(1000.0 * job.catalogue().cables.get(&c.cable)?.outside_diameter_m);
    let all: Vec<f64> = holds_m.iter().map(|m| 1000.0 * m).chain(drawn.iter().filter_map(outside)).collect();
    if drawn.is_empty() {
        return None;
    }
    let fill = conduit_fill(1000.0 * inside_m, &all, Some(length_m)).ok().filter(|fill| !fill.fits)?;
    let names: Vec<&str> = drawn.iter().map(|c| c.tag.as_str()).collect();
    let with = if holds_m.is_empty() { Sentence::default() } else { say!(" with what it holds") };
    let percent = |fraction: f64| loamline_terms::fixed(100.0 * fraction, 0);
    let (filled, allowed) = (percent(fill.fill_fraction), percent(fill.limit_fraction));
    let sentence = if names.len() == 1 {
        say!(
            "{name} is too small: {cable} fills {filled} % of it{with}, {allowed} % is allowed.",
            name = name,
            cable = names[0],
            filled = filled,
            with = with,
            allowed = allowed
        )
    } else {
        say!(
            "{name} is too small: {cables} fill {filled} % of it{with}, {allowed} % is allowed.",
            name = name,
            cables = all_of(&names),
            filled = filled,
            with = with,
            allowed = allowed
        )
    };
    Some(Finding::new(Severity::Error, about, sentence).mend(mend))
}

/// Where a run goes through outer walls without a passage.
fn hole_findings(job: &Job, r: &LaidRun, tag: &str) -> Vec<Finding> {
    let mut found = Vec::new();
    let holes =
        |building: &str| r.through.iter().filter(|o| o.building == building && o.passage.is_none()).count();
    for (id, building) in &job.document().buildings {
        go_on();
        let (count, about) = (holes(id), || Subject::run(&r.line, &r.id));
        if count == 0 {
            continue;
        }
        let house = called(&building.name, id);
        let more = match count {
            1 => say!("a new hole"),
            _ => say!("{count} new holes", count = count.to_string()),
        };
        found.push(if building.holes {
            let what = say!("Run {run} needs {holes} in the outer wall of {house}.", run = tag, holes = more, house = house);
            Finding::new(Severity::Note, about(), what).mend(say!(
                "Lead it through a passage or start the line at a stub-out, if there is one; draw it if it is missing."
            ))
        } else {
            Finding::new(
                Severity::Error,
                about(),
                say!(
                    "Run {run} needs {holes} in the outer wall of {house}, where none may be made.",
                    run = tag,
                    holes = more,
                    house = house
                ),
            )
            .mend(say!("Lead it through a passage, or start the line at a stub-out outside."))
            .by(Remedy::Routes)
        });
    }
    found
}

fn loudspeaker_findings(job: &Job, l: &PlacedLoudspeaker<'_>) -> Vec<Finding> {
    let d = job.document();
    let at = l.placed.position;
    let about = || Subject::new("loudspeakers", l.id);
    let mut found = Vec::new();
    for (id, area) in &d.no_go {
        go_on();
        if area.outline.contains(at) {
            found.push(
                Finding::new(
                    Severity::Error,
                    about(),
                    say!(
                        "Loudspeaker {loudspeaker} stands in {place}, where nothing may be put ({reason}).",
                        loudspeaker = l.id,
                        place = id,
                        reason = &area.reason
                    ),
                )
                .mend(say!("Move it out.")),
            );
        }
    }
    for (id, b) in &d.buildings {
        go_on();
        if b.outline.contains_with_margin(at, 0.05) {
            found.push(
                Finding::new(
                    Severity::Error,
                    about(),
                    say!(
                        "Loudspeaker {loudspeaker} stands inside {house}.",
                        loudspeaker = l.id,
                        house = called(&b.name, id)
                    ),
                )
                .mend(say!("Move it to a wall or outside.")),
            );
        }
    }
    found.extend(below_ground(l));
    let on_ground = matches!(l.mount, Mount::Stake | Mount::InGround | Mount::Surface | Mount::Base);
    let ground = job.ground(at);
    if on_ground && ground.kind == SurfaceKind::Water {
        found.push(
            Finding::new(Severity::Error, about(), say!("Loudspeaker {id} stands in water.", id = l.id))
                .mend(say!("Move it to dry ground.")),
        );
    } else if matches!(l.mount, Mount::Stake | Mount::InGround | Mount::Base)
        && !ground.takes_loudspeakers
        && !on_lawn_edge(job, at)
    {
        let what = match ground.surface {
            None => say!("Loudspeaker {id} stands in ground where loudspeakers do not go.", id = l.id),
            Some((id, s)) => say!(
                "Loudspeaker {id} stands in {place}, where loudspeakers do not go.",
                id = l.id,
                place = called(&s.name, id)
            ),
        };
        found.push(
            Finding::new(Severity::Warning, about(), what)
                .mend(say!("Move it to a bed or an edge, or allow loudspeakers on that surface.")),
        );
    }
    if matches!(l.mount, Mount::Stake | Mount::InGround | Mount::Base) {
        for (id, s) in &d.services {
            let near = s
                .line
                .windows(2)
                .map(|w| Segment::new(w[0], w[1]).distance_to(at))
                .fold(f64::INFINITY, f64::min);
            if near < s.clearance_m {
                found.push(
                    Finding::new(
                        Severity::Error,
                        about(),
                        say!(
                            "Loudspeaker {loudspeaker} is driven or dug in {near} from buried service {service}; {kept} must be kept.",
                            loudspeaker = l.id,
                            near = Measure::Clearance(near),
                            service = id,
                            kept = Measure::Clearance(s.clearance_m)
                        ),
                    )
                    .mend(say!("Move it away. Have buried services located before any digging.")),
                );
            }
        }
    }
    found
}

/// Only what is fixed in the ground may sound from below it: heights are above the ground there, whatever its elevation.
fn below_ground(l: &PlacedLoudspeaker<'_>) -> Option<Finding> {
    if l.height_m >= 0.0 || l.mount == Mount::InGround {
        return None;
    }
    let sentence = say!(
        "Loudspeaker {id} is {depth} below the ground, and it is not fixed in the ground.",
        id = l.id,
        depth = Measure::Clearance(-l.height_m)
    );
    let about = Subject::new("loudspeakers", l.id);
    let mend = say!("Set its height above the ground, or fix it in the ground.");
    Some(Finding::new(Severity::Error, about, sentence).mend(mend))
}

/// Findings about cables to lay: where one may not lie, or not as the brief wants it. A cable that carries several lines is
/// told of once, by its tag.
pub fn cable_findings(job: &Job, runs: &[LaidRun], cables: &[LaidCable]) -> Vec<Finding> {
    let new = cables.iter().filter(|c| !c.existing);
    new.filter_map(|c| Some((c, runs.get(c.lead)?)))
        .flat_map(|(c, run)| run_findings(job, run, &c.tag))
        .collect()
}

fn run_findings(job: &Job, r: &LaidRun, tag: &str) -> Vec<Finding> {
    let d = job.document();
    let about = || Subject::run(&r.line, &r.id);
    let mut found = Vec::new();
    for (id, area) in &d.no_go {
        go_on();
        // Along its edge is not through it.
        let within = |w: &[Point2], t: f64| area.outline.distance_to_outline(w[0].lerp(w[1], t)) > 0.005;
        if r.way.windows(2).any(|w| {
            let inside = area.outline.inside_intervals(Segment::new(w[0], w[1]));
            let inside =
                inside.iter().filter(|(a, b)| [0.25, 0.5, 0.75].iter().any(|t| within(w, a + t * (b - a))));
            inside.map(|(a, b)| b - a).sum::<f64>() * w[0].distance(w[1]) > 0.02
        }) {
            found.push(
                Finding::new(
                    Severity::Error,
                    about(),
                    say!(
                        "Run {run} goes through {place}, where nothing may be laid ({reason}).",
                        run = tag,
                        place = id,
                        reason = &area.reason
                    ),
                )
                .mend(say!("Lead it round."))
                .by(Remedy::Routes),
            );
        }
    }
    found.extend(hole_findings(job, r, tag));
    let allowed = &d.brief.laying;
    // Inside a building cable is always laid indoors.
    let may = |l: Laying| l == Laying::Indoors || allowed.is_empty() || allowed.contains(&l);
    let mut told = Vec::new();
    for p in &r.pieces {
        match p.laying {
            None if p.length_m > 0.1 => found.push(
                Finding::new(
                    Severity::Error,
                    about(),
                    match p.surface.as_deref() {
                        None => say!(
                            "Run {run} crosses {length} of ground where cable cannot be laid.",
                            run = tag,
                            length = Measure::Length(p.length_m)
                        ),
                        Some(id) => say!(
                            "Run {run} crosses {length} of {surface} where cable cannot be laid.",
                            run = tag,
                            length = Measure::Length(p.length_m),
                            surface = surface_called(job, id)
                        ),
                    },
                )
                .mend(say!("Lead it round or through a sleeve."))
                .by(Remedy::Routes),
            ),
            Some(l) if p.length_m > 0.1 && !may(l) && !told.contains(&l) => {
                told.push(l);
                let metres: f64 = r.pieces.iter().filter(|x| x.laying == Some(l)).map(|x| x.length_m).sum();
                found.push(
                    Finding::new(
                        Severity::Warning,
                        about(),
                        say!(
                            "Run {run} wants {length} of {laying}, which the brief does not allow.",
                            run = tag,
                            length = Measure::Length(metres),
                            laying = laying_words(l)
                        ),
                    )
                    .mend(say!("Lead it another way, or allow it in the brief."))
                    .by(Remedy::Routes),
                );
            }
            _ => {}
        }
    }
    if let Some(cable) = job.catalogue().cables.get(&r.cable)
        && r.pieces.iter().any(|p| p.laying == Some(Laying::Clipped) && p.length_m > 0.5)
        && !cable.ratings.contains(&CableRating::Sunlight)
    {
        found.push(
            Finding::new(
                Severity::Warning,
                about(),
                say!(
                    "Run {run} is clipped in the open; cable {cable} is not rated for sunlight.",
                    run = tag,
                    cable = &r.cable
                ),
            )
            .mend(say!("Use a cable rated for sunlight, or put it in conduit.")),
        );
    }
    found
}

/// A surface as people call it.
fn surface_called<'a>(job: &'a Job, id: &'a str) -> &'a str {
    job.document().surfaces.get(id).map_or(id, |s| called(&s.name, id))
}

/// A way of laying in a sentence.
fn laying_words(l: Laying) -> Sentence {
    match l {
        Laying::Staked => say!("cable staked down under mulch or gravel"),
        Laying::Slit => say!("slit"),
        Laying::Trench => say!("trench"),
        Laying::LiftedPaving => say!("lifted paving"),
        Laying::Clipped => say!("cable clipped along a wall"),
        Laying::Conduit => say!("conduit"),
        Laying::Indoors => say!("cable indoors"),
    }
}
