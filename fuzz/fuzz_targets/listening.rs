#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| loamline_robustness::run("listening", bytes));
