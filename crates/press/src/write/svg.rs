//! SVG in millimetres: one user unit is one mm.

use crate::path::pieces;
use crate::pixels;
use crate::{Affine, Drawing, Group, Item, Path, Picture, Step, Stroke};
use shape::Point;
use shape::exact::Segment;
use std::f64::consts::FRAC_PI_2;
use std::fmt::Write;

/// Makes an SVG of a page. Text becomes paths of its letters, so that it looks alike everywhere; what
/// it says stays in `aria-label`.
pub fn to_svg(drawing: &Drawing) -> String {
    let (w, h) = (number(drawing.width_mm), number(drawing.height_mm));
    let mut out = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" \
         width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\">\n<title>{}</title>\n",
        escaped(&drawing.title)
    );
    let page = Page {
        flip_at_mm: drawing.height_mm,
    };
    let mut clips = 0;
    page.write(&mut out, &drawing.items, &mut clips);
    out.push_str("</svg>\n");
    out
}

/// A path's data for SVG, y down from `flip_at_mm`.
pub(crate) fn path_data(path: &Path, flip_at_mm: f64) -> String {
    Page { flip_at_mm }.path(path)
}

/// Maps y up to y down.
struct Page {
    flip_at_mm: f64,
}

impl Page {
    fn at(&self, p: Point) -> String {
        format!("{} {}", number(p.x), number(self.flip_at_mm - p.y))
    }

    fn matrix(&self, m: Affine) -> String {
        let f = self.flip_at_mm;
        let cells = [
            m.xx,
            -m.yx,
            -m.xy,
            m.yy,
            m.x0 + m.xy * f,
            f - m.y0 - m.yy * f,
        ];
        let cells: Vec<String> = cells.into_iter().map(precise).collect();
        format!("matrix({})", cells.join(" "))
    }

    // Writing into a String cannot fail.
    fn write(&self, out: &mut String, items: &[Item], clips: &mut usize) {
        for item in items {
            match item {
                Item::Shape(shape) => {
                    let id = shape.id.as_deref().map(attribute("id")).unwrap_or_default();
                    let fill = match shape.fill {
                        Some(ink) => format!(
                            " fill=\"{}\" fill-rule=\"evenodd\"{}",
                            hex(ink.to_rgb()),
                            opacity("fill-opacity", ink.opacity)
                        ),
                        None => " fill=\"none\"".into(),
                    };
                    let stroke = shape.stroke.as_ref().map(line).unwrap_or_default();
                    let d = self.path(&shape.path);
                    let _ = match &shape.title {
                        Some(title) => writeln!(
                            out,
                            "<path{id}{fill}{stroke} d=\"{d}\"><title>{}</title></path>",
                            escaped(title)
                        ),
                        None => writeln!(out, "<path{id}{fill}{stroke} d=\"{d}\"/>"),
                    };
                }
                Item::Text(text) => {
                    let _ = writeln!(
                        out,
                        "<path aria-label=\"{}\" fill=\"{}\"{} d=\"{}\"/>",
                        escaped(&text.line.text),
                        hex(text.ink.to_rgb()),
                        opacity("fill-opacity", text.ink.opacity),
                        self.path(&text.letters()),
                    );
                }
                Item::Picture(picture) => self.picture(out, picture),
                Item::Group(group) => self.group(out, group, clips),
            }
        }
    }

    fn group(&self, out: &mut String, group: &Group, clips: &mut usize) {
        let id = group.id.as_deref().map(attribute("id")).unwrap_or_default();
        let _ = writeln!(
            out,
            "<g{id} transform=\"{}\"{}>",
            self.matrix(group.outer_from_inner),
            opacity("opacity", group.opacity)
        );
        if let Some(clip) = &group.clip {
            *clips += 1;
            let n = *clips;
            let _ = writeln!(
                out,
                "<clipPath id=\"clip-{n}\"><path clip-rule=\"evenodd\" d=\"{}\"/></clipPath>\n\
                 <g clip-path=\"url(#clip-{n})\">",
                self.path(clip)
            );
        }
        self.write(out, &group.items, clips);
        if group.clip.is_some() {
            out.push_str("</g>\n");
        }
        out.push_str("</g>\n");
    }

    fn picture(&self, out: &mut String, picture: &Picture) {
        let Ok(png) = pixels::encode_png(
            picture.width_px,
            picture.height_px,
            &picture.rgba,
            None,
            pixels::Effort::Small,
        ) else {
            return;
        };
        // A picture of side 1 with its top at y = 0, carried to its place.
        let m = picture.page_from_unit;
        let top = m.apply(Point::new(0.0, 1.0));
        let cells = [m.xx, -m.yx, -m.xy, m.yy, top.x, self.flip_at_mm - top.y];
        let cells: Vec<String> = cells.into_iter().map(precise).collect();
        let _ = writeln!(
            out,
            "<image width=\"1\" height=\"1\" preserveAspectRatio=\"none\" transform=\"matrix({})\" \
             href=\"data:image/png;base64,{}\"/>",
            cells.join(" "),
            base64(&png)
        );
    }

    fn path(&self, path: &Path) -> String {
        let mut d = String::new();
        let (mut start, mut pen) = (Point::default(), Point::default());
        for &step in &path.steps {
            let from = pen;
            match step {
                Step::Move(p) => (start, pen) = (p, p),
                Step::Line(p) | Step::Quad(_, p) | Step::Cubic(_, _, p) | Step::Arc(p, _) => {
                    pen = p
                }
                Step::Close => pen = start,
            }
            d += &match step {
                Step::Move(p) => format!("M{}", self.at(p)),
                Step::Line(p) => format!("L{}", self.at(p)),
                Step::Quad(c, p) => format!("Q{} {}", self.at(c), self.at(p)),
                Step::Cubic(c, d, p) => {
                    format!("C{} {} {}", self.at(c), self.at(d), self.at(p))
                }
                Step::Arc(to, bulge) => self.arc(Segment { from, to, bulge }),
                Step::Close => "Z".into(),
            };
        }
        d
    }

    /// An arc in pieces of a quarter turn at most: of longer ones the centre would hang on the last digits. With y down a
    /// left turn is one of sweep 0 (SVG 1.1, 8.3.8).
    fn arc(&self, arc: Segment) -> String {
        let radius = arc.circle().map_or(0.0, |c| c.radius_mm);
        let (r, sweep) = (number(radius), u8::from(arc.bulge < 0.0));
        pieces(arc, FRAC_PI_2)
            .map(|piece| format!("A{r} {r} 0 0 {sweep} {}", self.at(piece.to)))
            .collect()
    }
}

/// Five decimals are a hundredth of a micrometre.
fn number(value: f64) -> String {
    trimmed(format!("{value:.5}"))
}

/// For factors, which multiply lengths of metres.
fn precise(value: f64) -> String {
    trimmed(format!("{value:.9}"))
}

fn trimmed(text: String) -> String {
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".into()
    } else {
        text.into()
    }
}

pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // XML 1.0 has no other control characters, nor the two that end the basic plane.
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

fn attribute(name: &'static str) -> impl Fn(&str) -> String {
    move |value| format!(" {name}=\"{}\"", escaped(value))
}

fn hex([r, g, b]: [u8; 3]) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

fn opacity(name: &str, value: f64) -> String {
    if value >= 1.0 {
        return String::new();
    }
    format!(" {name}=\"{}\"", number(value.max(0.0)))
}

fn line(stroke: &Stroke) -> String {
    let mut out = format!(
        " stroke=\"{}\" stroke-width=\"{}\"{}",
        hex(stroke.ink.to_rgb()),
        number(stroke.width_mm),
        opacity("stroke-opacity", stroke.ink.opacity)
    );
    if stroke.round {
        out.push_str(" stroke-linecap=\"round\" stroke-linejoin=\"round\"");
    }
    if !stroke.dash_mm.is_empty() {
        let dashes: Vec<String> = stroke.dash_mm.iter().map(|&d| number(d)).collect();
        let _ = write!(out, " stroke-dasharray=\"{}\"", dashes.join(" "));
    }
    out
}

/// Base64 with padding (RFC 4648, section 4).
pub(crate) fn base64(bytes: &[u8]) -> String {
    const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let word = three
            .iter()
            .enumerate()
            .fold(0_u32, |word, (i, &b)| word | u32::from(b) << (16 - 8 * i));
        for i in 0..4 {
            let letter = if i <= three.len() {
                ALPHABET[(word >> (18 - 6 * i) & 63) as usize]
            } else {
                b'='
            };
            out.push(char::from(letter));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4648, section 10.
    #[test]
    fn base64_gives_the_published_examples() {
        for (plain, coded) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }

    #[test]
    fn numbers_are_short_and_never_minus_nothing() {
        assert_eq!(number(100.0), "100");
        assert_eq!(number(-0.000_000_1), "0");
        assert_eq!(number(0.35), "0.35");
    }
}
