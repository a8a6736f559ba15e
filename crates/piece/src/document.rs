//! The piece document.

mod sound;

use crate::{AssemblyAxis, BuildChoices, BuildPlan, Caption, Frame, Part, PartId, Placement};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use shape::{BadField, Outline};
use std::collections::BTreeMap;

/// The largest document that is read, bytes: 80 parts of 2,000 points take about 4 MB.
pub const MAX_DOCUMENT_BYTES: usize = 64 << 20;

/// The version that this program writes, and the newest that it reads.
const VERSION: u32 = 1;

/// One framed display.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Piece {
    /// Always `setapart-piece`.
    pub format: String,
    /// Version of the document's form: 1.
    pub version: u32,
    /// What the piece is called.
    pub name: String,
    /// The device it was made of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device: Option<Device>,
    /// Its frame.
    pub frame: Frame,
    /// How the parts are to be laid out.
    #[serde(default)]
    pub layout: Layout,
    /// Its parts; the item number on drawings is the place in this list, from 1.
    #[serde(default)]
    pub parts: Vec<Part>,
    /// Where the parts lie; a part without one is not on the board yet.
    #[serde(default)]
    pub placements: Vec<Placement>,
    /// The parts' texts.
    #[serde(default)]
    pub captions: Vec<Caption>,
    /// Axes along which parts go together, as the board's art shows them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub axes: Vec<AssemblyAxis>,
    /// What the maker has decided about the build.
    #[serde(default, skip_serializing_if = "is_default")]
    pub choices: BuildChoices,
    /// How it is built, as mounting worked it out; older than the rest where something was changed since.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub build: Option<BuildPlan>,
    /// What the shop wrote down beside it; no part of what is made, and in no mark.
    #[serde(default, skip_serializing_if = "is_default")]
    pub shop: ShopRecords,
}

/// Documents of the ledger that belong to a piece, each in its own form, which the ledger reads and checks.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ShopRecords {
    /// The intake form of its device (`setapart-intake`).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub intake: Option<serde_json::Value>,
    /// Lots on offer for it (`setapart-lots`).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lots: Option<serde_json::Value>,
    /// Rates and prices that it is reckoned with (`setapart-rates`).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rates: Option<serde_json::Value>,
    /// What is asked of its parcel: `mass_g`, `divisor_cm3_per_kg`, `fragility_g`, each where it is not as usual.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parcel: Option<serde_json::Value>,
}

fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

/// The device that a piece was made of.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Device {
    /// What it is called.
    pub name: String,
    /// Who made it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maker: Option<String>,
    /// When it was made, as people say it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub year: Option<String>,
}

/// How the parts are to be laid out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Layout {
    /// The style.
    #[serde(default)]
    pub style: Style,
    /// Least distance between two parts' outlines, mm.
    #[serde(default = "default_gap_mm")]
    pub gap_mm: f64,
    /// The way the layers run across the board, front first.
    #[serde(default)]
    pub spread: Spread,
    /// Where no part may lie, such as under a plaque.
    #[serde(default)]
    pub keep_outs: Vec<KeepOut>,
    /// Parts may lie in the holes and notches of others.
    #[serde(default = "yes", skip_serializing_if = "is_yes")]
    pub nesting: bool,
}

fn yes() -> bool {
    true
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde calls it so")]
fn is_yes(value: &bool) -> bool {
    *value
}

fn default_gap_mm() -> f64 {
    4.0
}

impl Default for Layout {
    fn default() -> Self {
        Self {
            style: Style::default(),
            gap_mm: default_gap_mm(),
            spread: Spread::default(),
            keep_outs: Vec::new(),
            nesting: true,
        }
    }
}

/// How a layout is composed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Style {
    /// Spread in device order.
    #[default]
    Exploded,
    /// In straight rows.
    Knolled,
}

/// The way the layers run across the board, front first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs, reason = "the names say it")]
pub enum Spread {
    #[default]
    Right,
    Left,
    Up,
    Down,
}

/// A rectangle where no part may lie, mm on the board.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KeepOut {
    /// Left edge.
    pub x: f64,
    /// Lower edge.
    pub y: f64,
    /// Width.
    pub w: f64,
    /// Height.
    pub h: f64,
    /// What it is for.
    #[serde(default)]
    pub why: String,
}

/// Why a text is not a sound piece document. Each names the path of the bad field.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PieceError {
    /// More bytes than a document can have.
    #[error("the document has {found} bytes, the limit is {MAX_DOCUMENT_BYTES}")]
    TooLarge {
        /// Bytes found.
        found: usize,
    },
    /// Not JSON, or a field of the wrong form.
    #[error("{path}: {problem}")]
    Malformed {
        /// Where, such as `parts[3].outline.outer[2]`; `.` is the document itself.
        path: String,
        /// What is wrong there.
        problem: String,
    },
    /// Well-formed, but the value cannot be.
    #[error("{path}: {problem}")]
    Unsound {
        /// Where.
        path: String,
        /// What is wrong there.
        problem: String,
    },
}

impl Piece {
    /// What such a document states as its `format`.
    pub const FORMAT: &'static str = "setapart-piece";

    /// A piece with a frame and nothing in it.
    pub fn new(name: impl Into<String>, frame: Frame) -> Self {
        Self {
            format: Piece::FORMAT.into(),
            version: VERSION,
            name: name.into(),
            device: None,
            frame,
            layout: Layout::default(),
            parts: Vec::new(),
            placements: Vec::new(),
            captions: Vec::new(),
            axes: Vec::new(),
            choices: BuildChoices::default(),
            build: None,
            shop: ShopRecords::default(),
        }
    }

    /// Reads and checks a document.
    ///
    /// # Errors
    /// [`PieceError`], with the path of the first bad field.
    pub fn from_json(bytes: &[u8]) -> Result<Self, PieceError> {
        if bytes.len() > MAX_DOCUMENT_BYTES {
            return Err(PieceError::TooLarge { found: bytes.len() });
        }
        let piece: Self = shape::from_json(bytes)
            .map_err(|BadField { path, problem }| PieceError::Malformed { path, problem })?;
        piece.check_sound()?;
        Ok(piece)
    }

    /// The document as JSON, indented, with a line break at its end.
    ///
    /// Coordinates are written to the last bit, so that reading gives back the same piece.
    pub fn to_json(&self) -> String {
        // Plain data with string keys: serialising cannot fail.
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// A mark of all that this piece says, its build plan and the shop's records left out: 16 hexadecimal digits (64-bit FNV-1a over its
    /// JSON). Two pieces with the same mark are the same, for all purposes but an attacker's.
    pub fn mark(&self) -> String {
        let bare = if self.build.is_none() && is_default(&self.shop) {
            std::borrow::Cow::Borrowed(self)
        } else {
            std::borrow::Cow::Owned(Self {
                build: None,
                shop: ShopRecords::default(),
                ..self.clone()
            })
        };
        let bytes = serde_json::to_vec(&*bare).unwrap_or_default();
        let mark = bytes.iter().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3)
        });
        format!("{mark:016x}")
    }

    /// There is a build plan, and nothing was changed since it was worked out.
    pub fn build_is_current(&self) -> bool {
        self.build
            .as_ref()
            .is_some_and(|b| b.made_from == self.mark())
    }

    /// The part of that id.
    pub fn part(&self, id: &PartId) -> Option<&Part> {
        self.parts.iter().find(|p| &p.id == id)
    }

    /// Where the part of that id lies.
    pub fn placement(&self, id: &PartId) -> Option<&Placement> {
        self.placements.iter().find(|p| &p.part == id)
    }

    /// The caption of the part of that id.
    pub fn caption(&self, id: &PartId) -> Option<&Caption> {
        self.captions.iter().find(|c| &c.part == id)
    }

    /// Item numbers as drawings show them: the place in the list of parts, from 1.
    pub fn item_numbers(&self) -> BTreeMap<&PartId, usize> {
        self.parts
            .iter()
            .enumerate()
            .map(|(i, p)| (&p.id, i + 1))
            .collect()
    }

    /// A part's item number and name, as sheets and cut files say them.
    pub fn item_label(&self, part: &Part) -> String {
        let place = self.parts.iter().position(|p| p.id == part.id);
        format!("{}  {}", place.map_or(0, |p| p + 1), part.name)
    }

    /// Each placed part in the order of the parts list, with its outline on the board.
    pub fn outlines_on_board(&self) -> Vec<(&Part, Outline)> {
        let placements: BTreeMap<_, _> = self.placements.iter().map(|p| (&p.part, p)).collect();
        self.parts
            .iter()
            .filter_map(|part| {
                let placement = placements.get(&part.id)?;
                Some((
                    part,
                    part.shown_outline().placed(placement.board_from_part()),
                ))
            })
            .collect()
    }
}

/// The JSON Schema of the piece document.
pub fn json_schema() -> serde_json::Value {
    schemars::schema_for!(Piece).to_value()
}
