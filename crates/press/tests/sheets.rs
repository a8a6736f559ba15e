//! Art, cut files, strips, stand-ins, glue sheet, supports and the guide.

#![allow(clippy::unwrap_used, reason = "a test may stop at once")]

#[path = "support/plan.rs"]
mod plan;
mod support;

use piece::{Hazard, PartKind, Piece, StandIn, StandInForm, Stream};
use plan::with_plan;
use press::art::{self, Art, Background, Style, read_svg};
use press::cut::{self, LostBecause, ToolWidth};
use press::guide::{Block, Edition, Language, Options, Units, guide_of, to_html, typeset};
use press::homes::{self, HomePart, HomesPicture};
use press::plaque::{self, Plaque};
use press::preview::CutoutImage;
use press::{
    Affine, DocumentInfo, Item, Paper, Path, Picture, PressError, PrinterCorrection, Speech, Step,
    caption_strips, glue_sheet, stand_ins, support_sheet, template, to_dxf, to_pdf, to_pdf_with,
    to_picture, to_svg,
};
use shape::Point;
use support::sample_piece;

fn quiet(piece: &Piece) -> Art {
    Art::of(Style::Quiet, Some(Plaque::of(piece, None).unwrap()))
}

/// The colour of a page's pixel at a point of the board.
fn colour_on_board(picture: &Picture, page_mm: [f64; 2], p: Point, piece: &Piece) -> [u8; 3] {
    let board = piece.frame.board();
    let px_per_mm = f64::from(picture.width_px) / page_mm[0];
    let x = 0.5 * (page_mm[0] - board.width_mm()) + p.x - board.min.x;
    let y = 0.5 * (page_mm[1] - board.height_mm()) + p.y - board.min.y;
    let (px, py) = (x * px_per_mm, (page_mm[1] - y) * px_per_mm);
    let i = 4 * (py as usize * picture.width_px as usize + px as usize);
    [picture.rgba[i], picture.rgba[i + 1], picture.rgba[i + 2]]
}

/// Board or paper must show where adhesive holds: the issue's own rule.
#[test]
fn no_style_and_no_art_of_the_users_prints_under_a_part() {
    let piece = with_plan(sample_piece());
    let black = Picture {
        width_px: 1,
        height_px: 1,
        rgba: [0, 0, 0, 255].to_vec().into(),
        page_from_unit: Affine::IDENTITY,
    };
    let own = Background::Own {
        picture: black,
        light_words: true,
    };
    let styles = [Style::Quiet, Style::Terraces, Style::Draught, Style::Night];
    let backgrounds = styles.map(Background::Style).into_iter().chain([own]);
    for background in backgrounds {
        let art = Art {
            background: background.clone(),
            silhouettes: None,
            plaque: None,
        };
        let page = art::lay_out(&piece, &art, Speech::default()).unwrap();
        let picture = to_picture(&page, 4.0).unwrap();
        let size = [page.width_mm, page.height_mm];
        let mut looked_at = 0;
        for (_, outline) in piece.outlines_on_board() {
            let b = outline.bounds();
            let inner = shape::offset(std::slice::from_ref(&outline), -1.5);
            for i in 0..=20 {
                for j in 0..=20 {
                    let p = Point::new(
                        b.min.x + b.width_mm() * f64::from(i) / 20.0,
                        b.min.y + b.height_mm() * f64::from(j) / 20.0,
                    );
                    if inner.iter().any(|o| o.contains(p)) {
                        let found = colour_on_board(&picture, size, p, &piece);
                        assert_eq!(found, [255; 3], "{p:?} {background:?}");
                        looked_at += 1;
                    }
                }
            }
        }
        assert!(looked_at > 200, "{looked_at}");
    }
}

#[test]
fn dark_art_is_dark_beside_the_parts_and_reaches_over_the_cut() {
    let piece = sample_piece();
    let page = art::lay_out(&piece, &Art::of(Style::Night, None), Speech::default()).unwrap();
    let picture = to_picture(&page, 4.0).unwrap();
    let size = [page.width_mm, page.height_mm];
    let board = piece.frame.board();
    for p in [
        Point::new(board.min.x - 2.0, board.centre().y),
        Point::new(board.max.x + 2.0, board.max.y + 2.0),
        Point::new(4.0, 4.0),
    ] {
        let [r, g, b] = colour_on_board(&picture, size, p, &piece);
        assert!(r < 60 && g < 60 && b < 60, "{p:?}");
    }
    let beyond = Point::new(board.min.x - 4.5, board.centre().y + 20.0);
    assert_eq!(colour_on_board(&picture, size, beyond, &piece), [255; 3]);
}

/// ISO 32000-1, 14.11.2: trim and bleed box lie in the media box, the bleed 3 mm round the trim.
#[test]
fn art_says_where_it_is_trimmed() {
    let piece = sample_piece();
    let page = art::lay_out(&piece, &quiet(&piece), Speech::default()).unwrap();
    let pdf = to_pdf(&[page], &DocumentInfo::default()).unwrap();
    let text = String::from_utf8_lossy(&pdf);
    let numbers = |name: &str| -> Vec<f64> {
        let inside = text
            .split(name)
            .nth(1)
            .unwrap()
            .split(['[', ']'])
            .nth(1)
            .unwrap();
        let mm = |n: &str| n.parse::<f64>().unwrap() / 72.0 * 25.4;
        inside.split_whitespace().map(mm).collect()
    };
    let (trim, bleed) = (numbers("/TrimBox"), numbers("/BleedBox"));
    let board = piece.frame.board();
    assert!(
        (trim[2] - trim[0] - board.width_mm()).abs() < 0.001,
        "{trim:?}"
    );
    assert!(
        (trim[3] - trim[1] - board.height_mm()).abs() < 0.001,
        "{trim:?}"
    );
    for (t, b, sign) in [(0, 0, -1.0), (1, 1, -1.0), (2, 2, 1.0), (3, 3, 1.0)] {
        assert!((bleed[b] - trim[t] - 3.0 * sign).abs() < 0.001);
    }
}

#[test]
fn the_users_svg_is_painted_and_what_is_hostile_in_it_is_refused() {
    let svg = |inside: &str| {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"10\" height=\"20\">{inside}</svg>"
        )
    };
    let red = svg("<rect width=\"10\" height=\"20\" fill=\"#c81414\"/>");
    let picture = read_svg(red.as_bytes(), [50.0, 80.0]).unwrap();
    assert_eq!(picture.rgba[..4], [200, 20, 20, 255]);
    let deep = format!("{}{}", "<g opacity=\"0.5\">".repeat(9), "</g>".repeat(9)).replacen(
        "</g>",
        "<rect width=\"9\" height=\"9\"/></g>",
        1,
    );
    for (inside, said) in [
        ("<text>words</text>", "convert text to paths"),
        ("<image href=\"file:///etc/passwd\"/>", "picture inside"),
        ("<filter id=\"f\"/>", "filters"),
        (deep.as_str(), "flatten"),
        ("", "shows nothing"),
    ] {
        let refused = read_svg(svg(inside).as_bytes(), [50.0, 80.0]).unwrap_err();
        assert!(refused.to_string().contains(said), "{refused}");
    }
    let laughs =
        "<!DOCTYPE svg [<!ENTITY a \"aaaa\">]><svg xmlns=\"http://www.w3.org/2000/svg\">&a;</svg>";
    for bad in [laughs.as_bytes(), b"not xml", b"\xff\xfe", b"<svg"] {
        assert!(matches!(
            read_svg(bad, [50.0, 80.0]),
            Err(PressError::Art(_))
        ));
    }
}

/// References that double at each of 30 levels would be a thousand million shapes.
#[test]
fn an_svg_that_multiplies_itself_is_refused() {
    let mut svg = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"9\" height=\"9\"><defs>\
                   <rect id=\"r0\" width=\"1\" height=\"1\"/>"
        .to_owned();
    for n in 1..30 {
        let m = n - 1;
        svg += &format!("<g id=\"r{n}\"><use href=\"#r{m}\"/><use href=\"#r{m}\"/></g>");
    }
    svg += "</defs><use href=\"#r29\"/></svg>";
    assert!(matches!(
        read_svg(svg.as_bytes(), [50.0, 80.0]),
        Err(PressError::Art(_))
    ));
}

fn groups(items: &[Item]) -> Vec<(String, usize)> {
    let mut found = Vec::new();
    for item in items {
        if let Item::Group(group) = item {
            found.push((group.id.clone().unwrap_or_default(), group.items.len()));
        }
    }
    found
}

#[test]
fn cuts_have_a_layer_for_each_kind() {
    let piece = with_plan(sample_piece());
    let (cuts, lost) = cut::lay_out(&piece, ToolWidth::NONE, Speech::default()).unwrap();
    let shells = piece
        .parts
        .iter()
        .filter(|p| p.kind == PartKind::Shell)
        .count();
    let wanted = [
        ("outlines", piece.placements.len()),
        ("fills", shells),
        ("board_holes", 2),
        ("mat_window", 1),
        ("board_edge", 1),
    ];
    assert_eq!(
        groups(&cuts.items),
        wanted.map(|(n, c)| (n.to_owned(), c)).to_vec()
    );
    assert!(lost.is_empty());
}

/// Twice the area between the chords of a path and its closing, arcs by their segments (Green's theorem).
fn area_mm2(path: &Path) -> f64 {
    let (mut sum, mut start, mut pen) = (0.0, Point::default(), Point::default());
    for step in &path.steps {
        match *step {
            Step::Move(p) => (start, pen) = (p, p),
            Step::Line(p) => {
                sum += 0.5 * (pen.x * p.y - pen.y * p.x);
                pen = p;
            }
            Step::Arc(p, bulge) => {
                sum += 0.5 * (pen.x * p.y - pen.y * p.x);
                let angle = 4.0 * bulge.atan();
                let chord = pen.distance_mm(p);
                let r = chord / (2.0 * (0.5 * angle).sin());
                sum += 0.5 * r * r * (angle - angle.sin());
                pen = p;
            }
            Step::Close => {
                sum += 0.5 * (pen.x * start.y - pen.y * start.x);
                pen = start;
            }
            _ => panic!("a cut is of lines and arcs"),
        }
    }
    sum
}

/// Truth: a convex outline grown by d has area A + P d + pi d^2 (Steiner); the window shrunk by d has (w-2d)(h-2d).
#[test]
fn a_tool_runs_half_its_width_beside_the_edge_on_the_side_that_is_waste() {
    let piece = sample_piece();
    let d = 1.5;
    let (cuts, _) = cut::lay_out(
        &piece,
        ToolWidth::try_new(2.0 * d).unwrap(),
        Speech::default(),
    )
    .unwrap();
    let in_group = |name: &str| -> Vec<f64> {
        let group = cuts.items.iter().find_map(|i| match i {
            Item::Group(g) if g.id.as_deref() == Some(name) => Some(g),
            _ => None,
        });
        let items = &group.unwrap().items;
        items
            .iter()
            .map(|i| match i {
                Item::Shape(s) => area_mm2(&s.path),
                _ => panic!(),
            })
            .collect()
    };
    let window = piece.frame.window();
    let (w, h) = (window.width_mm(), window.height_mm());
    let found = in_group("mat_window")[0];
    assert!(
        (found / ((w - 2.0 * d) * (h - 2.0 * d)) - 1.0).abs() < 1e-5,
        "{found}"
    );
    let board = piece.frame.board();
    let (w, h) = (board.width_mm(), board.height_mm());
    let grown = w * h + 2.0 * (w + h) * d + std::f64::consts::PI * d * d;
    let found = in_group("board_edge")[0];
    assert!((found / grown - 1.0).abs() < 1e-5, "{found} {grown}");
    let refused = ToolWidth::try_new(f64::NAN).unwrap_err();
    assert!(refused.to_string().contains("tool"), "{refused}");
}

#[test]
fn a_hole_that_the_tool_does_not_get_into_is_named() {
    let piece = with_plan(sample_piece());
    let (_, lost) =
        cut::lay_out(&piece, ToolWidth::try_new(3.0).unwrap(), Speech::default()).unwrap();
    assert!(lost.iter().any(|l| l.layer == "board_holes"), "{lost:?}");
}

#[test]
fn dxf_says_millimetres_and_keeps_arcs() {
    let piece = with_plan(sample_piece());
    let (cuts, _) = cut::lay_out(&piece, ToolWidth::NONE, Speech::default()).unwrap();
    let dxf = to_dxf(&cuts);
    assert!(dxf.contains("$INSUNITS\n70\n4\n") && dxf.contains("AC1015"));
    // The tie's two holes are two arcs each.
    assert_eq!(dxf.matches("\n42\n1.000000000000\n").count(), 4);
    for layer in [
        "OUTLINES",
        "FILLS",
        "BOARD_HOLES",
        "MAT_WINDOW",
        "BOARD_EDGE",
    ] {
        assert!(dxf.contains(&format!("\n8\n{layer}\n")), "{layer}");
    }
    assert!(dxf.ends_with("0\nEOF\n") && dxf.is_ascii());
}

#[test]
fn strips_stand_ins_glue_and_supports_keep_to_their_paper_and_have_bars() {
    let mut piece = with_plan(sample_piece());
    piece.parts[2].stand_in = Some(StandIn {
        form: StandInForm::Card,
        why: "missing".into(),
    });
    let none = PrinterCorrection::NONE;
    for paper in [Paper::A4, Paper::LETTER] {
        let sheets = [
            caption_strips::lay_out(&piece, &paper, none, Speech::default()).unwrap(),
            stand_ins::lay_out(&piece, &[], &paper, none, Speech::default()).unwrap(),
            glue_sheet::lay_out(&piece, &paper, none, Speech::default()).unwrap(),
            support_sheet::patterns(&piece, &paper, none, Speech::default()).unwrap(),
        ];
        for pages in sheets {
            assert!(!pages.is_empty());
            for page in pages {
                let room = page.page().grown(-4.9);
                for item in &page.items {
                    let b = item.bounds().unwrap();
                    assert!(room.holds(b), "{}: {b:?}", page.title);
                }
                let bars = page
                    .items
                    .iter()
                    .filter(|i| matches!(i, Item::Text(t) if t.line.text == "100 mm: measure me"));
                assert_eq!(bars.count(), 2, "{}", page.title);
            }
        }
    }
}

#[test]
fn a_caption_longer_than_the_paper_and_an_edition_longer_than_a_plaque_are_refused() {
    let mut piece = sample_piece();
    piece.captions[0].w = 400.0;
    let refused = caption_strips::lay_out(
        &piece,
        &Paper::A4,
        PrinterCorrection::NONE,
        Speech::default(),
    )
    .unwrap_err();
    assert!(refused.to_string().contains("captions[0]"), "{refused}");
    let mut piece = sample_piece();
    piece.captions[3].text = "a very long caption ".repeat(20);
    let refused = template::whole(&piece, PrinterCorrection::NONE, Speech::default()).unwrap_err();
    let said = refused.to_string();
    assert!(
        said.contains("captions[3].text needs") && said.contains("shorten it"),
        "{said}"
    );
    let refused = Plaque::of(&piece, Some("number three of a very large edition")).unwrap_err();
    assert!(matches!(refused, PressError::TooLong { .. }), "{refused}");
    let refused = Plaque::of(&piece, Some("三")).unwrap_err();
    assert!(refused.to_string().contains('三'), "{refused}");
    let sign = plaque::lay_out(
        &piece,
        &Plaque::of(&piece, Some("3/25")).unwrap(),
        Speech::default(),
    )
    .unwrap();
    assert!(to_svg(&sign).contains("3/25"));
}

fn options(language: Language, units: Units, edition: Edition) -> Options {
    Options {
        language,
        units,
        edition,
    }
}

/// What can happen was told in English in the German guide, though its text was there.
#[test]
fn a_caution_is_told_in_the_guides_language() {
    let mut piece = with_plan(sample_piece());
    let plan = piece.build.as_mut().unwrap();
    let caution = plan.steps.iter_mut().flat_map(|s| &mut s.cautions).next();
    let caution = caution.expect("the sample plan has cautions");
    caution.code = "knife".into();
    caution.text = "Blades slip.".into();
    for (language, told, not) in [
        (Language::English, "Blades slip.", "Klingen rutschen ab."),
        (Language::German, "Klingen rutschen ab.", "Blades slip."),
    ] {
        let told_how = options(language, Units::Metric, Edition::Maker);
        let guide = guide_of(&piece, None, told_how).unwrap().unwrap();
        let html = to_html(&guide, &piece, &[], None);
        assert!(html.contains(told) && !html.contains(not), "{told}");
    }
}

#[test]
fn the_guide_has_the_same_chapters_as_page_and_as_document_in_both_languages() {
    let piece = with_plan(sample_piece());
    for language in [Language::English, Language::German] {
        for edition in [Edition::Maker, Edition::KitWithParts, Edition::KitToFind] {
            let told = options(language, Units::Metric, edition);
            let guide = guide_of(&piece, Some("3/25"), told).unwrap().unwrap();
            let html = to_html(&guide, &piece, &[], None);
            let set = typeset(&guide, &piece, &[], None, &Paper::A4).unwrap();
            let marks: Vec<&str> = set
                .bookmarks
                .iter()
                .filter(|b| b.level == 0)
                .map(|b| b.title.as_str())
                .collect();
            let chapters: Vec<&str> = guide.chapters.iter().map(|c| c.title.as_str()).collect();
            assert_eq!(marks, chapters);
            for chapter in chapters {
                assert!(html.contains(&format!(">{chapter}</h2>")), "{chapter}");
            }
            let plan = piece.build.as_ref().unwrap();
            assert_eq!(
                html.matches("class=\"step-tick\"").count(),
                plan.steps.len() + plan.later.len()
            );
            // Nothing is fetched from anywhere.
            assert!(!html.contains("http://") && !html.contains("https://"));
            assert_eq!(guide.facts.len(), 6);
            let pdf = to_pdf_with(&set.pages, &set.info, &set.bookmarks).unwrap();
            assert!(String::from_utf8_lossy(&pdf).contains("/Outlines"));
        }
    }
}

/// However long the list of parts above it, the picture that tells where they lie stands under its heading.
#[test]
fn the_picture_of_the_places_stands_on_the_page_of_its_heading() {
    let piece = with_plan(sample_piece());
    let told = options(Language::English, Units::Metric, Edition::Maker);
    let guide = guide_of(&piece, None, told).unwrap().unwrap();
    for longer in 0..40 {
        let mut guide = guide.clone();
        let tables = guide.chapters.iter_mut().flat_map(|c| &mut c.blocks);
        for block in tables {
            if let Block::Table(table) = block
                && table.shares.len() == 6
            {
                let row = table.rows[0].clone();
                table.rows.extend(std::iter::repeat_n(row, longer));
            }
        }
        let set = typeset(&guide, &piece, &[], None, &Paper::A4).unwrap();
        let heading = |item: &Item| match item {
            Item::Text(text) if text.line.text == "Where every part lies" => Some(text.at.y),
            _ => None,
        };
        let mut pages = set.pages.iter().map(|p| &p.items);
        let (page, y) = pages
            .find_map(|items| Some((items, items.iter().find_map(heading)?)))
            .unwrap();
        let drawn = page.iter().filter(|i| !matches!(i, Item::Text(_)));
        let lowest = drawn.filter_map(Item::bounds).map(|b| b.min.y);
        let lowest = lowest.fold(f64::INFINITY, f64::min);
        assert!(lowest < y - 80.0, "{longer} rows more: {lowest} below {y}");
    }
}

#[test]
fn who_gets_the_parts_in_a_box_takes_no_device_apart_and_starts_at_once() {
    let mut piece = with_plan(sample_piece());
    let plan = piece.build.as_mut().unwrap();
    let (first, last) = (plan.steps[0].clone(), plan.elapsed_minutes);
    let mut free = first.clone();
    free.id = "free.it".into();
    free.code = "step.free-warm-air".into();
    free.after = Vec::new();
    (free.start_minute, free.end_minute) = (0.0, 30.0);
    free.hands_on_minutes = 30.0;
    for s in &mut plan.steps {
        s.start_minute += 30.0;
        s.end_minute += 30.0;
    }
    plan.elapsed_minutes += 30.0;
    plan.steps[0].after.push(free.id.clone());
    plan.steps.insert(0, free);
    let ids = |edition| -> Vec<String> {
        let told = options(Language::English, Units::Metric, edition);
        let guide = guide_of(&piece, None, told).unwrap().unwrap();
        let blocks = guide.chapters.iter().flat_map(|c| &c.blocks);
        blocks
            .filter_map(|b| match b {
                Block::Step(s) => Some(s.id.clone()),
                _ => None,
            })
            .collect()
    };
    let maker = ids(Edition::Maker);
    assert_eq!(ids(Edition::KitToFind), maker);
    assert_eq!(maker[0], "free.it");
    assert_eq!(ids(Edition::KitWithParts), maker[1..]);
    let told = options(Language::English, Units::Metric, Edition::KitWithParts);
    let guide = guide_of(&piece, None, told).unwrap().unwrap();
    let bars = guide.chapters.iter().flat_map(|c| &c.blocks);
    let ends = bars.filter_map(|b| match b {
        Block::Schedule(bars) => bars.iter().map(|b| b.to_minute).reduce(f64::max),
        _ => None,
    });
    assert_eq!(ends.fold(0.0, f64::max), last);
}

#[test]
fn everything_in_the_guide_stays_on_its_page_and_clear_of_the_foot() {
    let piece = with_plan(sample_piece());
    for paper in [Paper::A4, Paper::LETTER] {
        let guide = guide_of(&piece, None, Options::default()).unwrap().unwrap();
        let set = typeset(&guide, &piece, &[], None, &paper).unwrap();
        assert!(set.pages.len() > 6);
        for page in &set.pages {
            let room = page.page().grown(-10.0);
            for item in &page.items {
                if let Some(b) = item.bounds() {
                    assert!(room.holds(b), "{b:?}");
                }
            }
            assert!(page.items.len() > 3, "an empty page");
        }
    }
}

#[test]
fn a_guide_in_inches_names_no_millimetre_but_the_bars() {
    let piece = with_plan(sample_piece());
    let told = options(Language::English, Units::Inch, Edition::Maker);
    let guide = guide_of(&piece, None, told).unwrap().unwrap();
    let html = to_html(&guide, &piece, &[], None);
    let words = html.split("<main>").nth(1).unwrap();
    // Papers' and sheets' own names stay: the bar of 100 mm, cut files in mm, names of materials.
    let left = words
        .replace("100 mm", "")
        .replace("Cut files in mm", "")
        .matches("\u{a0}mm")
        .count();
    assert_eq!(left, 0);
    assert!(words.contains("\u{a0}in"));
}

#[test]
fn a_piece_without_a_plan_has_no_guide_and_a_changed_one_says_so() {
    let mut piece = sample_piece();
    assert!(
        guide_of(&piece, None, Options::default())
            .unwrap()
            .is_none()
    );
    piece = with_plan(piece);
    assert!(press::guide::is_current(&piece));
    piece.placements[0].x += 1.0;
    assert!(!press::guide::is_current(&piece));
}

#[test]
fn hostile_names_stay_words_in_the_page() {
    let mut piece = sample_piece();
    piece.name = "</title><script>alert(1)</script>\"'&".into();
    piece.parts[0].name = "<img src=x onerror=alert(1)>".into();
    let piece = with_plan(piece);
    let guide = guide_of(&piece, None, Options::default()).unwrap().unwrap();
    let html = to_html(&guide, &piece, &[], None);
    assert_eq!(html.matches("<script>").count(), 1);
    assert!(!html.contains("<img src=x"));
}

#[test]
fn the_same_piece_gives_the_same_bytes() {
    let piece = with_plan(sample_piece());
    let all = || {
        let guide = guide_of(&piece, None, Options::default()).unwrap().unwrap();
        let set = typeset(&guide, &piece, &[], None, &Paper::A4).unwrap();
        let (cuts, _) = cut::lay_out(&piece, ToolWidth::NONE, Speech::default()).unwrap();
        (
            to_html(&guide, &piece, &[], None),
            to_pdf_with(&set.pages, &set.info, &set.bookmarks).unwrap(),
            to_dxf(&cuts),
            to_pdf(
                &[art::lay_out(&piece, &quiet(&piece), Speech::default()).unwrap()],
                &DocumentInfo::default(),
            )
            .unwrap(),
        )
    };
    assert!(all() == all());
}

/// A1 594 x 841 mm, A0 841 x 1189 mm (ISO 216).
#[test]
fn a_template_as_large_as_a0_is_one_page_that_says_where_it_is_trimmed() {
    let mut piece = sample_piece();
    piece.frame.size_mm = [780.0, 1100.0];
    let page = template::whole(&piece, PrinterCorrection::NONE, Speech::default()).unwrap();
    assert!(
        page.width_mm <= 841.0 && page.height_mm <= 1189.0,
        "{} {}",
        page.width_mm,
        page.height_mm
    );
    let trim = page.trim.unwrap();
    assert_eq!(trim.sheet.width_mm(), piece.frame.board().width_mm());
}

/// What the fuzz target `art_svg` holds, on files with a few bytes changed.
#[test]
fn damaged_art_is_read_or_refused_and_nothing_else() {
    let whole = include_bytes!("../../../fuzz/seeds/art_svg/shapes.svg");
    let mut chance = shape::Random::new(6);
    for _ in 0..400 {
        let mut bytes = whole.to_vec();
        for _ in 0..=chance.below(4) {
            let at = chance.below(bytes.len());
            match chance.below(3) {
                0 => bytes[at] = chance.below(256) as u8,
                1 => bytes.truncate(at.max(1)),
                _ => bytes.insert(at, b"<>\"/&9-#"[at % 8]),
            }
        }
        match read_svg(&bytes, [20.0, 30.0]) {
            Ok(read) => assert_eq!(
                read.rgba.len(),
                4 * read.width_px as usize * read.height_px as usize
            ),
            Err(e) => assert!(!e.to_string().is_empty()),
        }
    }
}

/// The guide had rules of its own for what is left over, and sent beryllium and charged capacitors to where boards go.
#[test]
fn what_can_hurt_goes_where_the_ledger_sends_it() {
    let mut piece = with_plan(sample_piece());
    let hazards = [
        (Hazard::Beryllium, Stream::Hazardous),
        (Hazard::CathodeRayTube, Stream::Tubes),
        (Hazard::FlashCapacitor, Stream::Capacitors),
    ];
    for (part, (hazard, _)) in piece.parts.iter_mut().zip(hazards) {
        part.kind = PartKind::Other;
        part.hazards = vec![hazard];
    }
    piece.parts[3].kind = PartKind::Shell;
    piece.parts[3].hazards.clear();
    piece.parts[3].back_face = Some("aluminium".into());
    let expected = hazards.map(|(_, stream)| stream);
    for language in [Language::English, Language::German] {
        let told = Options {
            language,
            ..Options::default()
        };
        let guide = guide_of(&piece, None, told).unwrap().unwrap();
        let recycling = guide.chapters.iter().find(|c| c.id == "recycling").unwrap();
        let rows = recycling.blocks.iter().find_map(|b| match b {
            Block::Table(table) => Some(&table.rows),
            _ => None,
        });
        let words = language.words();
        for (part, stream) in piece
            .parts
            .iter()
            .zip(expected.iter().chain([&Stream::Metals]))
        {
            let mut lines = rows.unwrap().iter();
            let line = lines.find(|r| r[0].split(", ").any(|name| name == part.name));
            assert_eq!(line.unwrap()[1], words.stream(*stream), "{}", part.name);
        }
    }
}

/// A hole of 2 mm in a support went missing under a tool of 3 mm, and a support without an outline was passed over.
#[test]
fn what_the_tool_cannot_cut_of_the_supports_is_named() {
    let mut piece = with_plan(sample_piece());
    let plan = piece.build.as_mut().unwrap();
    let tool = ToolWidth::try_new(3.0).unwrap();
    let square = |at: f64, side: f64| {
        [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)]
            .map(|(x, y)| Point::new(at + x, at + y))
            .to_vec()
    };
    plan.supports[0].outer = square(0.0, 30.0);
    plan.supports[0].holes = vec![square(10.0, 2.0)];
    let lost_of = |piece: &Piece| {
        let (_, lost) = support_sheet::nested(piece, tool, Speech::default())
            .unwrap()
            .unwrap();
        let told: Vec<_> = lost.into_iter().map(|l| (l.what, l.why)).collect();
        told
    };
    let name = piece.item_label(
        piece
            .part(&piece.build.as_ref().unwrap().supports[0].part)
            .unwrap(),
    );
    assert_eq!(lost_of(&piece), [(name.clone(), LostBecause::ToolTooWide)]);
    let plan = piece.build.as_mut().unwrap();
    plan.supports[0].holes = vec![square(10.0, 6.0)];
    assert_eq!(lost_of(&piece), []);

    let plan = piece.build.as_mut().unwrap();
    plan.supports[0].outer.truncate(2);
    assert_eq!(lost_of(&piece), [(name.clone(), LostBecause::NoOutline)]);
    let (_, lost) = cut::lay_out(&piece, tool, Speech::default()).unwrap();
    let fills = lost.iter().filter(|l| l.layer == cut::layer::FILLS);
    let told: Vec<_> = fills.map(|l| (l.what.clone(), l.why)).collect();
    assert!(told.contains(&(name, LostBecause::NoOutline)), "{told:?}");
}

/// Such names printed as empty boxes, and nobody was told.
#[test]
fn letters_that_no_font_has_are_found_on_every_kind_of_page() {
    let mut piece = with_plan(sample_piece());
    for part in &mut piece.parts {
        part.name = "板".into();
        part.stand_in = Some(StandIn {
            form: StandInForm::Card,
            why: "missing".into(),
        });
    }
    let (paper, none, told) = (Paper::A4, PrinterCorrection::NONE, Speech::default());
    for pages in [
        glue_sheet::lay_out(&piece, &paper, none, told).unwrap(),
        stand_ins::lay_out(&piece, &[], &paper, none, told).unwrap(),
        support_sheet::patterns(&piece, &paper, none, told).unwrap(),
    ] {
        let missing: Vec<_> = pages.iter().flat_map(|p| p.missing_letters()).collect();
        assert!(
            missing
                .iter()
                .any(|m| m.letters == "板" && m.text.contains('板')),
            "{}",
            pages[0].title
        );
    }
    // A page that is corrected for its printer carries everything in a group.
    let correction = PrinterCorrection::try_new(99.6, 100.2).unwrap();
    let pages = glue_sheet::lay_out(&piece, &paper, correction, told).unwrap();
    assert!(!pages[0].missing_letters().is_empty());
    let plain = glue_sheet::lay_out(&with_plan(sample_piece()), &paper, none, told).unwrap();
    assert!(plain.iter().all(|p| p.missing_letters().is_empty()));
}

/// What doubles in a mask or a pattern was counted once, and then painted for minutes.
#[test]
fn an_svg_that_multiplies_itself_in_a_mask_or_pattern_is_refused() {
    // 300 things behind one mask of 1,000 shapes: 300,000 shapes are painted.
    let shape = "<rect width=\"1\" height=\"1\" fill=\"white\"/>".repeat(1_000);
    let masked = "<rect width=\"9\" height=\"9\" mask=\"url(#m)\"/>".repeat(300);
    let mask = format!("<defs><mask id=\"m\">{shape}</mask></defs>{masked}");
    // Patterns painted with patterns: each asks twice for the next.
    let mut patterns = String::new();
    for n in 0..24 {
        let fill = if n == 0 {
            "red".to_owned()
        } else {
            format!("url(#p{})", n - 1)
        };
        patterns += &format!(
            "<pattern id=\"p{n}\" width=\"4\" height=\"4\" patternUnits=\"userSpaceOnUse\">\
             <rect width=\"2\" height=\"2\" fill=\"{fill}\"/><rect x=\"2\" width=\"2\" height=\"2\" fill=\"{fill}\"/></pattern>"
        );
    }
    let pattern =
        format!("<defs>{patterns}</defs><rect width=\"9\" height=\"9\" fill=\"url(#p23)\"/>");
    for inside in [mask, pattern] {
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"9\" height=\"9\">{inside}</svg>"
        );
        let refused = read_svg(svg.as_bytes(), [50.0, 80.0])
            .unwrap_err()
            .to_string();
        assert!(
            refused.contains("simplify it") || refused.contains("flatten them"),
            "{refused}"
        );
    }
    let plain = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"9\" height=\"9\"><mask id=\"m\"><rect width=\"5\" \
                 height=\"9\" fill=\"white\"/></mask><rect width=\"9\" height=\"9\" mask=\"url(#m)\"/></svg>";
    assert!(read_svg(plain.as_bytes(), [50.0, 80.0]).is_ok());
}

/// A scale of 0 made the picture endless; too few bytes made it a panic of the writer, or nothing.
#[test]
fn a_picture_at_home_is_checked_as_on_the_board() {
    let part = &sample_piece().parts[0];
    let picture = |px_per_mm: f64, bytes: usize| CutoutImage {
        part: part.id.clone(),
        width_px: 2,
        height_px: 2,
        rgba: vec![255; bytes].into(),
        px_per_mm,
        origin_mm: [0.0, 0.0],
    };
    let laid_out = |image: CutoutImage| {
        homes::lay_out(&HomesPicture {
            title: "Homes".into(),
            device: part.outline.clone(),
            parts: vec![HomePart {
                name: part.name.clone(),
                number: 1,
                outline: part.outline.clone(),
                home: piece::Home {
                    x: 0.0,
                    y: 0.0,
                    turn_deg: 0.0,
                    layer: 0,
                },
                confidence: 1.0,
                unsure: false,
                picture: Some(image),
            }],
            without: Vec::new(),
        })
    };
    assert!(laid_out(picture(0.02, 16)).is_ok());
    assert!(matches!(
        laid_out(picture(0.0, 16)),
        Err(PressError::Length { .. })
    ));
    assert!(matches!(
        laid_out(picture(0.02, 15)),
        Err(PressError::Pixels { .. })
    ));
}
