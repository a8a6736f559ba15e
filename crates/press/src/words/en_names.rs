//! English names of handbook figures and of entries of the catalogue, where their own names are for machines.

use super::in_table;

const FIGURES: &[(&str, &str)] = include!("en_figures.in");

/// Names that are not their ids with spaces in place of hyphens.
const ITEMS: &[(&str, &str)] = &[
    ("eva-foam", "EVA foam"),
    ("pe-foam", "PE foam"),
    ("ms-polymer", "MS polymer"),
    ("pva", "bookbinder’s PVA"),
    ("fr4", "circuit board"),
    ("abs", "ABS"),
];

/// A rule's name; figures of one entry are named by the catalogue.
pub(super) fn figure(code: &str, english: &str) -> Option<String> {
    let is_rule = !english.contains(": ");
    let field = code.rsplit('.').next().filter(|_| is_rule)?;
    in_table(FIGURES, field).map(str::to_owned)
}

/// What an entry is called.
pub(super) fn item(name: &str) -> Option<&'static str> {
    in_table(ITEMS, name)
}
