//! Sheets speak the language and the units that were asked, all of them.

#![allow(clippy::unwrap_used, reason = "a test may stop at once")]

#[path = "support/ink.rs"]
mod ink;
#[path = "support/plan.rs"]
mod plan;
mod support;

use ink::{bar_lengths, words};
use piece::{Piece, StandIn, StandInForm};
use plan::with_plan;
use press::art::{Art, Style};
use press::plaque::Plaque;
use press::{
    Drawing, Language, Paper, PrinterCorrection, Speech, Units, art, caption_strips, cut,
    glue_sheet, light_table, outlines, plaque, stand_ins, support_sheet, template,
};
use std::collections::BTreeSet;
use support::sample_piece;

const LANGUAGES: [Language; 2] = [Language::English, Language::German];
const UNITS: [Units; 2] = [Units::Metric, Units::Inch];

/// The sample with a stand-in of each form, and with names that are in no language: what is left has words of ours only.
fn nameless() -> Piece {
    let mut piece = with_plan(sample_piece());
    piece.name = "0-0".into();
    piece.device = None;
    for (n, part) in piece.parts.iter_mut().enumerate() {
        part.name = format!("# {n}");
    }
    for caption in &mut piece.captions {
        caption.text = "#".into();
    }
    let forms = [
        StandInForm::Print,
        StandInForm::Card,
        StandInForm::InertCopy,
    ];
    for (part, form) in piece.parts.iter_mut().zip(forms) {
        part.stand_in = Some(StandIn {
            form,
            why: "gone".into(),
        });
    }
    piece
}

/// Every sheet on A4.
fn sheets(piece: &Piece, correction: PrinterCorrection, speech: Speech) -> Vec<Drawing> {
    let paper = Paper::A4;
    let quiet = Art::of(Style::Quiet, None);
    let sign = Plaque::of(piece, None).unwrap();
    let mut pages = vec![
        template::whole(piece, correction, speech).unwrap(),
        art::lay_out(piece, &quiet, speech).unwrap(),
        plaque::lay_out(piece, &sign, speech).unwrap(),
    ];
    for more in [
        template::tiled(piece, &paper, correction, speech),
        caption_strips::lay_out(piece, &paper, correction, speech),
        stand_ins::lay_out(piece, &[], &paper, correction, speech),
        glue_sheet::lay_out(piece, &paper, correction, speech),
        support_sheet::patterns(piece, &paper, correction, speech),
    ] {
        let more = more.unwrap();
        assert!(!more.is_empty());
        pages.extend(more);
    }
    pages
}

/// Names of shapes in the files for machines, and of the files themselves.
fn titles(piece: &Piece, speech: Speech) -> Vec<String> {
    let files = [
        outlines::lay_out(piece, speech).unwrap(),
        light_table::lay_out(piece, speech).unwrap(),
        cut::lay_out(piece, cut::ToolWidth::NONE, speech).unwrap().0,
    ];
    let mut titles: Vec<String> = files.iter().map(|f| f.title.clone()).collect();
    for file in &files {
        titles.extend(
            ink::leaves(file)
                .into_iter()
                .filter_map(|(item, _)| match item {
                    press::Item::Shape(shape) => shape.title.clone(),
                    _ => None,
                }),
        );
    }
    titles
}

/// All that is told on the sheets and in the files, without what has no word in it.
fn told(correction: PrinterCorrection, speech: Speech) -> BTreeSet<String> {
    let piece = nameless();
    let pages = sheets(&piece, correction, speech);
    let told = pages.iter().flat_map(|page| {
        let mut told = words(page);
        told.push(page.title.clone());
        told
    });
    told.chain(titles(&piece, speech))
        .filter(|t| {
            t.split(|c: char| !c.is_alphabetic())
                .any(|w| w.chars().count() > 2)
        })
        .collect()
}

#[test]
fn a_german_sheet_has_no_english_words() {
    let correction = PrinterCorrection::try_new(99.6, 100.2).unwrap();
    for correction in [PrinterCorrection::NONE, correction] {
        for units in UNITS {
            let [english, german] =
                LANGUAGES.map(|language| told(correction, Speech { language, units }));
            assert!(english.len() > 30, "{english:?}");
            let both: Vec<_> = english.intersection(&german).collect();
            assert!(both.is_empty(), "{both:?}");
        }
    }
}

/// The words as a list, by their names.
fn named(language: Language) -> Vec<(String, String)> {
    let listed = format!("{:#?}", language.words());
    let mut name = String::new();
    let mut found = Vec::new();
    for line in listed.lines() {
        let line = line.trim();
        let (key, value) = match line.split_once(": ") {
            Some((key, value)) if !line.starts_with('"') => {
                name = key.to_owned();
                (key, value)
            }
            _ => (name.as_str(), line),
        };
        if value.starts_with('"') {
            found.push((key.to_owned(), value.trim_end_matches(',').to_owned()));
        }
    }
    found
}

#[test]
fn every_phrase_has_its_german_text() {
    let [english, german] = LANGUAGES.map(named);
    assert_eq!(english.len(), german.len());
    assert!(english.len() > 150, "{}", english.len());
    // Words that both languages share.
    let same = ["minutes", "hours", "material"];
    for ((name, english), (_, german)) in english.iter().zip(&german) {
        assert!(german.len() > 2, "{name} is empty");
        assert_eq!(
            english == german,
            same.contains(&name.as_str()),
            "{name}: {english} {german}"
        );
        let holes = |text: &str| text.matches("{}").count();
        assert_eq!(holes(english), holes(german), "{name}");
    }
}

#[test]
fn nothing_that_a_sheet_tells_of_its_own_is_cut_short() {
    let correction = PrinterCorrection::try_new(99.6, 100.2).unwrap();
    for language in LANGUAGES {
        for units in UNITS {
            let speech = Speech { language, units };
            for text in told(correction, speech) {
                assert!(!text.contains('…'), "{text}");
            }
            // Sentences that are broken into lines keep their last words.
            let words_of = language.words().sheet;
            let bar = if units == Units::Metric {
                "100\u{a0}mm"
            } else {
                "4\u{a0}in"
            };
            let corrected = words_of.corrected.replace("{}", bar);
            let ending = |text: &str| text.split_whitespace().last().unwrap().to_owned();
            for page in sheets(&nameless(), correction, speech) {
                let said = words(&page).join(" ");
                let title = &page.title;
                let is = |name: &str| title.ends_with(name);
                if is(words_of.plaque) || is(words_of.board_art) {
                    continue;
                }
                assert!(said.contains(&ending(&corrected)), "{title}: {said}");
                if is(words_of.glue_sheet) {
                    assert!(said.contains(&ending(words_of.glue_what_to_do)), "{said}");
                }
            }
        }
    }
}

/// 4 in = 101.6 mm.
#[test]
fn sheets_in_inches_have_bars_of_4_in_and_name_no_millimetre() {
    for language in LANGUAGES {
        let speech = Speech {
            language,
            units: Units::Inch,
        };
        for page in sheets(&nameless(), PrinterCorrection::NONE, speech) {
            for text in words(&page) {
                let length = [" mm", "\u{a0}mm"].iter().any(|mm| text.contains(mm));
                assert!(!length, "{}: {text}", page.title);
            }
            let (across, up) = bar_lengths(&page);
            if page.title.contains(language.words().sheet.plaque) {
                continue;
            }
            assert_eq!((across.len(), up.len()), (1, 1), "{}", page.title);
            assert!((across[0] - 101.6).abs() < 1e-9 && (up[0] - 101.6).abs() < 1e-9);
        }
    }
}

/// A bar that printed as 3.98 in instead of 4 is 99.5 mm of 100.
#[test]
fn a_correction_in_inches_is_the_one_in_millimetres() {
    let inches = PrinterCorrection::measured([3.98, 4.0], Units::Inch).unwrap();
    let [x, y] = [inches, PrinterCorrection::try_new(99.5, 100.0).unwrap()].map(|c| {
        let piece = sample_piece();
        template::whole(&piece, c, Speech::default()).unwrap()
    });
    let (x, y) = (bar_lengths(&x).0[0], bar_lengths(&y).0[0]);
    assert!((x - y).abs() < 1e-9 && (x - 100.0 / 0.995).abs() < 1e-9);
    let refused = PrinterCorrection::measured([3.9, 4.0], Units::Inch).unwrap_err();
    let said = refused.to_string();
    assert!(said.contains("3.9 in instead of 4 in"), "{said}");
}

#[test]
fn german_sheets_write_numbers_with_a_comma() {
    let speech = Speech {
        language: Language::German,
        units: Units::Metric,
    };
    let correction = PrinterCorrection::try_new(99.6, 100.2).unwrap();
    let said = told(correction, speech);
    let said: Vec<&str> = said.iter().map(String::as_str).collect();
    let all = said.join("\n");
    assert!(all.contains("99,6") && all.contains("100,2"), "{all}");
    for text in said {
        let point = text
            .as_bytes()
            .windows(3)
            .any(|w| w[0].is_ascii_digit() && w[1] == b'.' && w[2].is_ascii_digit());
        assert!(!point, "{text}");
    }
}
