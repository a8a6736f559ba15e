//! Any bytes: no panic, what is read is written and read again as the same profile, and a scan can be made with it.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    setapart_fuzz::documents::scanner_profile(bytes);
});
