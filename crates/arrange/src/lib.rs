//! Where each part and each caption of a piece goes.
//!
//! [`arrange`] composes an exploded view: the device's layers run across the board, front first; what
//! was left of another part stays left and what was above stays above, as far as the board allows.
//! Everything is in board coordinates: mm, origin at the lower-left corner of the frame's window, x
//! right, y up. The crate reads no files and no clock; chance comes from a seed.

use piece::Piece;
use shape::Watch;

mod alike;
mod arranging;
mod assembly;
mod axes;
mod board;
mod boundary;
mod caption;
mod cell;
mod check;
mod compose;
mod draw_in;
mod error;
mod fit;
mod frames;
mod free;
mod group;
mod held;
mod hull;
mod keep;
mod least_frame;
mod lettering_size;
mod moving;
mod naming;
mod options;
mod pack;
mod plan;
mod rows;
mod score;
mod search;
mod settle;
mod spacing;
mod spread;
mod stock;
mod stock_list;
mod weights;

pub use arranging::{Arranged, Room, StoppedBy, arrange_with};
pub use assembly::assembly_axes;
pub use check::{TOLERANCE_MM, check};
pub use error::{ArrangeError, TooLarge};
pub use frames::{FrameFit, choose_frame, frames_for, least_frame};
pub use keep::keep_with;
pub use lettering_size::{FixedWidth, MeasureText, RealFont, letter_height_mm};
pub use moving::MovingPart;
pub use options::Options;
pub use score::Score;
pub use stock::{STOCK_SIZES, StockSize};
pub use stock_list::StockListError;
pub use weights::{WEIGHTS, Weights, WeightsError};

/// Arranges a piece: places every part that is not pinned, and captions them all.
///
/// Always kept: no true outlines overlap, `layout.gap_mm` lies between any two parts, everything stays
/// in the window less spacer and margin and out of the keep-outs, pinned parts stay where they are,
/// captions keep 1 mm from every part and every other caption. The layout that scores best in
/// [`Options::steps`] tries is returned; [`Score`] says why.
///
/// ```
/// # use piece::{Frame, Margin, Piece};
/// # let margin_mm = Margin { left: 12.0, right: 12.0, top: 12.0, bottom: 18.0 };
/// # let frame = Frame { size_mm: [300.0, 400.0], lip_mm: 6.0, board_clearance_mm: 2.0,
/// #     rebate_depth_mm: None, margin_mm, spacer_width_mm: 0.0, glazing: None };
/// let mut piece = Piece::new("Recorder", frame);
/// let arranged = arrange::arrange(&piece, &arrange::Options::default(), &shape::Silent)?;
/// piece.placements = arranged.placements;
/// piece.captions = arranged.captions;
/// assert!(arrange::check(&piece).is_empty());
/// # Ok::<(), arrange::ArrangeError>(())
/// ```
///
/// # Errors
/// [`ArrangeError`]: a part larger than the window, parts that find no room (both with the least frame
/// that was found to do), pinned parts that lie on each other, an unsound piece, or a watch that ended
/// the work before there was a layout.
pub fn arrange(
    piece: &Piece,
    options: &Options,
    watch: &dyn Watch,
) -> Result<Arranged, ArrangeError> {
    arrange_with(piece, options, &RealFont, watch)
}
