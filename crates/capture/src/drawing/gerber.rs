//! Gerber, the profile layer: straight and circular draws and regions, as traces along their middle.
//!
//! After "The Gerber Layer Format Specification" (recalled, not verified; checked once against a file
//! that the library gerbonara 1.5 wrote). Read by hand: the published parser crates give the commands back with the file's
//! state still to be kept, and bring some twenty crates.

mod plot;
mod words;

use super::trace::Traces;
use super::{DrawingError, DrawingUnit, Scale};
use plot::Plot;
use words::{Block, Blocks};

pub(super) fn read(
    bytes: &[u8],
    unit: Option<DrawingUnit>,
    sink: &mut Traces,
) -> Result<Scale, DrawingError> {
    let text = super::text_of(bytes);
    let mut plot = Plot::new(unit, sink);
    for block in Blocks::of(&text) {
        let ended = match block {
            Block::Extended { text, line } => plot.extended(text, line)?,
            Block::Words { text, line } => plot.words(text, line)?,
            Block::Unfinished => break,
        };
        if ended {
            return plot.finish();
        }
    }
    Err(sink.truncated("its end code, M02, is missing"))
}
