//! Which of the designs made is which option.

use crate::api::{OptionKind, Proposed};
use crate::as_made::as_made;
use crate::attempt::Made;
use crate::error::BriefProblem;
use crate::loudest::Loud;
use crate::make::Maker;
use crate::measure::reasons;
use loamline_model::Edit;
use loamline_quotation::estimate;
use loamline_terms::{Told, say};

/// A design is evener than another when its largest spread is smaller by at least this, dB: less cannot be heard.
pub(crate) const EVENER_DB: f64 = 0.1;

/// The designs made for a brief.
#[derive(Default)]
pub(crate) struct Designs {
    /// Kinds asked for.
    pub wanted: Vec<OptionKind>,
    /// Those that differ in price and evenness.
    pub front: Vec<Made>,
    /// The loudest, where one louder than the brief was found.
    pub loudest: Option<Loud>,
    /// The cheapest of any models.
    pub mixed: Option<Made>,
    /// Whether they do not meet the brief.
    pub unmet: bool,
    /// What was not made, and why.
    pub notes: Vec<Told>,
}

/// Gives each kind of option its design. The designs made do not depend on the budget, which only bars some: more
/// budget can therefore never give a worse plan.
///
/// Of designs that are as even as a cheaper one, none is offered. The cheapest is the least cost, the dearest of the rest
/// the most even; of those between, the balanced one is that which gets most of the evenness for least of the money.
/// With none between, it is the evener of the two if that is little dearer, else the cheaper. A louder or a mixed design
/// stands for itself; where there is none, the cheapest is that too.
pub(crate) fn pick(
    maker: &Maker<'_>,
    designs: Designs,
    budget: Option<f64>,
) -> Result<Vec<Proposed>, BriefProblem> {
    let affordable = |m: &Made| designs.unmet || budget.is_none_or(|b| m.figures.price <= b);
    let mut front: Vec<Made> = designs.front.into_iter().filter(affordable).collect();
    let key = |m: &Made| (m.figures.price, m.figures.worst_spread_db);
    front.sort_by(|a, b| key(a).partial_cmp(&key(b)).unwrap_or(std::cmp::Ordering::Equal));
    let mut evenest = f64::INFINITY;
    front.retain(|m| {
        let evener = m.figures.worst_spread_db <= evenest - EVENER_DB;
        evenest = evenest.min(m.figures.worst_spread_db);
        evener
    });
    let figures: Vec<(f64, f64)> = front.iter().map(key).collect();
    let cheapest = figures.first().map_or(f64::INFINITY, |f| f.0);
    // Any models at no less money are no offer of their own.
    let mixed = designs.mixed.filter(|m| m.figures.price < cheapest - 0.005);
    let mixed = mixed.filter(|m| budget.is_none_or(|b| m.figures.price <= b));
    let mut kinds: Vec<Vec<OptionKind>> = vec![Vec::new(); front.len()];
    for kind in &designs.wanted {
        let at = match kind {
            OptionKind::LeastCost => 0,
            OptionKind::Balanced => balanced(&figures),
            OptionKind::MostEven => front.len().saturating_sub(1),
            OptionKind::Loudest if designs.loudest.is_none() => 0,
            OptionKind::LeastCostMixed if mixed.is_none() => 0,
            OptionKind::Loudest | OptionKind::LeastCostMixed => continue,
        };
        if let Some(k) = kinds.get_mut(at).filter(|k| !k.contains(kind)) {
            k.push(*kind);
        }
    }
    let mut out = Vec::new();
    let matching_costs = mixed.as_ref().map(|m| cheapest - m.figures.price);
    for (m, kinds) in front.into_iter().zip(kinds).filter(|(_, k)| !k.is_empty()) {
        let first = out.is_empty();
        let mut one = proposed(maker, &m, kinds, budget)?;
        if let Some(costs) = matching_costs.filter(|_| first) {
            let currency = &maker.site.job.document().about.currency;
            let costs = estimate(currency, costs);
            let sentence = say!("That the loudspeakers of an area are alike costs {costs}.", costs = costs);
            one.notes.push(sentence.into());
        }
        out.push(one);
    }
    if let Some(loud) = designs.loudest {
        let mut one = proposed(maker, &loud.made, vec![OptionKind::Loudest], None)?;
        one.notes.extend(loud.notes);
        let operations = loud.targets.operations.into_iter().chain(one.edit.operations).collect();
        one.edit = Edit { operations };
        out.push(one);
    }
    if let Some(m) = mixed {
        out.push(proposed(maker, &m, vec![OptionKind::LeastCostMixed], budget)?);
    }
    Ok(out)
}

/// A design as it is offered.
fn proposed(
    maker: &Maker<'_>,
    m: &Made,
    kinds: Vec<OptionKind>,
    budget: Option<f64>,
) -> Result<Proposed, BriefProblem> {
    let reasons = reasons(&m.built, &m.kept)?;
    Ok(Proposed { reasons, ..as_made(maker, m, kinds, budget) })
}

/// How much dearer the most even may be to be taken for balanced when nothing lies between, as a share.
const LITTLE_DEARER: f64 = 0.1;

/// Which of some designs, by price and spread, cheapest first and each evener than the one before, is the balanced one.
fn balanced(front: &[(f64, f64)]) -> usize {
    let (Some(first), Some(last)) = (front.first(), front.last()) else { return 0 };
    let pains = |f: &(f64, f64)| {
        (f.0 - first.0) / (last.0 - first.0).max(1e-9) + (f.1 - last.1) / (first.1 - last.1).max(1e-9)
    };
    let between = 1..front.len().saturating_sub(1);
    let best = between.min_by(|&a, &b| pains(&front[a]).total_cmp(&pains(&front[b])));
    best.unwrap_or(if last.0 <= first.0 * (1.0 + LITTLE_DEARER) { front.len() - 1 } else { 0 })
}

#[cfg(test)]
mod tests {
    use super::balanced;

    #[test]
    fn the_balanced_design_gets_most_evenness_for_least_money() {
        // Half of the way in money buys a third, a tenth of the way buys most.
        assert_eq!(balanced(&[(1000.0, 4.0), (1050.0, 3.2), (1250.0, 3.1), (1500.0, 3.0)]), 1);
        assert_eq!(balanced(&[(1000.0, 4.0), (1050.0, 3.0)]), 1, "hardly dearer");
        assert_eq!(balanced(&[(1000.0, 4.0), (2000.0, 3.0)]), 0);
        assert_eq!(balanced(&[(1000.0, 4.0)]), 0);
    }
}
