//! `schema`: the JSON Schema of each document.

use super::Outcome;
use crate::cli::{self, DocumentName};
use crate::failure::Failure;
use crate::say;

pub(crate) fn run(args: &cli::Schema) -> Result<Outcome, Failure> {
    use ledger::schema::Document;
    say::json(&match args.document {
        DocumentName::Piece => piece::json_schema(),
        DocumentName::Catalogue => ::mount::catalogue_schema(),
        DocumentName::Intake => Document::Intake.json_schema(),
        DocumentName::DeviceKind => Document::DeviceKind.json_schema(),
        DocumentName::Lots => Document::Lots.json_schema(),
        DocumentName::LotChances => Document::LotChances.json_schema(),
        DocumentName::Drawer => Document::Drawer.json_schema(),
        DocumentName::Rates => Document::Rates.json_schema(),
        DocumentName::Carriage => Document::Carriage.json_schema(),
    });
    Ok(Outcome::Fine)
}
