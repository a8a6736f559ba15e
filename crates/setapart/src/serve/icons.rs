//! Icons, drawn for this app on a grid of 20: what lies on a bench, in one line of 1.5.

use maud::{Markup, html};

/// A drawing of lines; filled shapes are marked `solid` in the style sheet.
fn lines(paths: &[&str]) -> Markup {
    drawing(paths, &[])
}

fn drawing(paths: &[&str], solids: &[&str]) -> Markup {
    html! {
        svg class="icon" viewBox="0 0 20 20" width="20" height="20" aria-hidden="true" focusable="false" {
            @for d in paths { path d=(d) {} }
            @for d in solids { path class="solid" d=(d) {} }
        }
    }
}

/// A lens over what came in.
pub(crate) fn intake() -> Markup {
    lines(&[
        "M8.5 2.75a5.75 5.75 0 1 0 0 11.5 5.75 5.75 0 0 0 0-11.5z",
        "M12.8 12.8l4.6 4.6",
        "M6.2 8.5h1.4l1-2 1.4 3.6.8-1.6h1",
    ])
}

/// A box of parts, open.
pub(crate) fn donors() -> Markup {
    drawing(
        &["M3 8.5h14v8.75H3z", "M3 8.5L1.5 5.5M17 8.5l1.5-3"],
        &["M5.5 3.5h4v3.5h-4zM11 4.5h3.5v2.5H11z"],
    )
}

/// A price tag on its thread.
pub(crate) fn costing() -> Markup {
    lines(&[
        "M9 4.5l7.5.5.5 7.5-5.8 5.2-7.9-7.4z",
        "M13.6 7a.9.9 0 1 0 .01 0z",
        "M15 6.4c1.4-1 1.6-2.6 1-4.2",
    ])
}

/// A part on a sheet with its corner tags.
pub(crate) fn capture() -> Markup {
    drawing(
        &[
            "M2.75 2.75h14.5v14.5H2.75z",
            "M7 8.2l3.4-1.4 3.2 2.4-1 4.2-4.6.6z",
        ],
        &["M4.5 4.5h2v2h-2zM13.5 4.5h2v2h-2zM4.5 13.5h2v2h-2zM13.5 13.5h2v2h-2z"],
    )
}

/// An open hull with what sits in it.
pub(crate) fn homes() -> Markup {
    drawing(
        &["M4.25 1.75h11.5v16.5H4.25z", "M6.5 4h7v5.5h-7z"],
        &["M6.5 11.5h3v4.5h-3zM11 11.5h2.5v2H11z"],
    )
}

/// A drawer's front with its pull, and the one below.
pub(crate) fn drawer() -> Markup {
    lines(&[
        "M2.75 3.75h14.5v6.5H2.75z",
        "M2.75 10.25v6h14.5v-6",
        "M8 6.2c0 1.6 4 1.6 4 0",
        "M8 12.6c0 1.6 4 1.6 4 0",
    ])
}

/// A frame with things spread in it.
pub(crate) fn board() -> Markup {
    drawing(
        &["M3.75 1.75h12.5v16.5H3.75z", "M6.5 4.5h7v11h-7z"],
        &["M8 6h4v2.2H8zM8 9.4h1.6v1.6H8zM10.6 9.4H12v3.2h-1.4zM8 12.2h1.6v1.8H8z"],
    )
}

/// A stack in section: glass, part, support, board.
pub(crate) fn build() -> Markup {
    drawing(
        &["M2 4.25h16", "M5.5 7.75h9v2.5h-9z", "M2 15.75h16"],
        &["M7 11.5h6v2.5H7z"],
    )
}

/// A printed page with its bar of 100 mm along two sides.
pub(crate) fn sheets() -> Markup {
    lines(&[
        "M4.75 1.75h10.5v16.5H4.75z",
        "M7 15.5h6",
        "M7 14.5v2",
        "M13 14.5v2",
        "M12.4 4.5v7",
        "M7.2 5.4h2.8v4H7.2z",
    ])
}

/// One step back along the thread.
pub(crate) fn undo() -> Markup {
    lines(&[
        "M6.2 4.2L2.8 7.6l3.4 3.4",
        "M2.8 7.6h8.6a4.3 4.3 0 0 1 0 8.6H8.6",
    ])
}

/// One step forth along the thread.
pub(crate) fn redo() -> Markup {
    lines(&[
        "M13.8 4.2l3.4 3.4-3.4 3.4",
        "M17.2 7.6H8.6a4.3 4.3 0 0 0 0 8.6h2.8",
    ])
}

/// A slip torn from its pad.
pub(crate) fn docket() -> Markup {
    lines(&[
        "M4.75 3.5l1.75-1.4 1.75 1.4L10 2.1l1.75 1.4 1.75-1.4 1.75 1.4v14H4.75z",
        "M7.4 7.75h5.2",
        "M7.4 10.75h5.2",
        "M7.4 13.75h3",
    ])
}

/// A caliper's jaws: how things are measured and shown.
pub(crate) fn settings() -> Markup {
    lines(&[
        "M2 3.75h16v3H2z",
        "M4.5 6.75v8.5l2.2-3V6.75",
        "M12.4 6.75v8.5l-2.2-3V6.75",
        "M15 3.75v1.4",
    ])
}

/// A nut: stop.
fn nut() -> Markup {
    drawing(&[], &["M10 1.8l7.1 4.1v8.2L10 18.2l-7.1-4.1V5.9z"])
}

/// A nut half turned in: fix.
fn half_nut() -> Markup {
    drawing(
        &["M10 2.6l6.4 3.7v7.4L10 17.4l-6.4-3.7V6.3z"],
        &["M10 2.6l6.4 3.7v7.4L10 17.4z"],
    )
}

/// A washer: note.
fn washer() -> Markup {
    lines(&[
        "M10 2.75a7.25 7.25 0 1 0 0 14.5 7.25 7.25 0 0 0 0-14.5z",
        "M10 7.25a2.75 2.75 0 1 0 0 5.5 2.75 2.75 0 0 0 0-5.5z",
    ])
}

/// The mark of a finding's level.
pub(crate) fn level(level: piece::Level) -> Markup {
    match level {
        piece::Level::Stop => nut(),
        piece::Level::Fix => half_nut(),
        piece::Level::Note => washer(),
    }
}
