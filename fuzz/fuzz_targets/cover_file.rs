//! Any bytes: no panic, and what is read is solved where it is small.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    setapart_fuzz::ledger_files::cover_file(bytes);
});
