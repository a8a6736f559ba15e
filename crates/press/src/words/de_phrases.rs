//! German for the phrases of the build plan, by their codes, and for entries of its catalogue.

use super::in_table;

/// The text for a code, with its parameters in braces.
pub(super) fn template(code: &str) -> Option<&'static str> {
    in_table(PHRASES, code)
}

/// What an entry is called.
pub(super) fn item(name: &str) -> Option<&'static str> {
    in_table(ITEMS, name)
}

const PHRASES: &[(&str, &str)] = include!("de_phrases.in");

/// Where a figure is from.
pub(super) fn source(english: &str) -> Option<&'static str> {
    in_table(SOURCES, english)
}

const SOURCES: &[(&str, &str)] = include!("de_sources.in");

const ITEMS: &[(&str, &str)] = include!("de_items.in");

/// What a handbook figure is, by the last part of its code; its subject is an entry that has a name of its own.
const FIGURES: &[(&str, &str)] = include!("de_figures.in");

/// A figure's name from its code and its English name, which is `subject: what` or `what`.
pub(super) fn figure(code: &str, english: &str) -> Option<String> {
    let field = code.rsplit('.').next()?;
    let what = in_table(FIGURES, field)?;
    match english.split_once(": ") {
        Some((subject, _)) => Some(format!("{}: {what}", item(subject).unwrap_or(subject))),
        None => Some(what.to_owned()),
    }
}
