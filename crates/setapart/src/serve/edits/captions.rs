//! Captions: what they say, where they stand, where their leaders run.

use super::places::sort_like_parts;
use super::{EditError, known, short};
use arrange::{MeasureText, RealFont, letter_height_mm};
use lettering::{Face, set_line};
use piece::{Caption, PartId, Piece};
use shape::{Point, Vector};

/// A caption that is nearer to its part than this needs no leader, mm.
const BESIDE_MM: f64 = 6.0;

pub(super) fn move_caption(piece: &mut Piece, id: &PartId, to: Point) -> Result<(), EditError> {
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

pub(super) fn write_caption(piece: &mut Piece, id: &PartId, text: &str) -> Result<(), EditError> {
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
