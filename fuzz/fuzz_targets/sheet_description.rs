//! Any bytes: no panic, and what is read is written and read again as the same sheet.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    setapart_fuzz::documents::sheet_description(bytes);
});
