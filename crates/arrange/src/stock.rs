//! Stock frames, and the smallest that holds a set of parts.

use crate::arranging::compose_with;
use crate::{ArrangeError, Arranged, MeasureText, Options, fit};
use piece::{Frame, Piece};
use shape::Watch;
use std::borrow::Cow;

/// A size that deep frames are sold in.
#[derive(Debug, Clone, PartialEq)]
pub struct StockSize {
    /// What the trade calls it.
    pub name: Cow<'static, str>,
    /// Glazing size, shorter side first, mm.
    pub size_mm: [f64; 2],
    /// Where the size is from.
    pub source: Cow<'static, str>,
    /// It is a US size, given in inches.
    pub us: bool,
}

const METRIC: &str = "metric sizes sold as box frames: memory-box, lightsmiths (seen)";
const METRIC_BY_HABIT: &str = "metric size, common practice, no source";
const US: &str = "US sizes sold as frames: mefoto.com (seen)";

const fn metric(name: &'static str, w: f64, h: f64) -> StockSize {
    StockSize {
        name: Cow::Borrowed(name),
        size_mm: [w, h],
        source: Cow::Borrowed(METRIC),
        us: false,
    }
}

/// A metric size that no source was found for.
const fn by_habit(name: &'static str, size_mm: [f64; 2]) -> StockSize {
    StockSize {
        name: Cow::Borrowed(name),
        size_mm,
        source: Cow::Borrowed(METRIC_BY_HABIT),
        us: false,
    }
}

/// A US size, inches.
const fn us(name: &'static str, w: f64, h: f64) -> StockSize {
    StockSize {
        name: Cow::Borrowed(name),
        size_mm: [w * 25.4, h * 25.4],
        source: Cow::Borrowed(US),
        us: true,
    }
}

/// Sizes that deep frames are commonly sold in. A caller may add its own.
pub static STOCK_SIZES: [StockSize; 18] = [
    metric("13 x 18 cm", 130.0, 180.0),
    metric("20 x 25 cm", 200.0, 250.0),
    metric("25 x 25 cm", 250.0, 250.0),
    metric("30 x 40 cm", 300.0, 400.0),
    metric("40 x 50 cm", 400.0, 500.0),
    metric("50 x 60 cm", 500.0, 600.0),
    by_habit("50 x 70 cm", [500.0, 700.0]),
    by_habit("23 x 23 cm", [230.0, 230.0]),
    us("4 x 6 in", 4.0, 6.0),
    us("5 x 7 in", 5.0, 7.0),
    us("8 x 10 in", 8.0, 10.0),
    us("11 x 14 in", 11.0, 14.0),
    us("12 x 16 in", 12.0, 16.0),
    us("11 x 17 in", 11.0, 17.0),
    us("16 x 20 in", 16.0, 20.0),
    us("18 x 24 in", 18.0, 24.0),
    us("20 x 24 in", 20.0, 24.0),
    us("24 x 36 in", 24.0, 36.0),
];

/// The stock sizes as frames, upright and lying, with lip, margins and the rest as in `like`.
pub fn stock_frames(like: &Frame) -> Vec<Frame> {
    STOCK_SIZES
        .iter()
        .flat_map(|stock| {
            let [w, h] = stock.size_mm;
            let lying = (w != h).then_some([h, w]);
            std::iter::once([w, h]).chain(lying)
        })
        .map(|size_mm| Frame {
            size_mm,
            ..like.clone()
        })
        .collect()
}

/// The smallest of some frames in which the piece's parts can be composed with a caption below each,
/// and the layout in it. Smallest by area, of two of one size (upright and lying) the one whose layout
/// scores better. Pinned parts keep their places. `None` where no frame does.
///
/// # Errors
/// [`ArrangeError`] where the piece cannot be arranged in any frame: unsound, or pinned parts on each
/// other.
pub fn choose_frame(
    piece: &Piece,
    frames: &[Frame],
    options: &Options,
    measure: &dyn MeasureText,
    watch: &dyn Watch,
) -> Result<Option<(Frame, Arranged)>, ArrangeError> {
    let area = |f: &Frame| f.size_mm[0] * f.size_mm[1];
    let mut by_area: Vec<&Frame> = frames.iter().collect();
    by_area.sort_by(|a, b| area(a).total_cmp(&area(b)));
    let parts_mm2: f64 = piece.parts.iter().map(|p| p.outline.area_mm2()).sum();
    let mut chosen: Option<(Frame, Arranged)> = None;
    for frame in by_area {
        if chosen
            .as_ref()
            .is_some_and(|(best, _)| area(frame) > area(best) * (1.0 + 1e-9))
        {
            break;
        }
        let field = frame.field();
        let hopeless = field.width_mm() <= 0.0
            || field.height_mm() <= 0.0
            || parts_mm2 > field.width_mm() * field.height_mm()
            || piece
                .parts
                .iter()
                .any(|p| fit::too_large_for(p, field).is_some());
        if hopeless {
            continue;
        }
        let mut tried = piece.clone();
        tried.frame = frame.clone();
        // A few steps tell whether the set fits; all of them make the best of it.
        let few = Options {
            steps: options.steps / 10,
            ..*options
        };
        if compose_with(&tried, &few, measure, watch)?.is_none() {
            continue;
        }
        let arranged = compose_with(&tried, options, measure, watch)?;
        if let Some(arranged) = arranged.filter(|a| a.uncaptioned.is_empty()) {
            let better = chosen.as_ref().is_none_or(|(_, best)| {
                arranged.score.total(&options.weights) < best.score.total(&options.weights)
            });
            if better {
                chosen = Some((frame.clone(), arranged));
            }
        }
    }
    Ok(chosen)
}
