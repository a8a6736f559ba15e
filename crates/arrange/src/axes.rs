//! Board directions seen from the run: `along` is the way the layers run, `across` is square to it.
//!
//! One piece of code lays out all four spreads: `across` counts downwards where the run is
//! horizontal, and to the right where it is vertical, so that bands read like lines of text.

use crate::cell::Cell;
use crate::spacing::Spacing;
use piece::Spread;
use shape::{Bounds, Point};

/// What something takes up on one axis, mm: its body, and what its captions reach out on either side.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Extent {
    pub(crate) before: f64,
    pub(crate) body: f64,
    pub(crate) after: f64,
}

impl Extent {
    pub(crate) fn whole_mm(self) -> f64 {
        self.before + self.body + self.after
    }
}

/// Which way an axis runs on the board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Way {
    Sideways,
    Downwards,
    Upwards,
}

/// The run's two axes and the part of the board that it has.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Axes {
    pub(crate) spread: Spread,
    pub(crate) region: Bounds,
}

impl Axes {
    pub(crate) fn along(&self) -> Way {
        match self.spread {
            Spread::Right | Spread::Left => Way::Sideways,
            Spread::Up => Way::Upwards,
            Spread::Down => Way::Downwards,
        }
    }

    pub(crate) fn across(&self) -> Way {
        match self.spread {
            Spread::Right | Spread::Left => Way::Downwards,
            Spread::Up | Spread::Down => Way::Sideways,
        }
    }

    pub(crate) fn length_mm(&self) -> f64 {
        match self.along() {
            Way::Sideways => self.region.width_mm(),
            _ => self.region.height_mm(),
        }
    }

    pub(crate) fn breadth_mm(&self) -> f64 {
        match self.across() {
            Way::Sideways => self.region.width_mm(),
            _ => self.region.height_mm(),
        }
    }

    /// A point of the device as coordinates (along, across).
    pub(crate) fn in_run(&self, p: Point) -> (f64, f64) {
        match self.spread {
            Spread::Right => (p.x, -p.y),
            Spread::Left => (-p.x, -p.y),
            Spread::Up => (p.y, p.x),
            Spread::Down => (-p.y, p.x),
        }
    }

    /// Lower-left corner on the board of a body that starts at (along, across) in the region.
    pub(crate) fn on_board(&self, along: f64, across: f64, [w, h]: [f64; 2]) -> Point {
        let r = self.region;
        match self.spread {
            Spread::Right => Point::new(r.min.x + along, r.max.y - across - h),
            Spread::Left => Point::new(r.max.x - along - w, r.max.y - across - h),
            Spread::Up => Point::new(r.min.x + across, r.min.y + along),
            Spread::Down => Point::new(r.min.x + across, r.max.y - along - h),
        }
    }

    pub(crate) fn extent(&self, cell: &Cell, way: Way, spacing: &Spacing) -> Extent {
        let [w, h] = cell.body;
        let captioned = spacing.captions && cell.is_captioned();
        let hang = if captioned {
            spacing.own_caption_drop_mm() + cell.caption.h
        } else {
            0.0
        };
        match way {
            Way::Sideways => {
                let side = if captioned {
                    (0.5 * (cell.caption.w - w)).max(0.0)
                } else {
                    0.0
                };
                Extent {
                    before: side,
                    body: w,
                    after: side,
                }
            }
            Way::Downwards => Extent {
                before: 0.0,
                body: h,
                after: hang,
            },
            Way::Upwards => Extent {
                before: hang,
                body: h,
                after: 0.0,
            },
        }
    }
}

/// Least distance between the bodies of two neighbours on an axis, mm.
pub(crate) fn least_between_mm(first: Extent, next: Extent, way: Way, spacing: &Spacing) -> f64 {
    let reach = first.after + next.before;
    if reach == 0.0 {
        return spacing.gap_mm;
    }
    let clear = match way {
        Way::Sideways => spacing.beside_caption_mm(),
        Way::Downwards | Way::Upwards => spacing.below_caption_mm(),
    };
    (reach + clear).max(spacing.gap_mm)
}

/// Things in a row on one axis: where each body starts, counted from the first one's start, and what
/// the row takes up. `extra` is added to each distance.
pub(crate) fn in_a_row(
    items: &[Extent],
    way: Way,
    spacing: &Spacing,
    extra: f64,
) -> (Vec<f64>, Extent) {
    let mut starts = Vec::with_capacity(items.len());
    let mut at = 0.0;
    for (k, item) in items.iter().enumerate() {
        if k > 0 {
            at += least_between_mm(items[k - 1], *item, way, spacing) + extra;
        }
        starts.push(at);
        at += item.body;
    }
    let whole = Extent {
        before: items.first().map_or(0.0, |i| i.before),
        body: at,
        after: items.last().map_or(0.0, |i| i.after),
    };
    (starts, whole)
}

/// What a row takes up in all, mm, as [`in_a_row`] tells it.
pub(crate) fn row_mm(
    items: impl Iterator<Item = Extent>,
    way: Way,
    spacing: &Spacing,
    extra: f64,
) -> f64 {
    let mut whole = 0.0;
    let mut last: Option<Extent> = None;
    for item in items {
        whole += match last {
            None => item.before,
            Some(last) => least_between_mm(last, item, way, spacing) + extra,
        };
        whole += item.body;
        last = Some(item);
    }
    whole + last.map_or(0.0, |l| l.after)
}

/// Things beside each other, aligned on this axis by a share of their bodies (0 starts, 0.5 centres,
/// 1 ends): what they take up together.
pub(crate) fn aligned(items: impl Iterator<Item = Extent> + Clone, share: f64) -> Extent {
    let body = items.clone().map(|i| i.body).fold(0.0, f64::max);
    let mut all = Extent {
        before: 0.0,
        body,
        after: 0.0,
    };
    for i in items {
        all.before = all.before.max(i.before - share * (body - i.body));
        all.after = all.after.max(i.after - (1.0 - share) * (body - i.body));
    }
    all
}

/// The largest widening in `0..=most` whose length is no more than `limit`, mm. `length_at` rises with
/// the widening, and its slope never falls.
pub(crate) fn widest_within(length_at: impl Fn(f64) -> f64, most: f64, limit: f64) -> f64 {
    let (mut low, mut high) = (0.0, most);
    let (mut at_low, mut at_high) = (length_at(low), length_at(high));
    if at_high <= limit {
        return high;
    }
    if at_low >= limit {
        return low;
    }
    // The chord of a function whose slope never falls lies above it, so the chord's root is safe.
    for _ in 0..12 {
        let chord = low + (high - low) * (limit - at_low) / (at_high - at_low);
        let at_chord = length_at(chord);
        if at_chord > limit {
            // Rounding at the root itself.
            high = chord;
            at_high = at_chord;
            continue;
        }
        low = chord;
        at_low = at_chord;
        if limit - at_low < 1e-3 {
            break;
        }
        let middle = 0.5 * (low + high);
        let at_middle = length_at(middle);
        if at_middle <= limit {
            low = middle;
            at_low = at_middle;
        } else {
            high = middle;
            at_high = at_middle;
        }
    }
    low
}
