//! A document as the store keeps it: JSON with a line for each field of each part, placement and caption, outlines in one
//! line each, so that a small edit is a small change.

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::ser::Formatter;
use std::io;

/// Values nested deeper than this stand in one line.
const DEEPEST_BROKEN: usize = 3;

/// The document's text, the same for the same document.
pub(crate) fn text_of<T: Serialize>(document: &T) -> Result<String, serde_json::Error> {
    let mut bytes = Vec::with_capacity(1 << 16);
    let mut writer = serde_json::Serializer::with_formatter(&mut bytes, Lines { depth: 0 });
    document.serialize(&mut writer)?;
    bytes.push(b'\n');
    // JSON is written as UTF-8.
    Ok(String::from_utf8(bytes).unwrap_or_default())
}

/// Whether a text reads as what it was written of: JSON has no word for a number that is not finite.
pub(crate) fn reads_back<T: DeserializeOwned + PartialEq>(text: &str, document: &T) -> bool {
    serde_json::from_str::<T>(text).is_ok_and(|again| again == *document)
}

/// Breaks lines between the elements of the outer arrays and objects.
struct Lines {
    depth: usize,
}

impl Lines {
    fn line<W: ?Sized + io::Write>(&self, writer: &mut W, first: bool) -> io::Result<()> {
        if !first {
            writer.write_all(b",")?;
        }
        if self.depth <= DEEPEST_BROKEN {
            writer.write_all(b"\n")?;
        }
        Ok(())
    }
}

impl Formatter for Lines {
    fn begin_array<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.depth += 1;
        writer.write_all(b"[")
    }

    fn end_array<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.depth -= 1;
        writer.write_all(b"]")
    }

    fn begin_array_value<W: ?Sized + io::Write>(
        &mut self,
        writer: &mut W,
        first: bool,
    ) -> io::Result<()> {
        self.line(writer, first)
    }

    fn begin_object<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.depth += 1;
        writer.write_all(b"{")
    }

    fn end_object<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.depth -= 1;
        writer.write_all(b"}")
    }

    fn begin_object_key<W: ?Sized + io::Write>(
        &mut self,
        writer: &mut W,
        first: bool,
    ) -> io::Result<()> {
        self.line(writer, first)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outer_levels_are_broken_and_inner_ones_are_not() {
        let value = serde_json::json!({"parts": [{"id": "p1", "outline": [[1.5, 2.0], [3.0, 4.0]]}], "name": "x"});
        let text = text_of(&value).unwrap();
        assert_eq!(
            text,
            "{\n\"name\":\"x\",\n\"parts\":[\n{\n\"id\":\"p1\",\n\"outline\":[[1.5,2.0],[3.0,4.0]]}]}\n"
        );
        assert_eq!(
            serde_json::from_str::<serde_json::Value>(&text).unwrap(),
            value
        );
    }
}
