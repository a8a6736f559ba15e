//! Does a JPEG file reach the end of its picture?
//!
//! Markers as in ITU-T T.81 (ISO/IEC 10918-1), Annex B: segments carry their length; after a scan's
//! header comes coded data, in which a byte 0xFF is followed by 0x00 or by a restart marker.

const START_OF_SCAN: u8 = 0xDA;
const END_OF_IMAGE: u8 = 0xD9;

/// Walks the markers; true where the file's own end-of-image marker is met (thumbnails inside
/// segments are skipped with their segment). What follows the marker does not matter: phones append
/// further data.
pub(super) fn reaches_end_of_image(bytes: &[u8]) -> bool {
    let mut at = 2;
    let mut scans = 0;
    while let Some(marker) = next_marker(bytes, &mut at) {
        match marker {
            END_OF_IMAGE => return scans > 0,
            // TEM, restarts and start-of-image stand alone.
            0x01 | 0xD0..=0xD8 => {}
            _ => {
                let Some(length) = bytes.get(at..at + 2) else {
                    return false;
                };
                at += usize::from(u16::from_be_bytes([length[0], length[1]]));
                scans += usize::from(marker == START_OF_SCAN);
            }
        }
    }
    false
}

/// The next marker at or after `at`, which moves past it. Coded data is passed over.
fn next_marker(bytes: &[u8], at: &mut usize) -> Option<u8> {
    loop {
        *at += bytes.get(*at..)?.iter().position(|&b| b == 0xFF)? + 1;
        match *bytes.get(*at)? {
            // Padding: the marker's own byte is still to come.
            0xFF => {}
            0x00 => *at += 1,
            marker => {
                *at += 1;
                return Some(marker);
            }
        }
    }
}
