//! Mutated documents and tables: reading never panics, and what is read is written and read again as the same.
//!
//! The same properties as the targets in `fuzz` (`fuzz/src/ledger_files.rs`), on a fixed number of mutations from a fixed
//! seed.

#![allow(clippy::unwrap_used, reason = "helpers of tests may panic too")]

#[path = "../../../fuzz/src/ledger_files.rs"]
mod ledger_files;
#[path = "../../../tests/mutate.rs"]
mod mutate;

use ledger_files::{Document, TableFile, cover_file};
use mutate::mutate;
use shape::Random;

/// Tries mutations of what can be read; some of them must be readable still, or nothing was tried.
fn tried(seed: &[u8], read: impl Fn(&[u8]) -> bool) {
    let rounds = if std::env::var_os("SETAPART_LONG").is_some() {
        200_000
    } else {
        3_000
    };
    assert!(read(seed), "the seed itself is sound");
    let mut random = Random::new(8);
    let were_read = (0..rounds)
        .filter(|_| read(&mutate(seed, &mut random)))
        .count();
    assert!(were_read > 20, "only {were_read} were sound");
}

macro_rules! documents {
    ($($name:ident: $document:ident, $seed:expr;)*) => {$(
        #[test]
        fn $name() {
            tried(&$seed, |bytes| Document::$document.read(bytes));
        }
    )*};
}

documents! {
    no_mutated_document_of_lots_panics: Lots, include_bytes!("../../../fuzz/seeds/ledger_documents/lots.json")[1..];
    no_mutated_stock_of_a_drawer_panics: Drawer,
        br#"{"format":"setapart-drawer","version":1,"stock":[{"part":"lid","condition":"whole","count":2}]}"#[..];
    no_mutated_intake_form_panics_not_even_where_it_is_judged: Intake,
        include_bytes!("../../../fuzz/seeds/ledger_documents/intake.json")[1..];
    no_mutated_rates_panic: Rates, include_bytes!("../src/cost/rates.json")[..];
    no_mutated_figures_of_carriage_panic: Carriage, include_bytes!("../src/parcel/carriage.json")[..];
    no_mutated_chances_panic: LotChances, include_bytes!("../src/donors/lot-chances.json")[..];
    no_mutated_answer_of_what_to_buy_panics: Purchase, br#"{"cost_minor":1250,"currency":"EUR","proved":true}"#[..];
    no_mutated_kind_of_device_panics: DeviceKind, include_bytes!("../src/intake/kinds/mains.json")[..];
}

#[test]
fn no_mutated_table_panics() {
    let lots = &include_bytes!("../../../fuzz/seeds/ledger_tables/lots.csv")[1..];
    let drawer = &include_bytes!("../../../fuzz/seeds/ledger_tables/drawer.csv")[1..];
    let outcomes = &include_bytes!("../../../fuzz/seeds/ledger_tables/outcomes.csv")[1..];
    let lot_outcomes = b"condition,kind,good,dead\nno-power,display,yes,\nno-power,,,no\n";
    let prices = b"item,price,per\nfloat-2,12.50,1000000\nkind:frame,39,1\n";
    let things = b"name,kind,count,mass_g,area_cm2,hazard,phone\nBoard,board,2,3.5,12,,yes\nCell,cell,1,,,lithium_cell,\n";
    for (table, seed) in [
        (TableFile::Lots, lots),
        (TableFile::Drawer, drawer),
        (TableFile::Outcomes, outcomes),
        (TableFile::LotOutcomes, &lot_outcomes[..]),
        (TableFile::Prices, &prices[..]),
        (TableFile::Things, &things[..]),
    ] {
        tried(seed, |bytes| table.read(bytes));
    }
}

#[test]
fn no_mutated_set_cover_panics() {
    let seed = include_bytes!("../../../fuzz/seeds/cover_file/small.txt");
    tried(seed, cover_file);
}
