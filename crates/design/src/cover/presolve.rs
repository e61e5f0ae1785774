//! Candidates that no choice can hold, taken out first: alone, with what is fixed, they make more points of an area too
//! loud than may be, or overrun a cap. Energies only add, so nothing taken beside them could mend that.

use super::problem::Problem;

/// The problem without hopeless candidates, and the places of the others in it.
pub(super) fn without_hopeless(problem: &Problem) -> (Problem, Vec<usize>) {
    let tolerance = 1.0 + 1e-9;
    let loud = |c: &super::problem::Candidate, a: &super::problem::Area| {
        let energies = c.at_points[a.points.clone()].iter().zip(&problem.fixed_at_points[a.points.clone()]);
        energies.filter(|(e, f)| **e + **f > a.ceiling * tolerance).count()
    };
    let hopes = |c: &super::problem::Candidate| {
        problem.areas.iter().all(|a| loud(c, a) <= a.may_miss)
            && problem
                .caps
                .iter()
                .zip(&c.at_caps)
                .all(|(cap, x)| !cap.must_hold() || *x <= 0.0 || cap.used + x <= tolerance)
    };
    let kept: Vec<usize> = (0..problem.candidates.len()).filter(|&i| hopes(&problem.candidates[i])).collect();
    let candidates = kept.iter().map(|&i| problem.candidates[i].clone()).collect();
    let rest = Problem { candidates, ..problem.without_candidates() };
    (rest, kept)
}
