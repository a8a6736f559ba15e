//! The list of frames that a user can get.

use crate::StockSize;

/// Most frames in a list.
const MOST_SIZES: usize = 200;

/// Sides that a frame can have, mm.
const SIDES_MM: std::ops::RangeInclusive<f64> = 10.0..=10_000.0;

const COLUMNS: [&str; 3] = ["name", "width_mm", "height_mm"];

/// Why a text is no list of frames.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {problem}")]
pub struct StockListError {
    /// The line, from 1; 0 where the reader could not tell.
    pub line: u64,
    /// What is wrong there.
    pub problem: String,
}

impl StockSize {
    /// Reads CSV (RFC 4180) with a header and the columns `name`, `width_mm`, `height_mm` in any order, others passed
    /// over. Each row is one glazing size.
    ///
    /// # Errors
    /// [`StockListError`] with the line: a column is missing, a side is no number of 10 to 10,000 mm, there are more
    /// than 200 rows or none.
    pub fn list_from_csv(bytes: &[u8]) -> Result<Vec<Self>, StockListError> {
        let bad = |line: u64, problem: String| StockListError { line, problem };
        let mut reader = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .from_reader(bytes);
        let header = reader.headers().map_err(|e| bad(1, e.to_string()))?.clone();
        let column = |name: &str| {
            header
                .iter()
                .position(|h| h.trim_start_matches('\u{feff}') == name)
                .ok_or_else(|| {
                    let problem =
                        format!("has no column {name}; the columns are name,width_mm,height_mm");
                    bad(1, problem)
                })
        };
        let columns = [
            column(COLUMNS[0])?,
            column(COLUMNS[1])?,
            column(COLUMNS[2])?,
        ];
        let mut sizes = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|e| {
                let line = e.position().map_or(0, csv::Position::line);
                bad(line, e.to_string())
            })?;
            let line = record.position().map_or(0, csv::Position::line);
            if sizes.len() == MOST_SIZES {
                return Err(bad(
                    line,
                    format!("is beyond {MOST_SIZES} frames, the limit"),
                ));
            }
            let side = |k: usize| {
                let text = record.get(columns[k]).unwrap_or_default();
                let side = text.parse::<f64>().ok().filter(|v| SIDES_MM.contains(v));
                side.ok_or_else(|| {
                    let problem =
                        format!("{} is {text:?}, not a length of 10 to 10000 mm", COLUMNS[k]);
                    bad(line, problem)
                })
            };
            let (w, h) = (side(1)?, side(2)?);
            sizes.push(Self {
                name: record.get(columns[0]).unwrap_or_default().to_owned().into(),
                size_mm: [w.min(h), w.max(h)],
                source: "the user's list".into(),
                us: false,
            });
        }
        if sizes.is_empty() {
            return Err(bad(1, "lists no frame".to_owned()));
        }
        Ok(sizes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_may_stand_in_any_order() {
        let text =
            "\u{feff}height_mm, name, shop, width_mm\n400, Oak deep, here, 300\n180,Small,,240\n";
        let sizes = StockSize::list_from_csv(text.as_bytes()).unwrap();
        assert_eq!(sizes.len(), 2);
        assert_eq!(sizes[0].name, "Oak deep");
        assert_eq!(sizes[0].size_mm, [300.0, 400.0]);
        assert_eq!(sizes[1].size_mm, [180.0, 240.0]);
    }

    #[test]
    fn what_is_wrong_is_told_with_its_line() {
        let told = |text: &str| StockSize::list_from_csv(text.as_bytes()).unwrap_err();
        assert_eq!(told("name,width_mm\nA,1\n").line, 1);
        assert_eq!(told("name,width_mm,height_mm\n").line, 1);
        for side in ["", "x", "NaN", "inf", "-300", "9.9", "10001", "300,5"] {
            let text = format!("name,width_mm,height_mm\nA,300,400\nB,300,\"{side}\"\n");
            let e = told(&text);
            assert_eq!(e.line, 3, "{side}: {e}");
            assert!(e.problem.contains("height_mm"), "{e}");
        }
        let many = "A,300,400\n".repeat(201);
        let e = told(&format!("name,width_mm,height_mm\n{many}"));
        assert_eq!(e.line, 202);
    }
}
