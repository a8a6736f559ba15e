//! Any bytes: no panic, and what is read is written and read again as the same sheet.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Ok(read) = capture::sheet::Sheet::from_json(bytes) {
        let again = capture::sheet::Sheet::from_json(read.to_json().as_bytes());
        assert_eq!(again.as_ref(), Ok(&read));
    }
});
