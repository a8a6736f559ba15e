//! Any bytes as art: no panic, soon an end, and what is read has its pixels.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| setapart_fuzz::art(bytes));
