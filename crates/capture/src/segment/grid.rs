//! The blank field as a grid of cells, each a few pixels wide.
//!
//! Parts are told from paper on this grid (about a million cells whatever the photo's size); their
//! edges are then found in the full photo.

use crate::linear::LinearImage;

/// Cells aimed at: fine enough that a 1.5 mm screw has over 40 cells on an A4 field.
const CELLS_AIMED_AT: f64 = 1.1e6;

/// What a cell outside the field holds.
pub(crate) const OUTSIDE: f32 = -1.0;

/// Mean linear light of each cell of the field.
pub(crate) struct FieldGrid {
    /// Cells along x.
    pub(crate) width: usize,
    /// Cells along y.
    pub(crate) height: usize,
    /// Pixels along a cell's side.
    pub(crate) cell_px: usize,
    /// Pixel column and row of the grid's upper-left corner.
    origin: [usize; 2],
    /// Mean linear light, rows from the top; [`OUTSIDE`] in the first channel outside the field.
    pub(crate) light: Vec<[f32; 3]>,
}

impl FieldGrid {
    /// Bins the photo inside a polygon given in pixels; `None` where the polygon misses the photo.
    pub(crate) fn bin(image: &LinearImage<'_>, field_px: &[[f64; 2]]) -> Option<Self> {
        let mut low = [f64::INFINITY; 2];
        let mut high = [f64::NEG_INFINITY; 2];
        for p in field_px {
            for k in 0..2 {
                low[k] = low[k].min(p[k]);
                high[k] = high[k].max(p[k]);
            }
        }
        let limit = [image.width as f64 - 1.0, image.height as f64 - 1.0];
        let low: [f64; 2] = std::array::from_fn(|k| low[k].floor().clamp(0.0, limit[k]));
        let high: [f64; 2] = std::array::from_fn(|k| high[k].ceil().clamp(0.0, limit[k]));
        let area = (high[0] - low[0]) * (high[1] - low[1]);
        if area.is_nan() || area < 1000.0 {
            return None;
        }
        let cell_px = ((area / CELLS_AIMED_AT).sqrt().round() as usize).max(1);
        let origin = low.map(|v| v as usize);
        let cells = |k: usize| (high[k] - low[k]) as usize / cell_px;
        let (width, height) = (cells(0), cells(1));
        if width < 8 || height < 8 {
            return None;
        }
        let mut light = vec![[OUTSIDE; 3]; width * height];
        let spans = row_spans(field_px, height, |j| {
            (origin[1] + j * cell_px) as f64 + 0.5 * (cell_px as f64 - 1.0)
        });
        let bin_rows = |first: usize, rows: &mut [[f32; 3]]| {
            for (k, row) in rows.chunks_mut(width).enumerate() {
                let j = first + k;
                for &(from, to) in &spans[j] {
                    let cell_of = |x: f64| {
                        (x - origin[0] as f64 - 0.5 * (cell_px as f64 - 1.0)) / cell_px as f64
                    };
                    let i0 = cell_of(from).ceil().max(0.0) as usize;
                    let i1 = (cell_of(to).floor() + 1.0).max(0.0) as usize;
                    for (i, cell) in row.iter_mut().enumerate().take(i1.min(width)).skip(i0) {
                        *cell = mean_light(
                            image,
                            origin[0] + i * cell_px,
                            origin[1] + j * cell_px,
                            cell_px,
                        );
                    }
                }
            }
        };
        let half = height / 2;
        let (upper, lower) = light.split_at_mut(half * width);
        std::thread::scope(|scope| {
            scope.spawn(|| bin_rows(0, upper));
            bin_rows(half, lower);
        });
        Some(Self {
            width,
            height,
            cell_px,
            origin,
            light,
        })
    }

    /// Where a place on the grid (cells, cell centres at integers) lies in the photo, pixels.
    pub(crate) fn photo_from_grid(&self, p: [f64; 2]) -> [f64; 2] {
        std::array::from_fn(|k| self.origin[k] as f64 + (p[k] + 0.5) * self.cell_px as f64 - 0.5)
    }

    /// Whether a cell lies in the field.
    pub(crate) fn inside(&self, cell: usize) -> bool {
        self.light[cell][0] >= 0.0
    }
}

fn mean_light(image: &LinearImage<'_>, x0: usize, y0: usize, side: usize) -> [f32; 3] {
    let mut sum = [0.0f32; 3];
    for y in y0..y0 + side {
        for x in x0..x0 + side {
            let p = image.pixel(x, y);
            for k in 0..3 {
                sum[k] += p[k];
            }
        }
    }
    sum.map(|s| s / (side * side) as f32)
}

/// For each row of cells, where the row's centre line runs inside the polygon: pairs of pixel columns.
fn row_spans(
    polygon: &[[f64; 2]],
    rows: usize,
    y_of: impl Fn(usize) -> f64,
) -> Vec<Vec<(f64, f64)>> {
    (0..rows)
        .map(|j| {
            let y = y_of(j);
            let mut cuts: Vec<f64> = Vec::new();
            for (k, a) in polygon.iter().enumerate() {
                let b = polygon[(k + 1) % polygon.len()];
                if (a[1] > y) != (b[1] > y) {
                    cuts.push(a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]));
                }
            }
            cuts.sort_by(f64::total_cmp);
            cuts.chunks_exact(2).map(|c| (c[0], c[1])).collect()
        })
        .collect()
}
