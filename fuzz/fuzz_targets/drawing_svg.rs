//! Any bytes: no panic, soon an end, and every outline has an area.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| setapart_fuzz::drawing(
    bytes,
    capture::drawing::DrawingFormat::Svg
));
