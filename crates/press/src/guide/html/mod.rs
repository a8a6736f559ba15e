//! The guide as one page for the bench: no other file, no request to anywhere.
//!
//! Ticks and running timers are kept by the browser, under a mark of the piece and its plan.

use super::typeset::stage_tone;
use super::{Bar, Block, Guide, GuideStep, Table, Warning};
use crate::pixels::{Effort, encode_png};
use crate::preview::{CutoutImage, tone};
use crate::words::filled;
use crate::write::svg::{base64, escaped, path_data};
use crate::{Path, Picture};
use lettering::{Face, WEB_FAMILY, web_font_bytes};
use piece::{PartId, Piece};
use std::collections::BTreeMap;
use std::fmt::Write;

const STYLE: &str = include_str!("guide.css");
const SCRIPT: &str = include_str!("guide.js");

/// Scale of the parts' pictures in the page, px/mm: enough for a tablet held close.
const PX_PER_MM: f64 = 4.0;

/// Writes the page. `cover` is the preview.
pub fn to_html(
    guide: &Guide,
    piece: &Piece,
    cutouts: &[CutoutImage],
    cover: Option<&Picture>,
) -> String {
    let board = BoardSvg::new(piece, cutouts);
    let words = guide.language.words();
    let mut out = String::new();
    let title = format!("{}, {}", guide.plaque.title, guide.kind);
    // Writing into a String cannot fail.
    let _ = write!(
        out,
        "<!doctype html>\n<html lang=\"{}\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; font-src data:; \
         style-src 'unsafe-inline'; script-src 'unsafe-inline'\">\n\
         <title>{}</title>\n<style>\n{}{STYLE}</style>\n</head>\n<body data-mark=\"{}\" data-done=\"{}\" data-up=\"{}\">\n",
        guide.language.tag(),
        escaped(&title),
        fonts(),
        escaped(&guide.mark),
        escaped(words.progress),
        escaped(words.timer_done),
    );
    out.push_str(&board.definitions);
    cover_page(&mut out, guide, cover);
    let _ = writeln!(
        out,
        "<nav aria-label=\"{0}\"><h2>{0}</h2><ol>",
        escaped(words.contents)
    );
    for chapter in &guide.chapters {
        let _ = writeln!(
            out,
            "<li><a href=\"#{}\">{}</a></li>",
            escaped(&chapter.id),
            escaped(&chapter.title)
        );
    }
    out.push_str("</ol></nav>\n<main>\n");
    for chapter in &guide.chapters {
        let _ = writeln!(
            out,
            "<section id=\"{0}\" aria-labelledby=\"{0}-h\">\n<h2 id=\"{0}-h\">{1}</h2>",
            escaped(&chapter.id),
            escaped(&chapter.title)
        );
        for (n, block) in chapter.blocks.iter().enumerate() {
            let place = format!("{}-{n}", chapter.id);
            write_block(&mut out, block, guide, &board, &place);
        }
        out.push_str("</section>\n");
    }
    let _ = write!(
        out,
        "</main>\n<footer><button type=\"button\" id=\"forget\">{}</button></footer>\n\
         <div id=\"progress\" role=\"status\"><span></span><meter min=\"0\" max=\"1\" value=\"0\"></meter></div>\n\
         <script>\n{SCRIPT}</script>\n</body>\n</html>\n",
        escaped(words.forget_ticks)
    );
    out
}

/// The page's own fonts, so that it looks the same where no one has installed them: 40 kB.
fn fonts() -> String {
    [(Face::Regular, 400), (Face::SemiBold, 600)]
        .map(|(face, weight)| {
            format!(
                "@font-face {{ font-family: \"{WEB_FAMILY}\"; font-weight: {weight}; \
                 src: url(\"data:font/woff2;base64,{}\") format(\"woff2\"); }}\n",
                base64(web_font_bytes(face))
            )
        })
        .concat()
}

fn cover_page(out: &mut String, guide: &Guide, cover: Option<&Picture>) {
    let _ = write!(
        out,
        "<header>\n<p class=\"kind\">{}</p>\n<h1>{}</h1>\n<p class=\"about\">{}</p>\n",
        escaped(&guide.kind),
        escaped(&guide.plaque.title),
        escaped(&guide.plaque.about)
    );
    if let Some(picture) = cover
        && let Ok(png) = encode_png(
            picture.width_px,
            picture.height_px,
            &picture.rgba,
            None,
            Effort::Small,
        )
    {
        let _ = writeln!(
            out,
            "<img class=\"cover\" width=\"{}\" height=\"{}\" alt=\"{}\" src=\"data:image/png;base64,{}\">",
            picture.width_px,
            picture.height_px,
            escaped(&guide.plaque.title),
            base64(&png)
        );
    }
    out.push_str("<dl>\n");
    for [label, value] in &guide.facts {
        let _ = writeln!(
            out,
            "<div><dt>{}</dt><dd>{}</dd></div>",
            escaped(label),
            escaped(value)
        );
    }
    out.push_str("</dl>\n</header>\n");
}

fn write_block(out: &mut String, block: &Block, guide: &Guide, board: &BoardSvg<'_>, place: &str) {
    match block {
        Block::Heading(text) => {
            let _ = writeln!(out, "<h3>{}</h3>", escaped(text));
        }
        Block::Paragraph(text) => {
            let _ = writeln!(out, "<p>{}</p>", escaped(text));
        }
        Block::List(points) => {
            out.push_str("<ul>\n");
            for point in points {
                let _ = writeln!(out, "<li>{}</li>", escaped(point));
            }
            out.push_str("</ul>\n");
        }
        Block::Checks(points) => {
            out.push_str("<ul class=\"checks\">\n");
            for (n, point) in points.iter().enumerate() {
                let _ = writeln!(
                    out,
                    "<li><label><input type=\"checkbox\" data-tick=\"{place}-{n}\"><span>{}</span></label></li>",
                    escaped(point)
                );
            }
            out.push_str("</ul>\n");
        }
        Block::Table(table) => write_table(out, table, place),
        Block::Caution(warning) => write_warning(out, warning, guide),
        Block::Step(step) => write_step(out, step, guide, board),
        Block::Schedule(bars) => write_schedule(out, bars, guide),
        Block::Map => board.write(out, &board.all, true),
    }
}

fn write_table(out: &mut String, table: &Table, place: &str) {
    out.push_str("<div class=\"wide\"><table>\n<thead><tr>");
    if table.ticks {
        out.push_str("<td></td>");
    }
    let class = |n: usize| {
        if table.right.get(n).copied().unwrap_or(false) {
            " class=\"r\""
        } else {
            ""
        }
    };
    for (n, head) in table.head.iter().enumerate() {
        let _ = write!(out, "<th scope=\"col\"{}>{}</th>", class(n), escaped(head));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for (row, cells) in table.rows.iter().enumerate() {
        out.push_str("<tr>");
        if table.ticks {
            let name = cells
                .iter()
                .take(2)
                .map(String::as_str)
                .collect::<Vec<_>>()
                .join(" ");
            let _ = write!(
                out,
                "<td><input type=\"checkbox\" data-tick=\"{place}-{row}\" aria-label=\"{}\"></td>",
                escaped(&name)
            );
        }
        for (n, cell) in cells.iter().enumerate() {
            let _ = write!(out, "<td{}>{}</td>", class(n), escaped(cell));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody></table></div>\n");
}

/// The warning sign of ISO 7010 (W001).
const SIGN: &str = "<svg class=\"sign\" viewBox=\"0 0 24 22\" aria-hidden=\"true\">\
    <path d=\"M12 1.5 23 20.5H1Z\" fill=\"#f7c436\" stroke=\"#241f1a\" stroke-width=\"1.6\" stroke-linejoin=\"round\"/>\
    <path d=\"M12 8v6.2\" stroke=\"#241f1a\" stroke-width=\"2.2\" stroke-linecap=\"round\"/>\
    <circle cx=\"12\" cy=\"17.3\" r=\"1.3\" fill=\"#241f1a\"/></svg>";

fn write_warning(out: &mut String, warning: &Warning, guide: &Guide) {
    let words = guide.language.words();
    let _ = write!(
        out,
        "<div class=\"caution\" role=\"note\" aria-label=\"{}\">{SIGN}<div><p><strong>{}</strong></p>",
        escaped(words.caution),
        escaped(&warning.text)
    );
    if !warning.rule.is_empty() {
        let _ = write!(out, "<p>{}</p>", escaped(&warning.rule));
    }
    if !warning.protection.is_empty() {
        let _ = write!(
            out,
            "<p class=\"quiet\">{}: {}</p>",
            escaped(words.protection),
            escaped(&warning.protection_in_words())
        );
    }
    out.push_str("</div></div>\n");
}

fn write_step(out: &mut String, step: &GuideStep, guide: &Guide, board: &BoardSvg<'_>) {
    let words = guide.language.words();
    let id = escaped(&step.id);
    let pictured = step.parts.iter().any(|p| board.all.contains(p));
    let _ = write!(
        out,
        "<article class=\"step{}\" id=\"step-{id}\">\n<h3><label><input type=\"checkbox\" class=\"step-tick\" \
         data-tick=\"step-{id}\"><span><b>{}</b> {}</span></label></h3>\n",
        if pictured { " pictured" } else { "" },
        step.number,
        escaped(&step.title)
    );
    if pictured {
        board.write(out, &step.parts, false);
    }
    out.push_str("<div class=\"words\">\n");
    if !step.time.is_empty() {
        let _ = writeln!(out, "<p class=\"quiet\">{}</p>", escaped(&step.time));
    }
    for sentence in &step.how {
        let _ = writeln!(out, "<p>{}</p>", escaped(sentence));
    }
    let names = board.names(&step.parts);
    if !names.is_empty() {
        let _ = writeln!(
            out,
            "<p class=\"quiet\">{}: {}</p>",
            escaped(words.handles),
            escaped(&names)
        );
    }
    for warning in &step.cautions {
        write_warning(out, warning, guide);
    }
    if let Some(minutes) = step.wait_minutes {
        let seconds = (minutes * 60.0).round();
        let said = crate::Speech {
            units: crate::Units::Metric,
            language: guide.language,
        }
        .time(minutes, words);
        let _ = writeln!(
            out,
            "<p><button type=\"button\" class=\"timer\" data-timer=\"{id}\" data-seconds=\"{seconds}\">{}</button></p>",
            escaped(&filled(words.start_timer, &[&said]))
        );
    }
    out.push_str("</div>\n</article>\n");
}

fn write_schedule(out: &mut String, bars: &[Bar], guide: &Guide) {
    let words = guide.language.words();
    let end = bars.iter().map(|b| b.to_minute).fold(1.0, f64::max);
    let numbers = crate::Speech {
        units: crate::Units::Metric,
        language: guide.language,
    };
    out.push_str("<ol class=\"chart\">\n");
    for bar in bars {
        let span = (bar.to_minute - bar.from_minute).max(1e-9);
        let percent = |v: f64| format!("{:.3}%", 100.0 * v);
        let [r, g, b] = stage_tone(bar.stage).to_rgb();
        let _ = writeln!(
            out,
            "<li><span class=\"label\">{}</span><span class=\"lane\"><span class=\"bar{}\" style=\"left:{};width:{};\
             --tone:rgb({r},{g},{b})\"><span style=\"width:{}\"></span></span></span>\
             <span class=\"quiet\">{} – {}</span></li>",
            escaped(&bar.label),
            if bar.critical { " critical" } else { "" },
            percent(bar.from_minute / end),
            percent(span / end),
            percent((bar.hands_on_minutes / span).min(1.0)),
            escaped(&numbers.time(bar.from_minute, words)),
            escaped(&numbers.time(bar.to_minute, words)),
        );
    }
    out.push_str("</ol>\n");
}

/// The board as SVG: shapes and pictures once, and each step's picture only names them.
struct BoardSvg<'a> {
    piece: &'a Piece,
    /// Shapes and pictures by the parts' numbers, in an element that is not shown.
    definitions: String,
    numbers: BTreeMap<&'a PartId, usize>,
    middles: BTreeMap<&'a PartId, [f64; 2]>,
    all: Vec<PartId>,
    view_box: String,
}

impl<'a> BoardSvg<'a> {
    fn new(piece: &'a Piece, cutouts: &[CutoutImage]) -> Self {
        let window = piece.frame.window();
        let (w, h) = (window.width_mm(), window.height_mm());
        let numbers = piece.item_numbers();
        let pictures: BTreeMap<&PartId, &CutoutImage> =
            cutouts.iter().map(|c| (&c.part, c)).collect();
        let mut definitions =
            "<svg width=\"0\" height=\"0\" class=\"defs\" aria-hidden=\"true\"><defs>\n".to_owned();
        let (mut faint, mut all, mut middles) = (String::new(), Vec::new(), BTreeMap::new());
        for (part, outline) in piece.outlines_on_board() {
            let number = numbers.get(&part.id).copied().unwrap_or(0);
            let d = path_data(&Path::outline(&outline), h);
            let [r, g, b] = tone(part.kind);
            let _ = writeln!(
                definitions,
                "<path id=\"o{number}\" fill-rule=\"evenodd\" d=\"{d}\"/>"
            );
            let image = pictures
                .get(&part.id)
                .and_then(|image| picture_of(piece, part, image, h));
            let _ = match image {
                Some(image) => writeln!(
                    definitions,
                    "<g id=\"p{number}\">{image}<use href=\"#o{number}\" class=\"edge\"/></g>"
                ),
                None => writeln!(
                    definitions,
                    "<g id=\"p{number}\"><use href=\"#o{number}\" fill=\"rgb({r},{g},{b})\"/>\
                     <use href=\"#o{number}\" class=\"edge\"/></g>"
                ),
            };
            let _ = write!(faint, "<use href=\"#o{number}\"/>");
            let c = outline.centroid();
            middles.insert(&part.id, [c.x, h - c.y]);
            all.push(part.id.clone());
        }
        let _ = writeln!(definitions, "<g id=\"faint\">{faint}</g></defs></svg>");
        Self {
            piece,
            definitions,
            numbers,
            middles,
            all,
            view_box: format!("0 0 {w:.2} {h:.2}"),
        }
    }

    fn names(&self, parts: &[PartId]) -> String {
        let mut named: Vec<(usize, &str)> = self
            .piece
            .parts
            .iter()
            .filter(|p| parts.contains(&p.id))
            .map(|p| {
                (
                    self.numbers.get(&p.id).copied().unwrap_or(0),
                    p.name.as_str(),
                )
            })
            .collect();
        named.sort_unstable();
        let named: Vec<String> = named
            .iter()
            .map(|(n, name)| format!("{n} {name}"))
            .collect();
        named.join(", ")
    }

    fn write(&self, out: &mut String, parts: &[PartId], large: bool) {
        let _ = write!(
            out,
            "<svg class=\"board{}\" viewBox=\"{}\" role=\"img\" aria-label=\"{}\"><use href=\"#faint\" class=\"faint\"/>",
            if large { " large" } else { "" },
            self.view_box,
            escaped(&self.names(parts))
        );
        let size = 0.045 * self.piece.frame.window().width_mm();
        let size = if large { 0.55 * size } else { size };
        let shown = || parts.iter().filter(|p| self.middles.contains_key(*p));
        for part in shown() {
            let number = self.numbers.get(part).copied().unwrap_or(0);
            let _ = write!(out, "<use href=\"#p{number}\"/>");
        }
        for part in shown() {
            let number = self.numbers.get(part).copied().unwrap_or(0);
            let [x, y] = self.middles.get(part).copied().unwrap_or_default();
            let _ = write!(
                out,
                "<g class=\"no\"><circle cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"{:.2}\"/><text x=\"{x:.2}\" y=\"{:.2}\" \
                 font-size=\"{size:.2}\">{number}</text></g>",
                0.85 * size,
                y + 0.35 * size
            );
        }
        out.push_str("</svg>\n");
    }
}

/// A cut-out made smaller, where it lies on the board.
fn picture_of(
    piece: &Piece,
    part: &piece::Part,
    image: &CutoutImage,
    height_mm: f64,
) -> Option<String> {
    let place = piece.placement(&part.id)?;
    let small = image.shrunk(PX_PER_MM);
    let png = encode_png(
        small.width_px,
        small.height_px,
        &small.rgba,
        None,
        Effort::Small,
    )
    .ok()?;
    let (w, h) = (
        f64::from(small.width_px) / small.px_per_mm,
        f64::from(small.height_px) / small.px_per_mm,
    );
    let [x, y] = image.origin_mm;
    // The picture's own corner is its upper left one, y down; the part turns about its origin, y up.
    Some(format!(
        "<image transform=\"translate({:.4} {:.4}) rotate({:.4})\" x=\"{x:.4}\" y=\"{:.4}\" width=\"{w:.4}\" \
         height=\"{h:.4}\" preserveAspectRatio=\"none\" href=\"data:image/png;base64,{}\"/>",
        place.x,
        height_mm - place.y,
        -place.turn_deg,
        -y - h,
        base64(&png)
    ))
}
