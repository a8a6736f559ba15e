//! What must hold of any bytes that are read as one of the ledger's documents or tables: each gives whether they were read,
//! and fails where what was read is not what it should be. Shared by the targets and by `crates/ledger/tests/hostile.rs`.

use ledger::cost::Rates;
use ledger::cover::{Budget, read_cover_file, solve};
use ledger::donors::{LotChances, Market, Purchase};
use ledger::drawer::Drawer;
use ledger::intake::{DeviceKind, Experience, Intake, judge};
use ledger::leftovers::Thing;
use ledger::parcel::Carriage;
use ledger::{Currency, LedgerError};
use shape::Silent;
use std::sync::LazyLock;

/// The kinds of devices that come with the program.
static KINDS: LazyLock<Option<Vec<DeviceKind>>> = LazyLock::new(|| DeviceKind::built_in().ok());

/// The ledger's documents.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Document {
    Lots,
    Drawer,
    Intake,
    DeviceKind,
    Rates,
    Carriage,
    LotChances,
    Purchase,
}

impl Document {
    /// It is written and read again as the same; an intake form is judged besides. A purchase is only ever read.
    pub fn read(self, bytes: &[u8]) -> bool {
        macro_rules! again {
            ($kind:ty) => {
                match <$kind>::from_json(bytes) {
                    Ok(read) => {
                        let again = <$kind>::from_json(read.to_json().as_bytes());
                        assert_eq!(again.as_ref().ok(), Some(&read));
                        true
                    }
                    Err(e) => refused(&e),
                }
            };
        }
        match self {
            Self::Lots => again!(Market),
            Self::Drawer => again!(Drawer),
            Self::Intake => {
                if let Ok(form) = Intake::from_json(bytes) {
                    for kind in KINDS.iter().flatten() {
                        let _ = judge(&form, kind, &Experience::none(kind), None);
                    }
                }
                again!(Intake)
            }
            Self::DeviceKind => again!(DeviceKind),
            Self::Rates => again!(Rates),
            Self::Carriage => again!(Carriage),
            Self::LotChances => again!(LotChances),
            Self::Purchase => match Purchase::from_json(bytes) {
                Ok(_) => true,
                Err(e) => refused(&e),
            },
        }
    }
}

/// The ledger's tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TableFile {
    Lots,
    Drawer,
    Outcomes,
    LotOutcomes,
    Prices,
    Things,
}

impl TableFile {
    /// The drawer is written and read again as the same; the others are only ever read.
    pub fn read(self, bytes: &[u8]) -> bool {
        let was_read: Result<(), LedgerError> = match self {
            Self::Lots => {
                Currency::try_new("EUR").and_then(|eur| Market::from_csv(bytes, eur).map(drop))
            }
            Self::Drawer => Drawer::from_csv(bytes).map(|read| {
                let again = Drawer::from_csv(&read.to_csv());
                assert_eq!(again.as_ref().ok(), Some(&read));
            }),
            // Signs and conditions are a kind's own: it is read where one kind takes it.
            Self::Outcomes => {
                let kinds = KINDS.iter().flatten();
                let tried = kinds.map(|k| Experience::from_csv(bytes, k).map(drop));
                tried.reduce(Result::or).unwrap_or(Ok(()))
            }
            Self::LotOutcomes => LotChances::built_in().and_then(|mut c| c.learn(bytes).map(drop)),
            Self::Prices => Rates::built_in().and_then(|r| r.with_prices_from_csv(bytes).map(drop)),
            Self::Things => Thing::list_from_csv(bytes).map(drop),
        };
        match was_read {
            Ok(()) => true,
            Err(e) => refused(&e),
        }
    }
}

/// A set cover of the literature is solved where that is small.
pub fn cover_file(bytes: &[u8]) -> bool {
    match read_cover_file(bytes) {
        Ok(program) => {
            if program.needs.len() * program.columns.len() < 400 {
                let _ = solve(&program, None, Budget { nodes: 50 }, &Silent);
            }
            true
        }
        Err(e) => refused(&e),
    }
}

/// A refusal says something; it counts as not read.
fn refused(e: &impl ToString) -> bool {
    assert!(!e.to_string().is_empty());
    false
}
