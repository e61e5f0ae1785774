//! The covering problem as plain numbers.

use super::demand::Demand;
use serde::{Deserialize, Serialize};
use std::ops::Range;
use thiserror::Error;

/// One way of using one place: a model, an aim and a tap there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Candidate {
    /// Place it uses; at most one candidate of a place is taken.
    pub place: usize,
    /// Installed cost, in money.
    pub cost: f64,
    /// What it asks of amplification.
    pub demand: Demand,
    /// Energy it adds at every point, relative to the level wanted there (1 is the target).
    pub at_points: Vec<f64>,
    /// Share of every cap it uses (1 is the whole cap).
    pub at_caps: Vec<f64>,
}

/// A listening area: a range of points with a band of level.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Area {
    /// Its points, as a range of the problem's points.
    pub points: Range<usize>,
    /// Lowest energy that is near enough to the target (10^-0.3 for -3 dB).
    pub floor: f64,
    /// Highest energy that is near enough to the target.
    pub ceiling: f64,
    /// Points that may lie outside.
    pub may_miss: usize,
}

/// Something that must stay below a limit of 1, or had better.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Cap {
    /// What it is, for messages.
    pub name: String,
    /// Share used already by what is fixed.
    pub used: f64,
    /// Absent for a limit that must hold. Else it is a wish: what each decibel above the limit is worth, in money. Wishes
    /// steer the search; whether a choice meets everything, what it costs and the bound do not depend on them.
    #[serde(default)]
    pub per_db: Option<f64>,
}

impl Cap {
    /// Whether it must hold.
    pub(super) const fn must_hold(&self) -> bool {
        self.per_db.is_none()
    }
}

/// Amplification to buy.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Supply {
    /// Cost of one, in money.
    pub cost: f64,
    /// What one can feed, its reserve taken off.
    pub feeds: Demand,
}

/// A covering problem. See the module's head for the programme it stands for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Problem {
    /// Number of places.
    pub places: usize,
    /// Ways of using them.
    pub candidates: Vec<Candidate>,
    /// Energy at every point from what is fixed.
    pub fixed_at_points: Vec<f64>,
    /// Areas; together they hold every point once.
    pub areas: Vec<Area>,
    /// Caps.
    pub caps: Vec<Cap>,
    /// Amplifiers on offer; empty when amplification is free.
    pub supplies: Vec<Supply>,
    /// What is fixed already asks so much of amplification.
    pub fixed_demand: Demand,
    /// Most candidates to take.
    pub at_most: usize,
    /// Pairs of places of which at most one is taken: too near each other. The bound does without them.
    #[serde(default)]
    pub too_near: Vec<(usize, usize)>,
}

/// Why a problem makes no sense.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ProblemError {
    /// A candidate with the wrong number of values.
    #[error("candidate {candidate} has {found} values {what}, {wanted} are wanted")]
    Length {
        /// Which candidate, from 0.
        candidate: usize,
        /// At what.
        what: &'static str,
        /// How many it has.
        found: usize,
        /// How many it should have.
        wanted: usize,
    },
    /// A number that is negative or not finite.
    #[error("{what} of {place} is {value}; it must be 0 or more")]
    Value {
        /// Which value.
        what: &'static str,
        /// Of what.
        place: String,
        /// The value.
        value: f64,
    },
    /// Watts beside siemens.
    #[error("{place} counts in {found}, what is fixed in {wanted}: a problem counts in one of them")]
    Mixed {
        /// What counts otherwise.
        place: String,
        /// Its unit.
        found: &'static str,
        /// The unit of what is fixed.
        wanted: &'static str,
    },
    /// Areas that do not hold every point once, in order.
    #[error(
        "the areas must hold every point once, in order; area {area} begins at point {start}, {wanted} is wanted"
    )]
    Areas {
        /// Which area, from 0.
        area: usize,
        /// Where it begins.
        start: usize,
        /// Where it should begin.
        wanted: usize,
    },
    /// A pair that names a place that does not exist.
    #[error("places {one} and {other} are said to be too near each other, there are {places}")]
    Pair {
        /// One of them.
        one: usize,
        /// The other.
        other: usize,
        /// Number of places.
        places: usize,
    },
    /// A place that does not exist.
    #[error("candidate {candidate} uses place {place}, there are {places}")]
    Place {
        /// Which candidate, from 0.
        candidate: usize,
        /// The place it names.
        place: usize,
        /// Number of places.
        places: usize,
    },
}

impl Problem {
    /// Number of points.
    pub fn points(&self) -> usize {
        self.fixed_at_points.len()
    }

    /// The same without any candidate.
    pub(super) fn without_candidates(&self) -> Self {
        Self {
            candidates: Vec::new(),
            fixed_at_points: self.fixed_at_points.clone(),
            areas: self.areas.clone(),
            caps: self.caps.clone(),
            supplies: self.supplies.clone(),
            too_near: self.too_near.clone(),
            ..*self
        }
    }

    /// Checks that every number is usable and every length agrees.
    ///
    /// # Errors
    /// The first thing that is wrong.
    pub fn check(&self) -> Result<(), ProblemError> {
        let value = |what, place: String, value: f64| {
            if value.is_finite() && value >= 0.0 {
                Ok(())
            } else {
                Err(ProblemError::Value { what, place, value })
            }
        };
        let demand = |place: String, demand: Demand| {
            if !demand.is_like(self.fixed_demand) {
                let (found, wanted) = (demand.unit(), self.fixed_demand.unit());
                return Err(ProblemError::Mixed { place, found, wanted });
            }
            value("the demand", place, demand.amount())
        };
        demand("what is fixed".into(), self.fixed_demand)?;
        for (i, o) in self.candidates.iter().enumerate() {
            for (what, found, wanted) in [
                ("at points", o.at_points.len(), self.points()),
                ("at caps", o.at_caps.len(), self.caps.len()),
            ] {
                if found != wanted {
                    return Err(ProblemError::Length { candidate: i, what, found, wanted });
                }
            }
            if o.place >= self.places {
                return Err(ProblemError::Place { candidate: i, place: o.place, places: self.places });
            }
            value("the cost", format!("candidate {i}"), o.cost)?;
            demand(format!("candidate {i}"), o.demand)?;
            for &v in o.at_points.iter().chain(&o.at_caps) {
                value("an energy", format!("candidate {i}"), v)?;
            }
        }
        let mut next = 0;
        for (i, a) in self.areas.iter().enumerate() {
            if a.points.start != next || a.points.end < next || a.points.end > self.points() {
                return Err(ProblemError::Areas { area: i, start: a.points.start, wanted: next });
            }
            next = a.points.end;
            value("the floor", format!("area {i}"), a.floor)?;
            value("the ceiling", format!("area {i}"), a.ceiling)?;
        }
        if next != self.points() {
            return Err(ProblemError::Areas { area: self.areas.len(), start: self.points(), wanted: next });
        }
        if let Some(&(one, other)) = self.too_near.iter().find(|(a, b)| (*a).max(*b) >= self.places) {
            return Err(ProblemError::Pair { one, other, places: self.places });
        }
        for c in &self.caps {
            value("the share used", c.name.clone(), c.used)?;
        }
        for (i, s) in self.supplies.iter().enumerate() {
            value("the cost", format!("supply {i}"), s.cost)?;
            demand(format!("supply {i}"), s.feeds)?;
        }
        self.fixed_at_points.iter().try_for_each(|&v| value("an energy", "what is fixed".into(), v))
    }

    /// Amplification bought by the watt (or siemens), at the price of the cheapest: for a part of a problem, since whole
    /// amplifiers make sense for the whole only. Empty where amplification is free.
    pub fn supplies_by_the_unit(&self) -> Vec<Supply> {
        let cost = self.unit_price();
        let feeds = self.fixed_demand.with_amount(1.0);
        if cost.is_finite() { vec![Supply { cost, feeds }] } else { Vec::new() }
    }

    /// Price of a watt (or siemens) of the cheapest amplifier; infinite where none is on offer.
    pub(super) fn unit_price(&self) -> f64 {
        let useful = self.supplies.iter().filter(|s| s.feeds.amount() > 0.0);
        useful.map(|s| s.cost / s.feeds.amount()).fold(f64::INFINITY, f64::min)
    }

    /// What wishes that are not met are worth, in money, where so much of each cap is used.
    pub fn wished(&self, used: &[f64]) -> f64 {
        self.caps.iter().zip(used).filter_map(|(cap, u)| Some(cap.per_db? * over_db(*u))).sum()
    }

    /// Least cost of amplifiers for a demand, in the problem's unit: exact, by trying how many of each to buy.
    /// Infinite when nothing on offer can feed any.
    pub fn supply_cost(&self, demand: f64) -> f64 {
        if self.supplies.is_empty() || demand <= 0.0 {
            return 0.0;
        }
        cheapest(&self.supplies, demand)
    }
}

/// How far a cap is overrun, dB.
pub(super) fn over_db(used: f64) -> f64 {
    if used > 1.0 { 10.0 * used.log10() } else { 0.0 }
}

/// Cheapest whole numbers of supplies that reach `demand`: depth first with the fractional cost as a bound.
fn cheapest(supplies: &[Supply], demand: f64) -> f64 {
    let each = supplies.iter().map(|s| (s.cost, s.feeds.amount()));
    let mut order: Vec<(f64, f64)> = each.filter(|(_, feeds)| *feeds > 0.0).collect();
    order.sort_by(|a, b| (a.0 / a.1).total_cmp(&(b.0 / b.1)));
    fn go(order: &[(f64, f64)], demand: f64, spent: f64, best: &mut f64) {
        if demand <= 1e-9 {
            *best = best.min(spent);
            return;
        }
        let Some((&(cost, feeds), rest)) = order.split_first() else { return };
        if spent + demand * cost / feeds >= *best - 1e-9 {
            return;
        }
        let most = (demand / feeds).ceil() as u32;
        for n in (0..=most).rev() {
            go(rest, demand - f64::from(n) * feeds, spent + f64::from(n) * cost, best);
        }
    }
    let mut best = f64::INFINITY;
    go(&order, demand, 0.0, &mut best);
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_terms::{Siemens, Watts};

    #[test]
    fn amplifiers_are_bought_as_cheaply_as_possible() {
        let watts = |w| Demand::Watts(Watts(w));
        let supplies =
            vec![Supply { cost: 100.0, feeds: watts(100.0) }, Supply { cost: 150.0, feeds: watts(240.0) }];
        let mut p = Problem {
            places: 0,
            candidates: vec![],
            fixed_at_points: vec![],
            areas: vec![],
            caps: vec![],
            supplies,
            fixed_demand: watts(0.0),
            at_most: 0,
            too_near: vec![],
        };
        for (watts, cost) in
            [(0.0, 0.0), (90.0, 100.0), (110.0, 150.0), (300.0, 250.0), (480.0, 300.0), (500.0, 400.0)]
        {
            assert_eq!(p.supply_cost(watts), cost, "{watts} W");
        }
        assert_eq!(p.check(), Ok(()));
        p.supplies[1].feeds = Demand::Siemens(Siemens(0.5));
        assert_eq!(
            p.check().unwrap_err().to_string(),
            "supply 1 counts in siemens, what is fixed in watts: a problem counts in one of them"
        );
    }
}
