//! The drawer: parts that are in stock, from all devices.

use crate::sheet::{Sheet, read_json, unsound};
use crate::table::{Cell, Table};
use crate::{Chance, Currency, LedgerError};
use piece::{PartId, PartKind};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The largest document of stock that is read, bytes.
const MAX_DRAWER_BYTES: usize = 16 << 20;

const VERSION: u32 = 1;
const MOST_LINES: usize = 20_000;

/// What is in stock.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Drawer {
    /// Always `setapart-drawer`.
    pub format: String,
    /// Version of the document's form: 1.
    pub version: u32,
    /// The parts.
    pub stock: Vec<Stock>,
}

/// Like parts from one origin.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Stock {
    /// The part's id in pieces of this device.
    pub part: PartId,
    /// The device that it is of, where it is not the piece's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub model: Option<String>,
    /// What people call it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// What it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind: Option<PartKind>,
    /// How many.
    #[serde(default = "one")]
    pub count: u32,
    /// In what condition.
    pub condition: Condition,
    /// The chance that one is good, where it is known better than by its condition.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chance: Option<Chance>,
    /// Where it came from: a device, a lot, a shop.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub origin: Option<String>,
    /// The piece that it is kept for; nobody else takes it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reserved_for: Option<String>,
    /// Where it lies.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
}

fn one() -> u32 {
    1
}

/// In what condition a part lies in the drawer.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Condition {
    /// Seen whole and good to show.
    Whole,
    /// Not looked at closely.
    Unseen,
    /// Damaged: not to be shown.
    Damaged,
}

impl Condition {
    /// The chance that such a part is good. Recalled: estimates of ours; each stock line can say its own.
    pub fn usual_chance(self) -> Chance {
        Chance::of(match self {
            Self::Whole => 1.0,
            Self::Unseen => 0.75,
            Self::Damaged => 0.0,
        })
    }

    fn word(self) -> &'static str {
        match self {
            Self::Whole => "whole",
            Self::Unseen => "unseen",
            Self::Damaged => "damaged",
        }
    }
}

const COLUMNS: [&str; 10] = [
    "part",
    "condition",
    "model",
    "name",
    "kind",
    "count",
    "chance",
    "origin",
    "reserved_for",
    "place",
];

impl Stock {
    /// The chance that one of them is good.
    pub fn good(&self) -> Chance {
        self.chance.unwrap_or_else(|| self.condition.usual_chance())
    }

    /// Whether a piece may take it.
    pub fn is_free_for(&self, piece: Option<&str>) -> bool {
        self.reserved_for
            .as_deref()
            .is_none_or(|r| Some(r) == piece)
    }
}

impl Drawer {
    /// What such a document states as its `format`.
    pub const FORMAT: &'static str = "setapart-drawer";

    /// An empty drawer.
    pub fn new() -> Self {
        Self {
            format: Drawer::FORMAT.into(),
            version: VERSION,
            stock: Vec::new(),
        }
    }

    /// Reads and checks a document.
    ///
    /// # Errors
    /// [`LedgerError`] with the path of the first bad field.
    pub fn from_json(bytes: &[u8]) -> Result<Self, LedgerError> {
        let drawer: Self = read_json(bytes, MAX_DRAWER_BYTES)?;
        if drawer.format != Drawer::FORMAT || drawer.version != VERSION {
            return Err(unsound(
                "format",
                format!("is not {:?}, version {VERSION}", Drawer::FORMAT),
            ));
        }
        if drawer.stock.len() > MOST_LINES {
            return Err(unsound(
                "stock",
                format!("has {} lines, limit {MOST_LINES}", drawer.stock.len()),
            ));
        }
        if let Some(i) = drawer.stock.iter().position(|s| s.count > 10_000) {
            return Err(unsound(format!("stock[{i}].count"), "is above 10000"));
        }
        Ok(drawer)
    }

    /// Reads a table with the columns `part,condition` and any of
    /// `model,name,kind,count,chance,origin,reserved_for,place`.
    ///
    /// # Errors
    /// [`LedgerError`] with the line and column of the first bad cell.
    pub fn from_csv(bytes: &[u8]) -> Result<Self, LedgerError> {
        let sheet = Sheet::read(bytes, &COLUMNS[..2], &COLUMNS[2..], &[])?;
        let mut drawer = Self::new();
        for line in sheet.lines() {
            let part = PartId::try_new(line.needed("part")?)
                .map_err(|e| line.wrong("part", e.to_string()))?;
            let condition = match line.needed("condition")?.as_str() {
                "whole" => Condition::Whole,
                "unseen" => Condition::Unseen,
                "damaged" => Condition::Damaged,
                other => {
                    return Err(line.wrong(
                        "condition",
                        format!("{other:?} is none of whole, unseen, damaged"),
                    ));
                }
            };
            drawer.stock.push(Stock {
                part,
                model: line.text("model")?,
                name: line.text("name")?,
                kind: line.kind("kind")?,
                count: line.count("count")?.unwrap_or(1),
                condition,
                chance: line.chance("chance")?,
                origin: line.text("origin")?,
                reserved_for: line.text("reserved_for")?,
                place: line.text("place")?,
            });
        }
        Ok(drawer)
    }

    /// The document as JSON, indented, with a line break at its end.
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// The same as a table that [`Drawer::from_csv`] reads.
    pub fn to_csv(&self) -> Vec<u8> {
        crate::table::csv_bytes(&COLUMNS.map(str::to_owned), self.cells().into_iter())
    }

    /// The stock as a table for people.
    pub fn table(&self) -> Table {
        let lines = self
            .cells()
            .into_iter()
            .map(|line| line.into_iter().map(Cell::Text).collect());
        Table {
            title: "Drawer".into(),
            currency: Currency::any(),
            columns: COLUMNS.map(str::to_owned).to_vec(),
            lines: lines.collect(),
        }
    }

    /// In the order of [`COLUMNS`].
    fn cells(&self) -> Vec<Vec<String>> {
        let text = |t: &Option<String>| t.clone().unwrap_or_default();
        let line = |s: &Stock| {
            let kind = s.kind.and_then(|k| serde_json::to_value(k).ok());
            vec![
                s.part.to_string(),
                s.condition.word().to_owned(),
                text(&s.model),
                text(&s.name),
                kind.and_then(|k| k.as_str().map(str::to_owned))
                    .unwrap_or_default(),
                s.count.to_string(),
                s.chance.map(|c| c.get().to_string()).unwrap_or_default(),
                text(&s.origin),
                text(&s.reserved_for),
                text(&s.place),
            ]
        };
        self.stock.iter().map(line).collect()
    }
}

impl Default for Drawer {
    fn default() -> Self {
        Self::new()
    }
}
