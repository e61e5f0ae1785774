//! The bench calculators: thin wrappers over the engines with workings and sources.
