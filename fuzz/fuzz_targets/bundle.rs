//! Any bytes as a bundle: no panic, no more memory than the limits allow, and what comes out is what the names promise.
#![no_main]

use std::io::Cursor;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Ok(mut bundle) = workshop::Bundle::open(Cursor::new(bytes)) {
        assert!(bundle.piece().check_sound().is_ok());
        for name in bundle.images() {
            if let Ok(image) = bundle.image(&name) {
                assert_eq!(workshop::ImageName::of(&image).unwrap(), name);
            }
        }
    }
});
