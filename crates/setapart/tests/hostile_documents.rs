//! Mutated documents: reading never panics, and what is read is written and read again as the same.
//!
//! The same properties as the targets in `fuzz`, on a fixed number of mutations from a fixed seed, so
//! that they are tried on every machine. More mutations with `SETAPART_LONG`.

use capture::scan::ScannerProfile;
use capture::sheet::Sheet;
use capture::{Stroke, ThicknessAt};
use piece::Piece;

/// A small generator (xorshift64*, Vigna 2016): the same bytes on every run.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    fn below(&mut self, limit: usize) -> usize {
        (self.next() % limit.max(1) as u64) as usize
    }
}

/// Texts that have broken readers before: extreme numbers, wrong kinds, deep nesting.
const NASTY: [&str; 16] = [
    "null",
    "true",
    "-1",
    "0",
    "1e308",
    "-1e308",
    "1e-320",
    "1e999",
    "\"\"",
    "[]",
    "{}",
    "[[[[[[[[[[[[[[[[[[",
    "\"\\u0000\"",
    "99999999999999999999",
    "0.1000000000000000055511151231257827",
    "\"\\ud800\"",
];

fn mutate(seed: &[u8], random: &mut Random) -> Vec<u8> {
    let mut bytes = seed.to_vec();
    for _ in 0..=random.below(4) {
        if bytes.is_empty() {
            break;
        }
        let at = random.below(bytes.len());
        match random.below(6) {
            0 => bytes[at] = (random.next() & 0xff) as u8,
            1 => {
                bytes.remove(at);
            }
            2 => bytes.truncate(at),
            3 => {
                // A stretch twice.
                let end = (at + random.below(40)).min(bytes.len());
                let stretch = bytes[at..end].to_vec();
                bytes.splice(at..at, stretch);
            }
            4 => {
                // Another number in place of one.
                let number = |b: &u8| b.is_ascii_digit() || b"+-.eE".contains(b);
                if let Some(start) = (at..bytes.len()).find(|&i| bytes[i].is_ascii_digit()) {
                    let end = (start..bytes.len())
                        .find(|&i| !number(&bytes[i]))
                        .unwrap_or(bytes.len());
                    let text = NASTY[random.below(NASTY.len())].bytes();
                    bytes.splice(start..end, text);
                }
            }
            _ => {
                let text = NASTY[random.below(NASTY.len())].bytes();
                bytes.splice(at..at, text);
            }
        }
    }
    bytes
}

fn rounds() -> usize {
    if std::env::var_os("SETAPART_LONG").is_some() {
        2_000_000
    } else {
        60_000
    }
}

/// Tries mutations; gives how many were read, so that a test can say whether it tried anything.
fn try_mutations(seed: &[u8], read: impl Fn(&[u8]) -> bool) -> usize {
    let mut random = Random(0x5E7A_9A47);
    (0..rounds())
        .filter(|_| read(&mutate(seed, &mut random)))
        .count()
}

#[test]
fn no_mutated_piece_document_panics_and_what_is_read_is_written_the_same() {
    let seed = include_bytes!("../../../fuzz/seeds/piece_document/small.json");
    assert!(
        Piece::from_json(seed).is_ok(),
        "{:?}",
        Piece::from_json(seed)
    );
    let read = try_mutations(seed, |bytes| {
        let Ok(piece) = Piece::from_json(bytes) else {
            return false;
        };
        assert_eq!(
            Piece::from_json(piece.to_json().as_bytes()),
            Ok(piece.clone())
        );
        for (part, outline) in piece.outlines_on_board() {
            assert!(outline.area_mm2() > 0.0, "{}", part.id);
        }
        true
    });
    assert!(
        read > rounds() / 100,
        "only {read} of {} were sound",
        rounds()
    );
}

#[test]
fn no_mutated_sheet_description_panics_and_what_is_read_is_written_the_same() {
    let seed = include_bytes!("../../../fuzz/seeds/sheet_description/small.json");
    assert!(
        Sheet::from_json(seed).is_ok(),
        "{:?}",
        Sheet::from_json(seed)
    );
    let read = try_mutations(seed, |bytes| {
        let Ok(sheet) = Sheet::from_json(bytes) else {
            return false;
        };
        assert_eq!(Sheet::from_json(sheet.to_json().as_bytes()), Ok(sheet));
        true
    });
    assert!(
        read > rounds() / 100,
        "only {read} of {} were sound",
        rounds()
    );
}

#[test]
fn no_mutated_file_of_strokes_panics_and_what_is_read_lies_within_reach() {
    let seed = include_bytes!("../../../fuzz/seeds/strokes/small.json");
    assert_eq!(Stroke::list_from_json(seed).map(|s| s.len()), Ok(3));
    let read = try_mutations(seed, |bytes| match Stroke::list_from_json(bytes) {
        Ok(strokes) => {
            for stroke in strokes {
                assert!(!stroke.points.is_empty() && stroke.width_mm > 0.0);
                let far = |p: &shape::Point| !(p.x.abs() <= 5_000.0 && p.y.abs() <= 5_000.0);
                assert!(!stroke.points.iter().any(far));
            }
            true
        }
        Err(e) => {
            assert!(!e.to_string().is_empty());
            false
        }
    });
    assert!(
        read > rounds() / 100,
        "only {read} of {} were sound",
        rounds()
    );
}

#[test]
fn no_mutated_table_of_thicknesses_panics_and_what_is_read_is_possible() {
    let seed = include_bytes!("../../../fuzz/seeds/thicknesses/small.csv");
    assert_eq!(ThicknessAt::list_from_csv(seed).map(|t| t.len()), Ok(3));
    let read = try_mutations(seed, |bytes| match ThicknessAt::list_from_csv(bytes) {
        Ok(rows) => {
            for row in rows {
                assert!(row.thickness_mm >= 0.0 && row.thickness_mm.is_finite());
                assert!(row.at.x.is_finite() && row.at.y.is_finite());
            }
            true
        }
        Err(e) => {
            assert!(!e.to_string().is_empty());
            false
        }
    });
    assert!(
        read > rounds() / 100,
        "only {read} of {} were sound",
        rounds()
    );
}

#[test]
fn no_mutated_scanner_profile_panics_and_what_is_read_is_written_the_same() {
    let seed = include_bytes!("../../../fuzz/seeds/scanner_profile/small.json");
    assert!(
        ScannerProfile::from_json(seed).is_ok(),
        "{:?}",
        ScannerProfile::from_json(seed)
    );
    let read = try_mutations(seed, |bytes| {
        let Ok(profile) = ScannerProfile::from_json(bytes) else {
            return false;
        };
        assert_eq!(
            ScannerProfile::from_json(profile.to_json().as_bytes()),
            Ok(profile.clone())
        );
        // A length there and back, on both axes.
        for axis in [profile.x(), profile.y()] {
            for nominal in [-10.0, 0.0, 123.4, 400.0] {
                let back = axis.nominal_of(axis.true_of(nominal));
                assert!((back - nominal).abs() < 1e-6, "{nominal}: {back}");
            }
        }
        true
    });
    assert!(
        read > rounds() / 100,
        "only {read} of {} were sound",
        rounds()
    );
}
