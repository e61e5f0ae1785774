//! Predictions along the grid of a fault whose place or size is not known.

use crate::hypotheses::{Neighbours, Point};
use crate::predict::{Prediction, Predictor};

/// Predictions at the points of one hypothesis, each blurred by the spacing of the grid.
pub(crate) fn predict_grid(predictor: &Predictor<'_>, points: &[Point]) -> Vec<Prediction> {
    let grid: Vec<Prediction> = points.iter().map(|point| predictor.predict(point)).collect();
    let last = grid.len().saturating_sub(1);
    let steps: Vec<Vec<Vec<f64>>> = points
        .iter()
        .enumerate()
        .map(|(index, point)| {
            if point.neighbours.is_empty() {
                let (before, after) = (index.saturating_sub(1), (index + 1).min(last));
                return vec![step(&grid[before].mean, &grid[after].mean, (after - before).max(1) as f64)];
            }
            let one_step = |around: &Neighbours| {
                step(&predictor.means(&around.before), &predictor.means(&around.after), around.steps)
            };
            point.neighbours.iter().map(one_step).collect()
        })
        .collect();
    grid.into_iter()
        .zip(steps)
        .map(|(mut prediction, steps)| {
            steps.iter().for_each(|step| prediction.blur(step));
            prediction
        })
        .collect()
}

/// One step of a grid, from the quantities before and after.
fn step(before: &[Option<f64>], after: &[Option<f64>], steps: f64) -> Vec<f64> {
    let one = |(a, b): (&Option<f64>, &Option<f64>)| match (a, b) {
        (Some(a), Some(b)) => (b - a) / steps,
        _ => 0.0,
    };
    before.iter().zip(after).map(one).collect()
}
