//! Any bytes: no panic, and rows that are read have possible numbers.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    setapart_fuzz::documents::thicknesses(bytes);
});
