//! What can keep a sheet from being made.

/// Why a sheet, a document or a picture cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PressError {
    /// A length that must be positive and finite, or within limits.
    #[error("{what} is {found_mm} mm; it must be {least_mm} to {most_mm} mm")]
    Length {
        /// Which length.
        what: &'static str,
        /// What it is, mm.
        found_mm: f64,
        /// The least that it may be, mm.
        least_mm: f64,
        /// The most that it may be, mm.
        most_mm: f64,
    },
    /// A picture of more pixels than is sensible.
    #[error(
        "the picture would have {width} x {height} pixels, the limit is {limit} in all; ask for fewer pixels per mm"
    )]
    TooManyPixels {
        /// Pixels across.
        width: u64,
        /// Pixels down.
        height: u64,
        /// The limit.
        limit: u64,
    },
    /// A picture whose data do not fit its size.
    #[error(
        "the picture of {part:?} has {found} bytes of pixels; {width} x {height} in RGBA needs {needed}"
    )]
    Pixels {
        /// Whose picture.
        part: String,
        /// Bytes found.
        found: usize,
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
        /// Bytes needed.
        needed: u64,
    },
    /// A printer correction beyond 1 %.
    #[error(
        "the {axis} bar measured {printed} instead of {wanted}: more than 1 % off is no printer's tolerance but a print that was scaled; print at 100 % (no \"fit to page\") and measure again"
    )]
    Correction {
        /// `horizontal` or `vertical`.
        axis: &'static str,
        /// What was measured, with its unit.
        printed: String,
        /// What it should have measured.
        wanted: &'static str,
    },
    /// Paper that leaves no room for a tile.
    #[error(
        "{paper} leaves {width_mm:.0} x {height_mm:.0} mm for a tile; it needs at least {least_mm:.0} mm each way, so take larger paper"
    )]
    PaperTooSmall {
        /// Which paper.
        paper: String,
        /// What is left across, mm.
        width_mm: f64,
        /// What is left down, mm.
        height_mm: f64,
        /// The least that is needed, mm.
        least_mm: f64,
    },
    /// More tiles than anyone would glue.
    #[error(
        "the board takes {tiles} tiles of {paper}, the limit is {limit}; take larger paper or have the whole sheet printed"
    )]
    TooManyTiles {
        /// Tiles needed.
        tiles: usize,
        /// Which paper.
        paper: String,
        /// The limit.
        limit: usize,
    },
    /// A character that the fonts cannot draw.
    #[error(
        "{place} has characters that the fonts cannot draw: {characters}; write it without them"
    )]
    MissingGlyphs {
        /// Where the text stands, such as `captions[3].text`.
        place: String,
        /// The characters.
        characters: String,
    },
    /// A text that is longer than its place allows.
    #[error("{place} has {found} characters, at most {most} fit; shorten it")]
    TooLong {
        /// Which text.
        place: String,
        /// Characters found.
        found: usize,
        /// The most that fit.
        most: usize,
    },
    /// A caption that runs far out of its box.
    #[error(
        "{place} needs {needed_mm:.0} mm where its box has {has_mm:.0} mm {along}; shorten it, or arrange the captions anew"
    )]
    CaptionTooLong {
        /// Which caption, such as `captions[3].text`.
        place: String,
        /// What its lines need, mm.
        needed_mm: f64,
        /// What the box has, mm.
        has_mm: f64,
        /// `across` or `down`.
        along: &'static str,
    },
    /// Art of the user's own that cannot be taken.
    #[error("the art cannot be used: {0}")]
    Art(String),
    /// Something that does not go on the paper.
    #[error(
        "{what} is {width_mm:.0} x {height_mm:.0} mm and does not fit on {paper}; take larger paper"
    )]
    DoesNotFit {
        /// What it is.
        what: String,
        /// Its width, mm.
        width_mm: f64,
        /// Its height, mm.
        height_mm: f64,
        /// Which paper.
        paper: String,
    },
    /// The PDF or PNG writer refused.
    #[error("cannot write the {format}: {reason}")]
    Write {
        /// Which format.
        format: &'static str,
        /// What the writer says.
        reason: String,
    },
}
