//! The one place that prints.

use crate::failure::Failure;
use std::fmt::Display;
use std::io::Write;

/// Prints a text as it is to standard output. A reader that went away is no error of ours.
pub(crate) fn print(text: impl Display) {
    let mut out = std::io::stdout().lock();
    let _ = write!(out, "{text}").and_then(|()| out.flush());
}

/// Tells something beside what goes to standard output.
pub(crate) fn note(text: impl Display) {
    let _ = write!(std::io::stderr().lock(), "{text}");
}

/// Prints a line to standard output.
pub(crate) fn line(text: impl Display) {
    print(format_args!("{text}\n"));
}

/// Prints JSON to standard output, indented.
pub(crate) fn json(value: &serde_json::Value) {
    line(format_args!("{value:#}"));
}

/// Tells what went wrong on standard error: what, where, what to do.
pub(crate) fn complain(failure: &Failure) {
    let _ = writeln!(std::io::stderr().lock(), "setapart: {failure}");
}

/// A number as it is printed with two places: what rounds to nothing has no sign.
pub(crate) fn hundredths(number: f64) -> f64 {
    (100.0 * number).round() / 100.0 + 0.0
}

/// A number with its word: one dot, two dots.
pub(crate) fn counted(number: usize, one: &str) -> String {
    format!("{number} {one}{}", if number == 1 { "" } else { "s" })
}

/// A text with a capital letter first.
pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .chain(letters)
        .collect()
}

/// A text as a sentence: a capital letter first, a full stop last, where it does not end in a question.
pub(crate) fn sentence(text: &str) -> String {
    let text = capital(text.trim_end_matches('.'));
    let end = if text.ends_with('?') { "" } else { "." };
    text + end
}

/// A text of the form "what is wrong; what to do", told apart. Lists in it stand before what to do.
pub(crate) fn told_apart(text: &str) -> (&str, Option<&str>) {
    match text.rsplit_once("; ") {
        Some((problem, remedy)) => (problem, Some(remedy)),
        None => (text, None),
    }
}

#[cfg(test)]
mod tests {
    use super::{hundredths, sentence};

    #[test]
    fn a_sentence_ends_once() {
        let told = ["measure it again.", "is its edge clear?", "thin it"].map(sentence);
        assert_eq!(
            told,
            ["Measure it again.", "Is its edge clear?", "Thin it."]
        );
    }

    #[test]
    fn what_rounds_to_nothing_has_no_sign() {
        let told = [-0.004, 0.004, -0.006, -12.345].map(|v| format!("{:.2}", hundredths(v)));
        assert_eq!(told, ["0.00", "0.00", "-0.01", "-12.35"]);
    }
}
