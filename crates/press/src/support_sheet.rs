//! What is cut for under the parts: patterns at 1:1 on office paper, and the nested stock sheets for a machine.

use crate::cut::{Lost, LostBecause, ToolWidth, is_lost};
use crate::drawing::{Align, Compose};
use crate::fitting::line_shrunk;
use crate::printed_page::{BoxPages, Head, QUIET, SMALL_MM};
use crate::words::filled;
use crate::{
    Affine, Drawing, Group, Ink, Item, Paper, Path, PressError, PrinterCorrection, Shape, Speech,
    Stroke, width_mm,
};
use lettering::{Face, set_line};
use piece::Piece;
use shape::{Outline, Point, Pose, Vector};

/// Room for the words below a pattern, mm.
const WORDS_MM: f64 = 13.0;

/// Where cuts of the stock sheets are told to be lost.
const LAYER: &str = "supports";

/// Least width for the words, mm.
const LEAST_WIDTH_MM: f64 = 50.0;

/// Lays out one pattern for each support of the build plan at 1:1, to print, stick on and cut round; none where the
/// plan has none.
///
/// # Errors
/// [`PressError::DoesNotFit`]: a support larger than A0.
pub fn patterns(
    piece: &Piece,
    paper: &Paper,
    correction: PrinterCorrection,
    speech: Speech,
) -> Result<Vec<Drawing>, PressError> {
    let Some(plan) = &piece.build else {
        return Ok(Vec::new());
    };
    let words = speech.sheets();
    let mut pages = BoxPages::on(paper);
    for (index, support) in plan.supports.iter().enumerate() {
        let (Ok(outline), Some(part)) = (support.outline(), piece.part(&support.part)) else {
            continue;
        };
        let b = outline.bounds();
        let size = [b.width_mm().max(LEAST_WIDTH_MM), b.height_mm() + WORDS_MM];
        let (items, place) = pages.next(size, &format!("support {}", index + 1))?;
        let corner = Point::new(place.min.x, place.max.y - b.height_mm());
        let path = Path::outline(&outline).shifted(corner - b.min);
        items.stroke(path, Stroke::continuous(width_mm::MEDIUM, Ink::BLACK));
        let layers: Vec<String> = support
            .layers_mm
            .iter()
            .map(|&mm| speech.length(mm))
            .collect();
        let materials: Vec<String> = support
            .materials
            .iter()
            .map(|m| speech.rewrite(&speech.language.item(m)))
            .collect();
        let mut material = materials.first().cloned().unwrap_or_default();
        if materials.iter().any(|m| *m != material) {
            material = materials.join(", ");
        }
        let cut = match layers.len() {
            1 => filled(words.cut_one, &[&layers.concat()]),
            n => filled(words.cut_several, &[&n.to_string(), &layers.join(" + ")]),
        };
        let rows = [
            (piece.item_label(part), Face::Medium, Ink::BLACK),
            (format!("{cut}, {material}"), Face::Regular, QUIET),
        ];
        for (row, (text, face, ink)) in rows.into_iter().enumerate() {
            let line = line_shrunk(&text, face, SMALL_MM, size[0]);
            let y = corner.y - 2.2 - SMALL_MM - 4.4 * row as f64;
            items.text(line, Point::new(place.min.x, y), Align::Left, ink);
        }
    }
    let head = Head {
        piece: &piece.name,
        sheet: words.supports,
        what_to_do: words.supports_what_to_do,
        speech,
    };
    pages.drawn(head, correction)
}

/// The stock sheets of the build plan side by side, with what is cut from each: a group for each sheet
/// (`sheet_1_12.7mm`), and a group `stock` with the sheets' edges and names; the second value names what the tool cannot
/// cut, and what cannot be read. `None` where there are none.
///
/// # Errors
/// [`PressError::Length`]: all sheets together are larger than a page can be.
pub fn nested(
    piece: &Piece,
    tool: ToolWidth,
    speech: Speech,
) -> Result<Option<(Drawing, Vec<Lost>)>, PressError> {
    const GAP_MM: f64 = 20.0;
    let Some(plan) = piece.build.as_ref().filter(|p| !p.cut_sheets.is_empty()) else {
        return Ok(None);
    };
    let sheets = &plan.cut_sheets;
    let width: f64 = sheets.iter().map(|s| s.size_mm[0] + GAP_MM).sum::<f64>() - GAP_MM;
    let height = sheets.iter().map(|s| s.size_mm[1]).fold(0.0, f64::max);
    let mut page = Drawing::new(
        format!("{}, {}", piece.name, speech.sheets().supports),
        width,
        height + 12.0,
    )?;
    let numbers = piece.item_numbers();
    let group = |id: String, items: Vec<Item>| {
        Item::Group(Group {
            outer_from_inner: Affine::IDENTITY,
            clip: None,
            opacity: 1.0,
            id: Some(id),
            items,
        })
    };
    let (mut stock, mut cuts, mut lost) = (Vec::new(), Vec::new(), Vec::new());
    let mut x = 0.0;
    for (n, sheet) in sheets.iter().enumerate() {
        let corner = Point::new(x, height - sheet.size_mm[1]);
        let opposite = corner + Vector::new(sheet.size_mm[0], sheet.size_mm[1]);
        let edge = Path::rectangle(shape::Bounds::between(corner, opposite));
        stock.stroke(edge, Stroke::continuous(width_mm::NARROW, Ink::grey(140)));
        let name = format!(
            "{}  {}, {}, {}",
            n + 1,
            speech.rewrite(&speech.language.item(&sheet.material)),
            speech.length(sheet.thickness_mm),
            speech.size(&sheet.size_mm)
        );
        let name = line_shrunk(&name, Face::Medium, 5.0, sheet.size_mm[0]);
        stock.text(name, Point::new(x, height + 4.0), Align::Left, Ink::BLACK);
        let mut items = Vec::new();
        for place in &sheet.placements {
            let Some(support) = plan.supports.get(place.support) else {
                continue;
            };
            let name = piece.part(&support.part).map(|p| piece.item_label(p));
            let name = name.unwrap_or_else(|| support.part.to_string());
            let Ok(outline) = support.outline() else {
                lost.push(Lost {
                    layer: LAYER,
                    what: name,
                    why: LostBecause::NoOutline,
                });
                continue;
            };
            let pose = Pose::new(x + place.x, corner.y + place.y, place.turn_deg);
            let placed: Outline = outline.placed(pose);
            let number = numbers.get(&support.part).copied().unwrap_or(0);
            let lines = tool.round_kept(&placed);
            if is_lost(&placed, &lines) {
                lost.push(Lost {
                    layer: LAYER,
                    what: name,
                    why: LostBecause::ToolTooWide,
                });
            }
            for line in lines {
                items.push(Item::Shape(Shape {
                    path: Path::outline(&line),
                    fill: None,
                    stroke: Some(Stroke::continuous(width_mm::FAINT, Ink::BLACK)),
                    id: None,
                    title: Some(format!(
                        "{number}, {}",
                        filled(speech.sheets().layer, &[&(place.layer + 1).to_string()])
                    )),
                }));
            }
            let mark = set_line(&number.to_string(), Face::Medium, 3.5);
            let at = placed.centroid() - Vector::new(0.0, 1.75);
            stock.text(mark, at, Align::Centre, QUIET);
        }
        cuts.push(group(
            format!("sheet_{}_{}mm", n + 1, sheet.thickness_mm),
            items,
        ));
        x += sheet.size_mm[0] + GAP_MM;
    }
    page.items.push(group("stock".into(), stock));
    page.items.extend(cuts);
    // Equal layers of one support are told once.
    let mut told: Vec<Lost> = Vec::new();
    for one in lost {
        if !told.contains(&one) {
            told.push(one);
        }
    }
    Ok(Some((page, told)))
}
