//! Changes of a brief that cannot be met, each tried: which of them a design meets, cheapest first.

use crate::api::{Change, Failure, OptionKind, ProposeOptions};
use crate::attempt::Outcome;
use crate::budget::budget;
use crate::build::without_unpinned;
use crate::edits::set;
use crate::error::ProposeError;
use crate::failure::Unmet;
use crate::farther::{Kind, nearest};
use crate::least::least_cost;
use crate::make::Maker;
use crate::places::REACH_M;
use crate::reporter::Reporter;
use crate::types::Likeness;
use loamline_limits::CHANGES_TOLD;
use loamline_model::{Edit, JobFile, Operation};
use loamline_quotation::estimate;
use loamline_study::named;
use loamline_terms::pointer::escape;
use loamline_terms::{Sentence, say, template};
use serde_json::json;
use std::cell::RefCell;

/// Work of one try, seconds, at most: a change is either enough soon or not tried farther.
const TRY_S: f64 = 0.5;

/// Why a brief cannot be met and with which changes it can, as far as the work allowed goes, seconds.
pub(crate) fn changes(
    (file, maker): (&JobFile, &Maker<'_>),
    options: &ProposeOptions,
    (reporter, allowed_s): (&Reporter<'_>, f64),
    unmet: Unmet,
) -> Result<Failure, ProposeError> {
    let mut failure = Failure::new(unmet.constraint, unmet.sentence);
    let quiet = ProposeOptions {
        wanted: vec![OptionKind::LeastCost],
        work_s: Some(options.work_s.unwrap_or(TRY_S).min(TRY_S)),
        ..options.clone()
    };
    // The nearest of each kind that does is enough.
    let kinds: Vec<Kind> = unmet.changes.into_iter().chain(places(file)).chain(models(file)).collect();
    let end_s = reporter.spent() + allowed_s;
    let dearer: RefCell<Vec<(usize, usize, Change)>> = RefCell::default();
    for (kind_at, kind) in kinds.iter().enumerate() {
        if failure.changes.len() >= CHANGES_TOLD.most() {
            break;
        }
        // Each kind has its part of what is left, so that one of which nothing does leaves work for the others.
        let spent_s = reporter.spent();
        reporter.until(spent_s + (end_s - spent_s) / (kinds.len() - kind_at) as f64);
        let (all, expected) = match kind {
            Kind::Apart(all) => (all, None),
            Kind::Farther { all, may, should } => (all, Some((*may, *should))),
        };
        let tried = |k: usize| -> Result<Option<Change>, ProposeError> {
            let made = tried((file, maker), &all[k], &quiet, reporter)?;
            let Some(Tried { change, over_budget }) = made else { return Ok(None) };
            if !over_budget {
                return Ok(Some(change));
            }
            // The nearest of each kind that would do, were there more money.
            let mut dearer = dearer.borrow_mut();
            match dearer.iter().position(|(of, _, _)| *of == kind_at) {
                Some(at) if dearer[at].1 <= k => {}
                Some(at) => dearer[at] = (kind_at, k, change),
                None => dearer.push((kind_at, k, change)),
            }
            Ok(None)
        };
        let over = || reporter.time_is_up();
        let found = match expected {
            Some(expected) => nearest(all.len(), expected, over, tried)?,
            None => first(all.len(), over, tried)?,
        };
        failure.changes.extend(found);
    }
    if failure.changes.is_empty() {
        let currency = &file.job().document().about.currency;
        let with_money = dearer.into_inner().into_iter().map(|(_, _, change)| with_money(change, currency));
        failure.changes.extend(with_money.take(CHANGES_TOLD.most()));
    }
    failure.changes.sort_by(|a, b| a.price.total_cmp(&b.price));
    // What stands in the way loosened as little as it takes is the nearest brief.
    let nearest = failure.changes.first().cloned();
    if let Some(change) = nearest {
        (failure.nearest, failure.relax) = (Some(change.sentence), Some(change.edit));
    }
    Ok(failure)
}

/// The first of so many changes that does, until it is `over`.
fn first<T, E>(
    changes: usize,
    over: impl Fn() -> bool,
    met: impl Fn(usize) -> Result<Option<T>, E>,
) -> Result<Option<T>, E> {
    for k in 0..changes {
        if over() {
            break;
        }
        if let Some(made) = met(k)? {
            return Ok(Some(made));
        }
    }
    Ok(None)
}

/// A change that was tried, and whether a design that meets all else with it costs more than the budget.
struct Tried {
    change: Change,
    over_budget: bool,
}

/// A change together with the budget that it takes.
fn with_money(change: Change, currency: &str) -> Change {
    let needed = change.price.ceil();
    let sentence = say!(
        "{change} It takes a budget of {budget} too.",
        change = change.sentence,
        budget = estimate(currency, needed)
    );
    let raised = set("/brief/budget", json!(needed)).operations;
    let edit = Edit { operations: change.edit.operations.into_iter().chain(raised).collect() };
    Change::new(sentence, change.price, edit)
}

/// A change with the price of a design that meets the brief with it, its budget apart; none when none was found.
fn tried(
    (file, maker): (&JobFile, &Maker<'_>),
    (sentence, edit): &(Sentence, Edit),
    options: &ProposeOptions,
    reporter: &Reporter<'_>,
) -> Result<Option<Tried>, ProposeError> {
    if reporter.stopped() {
        return Err(ProposeError::Cancelled);
    }
    let edit = sections(file, edit);
    let mut changed = file.clone();
    if changed.apply(&edit).is_err() {
        return Ok(None);
    }
    let price = price_with((&changed, maker), options, reporter)?;
    let over_budget = |price: f64| budget(&changed).is_some_and(|most| price > most);
    Ok(price.map(|price| Tried {
        over_budget: over_budget(price),
        change: Change::new(sentence.clone(), price, edit),
    }))
}

/// Price of a design that meets a changed brief, its budget apart; none when none was found.
fn price_with(
    (changed, before): (&JobFile, &Maker<'_>),
    options: &ProposeOptions,
    reporter: &Reporter<'_>,
) -> Result<Option<f64>, ProposeError> {
    let (pinned_only, clear) = without_unpinned(changed)?;
    let maker = match Maker::like(Some(before), (&pinned_only, clear), &options.prices) {
        Ok(maker) => maker,
        // A change that leaves nothing to propose is none.
        Err(_) => return Ok(None),
    };
    for likeness in [maker.wished(), Likeness::Any] {
        match least_cost(&maker, likeness, options, reporter) {
            Ok((Outcome::Met(made), _)) => {
                return Ok(Some(made.figures.price));
            }
            // Nor is one with which nothing can be designed.
            Ok((Outcome::Unmet { .. }, _)) | Err(ProposeError::Brief(_)) => {}
            Err(e) => return Err(e),
        }
        if likeness == Likeness::Any || reporter.time_is_up() {
            break;
        }
    }
    Ok(None)
}

/// Loudspeakers allowed on walls, buildings and surfaces near the areas where they are not.
fn places(file: &JobFile) -> Option<Kind> {
    let d = file.job().document();
    let near = |at: loamline_geometry::Point2| {
        d.areas.values().any(|a| crate::places::nearest_in(&a.outline, at).distance(at) <= REACH_M)
    };
    let allow = |section: &str, id: &str, place: Sentence| {
        let path = format!("/{section}/{}/loudspeakers", escape(id));
        (say!("Loudspeakers allowed on {place} meet it.", place = place), set(&path, json!(true)))
    };
    let buildings = d.buildings.iter().filter(|(_, b)| !b.loudspeakers);
    let buildings = buildings.filter(|(_, b)| b.outline.corners().iter().any(|c| near(*c)));
    let walls = d.walls.iter().filter(|(_, w)| !w.loudspeakers && w.line.iter().any(|p| near(*p)));
    let banned = |s: &loamline_model::document::Surface| s.loudspeakers == Some(false);
    let surfaces = d.surfaces.iter().filter(|(_, s)| banned(s) && near(s.outline.centroid()));
    let all = buildings
        .map(|(id, b)| allow("buildings", id, named(&b.name, template!("building {id}"), id)))
        .chain(walls.map(|(id, w)| allow("walls", id, named(&w.name, template!("wall {id}"), id))))
        .chain(surfaces.map(|(id, s)| allow("surfaces", id, named(&s.name, template!("surface {id}"), id))));
    let all: Vec<(Sentence, Edit)> = all.collect();
    (!all.is_empty()).then_some(Kind::Apart(all))
}

/// Models allowed that the wishes leave out.
fn models(file: &JobFile) -> Option<Kind> {
    let wishes = &file.job().document().brief.wishes;
    let remove = |key: &str| Edit::new([Operation::Remove { path: format!("/brief/wishes/{key}") }]);
    let mut all = Vec::new();
    if !wishes.models.is_empty() {
        all.push((say!("Any model of the catalogue allowed, it is met."), remove("models")));
    }
    if !wishes.not_models.is_empty() {
        all.push((say!("The models the wishes leave out allowed, it is met."), remove("not_models")));
    }
    (!all.is_empty()).then_some(Kind::Apart(all))
}

/// The edit with the sections it writes into made first where the file has none.
fn sections(file: &JobFile, edit: &Edit) -> Edit {
    let mut operations = Vec::new();
    for o in &edit.operations {
        if let Operation::Add { path, .. } = o {
            let parts: Vec<&str> = path.split('/').skip(1).collect();
            for k in 1..parts.len() {
                let at = format!("/{}", parts[..k].join("/"));
                if file.raw().pointer(&at).is_none() {
                    operations.push(Operation::Add { path: at, value: json!({}), before: None });
                }
            }
        }
        operations.push(o.clone());
    }
    Edit { operations }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, shipped_catalogue};

    #[test]
    fn what_is_dearer_than_the_budget_is_told_with_the_budget_it_takes() {
        let edit = set("/areas/lawn/target", json!(80.0));
        let meets = say!("{area} at {target} dBA meets it.", area = "Lawn", target = "80");
        let change = Change::new(meets, 12_345.2, edit);
        let told = with_money(change, "USD");
        assert_eq!(told.sentence, "Lawn at 80 dBA meets it. It takes a budget of USD 12 346 too.");
        // Both parts are said in the language that is asked for, the name as it was given.
        let spanish = told.spoken["es"].sentence.as_str();
        assert!(spanish.starts_with("Lawn a 80 dBA") && spanish.ends_with("un presupuesto de USD 12 346."));
        let paths: Vec<&Operation> = told.edit.operations.iter().collect();
        let (target, money) = (set("/areas/lawn/target", json!(80.0)), set("/brief/budget", json!(12_346.0)));
        assert_eq!(paths, [&target.operations[0], &money.operations[0]]);
    }

    #[test]
    fn what_would_take_loudspeakers_is_called_by_its_name() {
        let text = include_str!("../../../examples/guesthouse-garden/job.toml");
        let file =
            JobFile::from_text(&SourceFile::new("job.toml", text), shipped_catalogue().unwrap()).unwrap();
        let Some(Kind::Apart(all)) = places(&file) else { panic!("walls that take no loudspeakers") };
        let allowed = set("/walls/west/loudspeakers", json!(true));
        let west = all.iter().find(|(_, edit)| *edit == allowed).map(|(said, _)| said.as_str());
        assert_eq!(west, Some("Loudspeakers allowed on West garden wall meet it."));
    }
}
