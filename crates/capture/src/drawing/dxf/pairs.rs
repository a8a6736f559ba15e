//! A DXF file as pairs of a group code and a value, and pairs as groups.

use super::super::DrawingError;
use super::super::trace::Traces;

/// More pairs than a drawing of parts needs.
const MOST_PAIRS: usize = 4_000_000;

/// Numbers beyond this are no coordinates.
const GREATEST: f64 = 1e12;

/// A group code and its value, trimmed, with the value's line in the file.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair<'a> {
    pub(super) code: i32,
    pub(super) value: &'a str,
    line: u32,
}

impl Pair<'_> {
    pub(super) fn line(&self) -> usize {
        self.line as usize
    }

    pub(super) fn number(&self, sink: &Traces) -> Result<f64, DrawingError> {
        let number = self.value.parse::<f64>().ok();
        number
            .filter(|v| v.is_finite() && v.abs() <= GREATEST)
            .ok_or_else(|| {
                let shown: String = self.value.chars().take(40).collect();
                sink.broken(
                    self.line(),
                    format!("{shown:?} is not a usable number; export the drawing again"),
                )
            })
    }

    pub(super) fn integer(&self, sink: &Traces) -> Result<i64, DrawingError> {
        // Some programs write flags with a decimal point.
        self.number(sink).map(|v| v as i64)
    }
}

/// The pairs from one code 0 to the next.
#[derive(Debug, Clone, Copy)]
pub(super) struct Group<'a> {
    pub(super) kind: &'a str,
    pub(super) pairs: &'a [Pair<'a>],
    pub(super) line: usize,
}

impl<'a> Group<'a> {
    fn first(&self, code: i32) -> Option<&'a Pair<'a>> {
        self.pairs.iter().find(|p| p.code == code)
    }

    /// The first value with that code.
    pub(super) fn text(&self, code: i32) -> Option<&'a str> {
        self.first(code).map(|p| p.value)
    }

    /// The first number with that code.
    pub(super) fn number(&self, code: i32, sink: &Traces) -> Result<Option<f64>, DrawingError> {
        self.first(code).map(|p| p.number(sink)).transpose()
    }

    pub(super) fn number_or(&self, code: i32, or: f64, sink: &Traces) -> Result<f64, DrawingError> {
        Ok(self.number(code, sink)?.unwrap_or(or))
    }

    /// A number without which the entity means nothing.
    pub(super) fn needed(&self, code: i32, sink: &Traces) -> Result<f64, DrawingError> {
        self.number(code, sink)?.ok_or_else(|| {
            let problem = format!(
                "{} lacks its value {code}; export the drawing again",
                self.kind
            );
            sink.broken(self.line, problem)
        })
    }

    pub(super) fn integer(&self, code: i32, sink: &Traces) -> Result<Option<i64>, DrawingError> {
        self.first(code).map(|p| p.integer(sink)).transpose()
    }

    /// All numbers with that code.
    pub(super) fn numbers(&self, code: i32, sink: &Traces) -> Result<Vec<f64>, DrawingError> {
        let those = self.pairs.iter().filter(|p| p.code == code);
        those.map(|p| p.number(sink)).collect()
    }
}

/// All pairs up to the one that ends the file, without it and without comments.
pub(super) fn pairs_of<'a>(text: &'a str, sink: &Traces) -> Result<Vec<Pair<'a>>, DrawingError> {
    let ends = if text.contains('\n') { '\n' } else { '\r' };
    let mut lines = text.split(ends).map(str::trim).zip(1_usize..);
    let mut pairs = Vec::new();
    while let Some((code, line)) = lines.next() {
        if code.is_empty() && pairs.is_empty() {
            continue;
        }
        let Some((value, value_line)) = lines.next() else {
            break;
        };
        let code: i32 = code.parse().map_err(|_| {
            let shown: String = code.chars().take(40).collect();
            let problem =
                format!("{shown:?} stands where a group code belongs; is this a DXF file?");
            sink.broken(line, problem)
        })?;
        match (code, value) {
            (0, "EOF") => return Ok(pairs),
            (999, _) => {}
            _ => pairs.push(Pair {
                code,
                value,
                line: u32::try_from(value_line).unwrap_or(u32::MAX),
            }),
        }
        if pairs.len() > MOST_PAIRS {
            return Err(DrawingError::TooMany {
                what: "group codes",
                limit: MOST_PAIRS,
            });
        }
    }
    Err(sink.truncated("its last line, EOF, is missing"))
}

/// The pairs cut before each code 0. What comes before the first is no group.
pub(super) fn groups_of<'a>(pairs: &'a [Pair<'a>]) -> Vec<Group<'a>> {
    pairs
        .chunk_by(|_, next| next.code != 0)
        .filter_map(|chunk| {
            let (head, rest) = chunk.split_first()?;
            (head.code == 0).then_some(Group {
                kind: head.value,
                pairs: rest,
                line: head.line(),
            })
        })
        .collect()
}
