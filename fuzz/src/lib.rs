//! What several targets share.

use capture::drawing::{Drawing, DrawingFormat, DrawingLimits};
use capture::scan::{Scan, ScannerProfile};
use capture::{Stroke, ThicknessAt};
use ledger::Currency;
use ledger::cost::Rates;
use ledger::donors::{LotChances, Market};
use ledger::drawer::Drawer;
use ledger::intake::{DeviceKind, Experience, Intake};
use ledger::leftovers::Thing;
use ledger::parcel::Carriage;

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

/// Reads a file of strokes.
pub fn strokes(bytes: &[u8]) {
    match Stroke::list_from_json(bytes) {
        Ok(strokes) => {
            for stroke in strokes {
                assert!(!stroke.points.is_empty() && stroke.width_mm > 0.0);
                let far = |p: &shape::Point| !(p.x.abs() <= 5_000.0 && p.y.abs() <= 5_000.0);
                assert!(!stroke.points.iter().any(far));
            }
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
}

/// Reads a table of thicknesses.
pub fn thicknesses(bytes: &[u8]) {
    match ThicknessAt::list_from_csv(bytes) {
        Ok(rows) => {
            for row in rows {
                assert!(row.thickness_mm >= 0.0 && row.thickness_mm.is_finite());
                assert!(row.at.x.is_finite() && row.at.y.is_finite());
            }
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
}

/// Reads a scanner's profile, and lays it under a scan.
pub fn scanner_profile(bytes: &[u8]) {
    match ScannerProfile::from_json(bytes) {
        Ok(read) => {
            let again = ScannerProfile::from_json(read.to_json().as_bytes());
            assert_eq!(again.as_ref(), Ok(&read));
            let _ = Scan::try_new([2480, 3508], Some([300.0, 300.0]), Some(read));
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
}

/// Reads art behind the parts for a small board.
pub fn art(bytes: &[u8]) {
    match press::art::read_svg(bytes, [40.0, 60.0]) {
        Ok(read) => {
            assert_eq!(read.rgba.len(), 4 * read.width_px as usize * read.height_px as usize);
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
}

/// Reads a set cover of the literature, and chooses where that is small.
pub fn cover_file(bytes: &[u8]) {
    match ledger::cover::read_cover_file(bytes) {
        Ok(program) => {
            if program.needs.len() * program.columns.len() < 400 {
                let budget = ledger::cover::Budget { nodes: 50 };
                let _ = ledger::cover::solve(&program, None, budget, &shape::Silent);
            }
        }
        Err(e) => assert!(!e.to_string().is_empty()),
    }
}

/// Reads each of the ledger's documents; the first byte says which.
pub fn ledger_documents(bytes: &[u8]) {
    let Some((which, bytes)) = bytes.split_first() else {
        return;
    };
    macro_rules! again {
        ($kind:ty) => {
            match <$kind>::from_json(bytes) {
                Ok(read) => {
                    let again = <$kind>::from_json(read.to_json().as_bytes());
                    assert_eq!(again.as_ref().ok(), Some(&read));
                }
                Err(e) => assert!(!e.to_string().is_empty()),
            }
        };
    }
    match which % 7 {
        0 => again!(Market),
        1 => again!(Drawer),
        2 => again!(Intake),
        3 => again!(DeviceKind),
        4 => again!(Rates),
        5 => again!(Carriage),
        _ => again!(LotChances),
    }
}

/// Reads each of the ledger's tables; the first byte says which.
pub fn ledger_tables(bytes: &[u8]) {
    let Some((which, bytes)) = bytes.split_first() else {
        return;
    };
    let Ok(currency) = Currency::try_new("EUR") else {
        return;
    };
    match which % 6 {
        0 => drop(Market::from_csv(bytes, currency)),
        1 => {
            if let Ok(drawer) = Drawer::from_csv(bytes) {
                assert!(Drawer::from_csv(&drawer.to_csv()).is_ok());
            }
        }
        2 => {
            for kind in DeviceKind::built_in().into_iter().flatten() {
                drop(Experience::from_csv(bytes, &kind));
            }
        }
        3 => drop(LotChances::built_in().map(|mut c| c.learn(bytes))),
        4 => drop(Rates::built_in().map(|r| r.with_prices_from_csv(bytes))),
        _ => drop(Thing::list_from_csv(bytes)),
    }
}
