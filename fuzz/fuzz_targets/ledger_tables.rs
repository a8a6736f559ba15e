//! Any bytes: no panic, and a drawer that is read is written and read again as the same; the other tables are only read.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| setapart_fuzz::ledger_tables(bytes));
