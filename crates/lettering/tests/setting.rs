//! Text measured against the font's own tables and against another shaper.

use lettering::{Face, PathStep, break_lines, cap_height_per_em, outline_glyph, set_line};

/// Widths in font units (1000 to the em) and glyph ids by HarfBuzz 15.0.0 through uharfbuzz (PyPI) on
/// these font files, default features.
const BY_HARFBUZZ: [(Face, &str, f64, usize); 12] = [
    (Face::Regular, "Main board", 4701.0, 10),
    (Face::Regular, "AVATAR To 1:1 Tx", 6924.0, 16),
    (Face::Regular, "Größe Ø 3.5 mm", 6733.0, 14),
    (Face::Regular, "fi ffl office", 4064.0, 11),
    (Face::Medium, "Main board", 4763.0, 10),
    (Face::Medium, "AVATAR To 1:1 Tx", 7032.0, 16),
    (Face::Medium, "Größe Ø 3.5 mm", 6822.0, 14),
    (Face::Medium, "fi ffl office", 4151.0, 11),
    (Face::SemiBold, "Main board", 4826.0, 10),
    (Face::SemiBold, "AVATAR To 1:1 Tx", 7132.0, 16),
    (Face::SemiBold, "Größe Ø 3.5 mm", 6912.0, 14),
    (Face::SemiBold, "fi ffl office", 4238.0, 11),
];

#[test]
fn widths_and_glyph_counts_are_those_of_another_shaper() {
    for (face, text, units, count) in BY_HARFBUZZ {
        let line = set_line(text, face, 3.5);
        let expected_mm = units * line.font_size_mm / 1000.0;
        assert!(
            (line.width_mm - expected_mm).abs() < 1e-9,
            "{face:?} {text}"
        );
        assert_eq!(line.glyphs.len(), count, "{face:?} {text}");
    }
}

/// yMax of the glyph H in the table `glyf`, read by fontTools 4 (PyPI): 656, 655, 654 of 1000.
#[test]
fn capitals_are_as_high_as_asked() {
    for (face, units) in [
        (Face::Regular, 656.0),
        (Face::Medium, 655.0),
        (Face::SemiBold, 654.0),
    ] {
        assert!((cap_height_per_em(face) - units / 1000.0).abs() < 1e-12);
        let line = set_line("H", face, 5.0);
        let top = highest(&outline_glyph(face, line.glyphs[0].id, 5.0));
        assert!((top - 5.0).abs() < 1e-9, "{face:?}: {top}");
    }
}

fn highest(steps: &[PathStep]) -> f64 {
    steps
        .iter()
        .map(|step| match step {
            PathStep::Move(p)
            | PathStep::Line(p)
            | PathStep::Quad(_, p)
            | PathStep::Cubic(.., p) => p[1],
            PathStep::Close => f64::MIN,
        })
        .fold(f64::MIN, f64::max)
}

#[test]
fn letters_with_accents_and_feet_stay_in_the_line() {
    for face in Face::ALL {
        let line = set_line("ÅŐŘÑÇgjpqyß", face, 7.0);
        for glyph in &line.glyphs {
            for step in outline_glyph(face, glyph.id, 7.0) {
                if let PathStep::Move(p) | PathStep::Line(p) | PathStep::Quad(_, p) = step {
                    assert!(p[1] <= line.ascent_mm + 1e-9 && p[1] >= -line.descent_mm - 1e-9);
                }
            }
        }
    }
}

#[test]
fn one_and_l_and_capital_i_are_three_shapes() {
    let line = set_line("1lI", Face::Regular, 5.0);
    let shapes: Vec<_> = line
        .glyphs
        .iter()
        .map(|g| outline_glyph(Face::Regular, g.id, 5.0))
        .collect();
    assert!(shapes[0] != shapes[1] && shapes[1] != shapes[2] && shapes[0] != shapes[2]);
}

#[test]
fn characters_without_a_glyph_are_named_once() {
    let line = set_line("漢 a 漢\u{200b}字\n", Face::Regular, 3.5);
    assert_eq!(line.missing, ['漢', '字']);
}

#[test]
fn every_byte_of_the_text_belongs_to_a_glyph() {
    let line = set_line("office Größe e\u{301}", Face::Regular, 3.5);
    let mut covered = vec![false; line.text.len()];
    for glyph in &line.glyphs {
        assert!(
            line.text.get(glyph.text.clone()).is_some(),
            "{:?}",
            glyph.text
        );
        covered[glyph.text.clone()].fill(true);
    }
    assert!(covered.iter().all(|&c| c));
}

#[test]
fn lines_are_as_long_as_they_can_be_and_no_longer() {
    let text = "Lay parts flat inside the marks, apart from each other.";
    let lines = break_lines(text, Face::Regular, 2.5, 40.0);
    assert!(lines.len() > 1);
    for pair in lines.windows(2) {
        assert!(pair[0].width_mm <= 40.0);
        let first_word = pair[1].text.split(' ').next().unwrap_or_default();
        let longer = format!("{} {first_word}", pair[0].text);
        assert!(set_line(&longer, Face::Regular, 2.5).width_mm > 40.0);
    }
    let joined: Vec<_> = lines.iter().map(|l| l.text.as_str()).collect();
    assert_eq!(joined.join(" "), text);
}

#[test]
fn line_breaks_of_the_text_stay_and_so_do_empty_lines() {
    let lines = break_lines("Main board\n\nrev. 2\r\n", Face::Regular, 3.5, 100.0);
    let texts: Vec<_> = lines.iter().map(|l| l.text.as_str()).collect();
    assert_eq!(texts, ["Main board", "", "rev. 2"]);
}

#[test]
fn a_word_wider_than_the_line_is_broken_between_letters() {
    let word = "Donaudampfschifffahrtsgesellschaft";
    let lines = break_lines(word, Face::Regular, 5.0, 20.0);
    assert!(lines.iter().all(|l| l.width_mm <= 20.0));
    assert_eq!(
        lines.iter().map(|l| l.text.as_str()).collect::<String>(),
        word
    );
}

#[test]
fn a_letter_wider_than_the_line_stays_whole() {
    let lines = break_lines("WM", Face::Regular, 5.0, 0.1);
    assert_eq!(lines.len(), 2);
}

#[test]
fn no_text_at_all_is_no_glyph() {
    assert_eq!(set_line("", Face::Regular, 5.0).width_mm, 0.0);
    assert!(
        break_lines("", Face::Regular, 5.0, 10.0)
            .iter()
            .all(|l| l.glyphs.is_empty())
    );
}
