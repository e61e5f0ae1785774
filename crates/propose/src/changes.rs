//! Changes of a brief that cannot be met, each tried: which of them a design meets, cheapest first.

use crate::api::{Change, Failure, OptionKind, ProposeOptions};
use crate::attempt::Outcome;
use crate::budget::budget;
use crate::build::without_unpinned;
use crate::edits::set;
use crate::error::ProposeError;
use crate::failure::Unmet;
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

/// Why a brief cannot be met and with which changes it can, as far as the work allowed goes.
pub(crate) fn changes(
    (file, maker): (&JobFile, &Maker<'_>),
    options: &ProposeOptions,
    reporter: &Reporter<'_>,
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
    // The first of each kind that does is enough: they stand nearest first.
    let kinds = unmet.changes.into_iter().chain(places(file)).chain(models(file));
    for kind in kinds {
        if failure.changes.len() >= CHANGES_TOLD.most() {
            break;
        }
        for (sentence, edit) in kind {
            if reporter.stopped() {
                return Err(ProposeError::Cancelled);
            }
            if reporter.time_is_up() {
                break;
            }
            let edit = sections(file, &edit);
            let mut changed = file.clone();
            if changed.apply(&edit).is_err() {
                continue;
            }
            if let Some(price) = price_with((&changed, maker), &quiet, reporter)? {
                failure.changes.push(Change { sentence, price, edit });
                break;
            }
        }
    }
    failure.changes.sort_by(|a, b| a.price.total_cmp(&b.price));
    // What stands in the way loosened as little as it takes is the nearest brief.
    let nearest = failure.changes.first().cloned();
    if let Some(change) = nearest {
        (failure.nearest, failure.relax) = (Some(change.sentence), Some(change.edit));
    }
    Ok(failure)
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
        if let Outcome::Met(made) = least_cost(&maker, likeness, options, reporter)?.0 {
            let price = made.figures.price;
            return Ok(budget(changed).is_none_or(|b| price <= b).then_some(price));
        }
        if likeness == Likeness::Any || reporter.time_is_up() {
            break;
        }
    }
    Ok(None)
}

/// Loudspeakers allowed on walls, buildings and surfaces near the areas where they are not.
fn places(file: &JobFile) -> Vec<Vec<(String, Edit)>> {
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
    if all.is_empty() { Vec::new() } else { vec![all] }
}

/// Models allowed that the wishes leave out.
fn models(file: &JobFile) -> Vec<Vec<(String, Edit)>> {
    let wishes = &file.job().document().brief.wishes;
    let remove = |key: &str| Edit::new([Operation::Remove { path: format!("/brief/wishes/{key}") }]);
    let mut all = Vec::new();
    if !wishes.models.is_empty() {
        all.push(("Any model of the catalogue allowed, it is met.".to_owned(), remove("models")));
    }
    if !wishes.not_models.is_empty() {
        all.push(("The models the wishes leave out allowed, it is met.".to_owned(), remove("not_models")));
    }
    if all.is_empty() { Vec::new() } else { vec![all] }
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
        let all: Vec<(String, Edit)> = places(&file).into_iter().flatten().collect();
        let allowed = set("/walls/west/loudspeakers", json!(true));
        let west = all.iter().find(|(_, edit)| *edit == allowed).map(|(said, _)| said.as_str());
        assert_eq!(west, Some("Loudspeakers allowed on West garden wall meet it."));
    }
}
