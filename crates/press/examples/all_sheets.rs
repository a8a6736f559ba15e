//! Draws the sheets of a piece: `all_sheets PIECE.json DIR`. For looking at them while they are being drawn.
#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs)]
#[path = "../tests/support/plan.rs"]
mod plan;
use piece::Piece;
use press::art::{Art, Style};
use press::guide::*;
use press::plaque::Plaque;
use press::preview::{self, CutoutImage, oblique};
use press::*;
use std::path::Path as FilePath;
use std::time::Instant;
fn main() {
    let args: Vec<String> = std::env::args().collect();
    let piece = Piece::from_json(&std::fs::read(&args[1]).unwrap()).unwrap();
    let piece = if piece.build.is_some() {
        piece
    } else {
        plan::with_plan(piece)
    };
    let dir = FilePath::new(&args[2]);
    let only = args.get(3).map(String::as_str).unwrap_or("");
    std::fs::create_dir_all(dir).unwrap();
    let from = FilePath::new(&args[1]).parent().unwrap();
    let cutouts: Vec<CutoutImage> = piece
        .parts
        .iter()
        .filter_map(|p| {
            let c = p.cutout.as_ref()?;
            let d = png::Decoder::new(std::io::BufReader::new(
                std::fs::File::open(from.join(&c.image)).unwrap(),
            ));
            let mut r = d.read_info().unwrap();
            let mut b = vec![0; r.output_buffer_size().unwrap()];
            let i = r.next_frame(&mut b).unwrap();
            Some(CutoutImage {
                part: p.id.clone(),
                width_px: i.width,
                height_px: i.height,
                rgba: b.into(),
                px_per_mm: c.px_per_mm,
                origin_mm: c.origin_mm,
            })
        })
        .collect();
    let info = DocumentInfo {
        title: "x".into(),
        description: "".into(),
        language: "en".into(),
    };
    let timed = |name: &str, f: &dyn Fn() -> Vec<u8>| {
        if !name.contains(only) {
            return;
        }
        let t = Instant::now();
        let bytes = f();
        println!(
            "{name:24} {:7.1} ms {:8} bytes",
            t.elapsed().as_secs_f64() * 1e3,
            bytes.len()
        );
        std::fs::write(dir.join(name), bytes).unwrap();
    };
    let plaque = || Some(Plaque::of(&piece, Some("3/25")).unwrap());
    for (name, style) in [
        ("quiet", Style::Quiet),
        ("terraces", Style::Terraces),
        ("draught", Style::Draught),
        ("night", Style::Night),
    ] {
        timed(&format!("art-{name}.pdf"), &|| {
            to_pdf(
                &[art::lay_out(&piece, &Art::of(style, plaque())).unwrap()],
                &info,
            )
            .unwrap()
        });
        timed(&format!("preview-{name}.png"), &|| {
            let s = preview::px_per_mm(&piece);
            to_png(
                &preview::lay_out_on(&piece, &cutouts, &Art::of(style, plaque()), s).unwrap(),
                s,
            )
            .unwrap()
        });
        timed(&format!("oblique-{name}.png"), &|| {
            let s = oblique::px_per_mm(&piece);
            to_png(
                &oblique::lay_out(&piece, &cutouts, &Art::of(style, plaque()), s).unwrap(),
                s,
            )
            .unwrap()
        });
    }
    timed("plaque.svg", &|| {
        to_svg(&plaque::lay_out(&piece, &plaque().unwrap()).unwrap()).into()
    });
    timed("light-table.svg", &|| {
        to_svg(&light_table::lay_out(&piece).unwrap()).into()
    });
    for w in [0.0, 0.2, 3.0] {
        let (d, lost) = cut::lay_out(&piece, cut::ToolWidth::try_new(w).unwrap()).unwrap();
        println!("{w} lost {lost:?}");
        timed(&format!("cut-{w}.dxf"), &|| to_dxf(&d).into());
        timed(&format!("cut-{w}.svg"), &|| to_svg(&d).into());
    }
    timed("captions.pdf", &|| {
        to_pdf(
            &caption_strips::lay_out(&piece, &Paper::A4, PrinterCorrection::NONE).unwrap(),
            &info,
        )
        .unwrap()
    });
    timed("stand-ins.pdf", &|| {
        to_pdf(
            &stand_ins::lay_out(&piece, &cutouts, &Paper::A4, PrinterCorrection::NONE).unwrap(),
            &info,
        )
        .unwrap()
    });
    let none = PrinterCorrection::NONE;
    timed("glue.pdf", &|| {
        to_pdf(
            &glue_sheet::lay_out(&piece, &Paper::A4, none).unwrap(),
            &info,
        )
        .unwrap()
    });
    timed("supports.pdf", &|| {
        to_pdf(
            &support_sheet::patterns(&piece, &Paper::A4, none).unwrap(),
            &info,
        )
        .unwrap()
    });
    timed("supports.svg", &|| {
        to_svg(
            &support_sheet::nested(&piece, cut::ToolWidth::NONE)
                .unwrap()
                .unwrap(),
        )
        .into()
    });
    timed("supports.dxf", &|| {
        to_dxf(
            &support_sheet::nested(&piece, cut::ToolWidth::NONE)
                .unwrap()
                .unwrap(),
        )
        .into()
    });
    if "guide".contains(only) {
        let s = 3.0;
        let cover = to_picture(
            &preview::lay_out_on(&piece, &cutouts, &Art::of(Style::Quiet, plaque()), s).unwrap(),
            s,
        )
        .unwrap();
        for (n, l, u) in [
            ("en", Language::English, Units::Metric),
            ("de", Language::German, Units::Inch),
        ] {
            let o = Options {
                language: l,
                units: u,
                edition: if n == "en" {
                    Edition::Maker
                } else {
                    Edition::KitToFind
                },
            };
            let g = guide_of(&piece, Some("3/25"), o).unwrap().unwrap();
            timed(&format!("guide-{n}.html"), &|| {
                to_html(&g, &piece, &cutouts, Some(&cover)).into()
            });
            timed(&format!("guide-{n}.pdf"), &|| {
                let s = typeset(&g, &piece, &cutouts, Some(&cover), &Paper::A4).unwrap();
                to_pdf_with(&s.pages, &s.info, &s.bookmarks).unwrap()
            });
        }
    }
    timed("whole.pdf", &|| {
        to_pdf(
            &[template::whole(&piece, PrinterCorrection::NONE).unwrap()],
            &info,
        )
        .unwrap()
    });
}
