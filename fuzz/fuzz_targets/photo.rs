//! Any bytes: no panic, and no more pixels than are allowed.
#![no_main]

use capture::photo::{Limits, Photo};

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let limits = Limits {
        pixels: 1 << 20,
        decoded_bytes: 16 << 20,
        ..Limits::default()
    };
    if let Ok(photo) = Photo::decode(bytes, &limits) {
        let [width, height] = photo.size_px().map(|side| side as usize);
        assert_eq!(photo.rgb8().len(), width * height * 3);
        assert!(photo.rgb8().len() <= 3 << 20);
    }
});
