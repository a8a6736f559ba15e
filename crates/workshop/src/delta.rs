//! What differs between two texts, line by line: small, and exact.
//!
//! A change is a list of runs of lines copied from the base and of new bytes. Applying it needs no matching, so what was
//! stored comes back to the byte. Matching is greedy by equal lines: it finds moved lines too, and what it misses costs
//! room, never truth.

use std::collections::HashMap;

/// Marks in a change: what follows is a run of lines of the base.
const COPY: u8 = 0;

/// Marks in a change: what follows is new.
const NEW: u8 = 1;

/// The change that makes `text` of `base`.
pub(crate) fn change(base: &str, text: &str) -> Vec<u8> {
    let (base, text) = (lines(base), lines(text));
    // Most edits touch a few lines: what is equal before and behind needs no looking up.
    let before = equal(base.iter(), text.iter());
    let behind = equal(base[before..].iter().rev(), text[before..].iter().rev());
    let mut out = Out::default();
    out.copy(0, before);
    let middle = &base[before..base.len() - behind];
    let mut places: HashMap<&str, usize> = HashMap::with_capacity(middle.len());
    for (i, line) in middle.iter().enumerate().rev() {
        places.insert(line, before + i);
    }
    // Which base line would come next if nothing had moved.
    let mut expected = before;
    for line in &text[before..text.len() - behind] {
        let place = if base.get(expected) == Some(line) {
            Some(expected)
        } else {
            places.get(line).copied()
        };
        match place {
            Some(at) => out.copy(at, 1),
            None => out.new.push_str(line),
        }
        expected = place.unwrap_or(expected) + 1;
    }
    out.copy(base.len() - behind, behind);
    out.end()
}

fn lines(text: &str) -> Vec<&str> {
    text.split_inclusive('\n').collect()
}

fn equal<'a>(a: impl Iterator<Item = &'a &'a str>, b: impl Iterator<Item = &'a &'a str>) -> usize {
    a.zip(b).take_while(|(a, b)| a == b).count()
}

/// A change as it is written: what is being copied or added is held until something else comes.
#[derive(Default)]
struct Out {
    bytes: Vec<u8>,
    run: (usize, usize),
    new: String,
}

impl Out {
    /// Copies lines of the base.
    fn copy(&mut self, from: usize, count: usize) {
        if count == 0 {
            return;
        }
        if self.new.is_empty() && self.run.0 + self.run.1 == from {
            self.run.1 += count;
            return;
        }
        self.write_out();
        self.run = (from, count);
    }

    /// What is held: a run, and the new bytes behind it.
    fn write_out(&mut self) {
        let (from, count) = std::mem::take(&mut self.run);
        if count > 0 {
            self.bytes.push(COPY);
            push_number(&mut self.bytes, from);
            push_number(&mut self.bytes, count);
        }
        let new = std::mem::take(&mut self.new);
        if !new.is_empty() {
            self.bytes.push(NEW);
            push_number(&mut self.bytes, new.len());
            self.bytes.extend_from_slice(new.as_bytes());
        }
    }

    fn end(mut self) -> Vec<u8> {
        self.write_out();
        self.bytes
    }
}

/// The new bytes of a change of ours, without what it copies.
pub(crate) fn new_text(change: &[u8]) -> String {
    let mut text = String::new();
    let _ = walk(change, |step| {
        if let Step::New(new) = step {
            text.push_str(new);
        }
        Some(())
    });
    text
}

/// The text that a change makes of its base; `None` where the change does not belong to that base.
pub(crate) fn apply(base: &str, change: &[u8]) -> Option<String> {
    let base_lines = lines(base);
    let mut text = String::with_capacity(base.len() + change.len());
    walk(change, |step| {
        match step {
            Step::Copy { from, count } => {
                for line in base_lines.get(from..from.checked_add(count)?)? {
                    text.push_str(line);
                }
            }
            Step::New(new) => text.push_str(new),
        }
        Some(())
    })?;
    Some(text)
}

/// One step of a change.
enum Step<'a> {
    /// Lines of the base.
    Copy { from: usize, count: usize },
    /// New bytes.
    New(&'a str),
}

/// Goes through a change; `None` where it is none, or `each` says so.
fn walk<'a>(change: &'a [u8], mut each: impl FnMut(Step<'a>) -> Option<()>) -> Option<()> {
    let mut rest = change;
    while let Some((&mark, after)) = rest.split_first() {
        rest = after;
        let first = take_number(&mut rest)?;
        match mark {
            COPY => each(Step::Copy {
                from: first,
                count: take_number(&mut rest)?,
            })?,
            NEW => {
                let (bytes, after) = rest.split_at_checked(first)?;
                each(Step::New(std::str::from_utf8(bytes).ok()?))?;
                rest = after;
            }
            _ => return None,
        }
    }
    Some(())
}

/// Seven bits a byte, the lowest first; the top bit says that more follow (LEB128).
fn push_number(out: &mut Vec<u8>, mut n: usize) {
    while n >= 0x80 {
        out.push((n & 0x7f) as u8 | 0x80);
        n >>= 7;
    }
    out.push(n as u8);
}

fn take_number(rest: &mut &[u8]) -> Option<usize> {
    let mut n = 0usize;
    for shift in (0..usize::BITS).step_by(7) {
        let (&byte, after) = rest.split_first()?;
        *rest = after;
        let part = usize::from(byte & 0x7f);
        if part != 0 && part.leading_zeros() < shift {
            return None;
        }
        n |= part << shift;
        if byte & 0x80 == 0 {
            return Some(n);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn one_changed_line_costs_little() {
        let base: String = (0..1000).map(|i| format!("line {i}\n")).collect();
        let text = base.replace("line 500\n", "another\n");
        let change = change(&base, &text);
        assert!(change.len() < 24, "{} bytes", change.len());
        assert_eq!(apply(&base, &change).as_deref(), Some(text.as_str()));
    }

    #[test]
    fn a_change_of_another_base_is_told() {
        let change = change("a\nb\nc\n", "a\nb\nc\nd");
        assert_eq!(apply("a\n", &change), None);
        assert_eq!(apply("", &[7, 0]), None);
        assert_eq!(apply("", &[NEW, 200]), None);
        assert_eq!(apply("", &[COPY, 0xff, 0xff, 0xff]), None);
        assert_eq!(apply("", &[0xff; 30]), None);
    }

    proptest! {
        #[test]
        fn what_was_stored_comes_back(
            base in "([ab\u{e9}]{0,2}\n?){0,12}", text in "([ab\u{e9}]{0,2}\n?){0,12}",
        ) {
            let change = change(&base, &text);
            prop_assert_eq!(apply(&base, &change), Some(text));
        }

        #[test]
        fn any_bytes_are_borne(base in "[a\n]{0,9}", bytes in proptest::collection::vec(any::<u8>(), 0..40)) {
            let _ = apply(&base, &bytes);
        }
    }
}
