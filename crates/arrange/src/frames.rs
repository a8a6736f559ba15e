//! Which frames hold a set of parts, and the least window that would.

use crate::arranging::{Arranged, Job};
use crate::{ArrangeError, MeasureText, Options, Room, StockSize, fit};
use piece::{Frame, Piece};
use shape::{Stage, Watch, mapped_by};

/// Ratios of width to height that the least window is sought at.
const RATIOS: [f64; 11] = [1.0, 0.8, 1.25, 0.667, 1.5, 0.5, 2.0, 0.4, 2.5, 0.3, 3.33];

/// Whether and how a frame holds the piece's parts.
#[derive(Debug, Clone, PartialEq)]
pub struct FrameFit {
    /// What the size is called.
    pub name: String,
    /// The frame, upright or lying, whichever is better.
    pub frame: Frame,
    /// Area of the parts over the window's.
    pub fill: f64,
    /// The layout in it; `None` where the parts find no room.
    pub arranged: Option<Arranged>,
}

/// Tries each size, upright and lying, with the rest of the frame as in the piece; smallest first. Pinned parts keep
/// their places. Sizes in which the frame would leave nothing free come back without a layout.
///
/// # Errors
/// [`ArrangeError`] where the piece can be arranged in no frame (unsound, pinned parts on each other, a group that
/// is torn), or the watch ended the work.
pub fn frames_for(
    piece: &Piece,
    sizes: &[StockSize],
    options: &Options,
    measure: &(dyn MeasureText + Sync),
    watch: &dyn Watch,
) -> Result<Vec<FrameFit>, ArrangeError> {
    piece.check_sound().map_err(ArrangeError::Unsound)?;
    let order = smallest_first(sizes);
    let count = order.len() as f64;
    let order: Vec<(usize, &StockSize)> = order.into_iter().enumerate().collect();
    // Two at a time: laying out shares itself out over the cores again.
    mapped_by(2, &order, |&(k, size)| {
        let stage = Stage::new(watch, k as f64 / count, (k + 1) as f64 / count);
        fit_size(piece, size, options, measure, &stage)
    })
    .into_iter()
    .collect()
}

/// The smallest of these sizes, upright or lying, in which the parts lie as the device comes apart, each with a caption;
/// the rest of the frame as in the piece. Sizes are tried as [`frames_for`] tries them. `None` where none does.
///
/// # Errors
/// As [`frames_for`].
pub fn choose_frame(
    piece: &Piece,
    sizes: &[StockSize],
    options: &Options,
    measure: &dyn MeasureText,
    watch: &dyn Watch,
) -> Result<Option<(Frame, Arranged)>, ArrangeError> {
    piece.check_sound().map_err(ArrangeError::Unsound)?;
    for size in smallest_first(sizes) {
        let found = fit_size(piece, size, options, measure, watch)?;
        let holds = |a: &Arranged| {
            matches!(a.room, Room::Composed | Room::Spread) && a.uncaptioned.is_empty()
        };
        if let Some(arranged) = found.arranged.filter(holds) {
            return Ok(Some((found.frame, arranged)));
        }
    }
    Ok(None)
}

/// By area; of two alike the one that was named first.
fn smallest_first(sizes: &[StockSize]) -> Vec<&StockSize> {
    let area = |s: &StockSize| s.size_mm[0] * s.size_mm[1];
    let mut order: Vec<&StockSize> = sizes.iter().collect();
    order.sort_by(|a, b| area(a).total_cmp(&area(b)));
    order
}

fn fit_size(
    piece: &Piece,
    size: &StockSize,
    options: &Options,
    measure: &dyn MeasureText,
    watch: &dyn Watch,
) -> Result<FrameFit, ArrangeError> {
    let [w, h] = size.size_mm;
    let upright = [w.min(h), w.max(h)];
    let mut best: Option<FrameFit> = None;
    for size_mm in [upright, [upright[1], upright[0]]] {
        if best.is_some() && w == h {
            break;
        }
        let mut tried = piece.clone();
        tried.frame.size_mm = size_mm;
        let window = tried.frame.window();
        let parts_mm2: f64 = piece.parts.iter().map(|p| p.outline.area_mm2()).sum();
        let found = FrameFit {
            name: size.name.to_string(),
            fill: parts_mm2 / (window.width_mm() * window.height_mm()).max(1e-9),
            arranged: try_arrange(&tried, options, measure, watch)?,
            frame: tried.frame,
        };
        let total = |f: &FrameFit| f.arranged.as_ref().map(|a| badness(a, options));
        let better = match (&best, total(&found)) {
            (None, _) => true,
            (Some(_), None) => false,
            (Some(best), Some(found)) => total(best).is_none_or(|best| found < best),
        };
        if better {
            best = Some(found);
        }
    }
    best.ok_or(ArrangeError::Cancelled)
}

/// Missing captions first, then how the parts found room, then the score.
fn badness(arranged: &Arranged, options: &Options) -> f64 {
    let room = match arranged.room {
        Room::Composed | Room::Spread | Room::Kept => 0.0,
        Room::Tight => 100.0,
        Room::Packed => 200.0,
    };
    1_000.0 * arranged.uncaptioned.len() as f64 + room + arranged.score.total(&options.weights)
}

/// A layout, or `None` where the parts find no room; a few steps tell whether they do, all of them make the best of
/// it.
fn try_arrange(
    piece: &Piece,
    options: &Options,
    measure: &dyn MeasureText,
    watch: &dyn Watch,
) -> Result<Option<Arranged>, ArrangeError> {
    let field = piece.frame.field();
    let parts_mm2: f64 = piece.parts.iter().map(|p| p.outline.area_mm2()).sum();
    if field.width_mm() <= 0.0
        || field.height_mm() <= 0.0
        || parts_mm2 > field.width_mm() * field.height_mm()
        || piece
            .parts
            .iter()
            .any(|p| fit::too_large_for(p, field).is_some())
    {
        return Ok(None);
    }
    let few = Options {
        steps: options.steps / 10,
        ..*options
    };
    if Job::new(piece, &few, measure)?.attempt(watch)?.is_none() {
        return Ok(None);
    }
    Job::new(piece, options, measure)?.attempt(watch)
}

/// The least frame, of any ratio of its sides, for which a composition was found, and the layout in it; lip, margins
/// and the rest as in the piece. `None` where none up to eight times the parts' area was found.
///
/// # Errors
/// As [`frames_for`].
pub fn least_frame(
    piece: &Piece,
    options: &Options,
    measure: &dyn MeasureText,
    watch: &dyn Watch,
) -> Result<Option<FrameFit>, ArrangeError> {
    piece.check_sound().map_err(ArrangeError::Unsound)?;
    let few = Options {
        steps: options.steps / 8,
        ..*options
    };
    let parts_mm2: f64 = piece.parts.iter().map(|p| p.outline.area_mm2()).sum();
    let frame = &piece.frame;
    let around = {
        let (window, field) = (frame.window(), frame.field());
        [
            2.0 * frame.lip_mm + window.width_mm() - field.width_mm(),
            2.0 * frame.lip_mm + window.height_mm() - field.height_mm(),
        ]
    };
    let composes = |size_mm: [f64; 2]| -> Result<bool, ArrangeError> {
        watch
            .step("looking for the least frame", 0.0)
            .map_err(|_| ArrangeError::Cancelled)?;
        let mut tried = piece.clone();
        tried.frame.size_mm = size_mm;
        if tried.check_sound().is_err() {
            return Ok(false);
        }
        Ok(Job::new(&tried, &few, measure)?.composes_at(size_mm))
    };
    // Sides of the frame whose field has an area and a ratio; whole millimetres, upwards.
    let size_of = |field_mm2: f64, ratio: f64| {
        let (w, h) = ((field_mm2 * ratio).sqrt(), (field_mm2 / ratio).sqrt());
        [(w + around[0]).ceil(), (h + around[1]).ceil()]
    };
    let mut best: Option<f64> = None;
    let mut best_size = [0.0, 0.0];
    let frame_mm2 = |size: [f64; 2]| size[0] * size[1];
    for ratio in RATIOS {
        // A ratio is worth a closer look only where it beats what was found.
        let most = best.map_or(8.0 * parts_mm2, |b| 0.97 * b);
        let (mut low, mut high) = (parts_mm2, most.max(parts_mm2));
        if best.is_some_and(|_| frame_mm2(size_of(high, ratio)) >= frame_mm2(best_size)) {
            continue;
        }
        if !composes(size_of(high, ratio))? {
            continue;
        }
        for _ in 0..6 {
            let middle = 0.5 * (low + high);
            if composes(size_of(middle, ratio))? {
                high = middle;
            } else {
                low = middle;
            }
        }
        best = Some(high);
        best_size = size_of(high, ratio);
    }
    if best.is_none() {
        return Ok(None);
    }
    let mut tried = piece.clone();
    tried.frame.size_mm = best_size;
    let window = tried.frame.window();
    let arranged = Job::new(&tried, options, measure)?.attempt(watch)?;
    Ok(Some(FrameFit {
        name: "least, any ratio".into(),
        fill: parts_mm2 / (window.width_mm() * window.height_mm()),
        frame: tried.frame,
        arranged,
    }))
}
