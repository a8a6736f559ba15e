//! Mutated documents: reading never panics, and what is read is written and read again as the same.
//!
//! The same properties as the targets in `fuzz` (`fuzz/src/documents.rs`), on a fixed number of mutations from a fixed
//! seed, so that they are tried on every machine. More mutations with `SETAPART_LONG`.

#[path = "../../../fuzz/src/documents.rs"]
mod documents;
#[path = "../../../tests/mutate.rs"]
mod mutate;

use mutate::mutate;
use shape::Random;

fn rounds() -> usize {
    if std::env::var_os("SETAPART_LONG").is_some() {
        2_000_000
    } else {
        60_000
    }
}

/// Tries mutations of what can be read; enough of them must be readable still, or nothing was tried.
fn try_mutations(seed: &[u8], read: impl Fn(&[u8]) -> bool) {
    assert!(read(seed), "the seed itself is sound");
    let mut random = Random::new(0x5E7A_9A47);
    let were_read = (0..rounds())
        .filter(|_| read(&mutate(seed, &mut random)))
        .count();
    let all = rounds();
    assert!(
        were_read > all / 100,
        "only {were_read} of {all} were sound"
    );
}

#[test]
fn no_mutated_piece_document_panics_and_what_is_read_is_written_the_same() {
    let seed = include_bytes!("../../../fuzz/seeds/piece_document/small.json");
    try_mutations(seed, documents::piece_document);
}

#[test]
fn no_mutated_sheet_description_panics_and_what_is_read_is_written_the_same() {
    let seed = include_bytes!("../../../fuzz/seeds/sheet_description/small.json");
    try_mutations(seed, documents::sheet_description);
}

#[test]
fn no_mutated_file_of_strokes_panics_and_what_is_read_lies_within_reach() {
    let seed = include_bytes!("../../../fuzz/seeds/strokes/small.json");
    try_mutations(seed, documents::strokes);
}

#[test]
fn no_mutated_table_of_thicknesses_panics_and_what_is_read_is_possible() {
    let seed = include_bytes!("../../../fuzz/seeds/thicknesses/small.csv");
    try_mutations(seed, documents::thicknesses);
}

#[test]
fn no_mutated_scanner_profile_panics_and_what_is_read_is_written_the_same() {
    let seed = include_bytes!("../../../fuzz/seeds/scanner_profile/small.json");
    try_mutations(seed, documents::scanner_profile);
}

#[test]
fn no_mutated_list_of_frames_panics_and_what_is_read_is_possible() {
    let seed = include_bytes!("../../../fuzz/seeds/stock_list/small.csv");
    try_mutations(seed, documents::stock_list);
}

#[test]
fn no_mutated_file_of_weights_panics_and_what_is_read_is_possible() {
    let seed = include_bytes!("../../../fuzz/seeds/layout_weights/small.json");
    try_mutations(seed, documents::layout_weights);
}

#[test]
fn no_mutated_packing_instance_panics_and_what_is_read_can_be_placed() {
    let seed = include_bytes!("../../../fuzz/seeds/packing_instance/small.json");
    try_mutations(seed, documents::packing_instance);
}
