//! What several targets share.

pub mod documents;
pub mod ledger_files;

use capture::drawing::{Drawing, DrawingFormat, DrawingLimits};
use ledger_files::{Document, TableFile};

/// Reads a drawing under limits that keep one round short.
pub fn drawing(bytes: &[u8], format: DrawingFormat) {
    let limits = DrawingLimits {
        entities: 5_000,
        points: 20_000,
        rings: 200,
        ..DrawingLimits::default()
    };
    match Drawing::read(bytes, format, None, &limits) {
        Ok(read) => {
            assert!(!read.outlines.is_empty());
            for drawn in &read.outlines {
                assert!(drawn.outline.area_mm2() > 0.0);
            }
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
}

/// Reads art behind the parts for a small board.
pub fn art(bytes: &[u8]) {
    match press::art::read_svg(bytes, [40.0, 60.0]) {
        Ok(read) => {
            assert_eq!(
                read.rgba.len(),
                4 * read.width_px as usize * read.height_px as usize
            );
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
}

/// Reads each of the ledger's documents; the first byte says which.
pub fn ledger_documents(bytes: &[u8]) {
    if let Some((which, bytes)) = bytes.split_first() {
        let document = match which % 8 {
            0 => Document::Lots,
            1 => Document::Drawer,
            2 => Document::Intake,
            3 => Document::DeviceKind,
            4 => Document::Rates,
            5 => Document::Carriage,
            6 => Document::LotChances,
            _ => Document::Purchase,
        };
        document.read(bytes);
    }
}

/// Reads each of the ledger's tables; the first byte says which.
pub fn ledger_tables(bytes: &[u8]) {
    if let Some((which, bytes)) = bytes.split_first() {
        let table = match which % 6 {
            0 => TableFile::Lots,
            1 => TableFile::Drawer,
            2 => TableFile::Outcomes,
            3 => TableFile::LotOutcomes,
            4 => TableFile::Prices,
            _ => TableFile::Things,
        };
        table.read(bytes);
    }
}
