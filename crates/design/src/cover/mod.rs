//! Which options to take: covering areas with sound at least cost.
//!
//! Energies of loudspeakers on different places add, so a design is a choice of candidates (a model at a place, aimed, on
//! a tap), at most one for each place, such that in every area all but a few points lie between a floor and a
//! ceiling, every cap (a neighbour's octave, the nearest listener) holds, the loudspeakers fit the amplifiers bought, and
//! the cost is least. As a mixed-integer programme:
//!
//! ```text
//! min  sum c_j x_j + sum s_k y_k
//! s.t. sum_j a_pj x_j + a_p0 >= floor_p  (1 - z_p)        every point p
//!      sum_j a_pj x_j + a_p0 <= ceiling_p + m_p z_p       every point p
//!      sum_{p in area} z_p  <= points of the area that may miss
//!      sum_j b_nj x_j + b_n0 <= 1                           every cap n
//!      sum_j w_j x_j + w_0  <= sum_k W_k y_k                watts, or siemens
//!      sum_{j at place} x_j <= 1, sum x_j <= most, x and z binary, y whole
//! ```
//!
//! A cap may instead be a wish with a price: [`solve`] then also weighs what it would be worth, and the programme above
//! leaves it out.
//!
//! [`solve`] searches by annealing under prices of what is missed that rise while it is missed;
//! [`lower_bound`] proves how far from the optimum the answer can be, from the Lagrangian of the relaxation: valid
//! whatever the multipliers, which an interior-point solver finds on a sample and subgradients make better on the
//! whole. Checked against an exact branch-and-cut solver on the same matrices (`checks/test_cover.py`): the search met
//! the optimum of every problem that was settled, the bound lay 9 to 20 % below it.

mod answer;
mod bound;
mod by_place;
mod demand;
mod effort;
mod multipliers;
mod parts;
mod presolve;
mod problem;
mod relax;
mod search;
mod state;
mod walk;

pub use answer::{Answer, Unmet};
pub use bound::{Bound, lower_bound};
pub use demand::Demand;
pub use effort::{Effort, Progress};
pub use problem::{Area, Candidate, Cap, Problem, ProblemError, Supply};
pub use search::{solve, solve_several};

#[cfg(test)]
mod tests;
