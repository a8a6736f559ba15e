//! Cut files: what a machine follows, in mm of the board, one named layer for each kind of cut.

use crate::bond_place::{fills_on_board, holes_in_board};
use crate::{Affine, Drawing, Group, Ink, Item, Path, PressError, Shape, Speech, Stroke, width_mm};
use piece::Piece;
use shape::exact::{ExactPoint, offset_exact};
use shape::tidy::tidy;
use shape::{Bounds, Outline, Point, Vector, mapped};

/// Names of the layers.
pub mod layer {
    /// The parts' outlines where they lie: for stand-ins, recesses and marking.
    pub const OUTLINES: &str = "outlines";
    /// What fills under the parts, where it lies.
    pub const FILLS: &str = "fills";
    /// Holes in the board, for ties, straps and screws.
    pub const BOARD_HOLES: &str = "board_holes";
    /// The opening of a mat, or of anything that lies on the board's edge.
    pub const MAT_WINDOW: &str = "mat_window";
    /// The board's own edge.
    pub const BOARD_EDGE: &str = "board_edge";
}

/// Widest tool, mm.
const MOST_TOOL_MM: f64 = 12.0;

/// What tidying may add where an outline of lines and arcs cannot be moved as it is, mm. Polygons stay polygons, the round
/// joins' chords with them.
const TIDY_MM: f64 = 0.01;

/// What a cut keeps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Keep {
    /// What lies inside the line: the tool runs outside it, and inside its holes.
    Inside,
    /// What lies outside: a hole or a window.
    Outside,
}

/// Width of what the tool takes away: a beam's kerf or a cutter's diameter.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ToolWidth {
    width_mm: f64,
}

impl ToolWidth {
    /// Lines as they are.
    pub const NONE: Self = Self { width_mm: 0.0 };

    /// A tool of that width, mm.
    ///
    /// # Errors
    /// [`PressError::Length`] for a width that is not 0 to 12 mm.
    pub fn try_new(width_mm: f64) -> Result<Self, PressError> {
        if !(0.0..=MOST_TOOL_MM).contains(&width_mm) {
            return Err(PressError::Length {
                what: "the tool's width",
                found_mm: width_mm,
                least_mm: 0.0,
                most_mm: MOST_TOOL_MM,
            });
        }
        Ok(Self { width_mm })
    }

    /// Where the tool's middle runs round something that is kept.
    pub(crate) fn round_kept(self, outline: &Outline) -> Vec<Outline> {
        self.follow(outline, Keep::Inside)
    }

    /// Where the tool's middle runs; nothing where it does not get in.
    fn follow(self, outline: &Outline, keep: Keep) -> Vec<Outline> {
        if self.width_mm == 0.0 {
            return vec![outline.clone()];
        }
        let by_mm = match keep {
            Keep::Inside => 0.5 * self.width_mm,
            Keep::Outside => -0.5 * self.width_mm,
        };
        let moved = offset_exact(outline, by_mm);
        if outline.exact().is_none() {
            return moved;
        }
        // What came apart or lost a corner is tidied, so that it has lines and arcs again.
        let tidied = |moved: Outline| match moved.exact() {
            Some(_) => moved,
            None => tidy(&moved, TIDY_MM).map_or(moved, |tidied| tidied.outline),
        };
        moved.into_iter().map(tidied).collect()
    }
}

/// A cut that is not in the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lost {
    /// The layer.
    pub layer: &'static str,
    /// What is cut there.
    pub what: String,
    /// Why it is not.
    pub why: LostBecause,
}

/// Why a cut is not in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LostBecause {
    /// The tool is too wide for it.
    ToolTooWide,
    /// The build plan's outline of it is none.
    NoOutline,
}

/// What the tool follows lacks the outline, or one of its holes.
pub(crate) fn is_lost(outline: &Outline, followed: &[Outline]) -> bool {
    let rings = |o: &Outline| o.holes().len();
    let holes: usize = followed.iter().map(rings).sum();
    followed.is_empty() || holes < rings(outline)
}

/// Lays out everything that is cut, as a page of the board's own size whose lower-left corner is the board's. The
/// second value names what the tool cannot cut.
///
/// # Errors
/// [`PressError::Length`] for a board of no sensible size.
pub fn lay_out(
    piece: &Piece,
    tool: ToolWidth,
    speech: Speech,
) -> Result<(Drawing, Vec<Lost>), PressError> {
    let words = speech.sheets();
    let board = piece.frame.board();
    let title = format!("{}, {}", piece.name, words.cuts);
    let mut page = Drawing::new(title, board.width_mm(), board.height_mm())?;
    let mut cuts = Cuts {
        tool,
        to_page: Point::default() - board.min,
        lost: Vec::new(),
    };
    let outlines: Vec<(String, Outline)> = piece
        .outlines_on_board()
        .into_iter()
        .map(|(part, outline)| (piece.item_label(part), outline))
        .collect();
    let mut holes = Vec::new();
    for (name, at, diameter) in holes_in_board(piece) {
        match round_hole(at, 0.5 * diameter) {
            Some(hole) => holes.push((name, hole)),
            None => cuts.not_there(layer::BOARD_HOLES, name),
        }
    }
    let fills = fills_on_board(piece);
    for name in fills.unreadable {
        cuts.not_there(layer::FILLS, name);
    }
    let edge = rectangle(board);
    let window = rectangle(piece.frame.window());
    page.items = vec![
        cuts.layer(layer::OUTLINES, Keep::Inside, &outlines),
        cuts.layer(layer::FILLS, Keep::Inside, &fills.outlines),
        cuts.layer(layer::BOARD_HOLES, Keep::Outside, &holes),
        cuts.layer(
            layer::MAT_WINDOW,
            Keep::Outside,
            &named(words.window_of_frame, window),
        ),
        cuts.layer(
            layer::BOARD_EDGE,
            Keep::Inside,
            &named(words.edge_of_board, edge),
        ),
    ];
    Ok((page, cuts.lost))
}

fn named(name: &str, outline: Option<Outline>) -> Vec<(String, Outline)> {
    outline.map(|o| (name.to_owned(), o)).into_iter().collect()
}

fn rectangle(b: Bounds) -> Option<Outline> {
    Outline::rectangle(b.min, b.max).ok()
}

/// A round hole as two arcs; `None` for a radius that no hole can have.
fn round_hole(centre: Point, radius_mm: f64) -> Option<Outline> {
    let side = |dx: f64| ExactPoint {
        at: centre + Vector::new(dx, 0.0),
        bulge: 1.0,
    };
    let ring = vec![side(radius_mm), side(-radius_mm)];
    let exact = shape::exact::ExactOutline::try_new(ring, Vec::new()).ok()?;
    Outline::from_exact(exact).ok()
}

struct Cuts {
    tool: ToolWidth,
    to_page: Vector,
    lost: Vec<Lost>,
}

impl Cuts {
    fn not_there(&mut self, layer: &'static str, what: String) {
        self.lost.push(Lost {
            layer,
            what,
            why: LostBecause::NoOutline,
        });
    }

    fn layer(&mut self, id: &'static str, keep: Keep, cuts: &[(String, Outline)]) -> Item {
        let mut items = Vec::new();
        let followed = mapped(cuts, |(_, outline)| self.tool.follow(outline, keep));
        for ((title, outline), followed) in cuts.iter().zip(followed) {
            if is_lost(outline, &followed) {
                self.lost.push(Lost {
                    layer: id,
                    what: title.clone(),
                    why: LostBecause::ToolTooWide,
                });
            }
            items.extend(followed.iter().map(|moved| {
                Item::Shape(Shape {
                    path: Path::outline(moved).shifted(self.to_page),
                    fill: None,
                    stroke: Some(Stroke::continuous(width_mm::FAINT, Ink::BLACK)),
                    id: None,
                    title: Some(title.clone()),
                })
            }));
        }
        Item::Group(Group {
            outer_from_inner: Affine::IDENTITY,
            clip: None,
            opacity: 1.0,
            id: Some(id.to_owned()),
            items,
        })
    }
}
