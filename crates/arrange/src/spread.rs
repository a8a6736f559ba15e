//! A run that is not folded: the device pulled apart along the run, and then no more moved than needed.

use crate::arranging::{Job, Layout, Room};
use crate::axes::{Extent, Way, least_between_mm};
use crate::cell::{Cell, make_cells};
use crate::draw_in::Tight;
use crate::plan::{Composed, Setting};
use crate::score::score;
use crate::settle::{Boxes, MOST_BOXES, settle};
use crate::spacing::Spacing;
use piece::Spread;
use shape::{Bounds, Point, Vector, Watch};
use std::collections::BTreeSet;

/// How far each layer is pulled out along the run, as a share of the device's length along it.
const PULL: f64 = 0.6;

/// A run that would have to be squeezed to less than this share of its length is folded instead.
const LEAST_SCALE: f64 = 0.7;

/// A window in which the run could not be this much longer is tight: nearness counts for more than straight lines.
const TIGHT: f64 = 1.05;

/// A run that takes up less than this share of the window's breadth is composed in bands instead, where that fills
/// the window better.
const LEAST_SHARE: f64 = 0.65;

impl Job<'_> {
    /// The device spread along the run in one piece: cells of single parts and where they lie.
    pub(crate) fn spread_out(
        &self,
        spacing: Spacing,
        watch: &dyn Watch,
    ) -> Option<(Vec<Cell>, Layout)> {
        let movable: BTreeSet<usize> = self
            .cells
            .iter()
            .flat_map(|c| c.members.iter().map(|(t, _)| t.index))
            .collect();
        if movable.len() < 2 || movable.len() > MOST_BOXES || !self.obstacles().is_empty() {
            return None;
        }
        let cells = make_cells(self.piece, &movable, &spacing, self.measure, false);
        let field = self.piece.frame.field();
        let start = pulled_apart(&cells, self.piece.layout.spread)?;
        let boxes = boxes_of(&cells, &start, field, &spacing);
        // The run has to have the window's shape, or it would be squeezed, or leave most of the window empty.
        let scale = boxes.scale_into_room();
        let across = match self.piece.layout.spread {
            Spread::Right | Spread::Left => 1,
            Spread::Up | Spread::Down => 0,
        };
        if scale < LEAST_SCALE || boxes.share_of_room(across, scale) < LEAST_SHARE {
            return None;
        }
        let n = cells.len() as f64;
        // The work of a step grows with the square of the number of boxes.
        let share = (1.6 * (20.0 / n).powf(1.4)).min(3.0);
        let steps = (f64::from(self.options.steps) * share) as u32;
        // Boxes hold room for captions too; without captions outlines alone decide.
        let tight = !spacing.captions && scale < TIGHT;
        let settled = settle(&boxes, self.options.seed, steps, !tight, watch)?;
        let mut found: Vec<Vec<Point>> = settled
            .found
            .iter()
            .map(|centres| corners(centres, &cells))
            .collect();
        let mut best = 0;
        if tight {
            let tight = Tight {
                cells: &cells,
                start: &start,
                field,
                gap_mm: spacing.gap_mm,
                nesting: self.piece.layout.nesting,
                allowed: settled.allowed,
            };
            let prices: Vec<f64> = found.iter_mut().map(|at| tight.draw_in(at)).collect();
            best = (0..prices.len())
                .min_by(|&a, &b| prices[a].total_cmp(&prices[b]))
                .unwrap_or(0);
        }
        let at = found.swap_remove(best);
        let axes = crate::axes::Axes {
            spread: self.piece.layout.spread,
            region: field,
        };
        let setting = Setting::new(&cells, axes, spacing, self.options.weights, Vec::new());
        let extent = cells
            .iter()
            .zip(&at)
            .flat_map(|(cell, &p)| setting.boxes_of(cell, p))
            .flatten()
            .reduce(Bounds::joined)?;
        let composed = Composed {
            at: at.clone(),
            band_of: vec![0; cells.len()],
            gaps: Vec::new(),
            overflow: (0.0, 0.0),
            collisions_mm: 0.0,
            extent,
        };
        let score = score(&setting, &composed);
        let layout = Layout {
            at,
            room: Room::Spread,
            score,
            bands: 1,
            shared_stations: 0,
            stopped: settled.stopped,
        };
        Some((cells, layout))
    }
}

/// Lower-left corners of bodies, of their centres.
fn corners(centres: &[Point], cells: &[Cell]) -> Vec<Point> {
    centres
        .iter()
        .zip(cells)
        .map(|(c, cell)| *c - Vector::new(0.5 * cell.body[0], 0.5 * cell.body[1]))
        .collect()
}

/// Centres of the cells where the layers are pulled out along the run, the device's own mm; parts without a
/// home stand in the device's middle. `None` where no part has a home.
fn pulled_apart(cells: &[Cell], spread: Spread) -> Option<[Vec<f64>; 2]> {
    let device = cells
        .iter()
        .filter_map(|c| c.home.map(|h| h.bounds))
        .reduce(Bounds::joined)?;
    let (dx, dy) = match spread {
        Spread::Right => (PULL * device.width_mm(), 0.0),
        Spread::Left => (-PULL * device.width_mm(), 0.0),
        Spread::Up => (0.0, PULL * device.height_mm()),
        Spread::Down => (0.0, -PULL * device.height_mm()),
    };
    // Layers are counted without those in which nothing lies, so that odd numbers cannot pull for ever.
    let layers: BTreeSet<u32> = cells.iter().map(|c| c.layer).collect();
    let centres = cells.iter().map(|cell| {
        let c = cell.home.map_or(device, |h| h.bounds).centre();
        let back = layers.range(..cell.layer).count() as f64;
        c + Vector::new(dx, dy) * back
    });
    let (x, y) = centres.map(|c| (c.x, c.y)).unzip();
    Some([x, y])
}

/// The cells with their captions as boxes to be settled in a region.
pub(crate) fn boxes_of(
    cells: &[Cell],
    start: &[Vec<f64>; 2],
    region: Bounds,
    spacing: &Spacing,
) -> Boxes {
    let n = cells.len();
    let axes = crate::axes::Axes {
        spread: Spread::Right,
        region,
    };
    let ways = [Way::Sideways, Way::Upwards];
    let extents: [Vec<Extent>; 2] =
        ways.map(|way| cells.iter().map(|c| axes.extent(c, way, spacing)).collect());
    let reach = [0, 1].map(|axis: usize| {
        extents[axis]
            .iter()
            .map(|e| (0.5 * e.body + e.before, 0.5 * e.body + e.after))
            .collect()
    });
    let need = [0, 1].map(|axis: usize| {
        let mut need = vec![0.0; n * n];
        for i in 0..n {
            for j in 0..n {
                let (a, b) = (extents[axis][i], extents[axis][j]);
                need[i * n + j] =
                    0.5 * (a.body + b.body) + least_between_mm(a, b, ways[axis], spacing);
            }
        }
        need
    });
    let half = [0, 1].map(|axis: usize| extents[axis].iter().map(|e| 0.5 * e.body).collect());
    Boxes {
        start: start.clone(),
        half,
        reach,
        walls: [(region.min.x, region.max.x), (region.min.y, region.max.y)],
        need,
        fixed: vec![false; n],
        stay: false,
    }
}
