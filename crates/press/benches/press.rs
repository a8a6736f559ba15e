//! How long the sheets of a large piece take: 60 parts of 200 points on A2, each with its picture.
//! Asked on 2 cores: template, glue sheet and cut files 1 s; guide 3 s; preview 2 s.
//!
//! `cargo bench -p press --bench press`
#![allow(clippy::print_stdout, clippy::unwrap_used)]

#[path = "../tests/support/plan.rs"]
mod plan;

use piece::{Caption, Frame, Margin, Part, PartId, PartKind, Piece, Placement};
use plan::with_plan;
use press::art::{Art, Style};
use press::guide::{Options, guide_of, to_html, typeset};
use press::plaque::Plaque;
use press::preview::{self, CutoutImage, oblique};
use press::{
    DocumentInfo, Paper, PrinterCorrection, Speech, cut, glue_sheet, template, to_dxf, to_pdf,
    to_pdf_with, to_picture, to_svg,
};
use shape::{Outline, Point};
use std::f64::consts::TAU;
use std::time::Instant;

const RUNS: usize = 5;

fn main() {
    let piece = with_plan(sixty());
    let cutouts: Vec<CutoutImage> = piece.parts.iter().map(picture).collect();
    let info = DocumentInfo::default();
    let none = PrinterCorrection::NONE;
    println!("best and middle of {RUNS} runs, ms");
    timed("template, whole and A4", || {
        let whole = template::whole(&piece, none, Speech::default()).unwrap();
        let tiles = template::tiled(&piece, &Paper::A4, none, Speech::default()).unwrap();
        to_pdf(&[whole], &info).unwrap().len() + to_pdf(&tiles, &info).unwrap().len()
    });
    timed("glue sheet", || {
        to_pdf(
            &glue_sheet::lay_out(&piece, &Paper::A4, none, Speech::default()).unwrap(),
            &info,
        )
        .unwrap()
        .len()
    });
    timed("cut files, tool 0.2 mm", || {
        let tool = cut::ToolWidth::try_new(0.2).unwrap();
        let (cuts, _) = cut::lay_out(&piece, tool, Speech::default()).unwrap();
        to_svg(&cuts).len() + to_dxf(&cuts).len()
    });
    let mut tidied = piece.clone();
    for part in &mut tidied.parts {
        part.outline = shape::tidy::tidy(&part.outline, 0.05).unwrap().outline;
    }
    timed("the same, lines and arcs", || {
        let tool = cut::ToolWidth::try_new(0.2).unwrap();
        let (cuts, _) = cut::lay_out(&tidied, tool, Speech::default()).unwrap();
        to_svg(&cuts).len() + to_dxf(&cuts).len()
    });
    timed("board art, four styles", || {
        let all = [Style::Quiet, Style::Terraces, Style::Draught, Style::Night];
        let pages =
            all.map(|s| press::art::lay_out(&piece, &Art::of(s, None), Speech::default()).unwrap());
        to_pdf(&pages, &info).unwrap().len()
    });
    let art = Art::of(Style::Quiet, Some(Plaque::of(&piece, None).unwrap()));
    let scale = preview::px_per_mm(&piece);
    let draw_front = || {
        let page = preview::lay_out_on(&piece, &cutouts, &art, scale).unwrap();
        let picture = to_picture(&page, scale).unwrap();
        picture.to_png(Some(scale)).unwrap().len()
    };
    let draw_side = || {
        let scale = oblique::px_per_mm(&piece);
        let page = oblique::lay_out(&piece, &cutouts, &art, scale).unwrap();
        let picture = to_picture(&page, scale).unwrap();
        picture.to_png(Some(scale)).unwrap().len()
    };
    timed("preview, front, 2400 px", draw_front);
    timed("preview, side, 2400 px", draw_side);
    // As `sheets` draws them.
    timed("both previews at once", || {
        std::thread::scope(|scope| {
            let side = scope.spawn(draw_side);
            draw_front() + side.join().unwrap()
        })
    });
    let front = preview::lay_out_on(&piece, &cutouts, &art, scale).unwrap();
    let cover = to_picture(&front, scale).unwrap().shrunk(1100);
    timed("guide, PDF", || {
        let guide = guide_of(&piece, None, Options::default()).unwrap().unwrap();
        let set = typeset(&guide, &piece, &cutouts, Some(&cover), &Paper::A4).unwrap();
        to_pdf_with(&set.pages, &set.info, &set.bookmarks)
            .unwrap()
            .len()
    });
    timed("guide, HTML", || {
        let guide = guide_of(&piece, None, Options::default()).unwrap().unwrap();
        to_html(&guide, &piece, &cutouts, Some(&cover)).len()
    });
}

fn timed(what: &str, work: impl Fn() -> usize) {
    // `cargo bench … -- side` asks for those whose name has it.
    let wanted = std::env::args().skip(1).find(|a| !a.starts_with("--"));
    if wanted.is_some_and(|w| !what.contains(&w)) {
        return;
    }
    let mut bytes = 0;
    let mut ms: Vec<f64> = (0..RUNS)
        .map(|_| {
            let start = Instant::now();
            bytes = work();
            1e3 * start.elapsed().as_secs_f64()
        })
        .collect();
    ms.sort_by(f64::total_cmp);
    println!(
        "{what:26} {:8.1} {:8.1}   {:6.0} kB",
        ms[0],
        ms[RUNS / 2],
        bytes as f64 / 1e3
    );
}

/// Wavy discs in six columns and ten rows.
fn sixty() -> Piece {
    let margin_mm = Margin {
        left: 12.0,
        right: 12.0,
        top: 12.0,
        bottom: 20.0,
    };
    let frame = Frame {
        size_mm: [420.0, 594.0],
        lip_mm: 6.0,
        board_clearance_mm: 2.0,
        rebate_depth_mm: Some(35.0),
        margin_mm,
        spacer_width_mm: 5.0,
        glazing: None,
    };
    let mut piece = Piece::new("Sixty", frame);
    for n in 0..60_u32 {
        let id = PartId::try_new(format!("p{n}")).unwrap();
        let ring = (0..200)
            .map(|k| {
                let a = TAU * f64::from(k) / 200.0;
                let r = 22.0 + 2.5 * (f64::from(3 + n % 5) * a).sin();
                Point::new(r * a.cos(), r * a.sin())
            })
            .collect();
        let (outline, _) = Outline::try_new(ring, Vec::new()).unwrap().at_origin();
        let kind = [PartKind::Board, PartKind::Shell, PartKind::Ribbon][n as usize % 3];
        let mut part = Part::new(id.clone(), format!("Part {n}"), kind, outline);
        part.thickness_mm = Some(1.0 + f64::from(n % 9));
        let (x, y) = (
            18.0 + 64.0 * f64::from(n % 6),
            24.0 + 55.0 * f64::from(n / 6),
        );
        piece.captions.push(Caption {
            part: id.clone(),
            text: part.name.clone(),
            x,
            y: y - 4.5,
            w: 24.0,
            h: 3.5,
            letter_mm: Some(2.5),
            leader: Vec::new(),
        });
        piece.placements.push(Placement {
            part: id,
            x,
            y,
            turn_deg: 0.0,
            pinned: false,
        });
        piece.parts.push(part);
    }
    piece
}

/// A grained picture at 12 px/mm, solid within the outline's box.
fn picture(part: &Part) -> CutoutImage {
    let b = part.outline.bounds();
    let px = |mm: f64| (12.0 * mm).ceil() as u32;
    let (w, h) = (px(b.width_mm()), px(b.height_mm()));
    let rgba: Vec<u8> = (0..w * h)
        .flat_map(|i| {
            let v = (i.wrapping_mul(0x9E37_79B1) >> 27) as u8;
            [90 + v, 110 + v, 100 + v, 255]
        })
        .collect();
    CutoutImage {
        part: part.id.clone(),
        width_px: w,
        height_px: h,
        rgba: rgba.into(),
        px_per_mm: 12.0,
        origin_mm: [0.0, 0.0],
    }
}
