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
    let base_lines: Vec<&str> = base.split_inclusive('\n').collect();
    let mut places: HashMap<&str, usize> = HashMap::with_capacity(base_lines.len());
    for (i, line) in base_lines.iter().enumerate().rev() {
        places.insert(line, i);
    }
    let mut out = Vec::new();
    let mut new = String::new();
    // The run of base lines that is being copied.
    let mut run: Option<(usize, usize)> = None;
    // Which base line would come next if nothing had moved.
    let mut expected = 0;
    for line in text.split_inclusive('\n') {
        let place = if base_lines.get(expected) == Some(&line) {
            Some(expected)
        } else {
            places.get(line).copied()
        };
        match place {
            Some(at) => {
                if !new.is_empty() {
                    push_new(&mut out, &new);
                    new.clear();
                }
                run = match run {
                    Some((from, count)) if from + count == at => Some((from, count + 1)),
                    other => {
                        push_copy(&mut out, other);
                        Some((at, 1))
                    }
                };
                expected = at + 1;
            }
            None => {
                push_copy(&mut out, run.take());
                new.push_str(line);
                expected += 1;
            }
        }
    }
    push_copy(&mut out, run);
    if !new.is_empty() {
        push_new(&mut out, &new);
    }
    out
}

/// The text that a change makes of its base; `None` where the change does not belong to that base.
pub(crate) fn apply(base: &str, change: &[u8]) -> Option<String> {
    let base_lines: Vec<&str> = base.split_inclusive('\n').collect();
    let mut text = String::with_capacity(base.len() + change.len());
    let mut rest = change;
    while let Some((&mark, after)) = rest.split_first() {
        rest = after;
        let first = take_number(&mut rest)?;
        match mark {
            COPY => {
                let count = take_number(&mut rest)?;
                for line in base_lines.get(first..first.checked_add(count)?)? {
                    text.push_str(line);
                }
            }
            NEW => {
                let (bytes, after) = rest.split_at_checked(first)?;
                text.push_str(std::str::from_utf8(bytes).ok()?);
                rest = after;
            }
            _ => return None,
        }
    }
    Some(text)
}

fn push_copy(out: &mut Vec<u8>, run: Option<(usize, usize)>) {
    if let Some((from, count)) = run {
        out.push(COPY);
        push_number(out, from);
        push_number(out, count);
    }
}

fn push_new(out: &mut Vec<u8>, text: &str) {
    out.push(NEW);
    push_number(out, text.len());
    out.extend_from_slice(text.as_bytes());
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
