//! What must hold of any bytes that are read as one of our documents: each gives whether they were read, and fails where
//! what was read is not what it should be. Shared by the targets and by `crates/setapart/tests/hostile_documents.rs`.

use arrange::{Score, StockSize, Weights};
use capture::scan::{Scan, ScannerProfile};
use capture::sheet::Sheet;
use capture::{Stroke, ThicknessAt};
use nest::Instance;
use piece::Piece;

/// A refusal says something; it counts as not read.
fn refused(e: &impl ToString) -> bool {
    assert!(!e.to_string().is_empty());
    false
}

/// A piece is written and read again as the same, and its parts on the board have areas.
pub fn piece_document(bytes: &[u8]) -> bool {
    match Piece::from_json(bytes) {
        Ok(read) => {
            let again = Piece::from_json(read.to_json().as_bytes());
            assert_eq!(again.as_ref(), Ok(&read));
            for (part, outline) in read.outlines_on_board() {
                assert!(outline.area_mm2() > 0.0, "{}", part.id);
            }
            true
        }
        Err(e) => refused(&e),
    }
}

/// A sheet's description is written and read again as the same.
pub fn sheet_description(bytes: &[u8]) -> bool {
    match Sheet::from_json(bytes) {
        Ok(read) => {
            let again = Sheet::from_json(read.to_json().as_bytes());
            assert_eq!(again.as_ref(), Ok(&read));
            true
        }
        Err(e) => refused(&e),
    }
}

/// Strokes have points within reach, and a width.
pub fn strokes(bytes: &[u8]) -> bool {
    match Stroke::list_from_json(bytes) {
        Ok(strokes) => {
            for stroke in strokes {
                assert!(!stroke.points.is_empty() && stroke.width_mm > 0.0);
                let far = |p: &shape::Point| !(p.x.abs() <= 5_000.0 && p.y.abs() <= 5_000.0);
                assert!(!stroke.points.iter().any(far));
            }
            true
        }
        Err(e) => refused(&e),
    }
}

/// Rows of a table of thicknesses have possible numbers.
pub fn thicknesses(bytes: &[u8]) -> bool {
    match ThicknessAt::list_from_csv(bytes) {
        Ok(rows) => {
            for row in rows {
                assert!(row.thickness_mm >= 0.0 && row.thickness_mm.is_finite());
                assert!(row.at.x.is_finite() && row.at.y.is_finite());
            }
            true
        }
        Err(e) => refused(&e),
    }
}

/// A scanner's profile is written and read again as the same, carries a length there and back on both axes, and is laid
/// under a scan.
pub fn scanner_profile(bytes: &[u8]) -> bool {
    match ScannerProfile::from_json(bytes) {
        Ok(read) => {
            let again = ScannerProfile::from_json(read.to_json().as_bytes());
            assert_eq!(again.as_ref(), Ok(&read));
            for axis in [read.x(), read.y()] {
                for nominal in [-10.0, 0.0, 123.4, 400.0] {
                    let back = axis.nominal_of(axis.true_of(nominal));
                    assert!((back - nominal).abs() < 1e-6, "{nominal}: {back}");
                }
            }
            let _ = Scan::try_new([2480, 3508], Some([300.0, 300.0]), Some(read));
            true
        }
        Err(e) => refused(&e),
    }
}

/// A list of frames has some, and each is of a possible size, its shorter side first.
pub fn stock_list(bytes: &[u8]) -> bool {
    match StockSize::list_from_csv(bytes) {
        Ok(sizes) => {
            assert!(!sizes.is_empty());
            for size in sizes {
                let [short, long] = size.size_mm;
                assert!(10.0 <= short && short <= long && long <= 10_000.0);
            }
            true
        }
        Err(e) => refused(&e),
    }
}

/// Weights are numbers in range; written one by one they are read again as the same.
pub fn layout_weights(bytes: &[u8]) -> bool {
    match Weights::from_json(bytes) {
        Ok(read) => {
            let terms = Score::default().terms(&read);
            assert!(terms.iter().all(|(.., w)| (0.0..=10_000.0).contains(w)));
            let fields = terms.map(|(name, _, weight)| format!("\"{name}\": {weight}"));
            let text = format!("{{{}}}", fields.join(", "));
            assert_eq!(Weights::from_json(text.as_bytes()).as_ref(), Ok(&read));
            true
        }
        Err(e) => refused(&e),
    }
}

/// An instance is scaled by a power of two to a strip of its usual height, its items have areas and lie where outlines may.
pub fn packing_instance(bytes: &[u8]) -> bool {
    match Instance::from_json(bytes) {
        Ok(read) => {
            // No bit is set but those of the exponent.
            assert_eq!(read.scale().to_bits() << 12, 0, "{}", read.scale());
            let strip = read.strip(0.0).expect("a strip without a gap");
            assert!(strip.height_mm() > 512.0 && strip.height_mm() <= 1024.0);
            for (at, item) in read.items().iter().enumerate() {
                assert!(item.outline.area_mm2() > 0.0, "{}", read.label(at));
            }
            true
        }
        Err(e) => refused(&e),
    }
}
