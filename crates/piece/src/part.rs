//! A part of the device.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use shape::{Outline, Pose};

/// Names a part within one piece: 1 to 64 characters, no control characters.
#[derive(
    Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(try_from = "String", into = "String")]
pub struct PartId(String);

/// Why a text cannot name a part.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("a part's id has 1 to 64 characters and no control characters; this one has {length}")]
pub struct PartIdError {
    /// Characters found.
    length: usize,
}

impl PartId {
    /// Checks a text and makes an id of it.
    ///
    /// # Errors
    /// [`PartIdError`] where it is empty, longer than 64 characters or has control characters.
    pub fn try_new(text: impl Into<String>) -> Result<Self, PartIdError> {
        let text = text.into();
        let length = text.chars().count();
        if length == 0 || length > 64 || text.chars().any(char::is_control) {
            return Err(PartIdError { length });
        }
        Ok(Self(text))
    }

    /// The id as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl TryFrom<String> for PartId {
    type Error = PartIdError;
    fn try_from(text: String) -> Result<Self, PartIdError> {
        Self::try_new(text)
    }
}

impl From<PartId> for String {
    fn from(id: PartId) -> Self {
        id.0
    }
}

impl std::fmt::Display for PartId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

/// What a part is, as the bench calls it.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs, reason = "the names say it")]
pub enum PartKind {
    Shell,
    Display,
    Board,
    Ribbon,
    Speaker,
    Microphone,
    Motor,
    Camera,
    Wheel,
    Keys,
    Bracket,
    Shield,
    Antenna,
    Connector,
    Cell,
    Screw,
    Other,
}

/// Which face looks out of the frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Face {
    /// The face that was captured.
    #[default]
    Front,
    /// The other one: the outline is mirrored about its own vertical centre line first.
    Back,
}

/// How a part may be turned from the turn that its home gives it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Turns {
    /// Not at all.
    #[default]
    None,
    /// By quarter turns.
    Quarter,
    /// By any angle.
    Free,
}

/// What can hurt someone.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs, reason = "the names say it")]
pub enum Hazard {
    LithiumCell,
    FlashCapacitor,
    MainsPart,
    ColdCathodeLamp,
    CathodeRayTube,
    Beryllium,
    CrackedGlass,
    SharpEdge,
}

/// A layer on the back face that nothing holds well on: it comes off first.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum BackFilm {
    /// A graphite film that spreads heat.
    Graphite,
    /// Foil or a label that is loose, or glued with a soft glue.
    LooseFoil,
    /// Rests of the maker's own adhesive.
    OldAdhesive,
}

/// How a part comes free of the device.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum FreedBy {
    /// It lifts out, or its clips let go.
    Lifting,
    /// Its screws are undone.
    Unscrewing,
    /// Its plug is pulled.
    Unplugging,
    /// Its leads are cut; never those of a cell, which is not freed here at all.
    CuttingLeads,
    /// Its joints are desoldered with an iron.
    Desoldering,
    /// Its glue is softened with warm air.
    WarmAir,
    /// Boards that are soldered on each other, split on a rework station.
    ReworkStation,
}

/// How data were taken off, in the words of NIST SP 800-88 Rev. 2.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Sanitization {
    /// Overwritten or reset by the device's own commands: simple recovery finds nothing.
    Clear,
    /// Made so that laboratory means find nothing either.
    Purge,
    /// The medium itself cannot be used any more.
    Destroy,
}

/// A part that stores data, and what became of them.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StorageRecord {
    /// What the medium is, as people say it: flash chip, disk, card.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub medium: Option<String>,
    /// What was done; missing: not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sanitization: Option<Sanitization>,
    /// With which technique or tool.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub technique: Option<String>,
    /// By whom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// On which day, as YYYY-MM-DD.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
}

/// Something that stands inside a hollow part, where a fill has to be left out: a screw boss, a rib.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Boss {
    /// Its outline in the part's own coordinates.
    #[schemars(with = "OutlineForm")]
    pub outline: Outline,
    /// It takes a screw of this diameter, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub screw_mm: Option<f64>,
}

/// Something that stands out of the back face towards the board: a chip, a plug, a foot.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Protrusion {
    /// Its outline in the part's own coordinates.
    #[schemars(with = "OutlineForm")]
    pub outline: Outline,
    /// How far it stands out of the back face, mm.
    pub height_mm: f64,
}

/// In what form a stand-in comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum StandInForm {
    /// A life-size print of the face on card.
    Print,
    /// A blank silhouette of card.
    Card,
    /// A copy that holds no energy and no hazard.
    InertCopy,
}

/// A life-size copy in place of a missing or dangerous part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StandIn {
    /// Its form.
    pub form: StandInForm,
    /// Why the part itself is not shown.
    pub why: String,
}

/// Where a part sits in the whole device, seen from the front.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Home {
    /// Where the part's origin lies, mm from the device's left edge.
    pub x: f64,
    /// Where the part's origin lies, mm from the device's lower edge.
    pub y: f64,
    /// Turn of the part's own coordinates in the device, degrees counter-clockwise.
    #[serde(default)]
    pub turn_deg: f64,
    /// 0 at the front, counting towards the back.
    pub layer: u32,
}

impl Home {
    /// The pose that carries the part's own coordinates into the device's.
    pub fn device_from_part(&self) -> Pose {
        Pose::new(self.x, self.y, self.turn_deg)
    }
}

/// The part's own picture with its background gone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Cutout {
    /// The picture (PNG with alpha): a path beside the document, or a content hash in the store.
    pub image: String,
    /// Scale, pixels per mm.
    pub px_per_mm: f64,
    /// Where the picture's lower-left corner lies in the part's own coordinates, mm.
    pub origin_mm: [f64; 2],
}

/// The picture of a part's other face, photographed from behind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BackCutout {
    /// The picture (PNG with alpha): a path beside the document, or a content hash in the store.
    pub image: String,
    /// Scale, pixels per mm.
    pub px_per_mm: f64,
    /// Where the picture's lower-left corner lies, mm, in the part's own coordinates mirrored about the outline's own
    /// vertical centre line.
    pub origin_mm: [f64; 2],
    /// Turn of the picture about that corner, degrees counter-clockwise.
    #[serde(default)]
    pub turn_deg: f64,
}

/// One part: what was captured of it and what the maker knows of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// Unique in the piece.
    pub id: PartId,
    /// What people call it.
    pub name: String,
    /// What it is.
    pub kind: PartKind,
    /// How many the device has of it; each shown one is a part of its own in the document.
    #[serde(default = "one")]
    pub quantity: u32,
    /// True outline in the part's own coordinates: the lower-left corner of its bounding box when it
    /// was captured is the origin.
    #[schemars(with = "OutlineForm")]
    pub outline: Outline,
    /// Uncertainty of the outline, one sigma, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sigma_mm: Option<f64>,
    /// Greatest height, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thickness_mm: Option<f64>,
    /// Mass, g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_g: Option<f64>,
    /// Material of the face that is glued, such as `fr4`, `abs`, `stainless`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub back_face: Option<String>,
    /// Which face looks out of the frame.
    #[serde(default)]
    pub face_shown: Face,
    /// What can hurt someone.
    #[serde(default)]
    pub hazards: Vec<Hazard>,
    /// How arranging may turn it.
    #[serde(default)]
    pub turns: Turns,
    /// Parts of one group stay together.
    #[serde(default)]
    pub group: Option<String>,
    /// What is shown in its place.
    #[serde(default)]
    pub stand_in: Option<StandIn>,
    /// Its own picture.
    #[serde(default)]
    pub cutout: Option<Cutout>,
    /// The picture of its other face, as it is seen in a device that is opened from the back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub back_cutout: Option<BackCutout>,
    /// Where it sits in the whole device.
    #[serde(default)]
    pub home: Option<Home>,
    /// Thickness of a hollow part's wall, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wall_mm: Option<f64>,
    /// Depth of a hollow part's inside, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inner_depth_mm: Option<f64>,
    /// Openings of a hollow part's face that its outline does not show as holes, in the part's own coordinates.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(with = "Vec<OutlineForm>")]
    pub openings: Vec<Outline>,
    /// What stands inside a hollow part.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bosses: Vec<Boss>,
    /// What stands out of the back face.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub protrusions: Vec<Protrusion>,
    /// How far it is to stand off the board, mm, for a stepped look.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lift_mm: Option<f64>,
    /// Layers on its back face that come off first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub back_films: Vec<BackFilm>,
    /// How it comes free of the device.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub freed_by: Option<FreedBy>,
    /// What is trimmed off before it is mounted, in the maker's words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trim: Option<String>,
    /// It stores data: what became of them. Missing: it stores none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub storage: Option<StorageRecord>,
}

fn one() -> u32 {
    1
}

/// The outline as the document carries it.
#[derive(JsonSchema)]
#[allow(dead_code, reason = "only its schema is used")]
struct OutlineForm {
    /// Open ring of [x, y], mm; counter-clockwise on output.
    outer: Vec<[f64; 2]>,
    /// Open rings of [x, y], mm; clockwise on output.
    #[serde(default)]
    holes: Vec<Vec<[f64; 2]>>,
    /// The same rings as straight lines and arcs, at most 0.01 mm from outer and holes; left out where
    /// only the points are known.
    #[serde(skip_serializing_if = "Option::is_none")]
    exact: Option<ExactForm>,
}

/// Rings of straight lines and arcs.
#[derive(JsonSchema)]
#[allow(dead_code, reason = "only its schema is used")]
struct ExactForm {
    /// Open ring of [x, y, bulge]: mm, and the tangent of a quarter of the included angle of the side that
    /// follows, positive counter-clockwise, 0 for a straight side; counter-clockwise on output.
    outer: Vec<[f64; 3]>,
    /// Open rings of [x, y, bulge]; clockwise on output.
    #[serde(default)]
    holes: Vec<Vec<[f64; 3]>>,
}

impl Part {
    /// What people tell it by: its name, and its id in brackets.
    pub fn named(&self) -> String {
        format!("{} ({})", self.name, self.id)
    }

    /// It is a cell, or holds one: never mounted.
    pub fn is_cell(&self) -> bool {
        self.kind == PartKind::Cell || self.hazards.contains(&Hazard::LithiumCell)
    }

    /// A part of which nothing is known but its outline.
    pub fn new(id: PartId, name: impl Into<String>, kind: PartKind, outline: Outline) -> Self {
        Self {
            id,
            name: name.into(),
            kind,
            quantity: 1,
            outline,
            sigma_mm: None,
            thickness_mm: None,
            mass_g: None,
            back_face: None,
            face_shown: Face::Front,
            hazards: Vec::new(),
            turns: Turns::None,
            group: None,
            stand_in: None,
            cutout: None,
            back_cutout: None,
            home: None,
            wall_mm: None,
            inner_depth_mm: None,
            openings: Vec::new(),
            bosses: Vec::new(),
            protrusions: Vec::new(),
            lift_mm: None,
            back_films: Vec::new(),
            freed_by: None,
            trim: None,
            storage: None,
        }
    }

    /// The outline as it is seen in the frame: mirrored where the back is shown.
    pub fn shown_outline(&self) -> Outline {
        match self.face_shown {
            Face::Front => self.outline.clone(),
            Face::Back => self.outline.mirrored(),
        }
    }

    /// The picture of the face that is seen in the frame, in the coordinates of [`Part::shown_outline`]. A picture of the back
    /// that lies turned is not shown.
    pub fn shown_cutout(&self) -> Option<Cutout> {
        match self.face_shown {
            Face::Front => self.cutout.clone(),
            Face::Back => {
                let straight = self.back_cutout.as_ref().filter(|b| b.turn_deg == 0.0);
                straight.map(|b| Cutout {
                    image: b.image.clone(),
                    px_per_mm: b.px_per_mm,
                    origin_mm: b.origin_mm,
                })
            }
        }
    }

    /// The names of all its pictures.
    pub fn images(&self) -> impl Iterator<Item = &str> {
        let front = self.cutout.iter().map(|c| c.image.as_str());
        front.chain(self.back_cutout.iter().map(|c| c.image.as_str()))
    }

    /// The same, to be changed.
    pub fn images_mut(&mut self) -> impl Iterator<Item = &mut String> {
        let front = self.cutout.iter_mut().map(|c| &mut c.image);
        front.chain(self.back_cutout.iter_mut().map(|c| &mut c.image))
    }
}
