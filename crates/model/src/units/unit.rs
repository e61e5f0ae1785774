//! Units: how each is spelt and how a number in it becomes the quantity's own.

/// One unit of a quantity.
pub(super) struct Unit {
    /// Accepted spellings; the first is the one suggested.
    pub names: &'static [&'static str],
    pub conversion: Conversion,
    /// SI prefixes p, n, u, m, k, M may stand before it.
    pub prefixes: bool,
}

/// From a number in a unit to the quantity's own unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Conversion {
    /// number * scale + offset.
    Straight { scale: f64, offset: f64 },
    /// Decibels re a voltage: reference * 10^(number / 20).
    Decibels { reference: f64 },
}

impl Conversion {
    pub(super) fn of(self, number: f64) -> f64 {
        match self {
            Self::Straight { scale, offset } => number * scale + offset,
            Self::Decibels { reference } => reference * 10_f64.powf(number / 20.0),
        }
    }

    /// The same with an SI prefix before the unit.
    pub(super) fn times(self, factor: f64) -> Self {
        match self {
            Self::Straight { scale, offset } => Self::Straight { scale: scale * factor, offset },
            Self::Decibels { .. } => self,
        }
    }

    /// Size of the unit where parts add up.
    pub(super) fn scale(self) -> f64 {
        match self {
            Self::Straight { scale, .. } => scale,
            Self::Decibels { reference } => reference,
        }
    }
}

pub(super) const fn unit(names: &'static [&'static str], scale: f64) -> Unit {
    Unit { names, conversion: Conversion::Straight { scale, offset: 0.0 }, prefixes: false }
}

pub(super) const fn prefixed(names: &'static [&'static str], scale: f64) -> Unit {
    Unit { prefixes: true, ..unit(names, scale) }
}

pub(super) const fn offset(names: &'static [&'static str], scale: f64, offset: f64) -> Unit {
    Unit { names, conversion: Conversion::Straight { scale, offset }, prefixes: false }
}

pub(super) const fn decibels(names: &'static [&'static str], reference: f64) -> Unit {
    Unit { names, conversion: Conversion::Decibels { reference }, prefixes: false }
}

/// SI prefixes.
pub(super) const PREFIXES: [(&str, f64); 6] =
    [("p", 1e-12), ("n", 1e-9), ("u", 1e-6), ("m", 1e-3), ("k", 1e3), ("M", 1e6)];
