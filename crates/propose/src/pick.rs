//! Which of the designs made is which option.

use crate::api::{OptionKind, Proposed};
use crate::attempt::Made;
use crate::error::BriefProblem;
use crate::measure::reasons;

/// A design is evener than another when its largest spread is smaller by at least this, dB: less cannot be heard.
const EVENER_DB: f64 = 0.1;

/// Gives each kind of option its design. The designs made do not depend on the budget, which only bars some: more
/// budget can therefore never give a worse plan.
///
/// Of designs that are as even as a cheaper one, none is offered. The cheapest is the least cost, the dearest of the rest
/// the most even; of those between, the balanced one is that which gets most of the evenness for least of the money.
/// With none between, it is the evener of the two if that is little dearer, else the cheaper.
pub(crate) fn pick(
    wanted: &[OptionKind],
    made: Vec<Made>,
    budget: Option<f64>,
) -> Result<Vec<Proposed>, BriefProblem> {
    let mut front: Vec<Made> =
        made.into_iter().filter(|m| budget.is_none_or(|b| m.figures.price <= b)).collect();
    let key = |m: &Made| (m.figures.price, m.figures.worst_spread_db);
    front.sort_by(|a, b| key(a).partial_cmp(&key(b)).unwrap_or(std::cmp::Ordering::Equal));
    let mut evenest = f64::INFINITY;
    front.retain(|m| {
        let evener = m.figures.worst_spread_db <= evenest - EVENER_DB;
        evenest = evenest.min(m.figures.worst_spread_db);
        evener
    });
    let figures: Vec<(f64, f64)> = front.iter().map(key).collect();
    let mut kinds: Vec<Vec<OptionKind>> = vec![Vec::new(); front.len()];
    for kind in wanted {
        let at = match kind {
            OptionKind::LeastCost => 0,
            OptionKind::Balanced => balanced(&figures),
            OptionKind::MostEven => front.len().saturating_sub(1),
        };
        if let Some(k) = kinds.get_mut(at).filter(|k| !k.contains(kind)) {
            k.push(*kind);
        }
    }
    let mut out = Vec::new();
    for (m, kinds) in front.into_iter().zip(kinds).filter(|(_, k)| !k.is_empty()) {
        out.push(Proposed {
            kinds,
            reasons: reasons(&m.built)?,
            findings: m.built.study.findings().to_vec(),
            replaces: Vec::new(),
            figures: m.figures,
            choice_cost: m.choice.cost,
            edit: m.built.edit,
        });
    }
    Ok(out)
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
