//! How each part is glued, at 1:1: beads, dots and tape where they go, in their order, with dose and time.

use crate::bond_place::bead_path;
use crate::drawing::{Align, Compose};
use crate::fitting::line_shrunk;
use crate::printed_page::{BoxPages, Head, QUIET, SMALL_MM};
use crate::words::filled;
use crate::{
    Drawing, Ink, Item, Paper, Path, PressError, PrinterCorrection, Speech, Stroke, width_mm,
};
use lettering::{Face, set_line};
use piece::Piece;
use piece::{ApplyAs, Bond, Joint};
use shape::{Bounds, Point, Vector};

/// Room for the words below a part, mm.
const WORDS_MM: f64 = 22.5;

/// Least width for the words, mm.
const LEAST_WIDTH_MM: f64 = 66.0;

/// What adhesive looks like on the sheet: a tone that a laser printer holds, and its line.
const GLUE: Ink = Ink::rgb(236, 196, 150);
const GLUE_LINE: Ink = Ink::rgb(150, 82, 24);

/// Lays out every joint of the build plan in the order in which it is made; none where there is no plan.
///
/// # Errors
/// [`PressError::DoesNotFit`]: a part larger than A0.
pub fn lay_out(
    piece: &Piece,
    paper: &Paper,
    correction: PrinterCorrection,
    speech: Speech,
) -> Result<Vec<Drawing>, PressError> {
    let Some(plan) = &piece.build else {
        return Ok(Vec::new());
    };
    let mut pages = BoxPages::on(paper);
    for (order, bond) in plan.bonds.iter().enumerate() {
        let Some(part) = piece.part(&bond.part) else {
            continue;
        };
        let outline = part.shown_outline();
        let b = outline.bounds();
        let size = [b.width_mm().max(LEAST_WIDTH_MM), b.height_mm() + WORDS_MM];
        let what = format!("the joint of part {:?}", part.id.as_str());
        let (items, place) = pages.next(size, &what)?;
        let corner = Point::new(place.min.x, place.max.y - b.height_mm());
        let to_page = corner - b.min;
        items.stroke(
            Path::outline(&outline).shifted(to_page),
            Stroke::continuous(width_mm::WIDE, Ink::BLACK),
        );
        draw_bond(items, bond, to_page);
        let name = piece.item_label(part);
        draw_words(items, (bond, order + 1, &name), place, corner.y, speech);
    }
    let head = Head {
        piece: &piece.name,
        sheet: speech.sheets().glue_sheet,
        what_to_do: speech.sheets().glue_what_to_do,
        speech,
    };
    pages.drawn(head, correction)
}

/// Beads, dots and tape in the part's own coordinates as shown, carried onto the page.
pub(crate) fn draw_bond(items: &mut Vec<Item>, bond: &Bond, to_page: Vector) {
    for path in &bond.paths {
        let path = bead_path(path).shifted(to_page);
        items.stroke(
            path.clone(),
            Stroke::continuous(bond.spread_mm, GLUE).rounded(),
        );
    }
    for &dot in &bond.dots {
        items.fill(Path::circle(dot + to_page, 0.5 * bond.spread_mm), GLUE);
    }
    for tape in &bond.tapes {
        let edge = Path::polygon(&tape.outer).shifted(to_page);
        items.fill(edge.clone(), GLUE);
        items.stroke(edge, Stroke::continuous(width_mm::NARROW, GLUE_LINE));
    }
    // Middle lines over all the tones, so that crossings show.
    for path in &bond.paths {
        let line = Stroke::continuous(width_mm::NARROW, GLUE_LINE);
        items.stroke(bead_path(path).shifted(to_page), line);
    }
    for &dot in &bond.dots {
        items.fill(Path::circle(dot + to_page, 0.35), GLUE_LINE);
    }
    let starts = bond
        .paths
        .iter()
        .filter_map(|p| Some((*p.first()?, *p.get(1)?)));
    let long = bond.paths.len() > 1;
    for (n, (start, next)) in starts.enumerate() {
        let at = start + to_page;
        let along = next - start;
        let length = along.length_mm();
        if length > 1e-9 {
            draw_arrow(items, at, along * (1.0 / length));
        }
        if long && bond.spread_mm > 1.5 {
            let line = set_line(&(n + 1).to_string(), Face::Medium, 1.8);
            let back = along * (-1.0 / length.max(1e-9)) * 1.9;
            let p = at + back - Vector::new(0.5 * line.width_mm, 0.9);
            items.text(line, p, Align::Left, Ink::BLACK);
        }
    }
}

/// A small arrowhead a little along the bead, which shows where it starts and which way it runs.
fn draw_arrow(items: &mut Vec<Item>, start: Point, along: Vector) {
    let tip = start + along * 2.6;
    let across = along.turned_left() * 0.75;
    let foot = start + along * 0.6;
    items.fill(
        Path::polygon(&[tip, foot + across, foot - across]),
        GLUE_LINE,
    );
}

fn draw_words(
    items: &mut Vec<Item>,
    (bond, order, name): (&Bond, usize, &str),
    place: Bounds,
    foot: f64,
    speech: Speech,
) {
    let mark = set_line(&order.to_string(), Face::SemiBold, SMALL_MM);
    let radius = 2.6;
    let centre = Point::new(place.min.x + radius, foot - 2.0 - radius);
    let ring = Stroke::continuous(width_mm::MEDIUM, Ink::BLACK);
    items.stroke(Path::circle(centre, radius), ring);
    items.text(
        mark,
        Point::new(centre.x, centre.y - 0.5 * SMALL_MM),
        Align::Centre,
        Ink::BLACK,
    );
    let x = place.min.x + 2.0 * radius + 2.0;
    let room = place.max.x - x;
    let rows = [
        (
            format!("{name}{}", where_to(bond, speech)),
            Face::Medium,
            Ink::BLACK,
        ),
        (how(bond, speech), Face::Regular, Ink::BLACK),
        (doses(bond, speech), Face::Regular, QUIET),
        (times(bond, speech), Face::Regular, QUIET),
    ];
    for (row, (text, face, ink)) in rows.into_iter().enumerate() {
        let line = line_shrunk(&text, face, SMALL_MM, room);
        let y = centre.y - 0.5 * SMALL_MM - 4.4 * row as f64;
        items.text(line, Point::new(x, y), Align::Left, ink);
    }
}

/// Length of all beads, or of all tape, mm.
pub(crate) fn run_mm(bond: &Bond) -> f64 {
    let beads: f64 = bond
        .paths
        .iter()
        .flat_map(|p| p.windows(2))
        .map(|p| p[0].distance_mm(p[1]))
        .sum();
    beads + bond.tapes.iter().map(|t| t.length_mm).sum::<f64>()
}

/// Which of a part's joints it is, where it has more than one.
fn where_to(bond: &Bond, speech: Speech) -> String {
    let words = speech.sheets();
    let said = match bond.joint {
        Joint::PartToBoard => return String::new(),
        Joint::PartToSupport => words.on_its_support,
        Joint::SupportToBoard => words.support_to_board,
        Joint::SupportLayers => words.between_layers,
    };
    format!(", {said}")
}

fn how(bond: &Bond, speech: Speech) -> String {
    let words = speech.sheets();
    let adhesive = speech.rewrite(&speech.language.item(&bond.adhesive));
    let bead = speech.length(bond.bead_mm);
    let laid = match bond.apply_as {
        ApplyAs::Bead => filled(words.bead, &[&bead]),
        ApplyAs::Dots if bond.dots.len() == 1 => filled(words.one_dot, &[&bead]),
        ApplyAs::Dots => filled(words.dots, &[&bond.dots.len().to_string(), &bead]),
        ApplyAs::Tape if bond.tapes.len() == 1 => words.one_tape.to_owned(),
        ApplyAs::Tape => filled(words.tapes, &[&bond.tapes.len().to_string()]),
        ApplyAs::Film => words.thin_coat.to_owned(),
    };
    format!("{adhesive}, {laid}")
}

fn doses(bond: &Bond, speech: Speech) -> String {
    let mut said = Vec::new();
    let run = run_mm(bond);
    if run > 0.0 {
        said.push(speech.run(run));
    }
    if bond.dose_ml > 0.0 {
        said.push(speech.volume(bond.dose_ml));
    }
    let line = speech.length(bond.bond_line_mm);
    said.push(filled(speech.sheets().bond_line, &[&line]));
    said.join(" · ")
}

fn times(bond: &Bond, speech: Speech) -> String {
    match (bond.lay_minutes, bond.open_minutes) {
        (Some(lay), Some(open)) => {
            let words = speech.language.words();
            let said = speech.time(open, words);
            let lay = if open < 120.0 {
                format!("{:.0}", lay.ceil())
            } else {
                speech.time(lay.ceil(), words)
            };
            filled(words.sheet.lay_in, &[&lay, &said])
        }
        _ => String::new(),
    }
}
