//! Any bytes: no panic, and weights that are read are numbers in range.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    setapart_fuzz::documents::layout_weights(bytes);
});
