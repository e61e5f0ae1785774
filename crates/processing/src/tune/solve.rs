//! Small least-squares problems with bounds, by Levenberg and Marquardt's method (Marquardt 1963) on the unbounded
//! directions, steps clipped to the box. For tens of unknowns; derivatives by forward differences.

use loamline_limits::go_on;

/// Minimises the sum of squares of `residuals(x)` over the box, starting at `x` (clipped into it). Returns the best
/// point found and its sum of squares; never worse than the start.
pub(super) fn least_squares(
    mut x: Vec<f64>,
    lower: &[f64],
    upper: &[f64],
    step: &[f64],
    residuals: &dyn Fn(&[f64]) -> Vec<f64>,
) -> (Vec<f64>, f64) {
    let clip = |x: &mut [f64]| {
        for (v, (lo, hi)) in x.iter_mut().zip(lower.iter().zip(upper)) {
            *v = v.clamp(*lo, *hi);
        }
    };
    clip(&mut x);
    let mut r = residuals(&x);
    let mut cost: f64 = r.iter().map(|v| v * v).sum();
    let mut damping = 1e-2;
    for _ in 0..60 {
        let (normal, gradient) = normal_equations(&x, &r, upper, step, residuals);
        let mut improved = false;
        for _ in 0..8 {
            let Some(delta) = bounded_step(&normal, &gradient, damping, &x, lower, upper) else { break };
            let mut trial: Vec<f64> = x.iter().zip(&delta).map(|(v, d)| v + d).collect();
            clip(&mut trial);
            let trial_r = residuals(&trial);
            let trial_cost: f64 = trial_r.iter().map(|v| v * v).sum();
            if trial_cost < cost {
                improved = cost - trial_cost > 1e-9 * (1.0 + cost);
                (x, r, cost) = (trial, trial_r, trial_cost);
                damping = (damping * 0.3_f64).max(1e-9);
                break;
            }
            damping *= 4.0;
        }
        if !improved {
            break;
        }
    }
    (x, cost)
}

fn normal_equations(
    x: &[f64],
    r: &[f64],
    upper: &[f64],
    step: &[f64],
    residuals: &dyn Fn(&[f64]) -> Vec<f64>,
) -> (Vec<Vec<f64>>, Vec<f64>) {
    go_on();
    let columns: Vec<Vec<f64>> = (0..x.len())
        .map(|j| {
            let mut moved = x.to_vec();
            let h = if x[j] + step[j] > upper[j] { -step[j] } else { step[j] };
            moved[j] += h;
            residuals(&moved).iter().zip(r).map(|(a, b)| (a - b) / h).collect()
        })
        .collect();
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let normal = columns.iter().map(|a| columns.iter().map(|b| dot(a, b)).collect()).collect();
    let gradient = columns.iter().map(|a| dot(a, r)).collect();
    (normal, gradient)
}

/// The damped step, holding unknowns that sit on a bound and want to leave the box.
fn bounded_step(
    normal: &[Vec<f64>],
    gradient: &[f64],
    damping: f64,
    x: &[f64],
    lower: &[f64],
    upper: &[f64],
) -> Option<Vec<f64>> {
    let free: Vec<usize> = (0..x.len())
        .filter(|i| !(x[*i] <= lower[*i] && gradient[*i] > 0.0 || x[*i] >= upper[*i] && gradient[*i] < 0.0))
        .collect();
    let matrix = free
        .iter()
        .map(|i| {
            free.iter()
                .map(|j| normal[*i][*j] + if i == j { damping * (normal[*i][*i] + 1e-9) } else { 0.0 })
                .collect()
        })
        .collect();
    let solution = solve_linear(matrix, free.iter().map(|i| -gradient[*i]).collect())?;
    let mut delta = vec![0.0; x.len()];
    for (i, d) in free.iter().zip(solution) {
        delta[*i] = d;
    }
    Some(delta)
}

/// Solves a small dense system by Gaussian elimination with row pivoting; none when it is singular.
pub(super) fn solve_linear(mut a: Vec<Vec<f64>>, mut b: Vec<f64>) -> Option<Vec<f64>> {
    let n = b.len();
    for col in 0..n {
        let pivot = (col..n).max_by(|i, j| a[*i][col].abs().total_cmp(&a[*j][col].abs()))?;
        if a[pivot][col].abs() < 1e-300 {
            return None;
        }
        a.swap(col, pivot);
        b.swap(col, pivot);
        let (head, tail) = a.split_at_mut(col + 1);
        let top = &head[col];
        for (offset, row) in tail.iter_mut().enumerate() {
            let factor = row[col] / top[col];
            if factor != 0.0 {
                for (v, t) in row[col..].iter_mut().zip(&top[col..]) {
                    *v -= factor * t;
                }
                b[col + 1 + offset] -= factor * b[col];
            }
        }
    }
    for row in (0..n).rev() {
        let known: f64 = (row + 1..n).map(|k| a[row][k] * b[k]).sum();
        b[row] = (b[row] - known) / a[row][row];
    }
    Some(b)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solves_a_system_that_needs_pivoting() {
        let x = solve_linear(vec![vec![0.0, 2.0], vec![1.0, 1.0]], vec![4.0, 3.0]).unwrap();
        assert!((x[0] - 1.0).abs() < 1e-12 && (x[1] - 2.0).abs() < 1e-12);
        assert!(solve_linear(vec![vec![1.0, 1.0], vec![1.0, 1.0]], vec![1.0, 2.0]).is_none());
    }

    /// Rosenbrock's valley, minimum at (1, 1); with the first unknown held below 0.5 it is at (0.5, 0.25).
    #[test]
    fn finds_the_bottom_of_a_curved_valley() {
        let r = |x: &[f64]| vec![10.0 * (x[1] - x[0] * x[0]), 1.0 - x[0]];
        let (x, cost) = least_squares(vec![-1.2, 1.0], &[-9.0; 2], &[9.0; 2], &[1e-7; 2], &r);
        assert!(cost < 1e-8 && (x[0] - 1.0).abs() < 1e-3, "{x:?} {cost}");
        let (x, cost) = least_squares(vec![-1.2, 1.0], &[-9.0; 2], &[0.5, 9.0], &[1e-7; 2], &r);
        assert!((cost - 0.25).abs() < 1e-4 && (x[1] - 0.25).abs() < 1e-2, "{x:?} {cost}");
    }
}
