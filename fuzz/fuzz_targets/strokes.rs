//! Any bytes: no panic, and strokes that are read have points within the places that are allowed.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    setapart_fuzz::documents::strokes(bytes);
});
