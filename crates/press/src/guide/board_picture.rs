//! The board in small: the parts of one step in place, the rest faint.

use crate::drawing::{Align, Compose};
use crate::preview::{CutoutImage, checked_picture, tone};
use crate::{Affine, Group, Ink, Item, Path, PressError, Stroke};
use lettering::{Face, set_line};
use piece::{PartId, Piece};
use shape::{Bounds, Outline, Point};
use std::collections::{BTreeMap, BTreeSet};

/// Lines and ground of the small boards.
const GROUND: Ink = Ink::rgb(250, 248, 243);
const RIM: Ink = Ink::rgb(150, 142, 130);
const FAINT: Ink = Ink::rgb(188, 181, 170);
const EDGE: Ink = Ink::rgb(56, 48, 40);

/// Everything that the pictures of all steps share.
pub(super) struct Board<'a> {
    piece: &'a Piece,
    outlines: Vec<(&'a PartId, usize, Outline)>,
    pictures: BTreeMap<&'a PartId, &'a CutoutImage>,
}

impl<'a> Board<'a> {
    pub(super) fn new(piece: &'a Piece, cutouts: &'a [CutoutImage]) -> Self {
        let numbers = piece.item_numbers();
        let outlines = piece
            .outlines_on_board()
            .into_iter()
            .map(|(part, o)| (&part.id, numbers.get(&part.id).copied().unwrap_or(0), o))
            .collect();
        Self {
            piece,
            outlines,
            pictures: cutouts.iter().map(|c| (&c.part, c)).collect(),
        }
    }

    /// Height of a picture of that width, mm.
    pub(super) fn height_mm(&self, width_mm: f64) -> f64 {
        let window = self.piece.frame.window();
        width_mm * window.height_mm() / window.width_mm()
    }

    /// Whether any of the parts lies on the board.
    pub(super) fn shows(&self, parts: &[PartId]) -> bool {
        self.outlines.iter().any(|(id, _, _)| parts.contains(id))
    }

    pub(super) fn all(&self) -> Vec<PartId> {
        self.outlines
            .iter()
            .map(|(id, _, _)| (*id).clone())
            .collect()
    }

    /// The parts' numbers and names, for words beside a picture.
    pub(super) fn names(&self, parts: &[PartId]) -> Vec<(usize, &'a str)> {
        let mut names: Vec<(usize, &str)> = self
            .piece
            .parts
            .iter()
            .enumerate()
            .filter(|(_, p)| parts.contains(&p.id))
            .map(|(n, p)| (n + 1, p.name.as_str()))
            .collect();
        names.sort_unstable();
        names
    }

    /// Draws the window in a box of its ratio.
    ///
    /// # Errors
    /// [`PressError::Pixels`]: a picture whose data do not fit its size.
    pub(super) fn draw(
        &self,
        items: &mut Vec<Item>,
        place: Bounds,
        parts: &[PartId],
    ) -> Result<(), PressError> {
        let window = self.piece.frame.window();
        let scale = place.width_mm() / window.width_mm();
        let map = Affine {
            xx: scale,
            xy: 0.0,
            x0: place.min.x - scale * window.min.x,
            yx: 0.0,
            yy: scale,
            y0: place.min.y - scale * window.min.y,
        };
        let shown: BTreeSet<&PartId> = parts.iter().collect();
        items.fill(Path::rectangle(place), GROUND);
        items.stroke(Path::rectangle(place), Stroke::continuous(0.25, RIM));
        let at = |o: &Outline| Path::outline(o).mapped(|p| map.apply(p));
        for (_, _, outline) in self.outlines.iter().filter(|o| !shown.contains(o.0)) {
            items.stroke(at(outline), Stroke::continuous(0.13, FAINT).rounded());
        }
        for (id, _, outline) in self.outlines.iter().filter(|o| shown.contains(o.0)) {
            let Some(part) = self.piece.part(id) else {
                continue;
            };
            match self.pictures.get(*id) {
                Some(image) => {
                    let pose = self.piece.placement(id).map_or_else(
                        || shape::Pose::new(0.0, 0.0, 0.0),
                        piece::Placement::board_from_part,
                    );
                    let turned = Affine::turned(pose.turn_deg, pose.apply(Point::default()));
                    let picture = checked_picture(image, map.after(turned))?;
                    items.push(Item::Group(Group {
                        outer_from_inner: Affine::IDENTITY,
                        clip: Some(Path::rectangle(place)),
                        opacity: 1.0,
                        id: None,
                        items: vec![Item::Picture(picture)],
                    }));
                }
                None => {
                    let [r, g, b] = tone(part.kind);
                    items.fill(at(outline), Ink::rgb(r, g, b));
                }
            }
            items.stroke(at(outline), Stroke::continuous(0.18, EDGE).rounded());
        }
        let mut taken: Vec<Bounds> = Vec::new();
        for (_, number, outline) in self.outlines.iter().filter(|o| shown.contains(o.0)) {
            draw_number(items, *number, map.apply(outline.centroid()), &mut taken);
        }
        Ok(())
    }
}

/// A number on a small light disc, moved aside where another stands.
fn draw_number(items: &mut Vec<Item>, number: usize, centre: Point, taken: &mut Vec<Bounds>) {
    const CAP_MM: f64 = 1.7;
    let line = set_line(&number.to_string(), Face::SemiBold, CAP_MM);
    let half = (0.5 * line.width_mm + 0.9).max(1.7);
    let own = |c: Point| {
        let d = shape::Vector::new(half, 1.7);
        Bounds::between(c - d, c + d)
    };
    let steps = [
        (0.0, 0.0),
        (0.0, 3.6),
        (0.0, -3.6),
        (2.0 * half + 0.4, 0.0),
        (-2.0 * half - 0.4, 0.0),
    ];
    let free = steps
        .iter()
        .map(|&(dx, dy)| Point::new(centre.x + dx, centre.y + dy))
        .find(|&c| !taken.iter().any(|t| t.distance_mm(own(c)) <= 0.0))
        .unwrap_or(centre);
    taken.push(own(free));
    items.fill(Path::rounded_rectangle(own(free), 1.7), Ink::WHITE.at(0.92));
    items.stroke(
        Path::rounded_rectangle(own(free), 1.7),
        Stroke::continuous(0.15, EDGE),
    );
    let at = Point::new(free.x, free.y - 0.5 * CAP_MM);
    items.text(line, at, Align::Centre, EDGE);
}
