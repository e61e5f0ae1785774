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
use loamline_study::named_or;
use loamline_terms::pointer::escape;
use serde_json::json;

/// Work of one try, seconds, at most: a change is either enough soon or not tried farther.
const TRY_S: f64 = 0.5;

/// Why a brief cannot be met and with which changes it can, as far as the work allowed goes, seconds.
pub(crate) fn changes(
    (file, maker): (&JobFile, &Maker<'_>),
    options: &ProposeOptions,
    (reporter, allowed_s): (&Reporter<'_>, f64),
    unmet: Unmet,
) -> Result<Failure, ProposeError> {
    let mut failure = Failure {
        constraint: unmet.constraint,
        sentence: unmet.sentence,
        nearest: None,
        relax: None,
        changes: Vec::new(),
    };
    let quiet = ProposeOptions {
        wanted: vec![OptionKind::LeastCost],
        work_s: Some(options.work_s.unwrap_or(TRY_S).min(TRY_S)),
        ..options.clone()
    };
    // The nearest of each kind that does is enough.
    let kinds: Vec<Kind> = unmet.changes.into_iter().chain(places(file)).chain(models(file)).collect();
    let end_s = reporter.spent() + allowed_s;
    for (k, kind) in kinds.iter().enumerate() {
        if failure.changes.len() >= CHANGES_TOLD.most() {
            break;
        }
        // Each kind has its part of what is left, so that one of which nothing does leaves work for the others.
        let spent_s = reporter.spent();
        reporter.until(spent_s + (end_s - spent_s) / (kinds.len() - k) as f64);
        let (all, expected) = match kind {
            Kind::Apart(all) => (all, None),
            Kind::Farther { all, may, should } => (all, Some((*may, *should))),
        };
        let tried = |k: usize| tried((file, maker), &all[k], &quiet, reporter);
        let over = || reporter.time_is_up();
        let found = match expected {
            Some(expected) => nearest(all.len(), expected, over, tried)?,
            None => first(all.len(), over, tried)?,
        };
        failure.changes.extend(found);
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

/// A change with the price of a design that meets the brief with it; none when none was found.
fn tried(
    (file, maker): (&JobFile, &Maker<'_>),
    (sentence, edit): &(String, Edit),
    options: &ProposeOptions,
    reporter: &Reporter<'_>,
) -> Result<Option<Change>, ProposeError> {
    if reporter.stopped() {
        return Err(ProposeError::Cancelled);
    }
    let edit = sections(file, edit);
    let mut changed = file.clone();
    if changed.apply(&edit).is_err() {
        return Ok(None);
    }
    let price = price_with((&changed, maker), options, reporter)?;
    Ok(price.map(|price| Change { sentence: sentence.clone(), price, edit }))
}

/// Price of a design that meets a changed brief; none when none was found.
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
                let price = made.figures.price;
                return Ok(budget(changed).is_none_or(|b| price <= b).then_some(price));
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
    let allow = |section: &str, id: &str, named: String| {
        let path = format!("/{section}/{}/loudspeakers", escape(id));
        (format!("Loudspeakers allowed on {named} meet it."), set(&path, json!(true)))
    };
    let buildings = d.buildings.iter().filter(|(_, b)| !b.loudspeakers);
    let buildings = buildings.filter(|(_, b)| b.outline.corners().iter().any(|c| near(*c)));
    let walls = d.walls.iter().filter(|(_, w)| !w.loudspeakers && w.line.iter().any(|p| near(*p)));
    let banned = |s: &loamline_model::document::Surface| s.loudspeakers == Some(false);
    let surfaces = d.surfaces.iter().filter(|(_, s)| banned(s) && near(s.outline.centroid()));
    let all = buildings
        .map(|(id, b)| allow("buildings", id, named_or(&b.name, "building", id)))
        .chain(walls.map(|(id, w)| allow("walls", id, named_or(&w.name, "wall", id))))
        .chain(surfaces.map(|(id, s)| allow("surfaces", id, named_or(&s.name, "surface", id))));
    let all: Vec<(String, Edit)> = all.collect();
    (!all.is_empty()).then_some(Kind::Apart(all))
}

/// Models allowed that the wishes leave out.
fn models(file: &JobFile) -> Option<Kind> {
    let wishes = &file.job().document().brief.wishes;
    let remove = |key: &str| Edit::new([Operation::Remove { path: format!("/brief/wishes/{key}") }]);
    let mut all = Vec::new();
    if !wishes.models.is_empty() {
        all.push(("Any model of the catalogue allowed, it is met.".to_owned(), remove("models")));
    }
    if !wishes.not_models.is_empty() {
        all.push(("The models the wishes leave out allowed, it is met.".to_owned(), remove("not_models")));
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
