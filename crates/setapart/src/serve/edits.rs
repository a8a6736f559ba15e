//! What people do to a piece, one small step each, as data.
//!
//! A page sends what was done, and on which revision; the store puts what two windows did together.

mod captions;
mod knowledge;
mod places;

pub(crate) use captions::inner_point;
pub(crate) use knowledge::Knowledge;

use captions::{move_caption, write_caption};
use piece::{
    BuildChoices, Caption, Device, Frame, KeepOut, PartId, Piece, Placement, Spread, StandIn, Style,
};
use places::{order, place, placement_of, swap, take_off};
use serde::{Deserialize, Serialize};
use shape::{Point, Pose};

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

fn known(piece: &Piece, id: &PartId) -> Result<usize, EditError> {
    let found = piece.parts.iter().position(|p| p.id == *id);
    found.ok_or_else(|| EditError::NoSuchPart(id.clone()))
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
