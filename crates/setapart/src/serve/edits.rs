//! What people do to a piece, one small step each, as data.
//!
//! A page sends what was done, and on which revision; the store puts what two windows did together.

use arrange::{MeasureText, RealFont, letter_height_mm};
use lettering::{Face, set_line};
use piece::{
    BackFilm, BuildChoices, Caption, Device, Face as Side, Frame, FreedBy, Hazard, Home, KeepOut,
    PartId, PartKind, Piece, Placement, Spread, StandIn, StorageRecord, Style, Turns,
};
use serde::{Deserialize, Serialize};
use shape::{Point, Pose, Vector};

/// A caption that is nearer to its part than this needs no leader, mm.
const BESIDE_MM: f64 = 6.0;

/// Longest name, caption or note that is taken, characters.
const MOST_LETTERS: usize = 400;

/// One step. Lengths mm on the board, turns in degrees counter-clockwise.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "snake_case", deny_unknown_fields)]
pub(crate) enum Edit {
    /// A part lies here now; a part that had no place gets one.
    Place {
        part: PartId,
        x: f64,
        y: f64,
        turn_deg: f64,
    },
    /// Arranging leaves it alone, or no longer.
    Pin { part: PartId, pinned: bool },
    /// A part goes back to the drawer: it stays one of the piece.
    TakeOff { part: PartId },
    /// Two parts change places, or one that has none takes the place of the other.
    Swap { part: PartId, with: PartId },
    /// What is shown instead of the part; nothing for the part itself.
    StandIn {
        part: PartId,
        stand_in: Option<StandIn>,
    },
    /// A caption's box moves; its leader follows.
    MoveCaption { part: PartId, x: f64, y: f64 },
    /// A caption says this; empty for no caption.
    WriteCaption { part: PartId, text: String },
    /// What is known of a part.
    Know { part: PartId, what: Box<Knowledge> },
    /// A part leaves the piece.
    Remove { part: PartId },
    /// The parts' order, which numbers them.
    Order { parts: Vec<PartId> },
    /// How parts are laid out.
    Layout {
        style: Option<Style>,
        spread: Option<Spread>,
        gap_mm: Option<f64>,
        nesting: Option<bool>,
    },
    /// Another frame, with the layout for it where there is one.
    Frame {
        frame: Frame,
        placements: Option<Vec<Placement>>,
        captions: Option<Vec<Caption>>,
    },
    /// Where no part may lie.
    KeepOuts { keep_outs: Vec<KeepOut> },
    /// The piece's name.
    Name { name: String },
    /// What the parts come from.
    Device { device: Option<Device> },
    /// What is decided about the build.
    Choose { choices: Box<BuildChoices> },
}

/// What someone knows of a part; what is left out stays as it is, `null` makes it unknown.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Knowledge {
    pub(crate) name: Option<String>,
    pub(crate) kind: Option<PartKind>,
    pub(crate) quantity: Option<u32>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) thickness_mm: Option<Option<f64>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) mass_g: Option<Option<f64>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) back_face: Option<Option<String>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) group: Option<Option<String>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) home: Option<Option<Home>>,
    pub(crate) face_shown: Option<Side>,
    pub(crate) turns: Option<Turns>,
    pub(crate) hazards: Option<Vec<Hazard>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) wall_mm: Option<Option<f64>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) inner_depth_mm: Option<Option<f64>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) lift_mm: Option<Option<f64>>,
    pub(crate) back_films: Option<Vec<BackFilm>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) freed_by: Option<Option<FreedBy>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) trim: Option<Option<String>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) storage: Option<Option<StorageRecord>>,
}

/// Tells `null` from nothing.
fn said<'de, T: Deserialize<'de>, D: serde::Deserializer<'de>>(
    from: D,
) -> Result<Option<Option<T>>, D::Error> {
    Option::deserialize(from).map(Some)
}

/// Why a step cannot be done.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub(crate) enum EditError {
    #[error("there is no part {0} any more; it may have been removed in another window")]
    NoSuchPart(PartId),
    #[error("{0} has no place on the board yet; put it there first")]
    NotPlaced(String),
    #[error("{0} has no caption; write one first")]
    NoCaption(String),
    #[error("{field} {problem}")]
    Field {
        field: &'static str,
        problem: String,
    },
}

impl Edit {
    /// What was done, as the history says it.
    pub(crate) fn label(&self, piece: &Piece) -> String {
        let name = |id: &PartId| {
            piece
                .part(id)
                .map_or_else(|| id.to_string(), |p| p.name.clone())
        };
        match self {
            Self::Place { part, turn_deg, .. } => match piece.placement(part) {
                None => format!("put {} on the board", name(part)),
                Some(p) if p.turn_deg != *turn_deg => format!("turn {}", name(part)),
                Some(_) => format!("move {}", name(part)),
            },
            Self::Pin { part, pinned: true } => format!("pin {}", name(part)),
            Self::Pin { part, .. } => format!("let {} loose", name(part)),
            Self::TakeOff { part } => format!("take {} off the board", name(part)),
            Self::Swap { part, with } => format!("swap {} and {}", name(part), name(with)),
            Self::StandIn { part, stand_in } => match stand_in {
                Some(_) => format!("stand-in for {}", name(part)),
                None => format!("no stand-in for {}", name(part)),
            },
            Self::MoveCaption { part, .. } => format!("move the caption of {}", name(part)),
            Self::WriteCaption { part, .. } => format!("caption of {}", name(part)),
            Self::Know { part, .. } => format!("what is known of {}", name(part)),
            Self::Remove { part } => format!("remove {}", name(part)),
            Self::Order { .. } => "order of the parts".into(),
            Self::Layout { .. } => "way of laying out".into(),
            Self::Frame { .. } => "frame".into(),
            Self::KeepOuts { .. } => "places kept free".into(),
            Self::Name { .. } => "name of the piece".into(),
            Self::Device { .. } => "the device".into(),
            Self::Choose { .. } => "choices of the build".into(),
        }
    }

    /// Whether pages must fetch the parts themselves anew, not only where they lie.
    pub(crate) fn changes_parts(&self) -> bool {
        matches!(
            self,
            Self::StandIn { .. }
                | Self::Know { .. }
                | Self::Remove { .. }
                | Self::Order { .. }
                | Self::Name { .. }
                | Self::Device { .. }
        )
    }

    /// Does it.
    ///
    /// # Errors
    /// [`EditError`]; the piece is then half changed and must be dropped.
    pub(crate) fn apply(&self, piece: &mut Piece) -> Result<(), EditError> {
        match self {
            Self::Place {
                part,
                x,
                y,
                turn_deg,
            } => place(piece, part, Pose::new(*x, *y, turn_deg.rem_euclid(360.0))),
            Self::Pin { part, pinned } => {
                placement_of(piece, part)?.pinned = *pinned;
                Ok(())
            }
            Self::TakeOff { part } => {
                known(piece, part)?;
                take_off(piece, part);
                Ok(())
            }
            Self::Swap { part, with } => swap(piece, part, with),
            Self::StandIn { part, stand_in } => {
                if let Some(s) = stand_in {
                    short("stand_in.why", &s.why)?;
                }
                let k = known(piece, part)?;
                piece.parts[k].stand_in.clone_from(stand_in);
                Ok(())
            }
            Self::MoveCaption { part, x, y } => move_caption(piece, part, Point::new(*x, *y)),
            Self::WriteCaption { part, text } => write_caption(piece, part, text),
            Self::Know { part, what } => what.apply(piece, part),
            Self::Remove { part } => {
                let k = known(piece, part)?;
                take_off(piece, part);
                piece.parts.remove(k);
                Ok(())
            }
            Self::Order { parts } => order(piece, parts),
            Self::Layout {
                style,
                spread,
                gap_mm,
                nesting,
            } => {
                let layout = &mut piece.layout;
                layout.style = style.unwrap_or(layout.style);
                layout.spread = spread.unwrap_or(layout.spread);
                layout.gap_mm = gap_mm.unwrap_or(layout.gap_mm);
                layout.nesting = nesting.unwrap_or(layout.nesting);
                Ok(())
            }
            Self::Frame {
                frame,
                placements,
                captions,
            } => {
                piece.frame.clone_from(frame);
                if let Some(placements) = placements {
                    piece.placements.clone_from(placements);
                }
                if let Some(captions) = captions {
                    piece.captions.clone_from(captions);
                }
                Ok(())
            }
            Self::KeepOuts { keep_outs } => {
                piece.layout.keep_outs.clone_from(keep_outs);
                Ok(())
            }
            Self::Name { name } => {
                piece.name = named("name", name)?;
                Ok(())
            }
            Self::Device { device } => {
                if let Some(d) = device {
                    named("device.name", &d.name)?;
                    short("device.maker", d.maker.as_deref().unwrap_or_default())?;
                    short("device.year", d.year.as_deref().unwrap_or_default())?;
                }
                piece.device.clone_from(device);
                Ok(())
            }
            Self::Choose { choices } => {
                for (field, text) in [
                    ("choices.board", &choices.board),
                    ("choices.backing", &choices.backing),
                ] {
                    short(field, text.as_deref().unwrap_or_default())?;
                }
                piece.choices = (**choices).clone();
                Ok(())
            }
        }
    }
}

/// Does all steps, tells the axes anew where the layout changed, and checks that what came of it is sound.
///
/// # Errors
/// The first step that cannot be done, with its place in the list; or what is unsound.
pub(crate) fn apply_all(piece: &mut Piece, edits: &[Edit]) -> Result<(), (usize, EditError)> {
    for (k, edit) in edits.iter().enumerate() {
        edit.apply(piece).map_err(|e| (k, e))?;
    }
    let last = edits.len().saturating_sub(1);
    piece.check_sound().map_err(|e| {
        let problem = EditError::Field {
            field: "it",
            problem: format!("would not be sound: {e}"),
        };
        (last, problem)
    })?;
    piece.axes = arrange::assembly_axes(piece);
    Ok(())
}

impl Knowledge {
    fn apply(&self, piece: &mut Piece, id: &PartId) -> Result<(), EditError> {
        let k = known(piece, id)?;
        let name = self.name.as_deref().map(|n| named("name", n)).transpose()?;
        for (field, text) in [
            ("back_face", &self.back_face),
            ("group", &self.group),
            ("trim", &self.trim),
        ] {
            short(
                field,
                text.as_ref().and_then(Option::as_deref).unwrap_or(""),
            )?;
        }
        let old_name = piece.parts[k].name.clone();
        let part = &mut piece.parts[k];
        part.kind = self.kind.unwrap_or(part.kind);
        part.quantity = self.quantity.unwrap_or(part.quantity);
        part.face_shown = self.face_shown.unwrap_or(part.face_shown);
        part.turns = self.turns.unwrap_or(part.turns);
        if let Some(v) = self.thickness_mm {
            part.thickness_mm = v;
        }
        if let Some(v) = self.mass_g {
            part.mass_g = v;
        }
        if let Some(v) = self.home {
            part.home = v;
        }
        for (to, said) in [
            (&mut part.wall_mm, self.wall_mm),
            (&mut part.inner_depth_mm, self.inner_depth_mm),
            (&mut part.lift_mm, self.lift_mm),
        ] {
            if let Some(v) = said {
                *to = v;
            }
        }
        if let Some(v) = &self.back_films {
            part.back_films.clone_from(v);
        }
        if let Some(v) = self.freed_by {
            part.freed_by = v;
        }
        if let Some(v) = &self.trim {
            part.trim = v.clone().filter(|t| !t.trim().is_empty());
        }
        if let Some(v) = &self.storage {
            part.storage.clone_from(v);
        }
        if let Some(v) = &self.back_face {
            part.back_face = v.clone().filter(|t| !t.trim().is_empty());
        }
        if let Some(v) = &self.group {
            part.group = v.clone().filter(|t| !t.trim().is_empty());
        }
        if let Some(v) = &self.hazards {
            part.hazards.clone_from(v);
        }
        if let Some(name) = name {
            part.name.clone_from(&name);
            // A caption that said the old name says the new one.
            let says_old = piece
                .caption(id)
                .is_some_and(|c| c.text.replace('\n', " ") == old_name);
            if says_old {
                write_caption(piece, id, &name)?;
            }
        }
        Ok(())
    }
}

fn known(piece: &Piece, id: &PartId) -> Result<usize, EditError> {
    let found = piece.parts.iter().position(|p| p.id == *id);
    found.ok_or_else(|| EditError::NoSuchPart(id.clone()))
}

fn placement_of<'a>(piece: &'a mut Piece, id: &PartId) -> Result<&'a mut Placement, EditError> {
    let k = known(piece, id)?;
    let name = piece.parts[k].name.clone();
    let found = piece.placements.iter_mut().find(|p| p.part == *id);
    found.ok_or(EditError::NotPlaced(name))
}

fn named(field: &'static str, text: &str) -> Result<String, EditError> {
    short(field, text)?;
    let text = text.trim();
    if text.is_empty() {
        let problem = "is empty; give it a name".into();
        return Err(EditError::Field { field, problem });
    }
    Ok(text.to_owned())
}

fn short(field: &'static str, text: &str) -> Result<(), EditError> {
    let problem = if text.chars().count() > MOST_LETTERS {
        format!("is longer than {MOST_LETTERS} letters; shorten it")
    } else if text.chars().any(|c| c.is_control() && c != '\n') {
        "holds control characters; type it again".into()
    } else {
        return Ok(());
    };
    Err(EditError::Field { field, problem })
}

fn take_off(piece: &mut Piece, id: &PartId) {
    piece.placements.retain(|p| p.part != *id);
    piece.captions.retain(|c| c.part != *id);
}

/// Moves a part; its caption goes with it where it lies beside it, and the leader's end where it is led.
fn place(piece: &mut Piece, id: &PartId, to: Pose) -> Result<(), EditError> {
    let k = known(piece, id)?;
    let outline = piece.parts[k].shown_outline();
    let after = outline.bounds().centre();
    let Some(placement) = piece.placements.iter_mut().find(|p| p.part == *id) else {
        piece.placements.push(Placement {
            part: id.clone(),
            x: to.x,
            y: to.y,
            turn_deg: to.turn_deg,
            pinned: false,
        });
        sort_like_parts(piece);
        return Ok(());
    };
    let from = placement.board_from_part();
    (placement.x, placement.y, placement.turn_deg) = (to.x, to.y, to.turn_deg);
    let by = to.apply(after) - from.apply(after);
    if let Some(caption) = piece.captions.iter_mut().find(|c| c.part == *id) {
        if caption.leader.is_empty() {
            caption.x += by.x;
            caption.y += by.y;
        } else if let Some(end) = caption.leader.last_mut() {
            // The end stays at its place on the part.
            *end = to.apply(from.inverse().apply(*end));
        }
    }
    Ok(())
}

fn sort_like_parts(piece: &mut Piece) {
    let rank = |id: &PartId| piece.parts.iter().position(|p| p.id == *id);
    piece.placements.sort_by_key(|p| rank(&p.part));
    piece.captions.sort_by_key(|c| rank(&c.part));
}

fn swap(piece: &mut Piece, id: &PartId, with: &PartId) -> Result<(), EditError> {
    let (a, b) = (known(piece, id)?, known(piece, with)?);
    let centre_of = |piece: &Piece, k: usize| {
        let part = &piece.parts[k];
        let placement = piece.placement(&part.id)?;
        let middle = part.shown_outline().bounds().centre();
        Some(placement.board_from_part().apply(middle))
    };
    let Some(place_a) = centre_of(piece, a) else {
        return Err(EditError::NotPlaced(piece.parts[a].name.clone()));
    };
    let place_b = centre_of(piece, b);
    put_centre(piece, b, place_a)?;
    match place_b {
        Some(place) => put_centre(piece, a, place),
        None => {
            take_off(piece, id);
            Ok(())
        }
    }
}

/// Puts a part's middle at a point, turned as it is, or as its home has it.
fn put_centre(piece: &mut Piece, k: usize, at: Point) -> Result<(), EditError> {
    let part = &piece.parts[k];
    let turn_deg = piece
        .placement(&part.id)
        .map(|p| p.turn_deg)
        .or(part.home.map(|h| h.turn_deg))
        .unwrap_or(0.0);
    let middle = part.shown_outline().bounds().centre();
    let id = part.id.clone();
    place(piece, &id, Pose::bringing(middle, at, turn_deg))
}

fn order(piece: &mut Piece, ids: &[PartId]) -> Result<(), EditError> {
    let mut left = std::mem::take(&mut piece.parts);
    let mut sorted = Vec::with_capacity(left.len());
    for id in ids {
        let Some(k) = left.iter().position(|p| p.id == *id) else {
            return Err(EditError::NoSuchPart(id.clone()));
        };
        sorted.push(left.remove(k));
    }
    // Parts that this window did not know of yet stay at the end.
    sorted.append(&mut left);
    piece.parts = sorted;
    sort_like_parts(piece);
    Ok(())
}

fn move_caption(piece: &mut Piece, id: &PartId, to: Point) -> Result<(), EditError> {
    let k = known(piece, id)?;
    let name = piece.parts[k].name.clone();
    let outline = piece.placement(id).map(|p| {
        let outline = piece.parts[k].shown_outline();
        outline.placed(p.board_from_part())
    });
    let Some(caption) = piece.captions.iter_mut().find(|c| c.part == *id) else {
        return Err(EditError::NoCaption(name));
    };
    (caption.x, caption.y) = (to.x, to.y);
    let Some(outline) = outline else {
        return Ok(());
    };
    let (bounds, on) = (caption.bounds(), outline.bounds());
    if bounds.distance_mm(on) <= BESIDE_MM {
        caption.leader.clear();
        return Ok(());
    }
    let end = match caption.leader.last() {
        Some(&end) if outline.contains(end) => end,
        _ => inner_point(&outline),
    };
    caption.leader = vec![leave(bounds, end), end];
    Ok(())
}

/// A point of the part's material: its centroid where that is one, else the middle of the widest stretch of material
/// on the level of the centroid.
pub(crate) fn inner_point(outline: &shape::Outline) -> Point {
    let centroid = outline.centroid();
    if outline.contains(centroid) {
        return centroid;
    }
    let mut crossings: Vec<f64> = outline
        .rings()
        .flat_map(|ring| {
            let points = ring.points();
            (0..points.len()).filter_map(move |i| {
                let (a, b) = (points[i], points[(i + 1) % points.len()]);
                ((a.y > centroid.y) != (b.y > centroid.y))
                    .then(|| a.x + (centroid.y - a.y) * (b.x - a.x) / (b.y - a.y))
            })
        })
        .collect();
    crossings.sort_by(f64::total_cmp);
    crossings
        .chunks_exact(2)
        .max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])))
        .map_or(centroid, |c| Point::new(0.5 * (c[0] + c[1]), centroid.y))
}

/// Where a leader leaves a caption's box towards a point: the middle of the side that looks there.
fn leave(bounds: shape::Bounds, to: Point) -> Point {
    let c = bounds.centre();
    let d: Vector = to - c;
    if d.x.abs() * bounds.height_mm() >= d.y.abs() * bounds.width_mm() {
        let x = if d.x > 0.0 {
            bounds.max.x
        } else {
            bounds.min.x
        };
        Point::new(x, c.y)
    } else {
        let y = if d.y > 0.0 {
            bounds.max.y
        } else {
            bounds.min.y
        };
        Point::new(c.x, y)
    }
}

fn write_caption(piece: &mut Piece, id: &PartId, text: &str) -> Result<(), EditError> {
    let k = known(piece, id)?;
    short("caption", text)?;
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let text = lines.join("\n").trim().to_owned();
    if text.is_empty() {
        piece.captions.retain(|c| c.part != *id);
        return Ok(());
    }
    let missing = set_line(&text.replace('\n', " "), Face::Regular, 3.5).missing;
    if !missing.is_empty() {
        let letters: String = missing.iter().collect();
        return Err(EditError::Field {
            field: "caption",
            problem: format!("has letters that the font lacks ({letters}); write it without them"),
        });
    }
    let Some(placement) = piece.placement(id) else {
        return Err(EditError::NotPlaced(piece.parts[k].name.clone()));
    };
    let on = piece.parts[k]
        .shown_outline()
        .placed(placement.board_from_part())
        .bounds();
    let letter_mm = piece
        .caption(id)
        .and_then(|c| c.letter_mm)
        .unwrap_or_else(|| letter_height_mm(arrange::Options::default().viewing_distance_m));
    let [w, h] = size_of(&text, k + 1, letter_mm);
    match piece.captions.iter_mut().find(|c| c.part == *id) {
        Some(caption) => {
            // The first line stays where it is read.
            caption.y += caption.h - h;
            (caption.w, caption.h, caption.text) = (w, h, text);
        }
        None => {
            piece.captions.push(Caption {
                part: id.clone(),
                text,
                x: on.centre().x - 0.5 * w,
                y: on.min.y - 0.6 * letter_mm - h,
                w,
                h,
                letter_mm: Some(letter_mm),
                leader: Vec::new(),
            });
            sort_like_parts(piece);
        }
    }
    Ok(())
}

/// Width and height of a caption's box, mm, its item number before the first line.
fn size_of(text: &str, number: usize, letter_mm: f64) -> [f64; 2] {
    let mut w = 0.0f64;
    let mut n_lines = 0;
    for (row, line) in text.lines().enumerate() {
        let shown = if row == 0 {
            format!("{number}  {line}")
        } else {
            line.to_owned()
        };
        w = w.max(RealFont.line_width_mm(&shown, letter_mm));
        n_lines += 1;
    }
    [w, RealFont.block_height_mm(n_lines, letter_mm)]
}
