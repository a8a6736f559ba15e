//! Cells: what the composition moves. A cell is one part with its caption, or a row of small alike
//! parts (screws) that share one caption.

use crate::alike::{alike, common_name};
use crate::fit::turned_to_fit;
use crate::group::make_group;
use crate::lettering_size::MeasureText;
use crate::spacing::Spacing;
use piece::{Part, Piece, Style};
use shape::{Bounds, Outline, Point, Pose, Vector};
use std::collections::{BTreeMap, BTreeSet};

/// Longest row of small parts before it folds.
const ROW: usize = 6;

/// A part as it will lie: turned, not yet shifted.
#[derive(Debug, Clone)]
pub(crate) struct TurnedPart {
    /// Place in the piece's list.
    pub(crate) index: usize,
    pub(crate) turn_deg: f64,
    /// Shown outline, turned about the part's own origin.
    pub(crate) outline: Outline,
    pub(crate) bounds: Bounds,
}

impl TurnedPart {
    pub(crate) fn new(index: usize, part: &Part, extra_turn_deg: f64) -> Self {
        let turn_deg = (part.home.map_or(0.0, |h| h.turn_deg) + extra_turn_deg).rem_euclid(360.0);
        let outline = part.shown_outline().placed(Pose::new(0.0, 0.0, turn_deg));
        let bounds = outline.bounds();
        Self {
            index,
            turn_deg,
            outline,
            bounds,
        }
    }
}

/// A caption's lines and the size of their box.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct TextBlock {
    /// Place of the part it belongs to in the piece's list.
    pub(crate) part: usize,
    pub(crate) text: String,
    pub(crate) w: f64,
    pub(crate) h: f64,
}

/// A caption inside the body of a group, and the part of the body that it names; from the body's lower-left
/// corner.
#[derive(Debug, Clone)]
pub(crate) struct InnerCaption {
    pub(crate) block: TextBlock,
    pub(crate) at: Vector,
    pub(crate) names: Bounds,
}

impl TextBlock {
    /// No text: nothing is said of that part.
    pub(crate) fn none(part: usize) -> Self {
        Self {
            part,
            text: String::new(),
            w: 0.0,
            h: 0.0,
        }
    }
}

/// Where a cell's body sits in the device.
#[derive(Debug, Clone, Copy)]
pub(crate) struct HomeBox {
    pub(crate) bounds: Bounds,
}

/// One thing that the composition moves.
#[derive(Debug, Clone)]
pub(crate) struct Cell {
    /// Parts and where each one's box lies from the body's lower-left corner.
    pub(crate) members: Vec<(TurnedPart, Vector)>,
    /// Width and height of the parts' common box, mm.
    pub(crate) body: [f64; 2],
    /// Below the body; of a group that has its captions inside, and of a part whose name an equal one says, the
    /// text is empty.
    pub(crate) caption: TextBlock,
    /// Captions inside the body of a group.
    pub(crate) inner: Vec<InnerCaption>,
    /// The group's name where the cell is one.
    pub(crate) group: Option<String>,
    pub(crate) home: Option<HomeBox>,
    /// Where in the run it comes: its layer, and for homeless parts one of the layers behind all.
    pub(crate) layer: u32,
    /// Visual weight: area of material, mm2.
    pub(crate) weight: f64,
}

/// The caption's text: the name that the parts share, and how many there are where it is more than
/// one.
pub(crate) fn caption_text<'a>(parts: impl Iterator<Item = &'a Part> + Clone) -> String {
    let names: Vec<&str> = parts.clone().map(|p| p.name.as_str()).collect();
    let quantity = parts.map(|p| p.quantity as usize).max().unwrap_or(1);
    let count = names.len().max(quantity);
    let name = common_name(&names);
    if count > 1 {
        format!("{name} ({count})")
    } else {
        name
    }
}

/// Breaks a caption so that it is about as wide as its part, and measures it. The item number stands
/// before the first line and is measured with it.
pub(crate) fn set_caption(
    index: usize,
    text: &str,
    beside_mm: f64,
    letter_mm: f64,
    measure: &dyn MeasureText,
) -> TextBlock {
    let number = format!("{}  ", index + 1);
    let words: Vec<&str> = text.split(' ').filter(|w| !w.is_empty()).collect();
    let width = |line: &str| measure.line_width_mm(line, letter_mm);
    // Lines shorter than this look chopped.
    let wish = beside_mm.max(9.0 * letter_mm);
    let break_at = |limit: f64| {
        let mut lines = vec![number.trim_end().to_owned()];
        for word in &words {
            let last = lines.len() - 1;
            let joint = if last == 0 && lines[0] == number.trim_end() {
                "  "
            } else {
                " "
            };
            let tried = format!("{}{joint}{word}", lines[last]);
            if width(&tried) <= limit || lines[last] == number.trim_end() {
                lines[last] = tried;
            } else {
                lines.push((*word).to_owned());
            }
        }
        lines
    };
    let mut lines = break_at(wish);
    // A caption of one short line too many reads worse than a slightly wider one.
    if lines.len() > 1 {
        let wider = break_at(wish * 1.25);
        if wider.len() < lines.len() {
            lines = wider;
        }
    }
    let w = lines.iter().map(|l| width(l)).fold(0.0, f64::max);
    let h = measure.block_height_mm(lines.len(), letter_mm);
    lines[0] = lines[0]
        .strip_prefix(number.trim_end())
        .unwrap_or(&lines[0])
        .trim_start()
        .to_owned();
    TextBlock {
        part: index,
        text: lines.join("\n"),
        w,
        h,
    }
}

/// Makes cells of the parts that are to be placed, in the order in which they run.
pub(crate) fn make_cells(
    piece: &Piece,
    movable: &BTreeSet<usize>,
    spacing: &Spacing,
    measure: &dyn MeasureText,
    join_alike: bool,
) -> Vec<Cell> {
    let field = piece.frame.field();
    let with_homes = piece.layout.style == Style::Exploded;
    let last_layer = piece
        .parts
        .iter()
        .filter(|_| with_homes)
        .filter_map(|p| p.home.map(|h| h.layer))
        .max();
    let turned: Vec<TurnedPart> = movable
        .iter()
        .map(|&i| turned_to_fit(i, &piece.parts[i], field))
        .collect();
    let layer_of = |i: usize| {
        let part = &piece.parts[i];
        match part.home.filter(|_| with_homes) {
            Some(home) => home.layer,
            // Behind all layers, kind by kind.
            None => last_layer
                .map_or(0, |l| l.saturating_add(1))
                .saturating_add(part.kind as u32),
        }
    };

    let mut rows: Vec<Vec<TurnedPart>> = Vec::new();
    for part in turned {
        let p = &piece.parts[part.index];
        let row = rows.iter_mut().find(|row| {
            let first = &piece.parts[row[0].index];
            first.group == p.group
                && layer_of(row[0].index) == layer_of(part.index)
                && alike(first, p)
        });
        match row {
            Some(row) => row.push(part),
            None => rows.push(vec![part]),
        }
    }

    let mut cells: Vec<Cell> = Vec::new();
    let mut groups: BTreeMap<&str, Vec<Cell>> = BTreeMap::new();
    for parts in rows {
        let index = parts[0].index;
        let layer = layer_of(index);
        let text = caption_text(parts.iter().map(|p| &piece.parts[p.index]));
        let caption = |beside_mm| set_caption(index, &text, beside_mm, spacing.letter_mm, measure);
        let made: Vec<Cell> = if join_alike {
            vec![make_cell(piece, parts, layer, with_homes, spacing, caption)]
        } else {
            // Each for itself; the first of equal ones says what all are called.
            let one = |part| make_cell(piece, vec![part], layer, with_homes, spacing, caption);
            let mut each: Vec<Cell> = parts.into_iter().map(one).collect();
            for cell in each.iter_mut().skip(1) {
                cell.caption = TextBlock::none(cell.caption.part);
            }
            each
        };
        match piece.parts[index].group.as_deref() {
            Some(group) => groups.entry(group).or_default().extend(made),
            None => cells.extend(made),
        }
    }
    for (name, members) in groups {
        if members.len() > 1 {
            cells.push(make_group(name, members, field, spacing));
        } else {
            cells.extend(members);
        }
    }
    cells.sort_by(|a, b| {
        let big = |c: &Cell| if c.home.is_none() { -c.weight } else { 0.0 };
        a.layer
            .cmp(&b.layer)
            .then(big(a).total_cmp(&big(b)))
            .then(a.members[0].0.index.cmp(&b.members[0].0.index))
    });
    cells
}

fn make_cell(
    piece: &Piece,
    mut parts: Vec<TurnedPart>,
    layer: u32,
    with_homes: bool,
    spacing: &Spacing,
    caption: impl Fn(f64) -> TextBlock + Copy,
) -> Cell {
    let home_of = |t: &TurnedPart| {
        piece.parts[t.index].home.filter(|_| with_homes).map(|h| {
            piece.parts[t.index]
                .outline
                .placed(h.device_from_part())
                .bounds()
        })
    };
    let home = parts
        .iter()
        .filter_map(home_of)
        .reduce(Bounds::joined)
        .map(|bounds| HomeBox { bounds });
    let x_of = |t: &TurnedPart| home_of(t).map_or(0.0, |b| b.centre().x);
    let y_of = |t: &TurnedPart| home_of(t).map_or(0.0, |b| b.centre().y);
    let first = parts[0].index;
    // In a row the parts keep their order from left to right; in a stack of rows also from the top.
    if parts.len() > ROW {
        parts.sort_by(|a, b| y_of(b).total_cmp(&y_of(a)).then(a.index.cmp(&b.index)));
    }
    let n_rows = parts.len().div_ceil(ROW);
    let per_row = parts.len().div_ceil(n_rows);
    for row in parts.chunks_mut(per_row) {
        row.sort_by(|a, b| x_of(a).total_cmp(&x_of(b)).then(a.index.cmp(&b.index)));
    }
    let pitch_x = parts
        .iter()
        .map(|p| p.bounds.width_mm())
        .fold(0.0, f64::max)
        + spacing.gap_mm;
    let pitch_y = parts
        .iter()
        .map(|p| p.bounds.height_mm())
        .fold(0.0, f64::max)
        + spacing.gap_mm;
    let single = parts.len() == 1;
    let members: Vec<(TurnedPart, Vector)> = parts
        .into_iter()
        .enumerate()
        .map(|(k, part)| {
            let (col, row) = (k % per_row, k / per_row);
            let at = if single {
                Vector::default()
            } else {
                // Each in the middle of its own square of the row.
                Vector::new(
                    col as f64 * pitch_x
                        + 0.5 * (pitch_x - spacing.gap_mm - part.bounds.width_mm()),
                    (n_rows - 1 - row) as f64 * pitch_y
                        + 0.5 * (pitch_y - spacing.gap_mm - part.bounds.height_mm()),
                )
            };
            (part, at)
        })
        .collect();
    let body = if single {
        [
            members[0].0.bounds.width_mm(),
            members[0].0.bounds.height_mm(),
        ]
    } else {
        [
            per_row as f64 * pitch_x - spacing.gap_mm,
            n_rows as f64 * pitch_y - spacing.gap_mm,
        ]
    };
    let mut text = caption(body[0]);
    text.part = first;
    Cell {
        weight: members.iter().map(|(p, _)| p.outline.area_mm2()).sum(),
        members,
        body,
        caption: text,
        inner: Vec::new(),
        group: None,
        home,
        layer,
    }
}

impl Cell {
    /// It has a caption below its body.
    pub(crate) fn is_captioned(&self) -> bool {
        !self.caption.text.is_empty()
    }

    /// The lower-left corner of each member's box and the member, for a body at `at`.
    pub(crate) fn members_at(&self, at: Point) -> impl Iterator<Item = (&TurnedPart, Point)> {
        self.members.iter().map(move |(part, by)| (part, at + *by))
    }
}
