//! What goes wrong with drawings, and what is worth knowing of one that was read.

use super::DrawingFormat;
use shape::Point;
use std::fmt::Write as _;

/// Why a file gave no drawing.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DrawingError {
    /// Nothing in it.
    #[error("the {format} file is empty; export it again")]
    Empty {
        /// The file's format.
        format: DrawingFormat,
    },
    /// The file itself is too large.
    #[error(
        "the file has {bytes} bytes, the limit for a drawing is {limit}; export the outline alone"
    )]
    FileTooLarge {
        /// Its size.
        bytes: usize,
        /// The largest size taken.
        limit: usize,
    },
    /// The file ends before the drawing does.
    #[error("the {format} file is cut short: {missing}; export it again")]
    Truncated {
        /// The file's format.
        format: DrawingFormat,
        /// What should have come.
        missing: &'static str,
    },
    /// A place that cannot be understood.
    #[error("the {format} file, line {line}: {problem}")]
    Broken {
        /// The file's format.
        format: DrawingFormat,
        /// Line in the file, from 1.
        line: usize,
        /// What is wrong there and what to do.
        problem: String,
    },
    /// Another kind of file than its name says, or a form that is not read.
    #[error("{0}")]
    NotRead(&'static str),
    /// More than a drawing of parts needs.
    #[error("the drawing has more than {limit} {what}; export the outline alone")]
    TooMany {
        /// Of what there is too much.
        what: &'static str,
        /// The limit.
        limit: usize,
    },
    /// Groups, blocks or references within each other, perhaps in a circle.
    #[error(
        "{name:?} is nested more than {limit} deep, or holds itself; break it up in the drawing program and export again"
    )]
    NestedTooDeep {
        /// What is nested.
        name: String,
        /// The limit.
        limit: usize,
    },
    /// Nothing closed is drawn.
    #[error("the {format} file draws no closed outline{}", in_words(.left_out))]
    NoOutline {
        /// The file's format.
        format: DrawingFormat,
        /// What was left out, and why.
        left_out: Vec<DrawingWarning>,
    },
}

fn in_words(left_out: &[DrawingWarning]) -> String {
    if left_out.is_empty() {
        return "; give a drawing of the part's edge".into();
    }
    left_out.iter().fold(String::new(), |mut text, w| {
        let _ = write!(text, "; {w}");
        text
    })
}

/// What is worth knowing of a drawing. The text before the first semicolon says what, the rest what to do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DrawingWarning {
    /// No unit is stated.
    #[error("the drawing states no unit, {} was assumed for 1; check a length, and say the unit where it is another", length_in_words(*.unit_mm))]
    UnitAssumed {
        /// The assumed length of 1, mm.
        unit_mm: f64,
    },
    /// Lines that close no ring.
    #[error("open paths left out: {count}, the first from ({:.2}, {:.2}) to ({:.2}, {:.2}) mm; close them where they are part of an outline", .from.x, .from.y, .to.x, .to.y)]
    OpenPaths {
        /// How many, after chaining.
        count: usize,
        /// Start of the first, mm.
        from: Point,
        /// Its end, mm.
        to: Point,
    },
    /// Rings that are no outline.
    #[error("closed paths left out: {count}, the first at ({:.2}, {:.2}) mm {problem}; draw them without crossings", .at.x, .at.y)]
    UnusableRings {
        /// How many.
        count: usize,
        /// A point of the first, mm.
        at: Point,
        /// What is wrong with it.
        problem: String,
    },
    /// The same lines twice.
    #[error("paths drawn twice: {count}, the first at ({:.2}, {:.2}) mm; one of each was taken", .at.x, .at.y)]
    DrawnTwice {
        /// How many are superfluous.
        count: usize,
        /// A point of the first, mm.
        at: Point,
    },
    /// Openings that reach over the edge.
    #[error("openings that touch or cross the edge: {count}, the first at ({:.2}, {:.2}) mm; they were cut out of it", .at.x, .at.y)]
    CutAtEdge {
        /// How many.
        count: usize,
        /// A point of the first, mm.
        at: Point,
    },
    /// What the file holds beside lines: text, hatches, pads.
    #[error("{count} x {what} left out; {remedy}")]
    LeftOut {
        /// How many.
        count: usize,
        /// What.
        what: String,
        /// What to do where it matters.
        remedy: &'static str,
    },
    /// The file says that it is something else than an edge.
    #[error("the file says it is {said:?}, not a profile; see whether these are the part's edges")]
    NotAProfile {
        /// The file's own words.
        said: String,
    },
    /// Arcs whose ends do not lie on one circle.
    #[error(
        "arcs that do not fit their centres: {count}, the worst by {worst_mm:.3} mm; export with more digits"
    )]
    LooseArcs {
        /// How many.
        count: usize,
        /// The largest difference of radii, mm.
        worst_mm: f64,
    },
}

fn length_in_words(unit_mm: f64) -> String {
    let inches = unit_mm / 25.4;
    if (inches - 1.0).abs() < 1e-9 {
        "an inch".into()
    } else if (inches * 96.0 - 1.0).abs() < 1e-9 {
        "1/96 inch (a CSS pixel)".into()
    } else {
        format!("{unit_mm} mm")
    }
}
