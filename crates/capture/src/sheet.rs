//! Capture sheets: where the tags are printed, and which field stays blank for parts.

use crate::tags::{TAG_CELLS, TAG_COUNT};
use serde::{Deserialize, Serialize};
use shape::{Bounds, Point};
use std::collections::{BTreeMap, BTreeSet};

/// Papers that our own capture sheet comes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Paper {
    /// ISO 216 A4, 210 x 297 mm.
    A4,
    /// US Letter, 8.5 x 11 in = 215.9 x 279.4 mm.
    Letter,
    /// ISO 216 A3, 297 x 420 mm.
    A3,
    /// US Tabloid, 11 x 17 in = 279.4 x 431.8 mm.
    Tabloid,
}

impl Paper {
    /// Every paper.
    pub const ALL: [Self; 4] = [Self::A4, Self::Letter, Self::A3, Self::Tabloid];

    /// Width and height, upright, mm.
    pub fn size_mm(self) -> [f64; 2] {
        match self {
            Self::A4 => [210.0, 297.0],
            Self::Letter => [215.9, 279.4],
            Self::A3 => [297.0, 420.0],
            Self::Tabloid => [279.4, 431.8],
        }
    }

    /// The name as it is typed.
    pub fn name(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "letter",
            Self::A3 => "a3",
            Self::Tabloid => "tabloid",
        }
    }

    /// The first tag's id; the ids that follow are this paper's alone, so that a photo tells the paper.
    fn first_id(self) -> u32 {
        match self {
            Self::A4 => 100,
            Self::Letter => 150,
            Self::A3 => 200,
            Self::Tabloid => 250,
        }
    }

    /// Tags along the short and the long side. A pitch near 43 mm leaves room for words between.
    fn tags_along(self) -> [u32; 2] {
        match self {
            Self::A4 | Self::Letter => [5, 7],
            Self::A3 | Self::Tabloid => [7, 10],
        }
    }
}

/// Side of a tag on our sheets, mm: 140 pixels at 10 px/mm, so that each cell has 17.
const TAG_MM: f64 = 14.0;

/// From the paper's edge to the tags, mm: outside what printers leave white, with room for the bars.
const EDGE_TO_TAG_MM: f64 = 11.0;

/// From the tags to the blank field, mm: two cells of white, so that a part never eats a tag's rim.
const TAG_TO_FIELD_MM: f64 = 4.0;

/// Largest side of a described sheet, mm.
const MAX_SHEET_MM: f64 = 5_000.0;

/// A capture sheet. Coordinates in mm from the sheet's lower-left corner, x right, y up.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Width and height, mm.
    pub size_mm: [f64; 2],
    /// Corners of each tag by its id: upper left, upper right, lower right, lower left as printed.
    pub tags: BTreeMap<u32, [Point; 4]>,
    /// The blank field: where parts may lie.
    pub field: Bounds,
    /// Which of our papers it is; `None` for a described sheet.
    pub paper: Option<Paper>,
}

/// What a description says of its family, its units and the order of corners: no others are read.
const FAMILY: &str = "36h11";
const UNITS: &str = "mm, y up";
const CORNER_ORDER: &str = "TL TR BR BL as printed";

/// The form of a described sheet.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Described {
    size_mm: [f64; 2],
    family: String,
    units: String,
    corner_order: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    field_mm: Option<[f64; 4]>,
    tags: BTreeMap<String, [[f64; 2]; 4]>,
}

/// Why a text does not describe a sheet.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SheetError {
    /// Not JSON, or a field of the wrong form.
    #[error("{path}: {problem}")]
    Malformed {
        /// Where.
        path: String,
        /// What is wrong there.
        problem: String,
    },
    /// The tags leave no blank field between them.
    #[error("the tags leave no blank field; give `field_mm` as [left, lower, right, upper]")]
    NoField,
}

impl Sheet {
    /// Our own sheet for a paper.
    pub fn ours(paper: Paper) -> Self {
        let [w, h] = paper.size_mm();
        let [nx, ny] = paper.tags_along();
        let at = |i: u32, n: u32, side: f64| {
            EDGE_TO_TAG_MM
                + f64::from(i) * (side - 2.0 * EDGE_TO_TAG_MM - TAG_MM) / f64::from(n - 1)
        };
        let mut tags = BTreeMap::new();
        let mut id = paper.first_id();
        // In reading order from the upper-left corner.
        for row in 0..ny {
            for col in 0..nx {
                if row == 0 || row == ny - 1 || col == 0 || col == nx - 1 {
                    let (x, y) = (at(col, nx, w), h - at(row, ny, h));
                    tags.insert(
                        id,
                        [
                            Point::new(x, y),
                            Point::new(x + TAG_MM, y),
                            Point::new(x + TAG_MM, y - TAG_MM),
                            Point::new(x, y - TAG_MM),
                        ],
                    );
                    id += 1;
                }
            }
        }
        let inset = EDGE_TO_TAG_MM + TAG_MM + TAG_TO_FIELD_MM;
        let field = Bounds::between(Point::new(inset, inset), Point::new(w - inset, h - inset));
        Self {
            size_mm: [w, h],
            tags,
            field,
            paper: Some(paper),
        }
    }

    /// Which of our sheets the ids belong to: each paper that owns one of them, with how many.
    pub(crate) fn papers_of(ids: impl IntoIterator<Item = u32>) -> BTreeMap<Paper, usize> {
        let ids: BTreeSet<u32> = ids.into_iter().collect();
        Paper::ALL
            .into_iter()
            .map(|paper| {
                let sheet = Self::ours(paper);
                (
                    paper,
                    ids.iter().filter(|id| sheet.tags.contains_key(id)).count(),
                )
            })
            .filter(|&(_, count)| count > 0)
            .collect()
    }

    /// Reads a described sheet. Without `field_mm` the blank field is what the tags and a white rim of one
    /// cell round them leave free in the sheet's middle.
    ///
    /// # Errors
    /// [`SheetError`], with the path of the bad field.
    pub fn from_json(bytes: &[u8]) -> Result<Self, SheetError> {
        let bad = |path: &str, problem: String| SheetError::Malformed {
            path: path.into(),
            problem,
        };
        let described: Described = shape::from_json(bytes).map_err(|e| bad(&e.path, e.problem))?;
        for (path, said, known) in [
            ("family", &described.family, FAMILY),
            ("units", &described.units, UNITS),
            ("corner_order", &described.corner_order, CORNER_ORDER),
        ] {
            if said != known {
                let shown: String = said.chars().take(60).collect();
                let problem =
                    format!("is {shown:?}; only {known:?} is read, describe the sheet so");
                return Err(bad(path, problem));
            }
        }
        let [w, h] = described.size_mm;
        if ![w, h].iter().all(|v| (10.0..=MAX_SHEET_MM).contains(v)) {
            return Err(bad("size_mm", "must be 10 to 5000 mm on each side".into()));
        }
        let page = Bounds::between(Point::default(), Point::new(w, h));
        let mut tags = BTreeMap::new();
        for (key, corners) in &described.tags {
            let path = format!("tags.{key}");
            let id = key.parse::<u32>().ok().filter(|&id| id < TAG_COUNT);
            let id = id.ok_or_else(|| bad(&path, "is not an id of the family 36h11".into()))?;
            let corners = corners.map(Point::from);
            if !corners
                .iter()
                .all(|p| p.is_finite() && page.grown(1.0).contains(*p))
            {
                return Err(bad(&path, "has a corner off the sheet".into()));
            }
            let ring = shape::Ring::try_new(corners.to_vec());
            if ring.map_or(true, |r| r.signed_area_mm2() > -1.0) {
                let order = "must be a square in the order upper left, upper right, lower right, lower left";
                return Err(bad(&path, order.into()));
            }
            tags.insert(id, corners);
        }
        if tags.len() < 4 {
            return Err(bad(
                "tags",
                format!("has {}, needs four or more", tags.len()),
            ));
        }
        let field = match described.field_mm {
            Some([x0, y0, x1, y1]) => {
                let field = Bounds {
                    min: Point::new(x0, y0),
                    max: Point::new(x1, y1),
                };
                let sound = [x0, y0, x1, y1].iter().all(|v| v.is_finite());
                if !sound || x1 - x0 < 1.0 || y1 - y0 < 1.0 || !page.holds(field) {
                    return Err(bad(
                        "field_mm",
                        "must be [left, lower, right, upper] on the sheet".into(),
                    ));
                }
                field
            }
            None => blank_field(page, &tags).ok_or(SheetError::NoField)?,
        };
        Ok(Self {
            size_mm: [w, h],
            tags,
            field,
            paper: None,
        })
    }

    /// Points that show the sheet's own white: round each tag, in the rim of one cell that the family asks for.
    pub(crate) fn white_points(&self) -> Vec<Point> {
        let mut points = Vec::new();
        for corners in self.tags.values() {
            let middle = corners[0].lerp(corners[2], 0.5);
            // The middle of a rim one cell wide round the tag's eight cells.
            let rim = corners.map(|c| middle + (c - middle) * (9.0 / 8.0));
            for k in 0..4 {
                for i in 0..6 {
                    points.push(rim[k].lerp(rim[(k + 1) % 4], f64::from(i) / 6.0));
                }
            }
        }
        points
    }

    /// The sheet's description, in the form that [`Sheet::from_json`] reads.
    pub fn to_json(&self) -> String {
        let f = self.field;
        let described = Described {
            size_mm: self.size_mm,
            family: FAMILY.into(),
            units: UNITS.into(),
            corner_order: CORNER_ORDER.into(),
            field_mm: Some([f.min.x, f.min.y, f.max.x, f.max.y]),
            tags: self
                .tags
                .iter()
                .map(|(id, c)| (id.to_string(), c.map(<[f64; 2]>::from)))
                .collect(),
        };
        serde_json::to_string_pretty(&described).unwrap_or_default()
    }
}

/// Shrinks the page from the side that each tag lies nearest to, as a share of the page, until it is clear of
/// the tag and its white rim.
fn blank_field(page: Bounds, tags: &BTreeMap<u32, [Point; 4]>) -> Option<Bounds> {
    let mut field = page;
    for corners in tags.values() {
        let tag = Bounds::around(corners.iter().copied())?;
        let (x, y) = (
            tag.centre().x / page.width_mm(),
            tag.centre().y / page.height_mm(),
        );
        let tag = tag.grown(tag.width_mm().max(tag.height_mm()) / TAG_CELLS as f64);
        let shares = [x, 1.0 - x, y, 1.0 - y];
        let nearest = (0..4).min_by(|&a, &b| shares[a].total_cmp(&shares[b]))?;
        match nearest {
            0 => field.min.x = field.min.x.max(tag.max.x),
            1 => field.max.x = field.max.x.min(tag.min.x),
            2 => field.min.y = field.min.y.max(tag.max.y),
            _ => field.max.y = field.max.y.min(tag.min.y),
        }
    }
    (field.width_mm() > 1.0 && field.height_mm() > 1.0).then_some(field)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn our_own_sheets_read_as_they_were_written() {
        for paper in Paper::ALL {
            let sheet = Sheet::ours(paper);
            let read = Sheet::from_json(sheet.to_json().as_bytes());
            let described = Sheet {
                paper: None,
                ..sheet
            };
            assert_eq!(read, Ok(described));
        }
    }

    #[test]
    fn what_is_not_in_millimetres_or_not_known_is_refused_by_its_field() {
        let sound = Sheet::ours(Paper::A4).to_json();
        let path = |text: &str| match Sheet::from_json(text.as_bytes()) {
            Err(SheetError::Malformed { path, .. }) => path,
            other => panic!("{other:?}"),
        };
        let with = |from: &str, to: &str| {
            assert!(sound.contains(from), "{from}");
            path(&sound.replace(from, to))
        };
        assert_eq!(with("36h11", "25h9"), "family");
        assert_eq!(with("mm, y up", "inch, y up"), "units");
        assert_eq!(with("mm, y up", "mm, y down"), "units");
        assert_eq!(with("TL TR BR BL", "BL BR TR TL"), "corner_order");
        assert_eq!(with("\"field_mm\"", "\"feild_mm\""), "feild_mm");
        assert_eq!(path(&(sound.clone() + " {}")), ".");
    }
}
