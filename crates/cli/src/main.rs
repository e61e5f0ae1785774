//! The loamline command line.

fn main() {}
