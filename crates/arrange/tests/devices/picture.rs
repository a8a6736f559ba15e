//! Draws a layout as SVG, to look at.

use piece::{PartKind, Piece};
use shape::Bounds;
use std::fmt::Write;

fn fill(kind: PartKind) -> &'static str {
    match kind {
        PartKind::Shell => "#8f8a7f",
        PartKind::Display => "#39424e",
        PartKind::Board => "#5b7a5e",
        PartKind::Ribbon => "#b8863b",
        PartKind::Cell => "#c9c2b0",
        PartKind::Screw => "#6d6d70",
        PartKind::Keys | PartKind::Wheel => "#a5533f",
        _ => "#8798a3",
    }
}

/// The board of a piece, life-size, one SVG unit to the mm.
pub fn svg(piece: &Piece) -> String {
    let (window, field, board) = (
        piece.frame.window(),
        piece.frame.field(),
        piece.frame.board(),
    );
    let mut s = String::new();
    let up = |y: f64| window.max.y - y;
    let frame = piece.frame.window().grown(18.0);
    let _ = writeln!(
        s,
        r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="{} {} {} {}" width="{}mm" height="{}mm">"##,
        frame.min.x,
        frame.min.y,
        frame.width_mm(),
        frame.height_mm(),
        frame.width_mm(),
        frame.height_mm()
    );
    let mut rect = |b: Bounds, style: &str| {
        let _ = writeln!(
            s,
            r##"<rect x="{:.3}" y="{:.3}" width="{:.3}" height="{:.3}" {style}/>"##,
            b.min.x,
            up(b.max.y),
            b.width_mm(),
            b.height_mm()
        );
    };
    rect(frame, r##"fill="#3b2f27""##);
    let _ = board;
    rect(window, r##"fill="#f6f3ec""##);
    rect(
        field,
        r##"fill="none" stroke="#e3ddd0" stroke-width="0.3""##,
    );
    for k in &piece.layout.keep_outs {
        let b = Bounds::between(
            shape::Point::new(k.x, k.y),
            shape::Point::new(k.x + k.w, k.y + k.h),
        );
        rect(b, r##"fill="#ddd5c4""##);
    }
    for (part, outline) in piece.outlines_on_board() {
        let mut d = String::new();
        for ring in outline.rings() {
            for (k, p) in ring.points().iter().enumerate() {
                let _ = write!(
                    d,
                    "{}{:.3} {:.3}",
                    if k == 0 { "M" } else { "L" },
                    p.x,
                    up(p.y)
                );
            }
            d.push('Z');
        }
        let _ = writeln!(
            s,
            r##"<path d="{d}" fill="{}" fill-rule="evenodd" stroke="#2b2b2b" stroke-width="0.25"/>"##,
            fill(part.kind)
        );
    }
    let numbers = piece.item_numbers();
    for c in &piece.captions {
        let letter = c.letter_mm.unwrap_or(3.5);
        let lines: Vec<&str> = c.text.split('\n').collect();
        let pitch = if lines.len() > 1 {
            (c.h - 1.25 * letter) / (lines.len() - 1) as f64
        } else {
            0.0
        };
        for (k, line) in lines.iter().enumerate() {
            let text = match (k, numbers.get(&c.part)) {
                (0, Some(n)) => format!("{n}  {line}"),
                _ => (*line).to_owned(),
            };
            let _ = writeln!(
                s,
                r##"<text xml:space="preserve" x="{:.3}" y="{:.3}" font-family="Source Sans 3, Helvetica, sans-serif" font-size="{:.3}" fill="#222">{text}</text>"##,
                c.x,
                up(c.y + c.h) + letter + k as f64 * pitch,
                letter / 0.66,
            );
        }
        if let [a, b] = c.leader[..] {
            let _ = writeln!(
                s,
                r##"<path d="M{:.3} {:.3}L{:.3} {:.3}" stroke="#222" stroke-width="0.25"/><circle cx="{:.3}" cy="{:.3}" r="0.6" fill="#222"/>"##,
                a.x,
                up(a.y),
                b.x,
                up(b.y),
                b.x,
                up(b.y)
            );
        }
    }
    s.push_str("</svg>\n");
    s
}
