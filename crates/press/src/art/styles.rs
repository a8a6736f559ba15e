//! Our own four styles.

use super::shade::shadows;
use super::{Palette, Silhouettes, Style};
use crate::caption::draw_axes;
use crate::drawing::Compose;
use crate::plaque::room_on_board;
use crate::preview::shadow::Cast;
use crate::{Ink, Item, Path, Stroke, width_mm};
use piece::{Part, Piece};
use shape::{Bounds, Outline, Point, Vector, offset};

/// Height that a part is thought to have where nobody measured it, mm.
const UNKNOWN_HEIGHT_MM: f64 = 2.0;

/// Words against their ground have a contrast of 4.5 or more (WCAG 2.1, 1.4.3); a test works it out.
pub(super) const fn palette(style: Style) -> Palette {
    match style {
        Style::Quiet => Palette {
            words: Ink::rgb(44, 42, 40),
            quiet: Ink::rgb(96, 91, 86),
            leader: Ink::rgb(110, 104, 98),
            silhouette: Ink::rgb(58, 50, 42),
            ground: Ink::WHITE,
        },
        Style::Terraces => Palette {
            words: Ink::rgb(58, 40, 28),
            quiet: Ink::rgb(104, 78, 60),
            leader: Ink::rgb(122, 94, 74),
            silhouette: Ink::rgb(205, 178, 150),
            ground: Ink::rgb(249, 243, 234),
        },
        Style::Draught => Palette {
            words: Ink::rgb(24, 58, 104),
            quiet: Ink::rgb(66, 98, 140),
            leader: Ink::rgb(66, 98, 140),
            silhouette: Ink::rgb(38, 76, 128),
            ground: Ink::rgb(250, 251, 253),
        },
        Style::Night => Palette {
            words: Ink::rgb(238, 232, 220),
            quiet: Ink::rgb(186, 180, 170),
            leader: Ink::rgb(170, 166, 158),
            silhouette: Ink::rgb(196, 186, 166),
            ground: Ink::rgb(29, 33, 40),
        },
    }
}

/// Draws what lies behind the parts.
pub(super) fn draw(
    items: &mut Vec<Item>,
    style: Style,
    piece: &Piece,
    outlines: &[(&Part, Outline)],
    inked: Bounds,
) {
    let palette = palette(style);
    match style {
        Style::Quiet => {
            // A frame of one fine line just inside the window.
            let window = piece.frame.window();
            let inset = piece.frame.spacer_width_mm + 2.0;
            let line = Stroke::continuous(width_mm::FAINT, palette.leader.at(0.55));
            items.stroke(Path::rectangle(window.grown(-inset)), line);
            draw_axes(items, piece, palette.leader.at(0.6));
        }
        Style::Terraces => {
            items.fill(Path::rectangle(inked), palette.ground);
            let all: Vec<Outline> = outlines.iter().map(|(_, o)| coarse(o)).collect();
            // Each step is wider than the one above it, as terraces on a slope are.
            for (by_mm, tone) in [
                (26.0, [245, 235, 221]),
                (15.0, [240, 226, 207]),
                (7.5, [233, 214, 191]),
                (3.0, [224, 201, 174]),
            ] {
                let [r, g, b] = tone;
                for step in offset(&all, by_mm) {
                    items.fill(Path::outline(&step), Ink::rgb(r, g, b));
                }
            }
            draw_axes(items, piece, palette.leader.at(0.8));
        }
        Style::Draught => {
            items.fill(Path::rectangle(inked), palette.ground);
            draw_field_of_crosses(items, piece, palette.silhouette.at(0.30));
            draw_sheet_border(items, piece, palette);
            draw_centre_lines(items, piece, outlines, palette.silhouette.at(0.75));
            draw_axes(items, piece, palette.silhouette);
        }
        Style::Night => {
            items.fill(Path::rectangle(inked), palette.ground);
            draw_axes(items, piece, palette.leader.at(0.7));
        }
    }
}

/// An outline with fewer points: what a terrace millimetres away cannot show.
fn coarse(outline: &Outline) -> Outline {
    const STEP_MM: f64 = 0.8;
    let thinned = |points: &[Point]| {
        let mut kept: Vec<Point> = Vec::new();
        for &p in points {
            if kept
                .last()
                .is_none_or(|last| last.distance_mm(p) >= STEP_MM)
            {
                kept.push(p);
            }
        }
        kept
    };
    let holes = outline.holes().iter().map(|h| thinned(h.points()));
    let holes = holes.filter(|h| h.len() > 2).collect();
    Outline::try_new(thinned(outline.outer().points()), holes).unwrap_or_else(|_| outline.clone())
}

/// The stretches where words stand, a little grown.
fn words_of(piece: &Piece) -> Vec<Bounds> {
    let captions = piece.captions.iter().map(|c| c.bounds().grown(0.8));
    captions.chain([room_on_board(piece)]).collect()
}

/// Small crosses 10 mm apart from the window's centre.
fn draw_field_of_crosses(items: &mut Vec<Item>, piece: &Piece, ink: Ink) {
    const STEP_MM: f64 = 10.0;
    const ARM_MM: f64 = 0.8;
    let field = piece
        .frame
        .window()
        .grown(-piece.frame.spacer_width_mm - 7.0);
    let centre = field.centre();
    let reach = |half_mm: f64| (half_mm / STEP_MM).floor() as i32;
    let (nx, ny) = (
        reach(0.5 * field.width_mm()),
        reach(0.5 * field.height_mm()),
    );
    let words = words_of(piece);
    let mut crosses = Path::default();
    for i in -nx..=nx {
        for j in -ny..=ny {
            let at = centre + Vector::new(STEP_MM * f64::from(i), STEP_MM * f64::from(j));
            let reach = Bounds::between(at, at).grown(ARM_MM);
            if words.iter().any(|w| w.distance_mm(reach) <= 0.0) {
                continue;
            }
            for arm in [Vector::new(ARM_MM, 0.0), Vector::new(0.0, ARM_MM)] {
                crosses.append(Path::line(at - arm, at + arm));
            }
        }
    }
    items.stroke(crosses, Stroke::continuous(width_mm::FAINT, ink));
}

/// A border of two lines with ticks at the sheet's middles, as on a drawing sheet.
fn draw_sheet_border(items: &mut Vec<Item>, piece: &Piece, palette: Palette) {
    let spacer_mm = piece.frame.spacer_width_mm;
    let outer = piece.frame.window().grown(-spacer_mm - 1.2);
    let inner = outer.grown(-1.6);
    items.stroke(
        Path::rectangle(outer),
        Stroke::continuous(width_mm::FAINT, palette.silhouette),
    );
    items.stroke(
        Path::rectangle(inner),
        Stroke::continuous(width_mm::WIDE, palette.silhouette),
    );
    let c = inner.centre();
    for (from, to) in [
        (
            Point::new(c.x, outer.min.y),
            Point::new(c.x, inner.min.y + 2.0),
        ),
        (
            Point::new(c.x, outer.max.y),
            Point::new(c.x, inner.max.y - 2.0),
        ),
        (
            Point::new(outer.min.x, c.y),
            Point::new(inner.min.x + 2.0, c.y),
        ),
        (
            Point::new(outer.max.x, c.y),
            Point::new(inner.max.x - 2.0, c.y),
        ),
    ] {
        let tick = Stroke::continuous(width_mm::MEDIUM, palette.silhouette);
        items.stroke(Path::line(from, to), tick);
    }
}

/// Centre lines of round holes and of parts, long-dashed dotted, a little beyond the edge (ISO 128 practice).
fn draw_centre_lines(
    items: &mut Vec<Item>,
    piece: &Piece,
    outlines: &[(&Part, Outline)],
    ink: Ink,
) {
    let words = words_of(piece);
    let free = |from: Point, to: Point| {
        let b = Bounds::between(from, to);
        !words.iter().any(|w| w.distance_mm(b) <= 0.0)
    };
    for (_, outline) in outlines {
        let b = outline.bounds();
        let c = b.centre();
        let beyond = 2.2;
        for (from, to) in [
            (Point::new(c.x, b.min.y - beyond), Point::new(c.x, b.min.y)),
            (Point::new(c.x, b.max.y), Point::new(c.x, b.max.y + beyond)),
            (Point::new(b.min.x - beyond, c.y), Point::new(b.min.x, c.y)),
            (Point::new(b.max.x, c.y), Point::new(b.max.x + beyond, c.y)),
        ] {
            if free(from, to) {
                let stub = Stroke::continuous(width_mm::FAINT, ink);
                items.stroke(Path::line(from, to), stub);
            }
        }
        for hole in outline.holes() {
            let b = hole.bounds();
            let (w, h) = (b.width_mm(), b.height_mm());
            let area = hole.signed_area_mm2().abs();
            let round = (w - h).abs() < 0.06 * w
                && (area / (std::f64::consts::FRAC_PI_4 * w * h) - 1.0).abs() < 0.04;
            if !round || w < 6.0 {
                continue;
            }
            let (c, reach) = (b.centre(), 0.5 * w + 1.6);
            for arm in [Vector::new(reach, 0.0), Vector::new(0.0, reach)] {
                let line = Stroke::long_dash_dot(width_mm::FAINT, ink);
                items.stroke(Path::line(c - arm, c + arm), line);
            }
        }
    }
}

/// Draws the parts' silhouettes.
pub(super) fn draw_silhouettes(
    items: &mut Vec<Item>,
    silhouettes: Silhouettes,
    palette: Palette,
    outlines: &[(&Part, Outline)],
    inked: Bounds,
) {
    match silhouettes {
        Silhouettes::None => {}
        Silhouettes::Hairline => {
            // Just outside the part, so that it shows round a part that lies on it.
            for (_, outline) in outlines {
                for line in offset(std::slice::from_ref(outline), 0.6) {
                    let stroke = Stroke::continuous(width_mm::NARROW, palette.silhouette);
                    items.stroke(Path::outline(&line), stroke.rounded());
                }
            }
        }
        Silhouettes::Fill => {
            for (_, outline) in outlines {
                for tone in offset(std::slice::from_ref(outline), 1.2) {
                    items.fill(Path::outline(&tone), palette.silhouette);
                }
            }
        }
        Silhouettes::Shadow => {
            let casts: Vec<(&Outline, Cast)> = outlines
                .iter()
                .map(|(part, outline)| {
                    let h = part
                        .thickness_mm
                        .unwrap_or(UNKNOWN_HEIGHT_MM)
                        .clamp(0.5, 15.0);
                    let cast = Cast {
                        offset: Vector::new(0.5 + 0.22 * h, -0.6 - 0.30 * h),
                        blur_mm: 0.8 + 0.24 * h,
                        strength: 0.34,
                    };
                    (outline, cast)
                })
                .collect();
            items.extend(shadows(&casts, palette.silhouette, inked));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast as WCAG 2.1 defines them.
    fn contrast(a: Ink, b: Ink) -> f64 {
        let luminance = |ink: Ink| {
            let [r, g, b] = ink.to_rgb().map(|v| {
                let v = f64::from(v) / 255.0;
                if v <= 0.04045 {
                    v / 12.92
                } else {
                    ((v + 0.055) / 1.055).powf(2.4)
                }
            });
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn words_stand_out_from_every_ground() {
        // Terraces: words may lie on any step.
        for style in [Style::Quiet, Style::Terraces, Style::Draught, Style::Night] {
            let p = palette(style);
            let mut grounds = vec![p.ground];
            if style == Style::Terraces {
                grounds.push(Ink::rgb(224, 201, 174));
            }
            for ground in grounds {
                for words in [p.words, p.quiet] {
                    let found = contrast(words, ground);
                    assert!(found >= 4.5, "{style:?}: {found}");
                }
            }
        }
    }
}
