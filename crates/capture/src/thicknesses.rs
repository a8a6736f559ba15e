//! The table of thicknesses that a user writes after measuring parts with a caliper.

use crate::capture::ThicknessAt;
use shape::Point;

/// Most rows: as many as a piece has parts at most.
const MOST_ROWS: usize = 2_000;

/// Farthest place taken, mm.
const FARTHEST_MM: f64 = 5_000.0;

const COLUMNS: [&str; 3] = ["x_mm", "y_mm", "thickness_mm"];

/// Why a text is no table of thicknesses.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {problem}")]
pub struct ThicknessesError {
    /// The line, from 1; 0 where the reader could not tell.
    pub line: u64,
    /// What is wrong there.
    pub problem: String,
}

impl ThicknessAt {
    /// Reads CSV (RFC 4180) with a header and the columns `x_mm`, `y_mm`, `thickness_mm` in any order, others passed
    /// over. Each row gives the thickness of the part that covers its point.
    ///
    /// # Errors
    /// [`ThicknessesError`] with the line: a column or a number is missing, a thickness is negative, a place is farther
    /// than 5000 mm off, there are more than 2000 rows.
    pub fn list_from_csv(bytes: &[u8]) -> Result<Vec<Self>, ThicknessesError> {
        let bad = |line: u64, problem: String| ThicknessesError { line, problem };
        let mut reader = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .from_reader(bytes);
        let header = reader.headers().map_err(|e| bad(1, e.to_string()))?.clone();
        let column = |name: &str| {
            header
                .iter()
                .position(|h| h.trim_start_matches('\u{feff}') == name)
                .ok_or_else(|| {
                    let parted = header.iter().any(|h| h.contains(';'));
                    let hint = if parted {
                        ", parted by commas and not by semicolons, with decimal points in the numbers"
                    } else {
                        ""
                    };
                    let problem = format!(
                        "has no column {name}; the columns are x_mm,y_mm,thickness_mm{hint}"
                    );
                    bad(1, problem)
                })
        };
        let columns = [
            column(COLUMNS[0])?,
            column(COLUMNS[1])?,
            column(COLUMNS[2])?,
        ];
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|e| {
                let line = e.position().map_or(0, csv::Position::line);
                let problem = match e.kind() {
                    csv::ErrorKind::UnequalLengths {
                        expected_len, len, ..
                    } => format!(
                        "has {len} fields, and the header {expected_len}; write decimals with a point, as in 1.6"
                    ),
                    _ => e.to_string(),
                };
                bad(line, problem)
            })?;
            let line = record.position().map_or(0, csv::Position::line);
            if rows.len() == MOST_ROWS {
                return Err(bad(line, format!("is beyond {MOST_ROWS} rows, the limit")));
            }
            let number = |k: usize| {
                let text = record.get(columns[k]).unwrap_or_default();
                let number = text.parse::<f64>().ok().filter(|v| v.is_finite());
                number.ok_or_else(|| {
                    let problem = format!("{} is {text:?}, not a number such as 12.5", COLUMNS[k]);
                    bad(line, problem)
                })
            };
            let (x, y, thickness_mm) = (number(0)?, number(1)?, number(2)?);
            if thickness_mm < 0.0 {
                let problem = format!("thickness_mm is {thickness_mm}; it cannot be negative");
                return Err(bad(line, problem));
            }
            if x.abs().max(y.abs()) > FARTHEST_MM {
                return Err(bad(
                    line,
                    "has a place farther than 5000 mm off".to_string(),
                ));
            }
            rows.push(Self {
                at: Point::new(x, y),
                thickness_mm,
            });
        }
        Ok(rows)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(text: &str) -> u64 {
        ThicknessAt::list_from_csv(text.as_bytes())
            .unwrap_err()
            .line
    }

    #[test]
    fn a_table_is_read_whatever_the_order_of_its_columns() {
        let text = "\u{feff}note, thickness_mm ,y_mm,x_mm\r\n\"a, b\",1.6,20,10\r\n,0,-4,+3e0\r\n";
        let rows = ThicknessAt::list_from_csv(text.as_bytes()).unwrap();
        let row = |x, y, thickness_mm| ThicknessAt {
            at: Point::new(x, y),
            thickness_mm,
        };
        assert_eq!(rows, [row(10.0, 20.0, 1.6), row(3.0, -4.0, 0.0)]);
        let empty = ThicknessAt::list_from_csv(b"x_mm,y_mm,thickness_mm").unwrap();
        assert!(empty.is_empty());
    }

    #[test]
    fn a_bad_table_says_which_line() {
        assert_eq!(line(""), 1);
        assert_eq!(line("x_mm,y_mm\n1,2\n"), 1);
        let head = "x_mm,y_mm,thickness_mm\n";
        for bad in [
            "1,2,\n",
            "1,2\n",
            "1,2,nan\n",
            "1,2,1e999\n",
            "1,2,-1\n",
            "9e9,2,1\n",
            "1,2,3,4\n",
            "\"1,2,3\n",
        ] {
            assert_eq!(line(&format!("{head}5,5,5\n{bad}")), 3, "{bad:?}");
        }
        let long = format!("{head}{}", "1,2,3\n".repeat(MOST_ROWS + 1));
        assert_eq!(line(&long), MOST_ROWS as u64 + 2);
    }

    #[test]
    fn decimal_commas_and_semicolons_are_told_as_what_they_are() {
        let problem = |text: &str| {
            ThicknessAt::list_from_csv(text.as_bytes())
                .unwrap_err()
                .problem
        };
        let comma = problem("x_mm,y_mm,thickness_mm\n63,196,1,6\n");
        assert!(
            comma.contains("has 4 fields, and the header 3") && comma.contains("as in 1.6"),
            "{comma}"
        );
        let semicolons = problem("x_mm;y_mm;thickness_mm\n63;196;1,6\n");
        assert!(semicolons.contains("not by semicolons"), "{semicolons}");
    }

    #[test]
    fn bytes_that_are_no_text_are_refused() {
        assert_eq!(
            ThicknessAt::list_from_csv(b"x_mm,y_mm,thickness_mm\n\xff\xfe,1,2\n")
                .unwrap_err()
                .line,
            2
        );
    }
}
