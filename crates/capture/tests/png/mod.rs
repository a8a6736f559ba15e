//! What tests that write PNG files by hand share.

/// CRC of ISO 3309, as PNG (ISO/IEC 15948, Annex D) asks for.
pub fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |crc, &b| {
        (0..8).fold(crc ^ u32::from(b), |c, _| {
            if c & 1 == 1 {
                c >> 1 ^ 0xEDB8_8320
            } else {
                c >> 1
            }
        })
    })
}
