//! The normal variable: how much of it lies how near.

/// 95 % of a normal variable lie within this many standard deviations of its mean.
pub const TWO_SIDED_95: f64 = 1.959_964;
/// 99.9 % lie within this many.
pub(crate) const TWO_SIDED_999: f64 = 3.290_527;
