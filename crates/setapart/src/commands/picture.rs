//! Pictures in the format that their file's name asks for, and what their face cannot write.

use crate::failure::Failure;
use crate::say;
use press::{Drawing, MissingLetters, PressError, to_png, to_svg};
use std::path::Path;

/// Formats that a picture can have.
#[derive(Debug, Clone, Copy)]
pub(super) enum PictureKind {
    Svg,
    Png,
}

impl PictureKind {
    /// What the name of `--picture` asks for.
    pub(super) fn of(path: &Path) -> Result<Self, Failure> {
        let ending = path.extension().unwrap_or_default().to_string_lossy();
        match ending.to_lowercase().as_str() {
            "svg" => Ok(Self::Svg),
            "png" => Ok(Self::Png),
            _ => Err(Failure::Argument {
                option: "--picture",
                problem: format!("{}: the name must end in .svg or .png", path.display()),
            }),
        }
    }

    /// The picture's file. Letters that it cannot show are told.
    pub(super) fn file_of(self, page: &Drawing, px_per_mm: f64) -> Result<Vec<u8>, PressError> {
        tell_missing_letters(page);
        match self {
            Self::Svg => Ok(to_svg(page).into_bytes()),
            Self::Png => to_png(page, px_per_mm),
        }
    }
}

/// Says which letters a page cannot show.
pub(super) fn tell_missing_letters(page: &Drawing) {
    for missing in page.missing_letters() {
        say::note(format_args!("note: {}\n", in_words(&missing)));
    }
}

/// What is wrong with a text of which letters are missing.
pub(super) fn in_words(missing: &MissingLetters) -> String {
    format!(
        "{:?} has letters that no font here has ({}); they print as empty boxes; write it in others",
        missing.text, missing.letters
    )
}
