//! A covering problem taken apart by area: each area with the candidates that give most there. Areas hardly hear each
//! other, so the answers of the parts together are a good choice to start the whole from.

use super::problem::{Area, Problem};

/// The part of a problem that belongs to one area, and its candidates by their places in the whole.
pub(super) struct Part {
    pub problem: Problem,
    pub candidates: Vec<usize>,
}

/// One part for each area. Caps and the number allowed are left to each as they are.
pub(super) fn parts(problem: &Problem) -> Vec<Part> {
    let mut own: Vec<Vec<usize>> = vec![Vec::new(); problem.areas.len()];
    for (i, c) in problem.candidates.iter().enumerate() {
        let felt = |a: &Area| {
            let n = a.points.len().max(1) as f64;
            c.at_points[a.points.clone()].iter().map(|e| e.min(a.floor)).sum::<f64>()
                / a.floor.max(1e-300)
                / n
        };
        let felt: Vec<f64> = problem.areas.iter().map(felt).collect();
        let best = (0..felt.len()).reduce(|a, b| if felt[b] > felt[a] { b } else { a });
        if let Some(a) = best {
            own[a].push(i);
        }
    }
    problem.areas.iter().zip(own).map(|(a, candidates)| part(problem, a, candidates)).collect()
}

fn part(problem: &Problem, area: &Area, candidates: Vec<usize>) -> Part {
    let points = area.points.clone();
    let own = candidates.iter().map(|&i| {
        let c = &problem.candidates[i];
        super::problem::Candidate {
            at_points: c.at_points[points.clone()].to_vec(),
            at_caps: c.at_caps.clone(),
            ..*c
        }
    });
    let part = Problem {
        places: problem.places,
        candidates: own.collect(),
        fixed_at_points: problem.fixed_at_points[points.clone()].to_vec(),
        areas: vec![Area { points: 0..points.len(), ..area.clone() }],
        caps: problem.caps.clone(),
        supplies: problem.supplies_by_the_unit(),
        fixed_demand: problem.fixed_demand.with_amount(0.0),
        at_most: problem.at_most,
        too_near: problem.too_near.clone(),
    };
    Part { problem: part, candidates }
}
