//! Ranking the explanations of readings.
//!
//! Bayes' rule over the hypotheses of [`crate::hypotheses`], the readings being jointly normal under each (see
//! [`crate::predict`]); the rule itself stands in [`crate::weigh`]. The posterior of a fault is the sum over its grid.

use loamline_limits::go_on;
use loamline_terms::{Sentence, say};
use serde::Serialize;

use crate::asked::Asked;
use crate::build_table::build_table;
use crate::error::FaultError;
use crate::explanation::{Explanation, Predicted, SuspectStretch, Unexplained};
use crate::groups::{ALLOWED, Answer, PredictedAndRead, alike, answers};
use crate::hypotheses::{Fault, Hypothesis};
use crate::line_under_test::LineUnderTest;
use crate::next::{NextTest, next_tests};
use crate::pairs::{PairCount, pairs};
use crate::places::Place;
use crate::readings::{MeterReading, Shown, check_readings, setups};
use crate::sees::Sees;
use crate::sentences::{explain, two};
use crate::table::Table;
use crate::weigh::{Value, Weighed};

/// The ranking and what to do next.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Diagnosis {
    /// Explanations, most probable first, down to one in ten thousand (with pairs, one in a thousand).
    pub explanations: Vec<Explanation>,
    /// The explanations, those that the readings cannot tell apart taken together; most probable first.
    pub answers: Vec<Answer>,
    /// Where pairs were asked for: every single fault with its probability of being there, alone or with another; most
    /// probable first, down to one in a thousand.
    pub suspects: Vec<Explanation>,
    /// Where pairs were asked for: how many were weighed.
    pub pairs: Option<PairCount>,
    /// Set when even the best explanation is far off.
    pub unexplained: Option<Unexplained>,
    /// What each reading is a reading of on a good line, in the order of the readings.
    pub sees: Vec<Sees>,
    /// Tests that tell most per minute, best first.
    pub next: Vec<NextTest>,
    /// What these readings can never show.
    pub blind_spot: &'static str,
}

/// An explanation this many standard deviations off is called no explanation.
pub const FAR_OFF: f64 = 5.0;
/// Explanations below this are not listed. Smaller lists noise; larger hides faults a next test would bring back.
pub const LISTED: f64 = 1e-4;
/// The same where pairs are asked for, of which there are many.
const LISTED_OF_PAIRS: f64 = 1e-3;
/// Of the probability along a run, this share lies before and this beyond the stretch that is told: 95 % in it.
pub const TAIL: f64 = 0.025;
/// A cut has no place to tell where no cell of its grid has more than this many times an even share: the readings do not
/// show it. Larger hides a place that is known; smaller tells one on no evidence.
pub const PLACED: f64 = 1.5;
const BLIND_SPOT: &str = "No reading at the rack shows a loudspeaker with plus and minus swapped: it reads the same. \
     Play a polarity pulse and use a polarity tester at each loudspeaker, or record the sweep there and let the \
     analysis of the recording say.";

/// Ranks what would explain the readings.
///
/// # Errors
/// Everything wrong with the lines, the readings or the tolerances.
pub fn locate(asked: &Asked<'_>) -> Result<Diagnosis, FaultError> {
    check_readings(asked.readings)?;
    if asked.readings.is_empty() {
        return Err(FaultError::NoReading);
    }
    let mut under_test = LineUnderTest::new(asked.line, asked.others, asked.tolerances, asked.priors)?;
    for joint in asked.opened {
        if under_test.network.joint_index(joint).is_none() {
            return Err(FaultError::NoSuchJoint { joint: joint.clone() });
        }
    }
    let mut counted = None;
    if asked.pairs {
        let (more, count) = pairs(&under_test, asked.readings, asked.priors)?;
        under_test.hypotheses.extend(more);
        counted = Some(count);
    }
    let table = build_table(&under_test, &setups(asked.readings))?;
    let weighed = table.weigh(asked.readings, asked.opened, asked.insulation)?;
    let ranked = Ranked::new(asked, &under_test, &table, &weighed)?;
    let explanations = ranked.explanations();
    let answers = answers(asked.line, &explanations, &|a, b| ranked.alike(a, b));
    let suspects = if asked.pairs { ranked.suspects() } else { Vec::new() };
    let unexplained = ranked.unexplained();
    let next = next_tests(&under_test, asked, &table, &weighed)?;
    let sees = |r: &MeterReading| Sees::of(under_test.loads_seen_from(&r.place), r.frequency_hz);
    Ok(Diagnosis {
        explanations,
        answers,
        suspects,
        pairs: counted,
        unexplained,
        sees: asked.readings.iter().map(sees).collect(),
        next,
        blind_spot: BLIND_SPOT,
    })
}

struct Ranked<'a> {
    asked: &'a Asked<'a>,
    hypotheses: &'a [Hypothesis],
    table: &'a Table,
    weighed: &'a Weighed,
    /// Hypotheses that are listed, most probable first.
    order: Vec<usize>,
    /// Per hypothesis, its likeliest point.
    best: Vec<usize>,
    /// Per place, what was read.
    values: Vec<Vec<Value>>,
}

impl<'a> Ranked<'a> {
    fn new(
        asked: &'a Asked<'a>,
        under_test: &'a LineUnderTest<'_>,
        table: &'a Table,
        weighed: &'a Weighed,
    ) -> Result<Self, FaultError> {
        let p = &weighed.probability;
        let least = if asked.pairs { LISTED_OF_PAIRS } else { LISTED };
        let mut order: Vec<usize> = (0..p.len()).filter(|&h| p[h] >= least).collect();
        order.sort_by(|&a, &b| p[b].total_cmp(&p[a]));
        let best = table
            .hypotheses
            .iter()
            .map(|h| {
                let points = h.first..h.first + h.count;
                let log = &weighed.log_probability;
                points.max_by(|&a, &b| log[a].total_cmp(&log[b])).unwrap_or(h.first)
            })
            .collect();
        let values =
            table.places.iter().map(|place| table.values(place, asked.readings)).collect::<Result<_, _>>()?;
        Ok(Self { asked, hypotheses: &under_test.hypotheses, table, weighed, order, best, values })
    }

    /// What is predicted at each place at a point.
    fn predicted_and_read(&self, point: usize) -> Vec<PredictedAndRead<'_>> {
        let places = self.table.places.iter().zip(&self.values);
        places.map(|(place, values)| (&place.predictions[place.of_point[point]], values.as_slice())).collect()
    }

    /// Points of an explanation, by its rank, that the readings allow.
    fn allowed(&self, rank: usize) -> impl Iterator<Item = usize> + '_ {
        let h = self.order[rank];
        let hypothesis = &self.table.hypotheses[h];
        let log = &self.weighed.log_probability;
        let least = log[self.best[h]] - ALLOWED;
        (hypothesis.first..hypothesis.first + hypothesis.count).filter(move |&point| log[point] >= least)
    }

    /// Whether two explanations, by their rank, cannot be told apart.
    fn alike(&self, a: usize, b: usize) -> bool {
        go_on();
        // A leak that was measured tells those apart that let earth in and those that do not.
        let leaks =
            |rank: usize| Table::leaks(&self.table.hypotheses[self.order[rank]].fault, self.asked.insulation);
        if (leaks(a) - leaks(b)).abs() > 0.0 {
            return false;
        }
        let others: Vec<_> = self.allowed(b).map(|point| self.predicted_and_read(point)).collect();
        self.allowed(a).any(|point| {
            let here = self.predicted_and_read(point);
            others.iter().any(|other| alike(&here, other))
        })
    }

    fn explanations(&self) -> Vec<Explanation> {
        self.order
            .iter()
            .map(|&h| {
                let fault = &self.table.hypotheses[h].fault;
                let probability = self.weighed.probability[h];
                match fault {
                    Fault::Two { .. } => {
                        let [first, second] = [0, 1].map(|part| self.explain_part(h, part, probability));
                        let sentence = two(first.sentence.clone(), second.sentence);
                        Explanation { fault: fault.clone(), sentence, stretch: None, ohm: None, ..first }
                    }
                    _ => self.explain_part(h, 0, probability),
                }
            })
            .collect()
    }

    /// One fault of a hypothesis, with its place or size.
    fn explain_part(&self, h: usize, part: usize, probability: f64) -> Explanation {
        let hypothesis = &self.table.hypotheses[h].fault;
        let fault = hypothesis.parts().into_iter().nth(part).unwrap_or(hypothesis);
        let stretch = self.stretch(h, part, fault);
        let ohm = matches!(fault, Fault::HighSplice { .. } | Fault::Wet { .. })
            .then(|| self.likely_ohm(h, part))
            .flatten();
        let sentence = explain(self.asked.line, fault, stretch.as_ref(), ohm);
        let all: f64 = self.table.hypotheses.iter().map(|h| h.weight).sum();
        Explanation {
            fault: fault.clone(),
            probability,
            sentence,
            stretch,
            ohm,
            prior: self.table.hypotheses[h].weight / all,
            deviations: self.weighed.deviations[self.best[h]],
            predicted: self.predicted(self.best[h]),
        }
    }

    /// Every reading as a point predicts it.
    fn predicted(&self, point: usize) -> Vec<Predicted> {
        let offset = self.table.offset_ohm;
        let one = |reading: &MeterReading| {
            let place = self.table.places.iter().find(|p| p.place == reading.place)?;
            let f = place.frequencies_hz.iter().position(|f| (f - reading.frequency_hz).abs() < 1e-6)?;
            let prediction = &place.predictions[place.of_point[point]];
            let mean = prediction.mean[f];
            let deviations = match (mean, reading.shown) {
                (Some(mean), Shown::Ohm(ohm)) if ohm <= self.table.meter_range_ohm => {
                    Some(((ohm + offset).ln() - mean) / prediction.covariance(f, f).sqrt())
                }
                _ => None,
            };
            Some(Predicted {
                place: reading.place.clone(),
                frequency_hz: reading.frequency_hz,
                ohm: mean.map(|mean| (mean.exp() - offset).max(0.0)),
                shown: reading.shown,
                deviations,
            })
        };
        self.asked.readings.iter().filter_map(one).collect()
    }

    /// Single faults by their probability of being there; place and size as in the likeliest explanation with each.
    fn suspects(&self) -> Vec<Explanation> {
        let all = self.table.suspects(&self.weighed.probability);
        let listed = all.into_iter().filter(|(_, p)| *p >= LISTED_OF_PAIRS);
        listed
            .filter_map(|(fault, probability)| {
                let part_of =
                    |h: usize| self.table.hypotheses[h].fault.parts().iter().position(|p| **p == fault);
                let with = (0..self.table.hypotheses.len()).filter_map(|h| Some((h, part_of(h)?)));
                let p = &self.weighed.probability;
                let (h, part) = with.max_by(|a, b| p[a.0].total_cmp(&p[b.0]))?;
                Some(self.explain_part(h, part, probability))
            })
            .collect()
    }

    /// Parameter of one part and its share of the hypothesis's probability, per point of its grid, ascending.
    fn cells(&self, h: usize, part: usize) -> Vec<(f64, f64)> {
        let first = self.table.hypotheses[h].first;
        let total = self.weighed.probability[h].max(1e-300);
        let mut cells: Vec<(f64, f64)> = Vec::new();
        for (index, point) in self.hypotheses[h].points.iter().enumerate() {
            let Some(parameter) = (if part == 0 { point.parameter } else { point.second_parameter }) else {
                continue;
            };
            let share = self.weighed.log_probability[first + index].exp() / total;
            match cells.iter_mut().find(|cell| cell.0 == parameter) {
                Some(cell) => cell.1 += share,
                None => cells.push((parameter, share)),
            }
        }
        cells.sort_by(|a, b| a.0.total_cmp(&b.0));
        cells
    }

    /// Geometric mean over the posterior of a resistance.
    fn likely_ohm(&self, h: usize, part: usize) -> Option<f64> {
        let cells = self.cells(h, part);
        (!cells.is_empty()).then(|| cells.iter().map(|(ohm, share)| share * ohm.ln()).sum::<f64>().exp())
    }

    /// Where a short or a cut lies, by the posterior over its grid; `None` for a cut whose place the readings do not show.
    fn stretch(&self, h: usize, part: usize, fault: &Fault) -> Option<SuspectStretch> {
        let (name, cut) = match fault {
            Fault::ShortAlong { run } => (run, false),
            Fault::Open { run } => (run, true),
            _ => return None,
        };
        let run = self.asked.line.runs.iter().find(|other| other.name == *name)?;
        let cells = self.cells(h, part);
        let grid = self.hypotheses[h].lattice[part] as f64;
        if cut && cells.iter().all(|cell| cell.1 < PLACED / grid) {
            return None;
        }
        let half = 0.5 / grid;
        let at = |share: f64| {
            let mut sum = 0.0;
            for &(fraction, weight) in &cells {
                if sum + weight >= share {
                    return fraction - half + 2.0 * half * (share - sum) / weight.max(1e-12);
                }
                sum += weight;
            }
            1.0
        };
        Some(SuspectStretch {
            run: run.name.clone(),
            from: run.from.clone(),
            to: run.to.clone(),
            low_m: at(TAIL) * run.length_m,
            likely_m: at(0.5) * run.length_m,
            high_m: at(1.0 - TAIL) * run.length_m,
            length_m: run.length_m,
        })
    }

    /// Set when even the nearest point of all hypotheses is far off.
    fn unexplained(&self) -> Option<Unexplained> {
        let deviations = &self.weighed.deviations;
        let nearest = (0..deviations.len()).min_by(|&a, &b| deviations[a].total_cmp(&deviations[b]))?;
        let off = deviations[nearest];
        if off <= FAR_OFF {
            return None;
        }
        let hypotheses = &self.table.hypotheses;
        let fault = &hypotheses.iter().rfind(|h| h.first <= nearest)?.fault;
        let show = |ohm: Option<f64>| match ohm {
            None => say!("open"),
            Some(ohm) => format!("{} ohm", loamline_terms::fixed(ohm, 2)).into(),
        };
        let mut compared = Sentence::default();
        for reading in self.asked.readings {
            let Some(place) = self.table.places.iter().find(|place| place.place == reading.place) else {
                continue;
            };
            let near = |f: &&f64| (**f - reading.frequency_hz).abs() < 1e-6;
            let index = place.frequencies_hz.iter().position(|f| near(&f));
            let predicted = index
                .and_then(|index| place.predictions[place.of_point[nearest]].mean[index])
                .map(|m| m.exp() - self.table.offset_ohm);
            let read = match reading.shown {
                Shown::Ohm(ohm) => Some(ohm),
                Shown::Open => None,
            };
            let what = if reading.frequency_hz > 0.0 {
                format!("{} Hz", reading.frequency_hz)
            } else {
                "DC".to_owned()
            };
            let what: Sentence = match &reading.place {
                Place::Rack => what.into(),
                Place::Downstream(joint) => say!("{what} at {joint}", what = what, joint = joint),
            };
            let one = say!(
                "{what} reads {read} and would read {predicted}",
                what = what,
                read = show(read),
                predicted = show(predicted)
            );
            compared = if compared.is_empty() { one } else { compared + "; " + one };
        }
        let nearest_words = explain(self.asked.line, fault, None, None);
        let sentence = if self.asked.pairs {
            say!(
                "No pair of faults explains these readings. The nearest is far outside what the line allows: {nearest} With it, \
                 {compared}. Check the meter, its leads and which line is on it; if they are right, there are more than two faults.",
                nearest = nearest_words,
                compared = compared
            )
        } else {
            say!(
                "No single fault explains these readings. The nearest is far outside what the line allows: {nearest} With it, \
                 {compared}. Check the meter, its leads and which line is on it; if they are right, there are several faults.",
                nearest = nearest_words,
                compared = compared
            )
        };
        Some(Unexplained { sentence, nearest: fault.clone(), deviations: off })
    }
}
