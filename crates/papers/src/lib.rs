//! Quantities, prices, drawings and the typeset pack.
