//! English texts by their code. A translation has the same codes and the same names in braces.

use piece::{Param, Phrase};

/// The English text of each code: names in braces are filled with parameters.
pub fn english() -> &'static [(&'static str, &'static str)] {
    TEXTS
}

/// A phrase of that code, filled in; of one thing (`count`), that of the code with `.one` after it, where there is one. Where
/// the code has no text, the code itself stands there. Tests exclude that of the codes that this crate names; the codes of
/// cautions that a user's catalogue names are checked as it is read.
pub(crate) fn say(code: &str, params: &[(&str, Param)]) -> Phrase {
    let one = format!("{code}.one");
    let of_one = params
        .iter()
        .any(|(name, value)| *name == "count" && *value == Param::Number(1.0));
    let code = if of_one && TEXTS.iter().any(|(c, _)| *c == one) {
        &one
    } else {
        code
    };
    let template = TEXTS
        .iter()
        .find(|(c, _)| *c == code)
        .map_or(code, |(_, t)| *t);
    let mut text = template.to_owned();
    for (name, value) in params {
        let value = match value {
            Param::Number(n) => number(*n),
            Param::Text(t) => t.clone(),
        };
        text = text.replace(&format!("{{{name}}}"), &value);
    }
    params
        .iter()
        .fold(Phrase::new(code, text), |p, (name, value)| {
            p.with(*name, value.clone())
        })
}

/// A number with at most two decimals.
pub(crate) fn number(n: f64) -> String {
    let text = format!("{n:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

macro_rules! params {
    ($($name:literal: $value:expr),* $(,)?) => {
        &[$(($name, piece::Param::from($value))),*]
    };
}
pub(crate) use params;

const TEXTS: &[(&str, &str)] = include!("texts.in");
