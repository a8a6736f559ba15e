//! Mutated documents and tables: reading never panics, and what is read is written and read again as the same.
//!
//! The same properties as the targets in `fuzz`, on a fixed number of mutations from a fixed seed.

#![allow(
    clippy::unwrap_used,
    clippy::type_complexity,
    reason = "helpers of tests may panic too; cases are tuples"
)]

use ledger::Currency;
use ledger::cost::Rates;
use ledger::cover::{Budget, read_cover_file, solve};
use ledger::donors::{LotChances, Market};
use ledger::drawer::Drawer;
use ledger::intake::{DeviceKind, Experience, Intake, judge};
use ledger::leftovers::Thing;
use ledger::parcel::Carriage;
use shape::{Random, Silent};

const NASTY: [&str; 14] = [
    "null",
    "-1",
    "0",
    "1e308",
    "1e-320",
    "1e999",
    "\"\"",
    "[]",
    "{}",
    "[[[[[[[",
    "99999999999999999999",
    "0,5",
    ";",
    "\"\\u0000\"",
];

fn mutate(seed: &[u8], random: &mut Random) -> Vec<u8> {
    let mut bytes = seed.to_vec();
    for _ in 0..=random.below(4) {
        if bytes.is_empty() {
            break;
        }
        let at = random.below(bytes.len());
        match random.below(5) {
            0 => bytes[at] = (random.next_u64() & 0xff) as u8,
            1 => drop(bytes.remove(at)),
            2 => bytes.truncate(at),
            3 => {
                let number = |b: &u8| b.is_ascii_digit() || b"+-.eE".contains(b);
                if let Some(start) = (at..bytes.len()).find(|&i| bytes[i].is_ascii_digit()) {
                    let end = (start..bytes.len())
                        .find(|&i| !number(&bytes[i]))
                        .unwrap_or(bytes.len());
                    bytes.splice(start..end, NASTY[random.below(NASTY.len())].bytes());
                }
            }
            _ => drop(bytes.splice(at..at, NASTY[random.below(NASTY.len())].bytes())),
        }
    }
    bytes
}

/// Tries mutations; gives how many were read.
fn tried(seed: &[u8], read: impl Fn(&[u8]) -> bool) -> usize {
    let rounds = if std::env::var_os("SETAPART_LONG").is_some() {
        200_000
    } else {
        3_000
    };
    assert!(read(seed), "the seed itself is sound");
    let mut random = Random::new(8);
    (0..rounds)
        .filter(|_| read(&mutate(seed, &mut random)))
        .count()
}

macro_rules! documents {
    ($($name:ident: $kind:ty, $seed:expr;)*) => {$(
        #[test]
        fn $name() {
            let read = tried(&$seed, |bytes| match <$kind>::from_json(bytes) {
                Ok(there) => {
                    assert_eq!(<$kind>::from_json(there.to_json().as_bytes()).as_ref(), Ok(&there));
                    true
                }
                Err(e) => {
                    assert!(!e.to_string().is_empty(), "{e:?} says nothing");
                    false
                }
            });
            assert!(read > 20, "only {read} were sound");
        }
    )*};
}

documents! {
    no_mutated_document_of_lots_panics: Market, include_bytes!("../../../fuzz/seeds/ledger_documents/lots.json")[1..];
    no_mutated_rates_panic: Rates, include_bytes!("../src/cost/rates.json")[..];
    no_mutated_figures_of_carriage_panic: Carriage, include_bytes!("../src/parcel/carriage.json")[..];
    no_mutated_chances_panic: LotChances, include_bytes!("../src/donors/lot-chances.json")[..];
    no_mutated_kind_of_device_panics: DeviceKind, include_bytes!("../src/intake/kinds/mains.json")[..];
}

#[test]
fn no_mutated_intake_form_panics_not_even_where_it_is_judged() {
    let kinds = DeviceKind::built_in().unwrap();
    let seed = &include_bytes!("../../../fuzz/seeds/ledger_documents/intake.json")[1..];
    let read = tried(seed, |bytes| {
        let Ok(form) = Intake::from_json(bytes) else {
            return false;
        };
        assert_eq!(
            Intake::from_json(form.to_json().as_bytes()).as_ref(),
            Ok(&form)
        );
        for kind in &kinds {
            let _ = judge(&form, kind, &Experience::none(kind), None);
        }
        true
    });
    assert!(read > 20, "only {read} were sound");
}

#[test]
fn no_mutated_table_panics() {
    let eur = Currency::try_new("EUR").unwrap();
    let kind = &DeviceKind::built_in().unwrap()[0];
    let lots = &include_bytes!("../../../fuzz/seeds/ledger_tables/lots.csv")[1..];
    assert!(tried(lots, |b| Market::from_csv(b, eur).is_ok()) > 20);
    let drawer = &include_bytes!("../../../fuzz/seeds/ledger_tables/drawer.csv")[1..];
    assert!(
        tried(drawer, |b| Drawer::from_csv(b)
            .is_ok_and(|d| Drawer::from_csv(&d.to_csv()).is_ok()))
            > 20
    );
    let outcomes = &include_bytes!("../../../fuzz/seeds/ledger_tables/outcomes.csv")[1..];
    assert!(tried(outcomes, |b| Experience::from_csv(b, kind).is_ok()) > 20);
    let things = b"name,kind,count,mass_g,area_cm2,hazard,phone\nBoard,board,2,3.5,12,,yes\nCell,cell,1,,,lithium_cell,\n";
    assert!(tried(things, |b| Thing::list_from_csv(b).is_ok()) > 20);
    let prices = b"item,price,per\nfloat-2,12.50,1000000\nkind:frame,39,1\n";
    assert!(
        tried(prices, |b| Rates::built_in()
            .is_ok_and(|r| r.with_prices_from_csv(b).is_ok()))
            > 20
    );
}

#[test]
fn no_mutated_set_cover_panics() {
    let seed = include_bytes!("../../../fuzz/seeds/cover_file/small.txt");
    let read = tried(seed, |bytes| {
        let Ok(program) = read_cover_file(bytes) else {
            return false;
        };
        if program.columns.len() < 100 {
            let _ = solve(&program, None, Budget { nodes: 20 }, &Silent);
        }
        true
    });
    assert!(read > 20, "only {read} were sound");
}
