//! Any bytes: no panic, and an instance that is read has a strip and items that can be placed.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    setapart_fuzz::documents::packing_instance(bytes);
});
