//! The least frame that would do, where the given one does not.

use crate::arranging::Job;
use crate::axes::Axes;
use crate::fit;
use crate::free::free_rectangles;
use crate::plan::Setting;
use crate::search::find_plan;

impl Job<'_> {
    /// Whether a composition with captions fits a larger frame of the same margins.
    pub(crate) fn composes_at(&self, size_mm: [f64; 2]) -> bool {
        let mut frame = self.piece.frame.clone();
        frame.size_mm = size_mm;
        let field = frame.field();
        let too_large = self
            .piece
            .parts
            .iter()
            .any(|p| fit::too_large_for(p, field).is_some());
        if too_large {
            return false;
        }
        free_rectangles(field, &self.obstacles())
            .into_iter()
            .take(2)
            .any(|region| {
                let axes = Axes {
                    spread: self.piece.layout.spread,
                    region,
                };
                let setting = Setting::new(
                    &self.cells,
                    axes,
                    self.spacing,
                    self.options.weights,
                    Vec::new(),
                );
                find_plan(
                    &setting,
                    self.options.seed,
                    self.steps() / 8,
                    &shape::Silent,
                )
                .is_some_and(|found| found.fits())
            })
    }

    /// The least frame of the same shape, lip and margins that a composition was found for; each size
    /// was really tried. `None` where none up to eight times the size does.
    pub(crate) fn least_frame_mm(&self) -> Option<[f64; 2]> {
        let [w, h] = self.piece.frame.size_mm;
        let size = |factor: f64| [(w * factor).ceil(), (h * factor).ceil()];
        let mut low = 1.0;
        let mut high = 1.25;
        while !self.composes_at(size(high)) {
            low = high;
            high *= 1.25;
            if high > 8.0 {
                return None;
            }
        }
        for _ in 0..4 {
            let middle = 0.5 * (low + high);
            if self.composes_at(size(middle)) {
                high = middle;
            } else {
                low = middle;
            }
        }
        Some(size(high))
    }
}
