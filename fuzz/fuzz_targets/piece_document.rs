//! Any bytes: no panic, and what is read is written and read again as the same piece.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Ok(read) = piece::Piece::from_json(bytes) {
        let again = piece::Piece::from_json(read.to_json().as_bytes());
        assert_eq!(again.as_ref(), Ok(&read));
        for (part, outline) in read.outlines_on_board() {
            assert!(outline.area_mm2() > 0.0, "{}", part.id);
        }
    }
});
