//! Any bytes: no panic, and frames that are read have possible sizes.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    setapart_fuzz::documents::stock_list(bytes);
});
