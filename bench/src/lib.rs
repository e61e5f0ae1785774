#![doc = include_str!("../README.md")]
//!
//! Benchmarks: the engines beside a plain way of doing the same, with ratios.

pub mod estates;
pub mod gardens;
pub mod server;
pub mod timing;
