//! Filters, delays, limiters, test signals and acoustic proof.
