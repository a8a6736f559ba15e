//! The structure of a composition: bands of stations, stations of lanes, lanes of cells.
//!
//! A layer of the device has a station in the run, or shares one with its neighbours; what lies in a
//! station is stacked across the run in lanes; a lane holds cells side by side along the run. Where
//! the run is too long for the board it folds into bands, the front layers in the first. All
//! alignment comes from this structure: stations are centred on one line, the outer lanes of a band
//! share its edges, gaps of one row are equal.

use crate::Weights;
use crate::axes::{Axes, Extent, Way, aligned, row_mm};
use crate::cell::Cell;
use crate::spacing::Spacing;
use shape::{Bounds, Point};
use std::collections::BTreeMap;

/// Cells side by side along the run.
pub(crate) type Lane = Vec<usize>;
/// Lanes stacked across the run.
pub(crate) type Station = Vec<Lane>;
/// Stations along the run.
pub(crate) type Band = Vec<Station>;

/// The structure of a composition.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Plan {
    pub(crate) bands: Vec<Band>,
    /// Bands of equally many stations stand in one grid of columns.
    pub(crate) grid: bool,
}

/// What does not change while plans are tried.
#[derive(Debug)]
pub(crate) struct Setting<'a> {
    pub(crate) cells: &'a [Cell],
    pub(crate) axes: Axes,
    pub(crate) spacing: Spacing,
    pub(crate) weights: Weights,
    /// What each cell takes up along and across the run.
    pub(crate) extents: Vec<(Extent, Extent)>,
    /// Home centres (along, across) in the device, from its edges; `None` for the homeless.
    pub(crate) homes: Vec<Option<(f64, f64)>>,
    /// The device's size along and across.
    pub(crate) device: (f64, f64),
    /// Boxes in the region that no part and no caption may reach into.
    pub(crate) obstacles: Vec<Bounds>,
    /// Side of a square of the parts' mean area, mm.
    pub(crate) part_mm: f64,
    /// The layers fit in one run, each in a station of its own.
    pub(crate) runs_unfolded: bool,
    /// Bands are rows of single cells, feet (or middles) on one line.
    pub(crate) rows: bool,
}

/// A plan made into places.
#[derive(Debug, Clone)]
pub(crate) struct Composed {
    /// Lower-left corner of each cell's body on the board.
    pub(crate) at: Vec<Point>,
    /// Which band each cell is in.
    pub(crate) band_of: Vec<usize>,
    /// Visible distances between neighbours, mm.
    pub(crate) gaps: Vec<f64>,
    /// What is too long for the region, and what is too broad, mm.
    pub(crate) overflow: (f64, f64),
    /// How deep parts and captions reach into obstacles, mm in all.
    pub(crate) collisions_mm: f64,
    /// What the composition takes up in the region.
    pub(crate) extent: Bounds,
}

impl<'a> Setting<'a> {
    pub(crate) fn new(
        cells: &'a [Cell],
        axes: Axes,
        spacing: Spacing,
        weights: Weights,
        obstacles: Vec<Bounds>,
    ) -> Self {
        let device = cells
            .iter()
            .filter_map(|c| c.home.map(|h| h.bounds))
            .reduce(Bounds::joined);
        let size = |way: Way| {
            device.map_or(1.0, |d| match way {
                Way::Sideways => d.width_mm(),
                _ => d.height_mm(),
            })
        };
        let origin = device.map(|d| {
            let (a, b) = (axes.in_run(d.min), axes.in_run(d.max));
            (a.0.min(b.0), a.1.min(b.1))
        });
        let mut setting = Self {
            runs_unfolded: false,
            rows: false,
            obstacles,
            part_mm: (cells.iter().map(|c| c.weight).sum::<f64>() / cells.len().max(1) as f64)
                .sqrt(),
            extents: cells
                .iter()
                .map(|c| {
                    (
                        axes.extent(c, axes.along(), &spacing),
                        axes.extent(c, axes.across(), &spacing),
                    )
                })
                .collect(),
            homes: cells
                .iter()
                .map(|c| {
                    let (u, v) = axes.in_run(c.home?.bounds.centre());
                    let (u0, v0) = origin?;
                    Some((u - u0, v - v0))
                })
                .collect(),
            device: (size(axes.along()), size(axes.across())),
            cells,
            axes,
            spacing,
            weights,
        };
        setting.runs_unfolded = setting.one_run_fits();
        setting
    }

    /// Each layer in a station of its own, its cells one below the other: do they fit in one band?
    fn one_run_fits(&self) -> bool {
        let mut layers: BTreeMap<u32, Station> = BTreeMap::new();
        for (c, cell) in self.cells.iter().enumerate() {
            layers.entry(cell.layer).or_default().push(vec![c]);
        }
        let extents = layers.values().map(|s| self.station_extent(s));
        let along = extents.clone().map(|e| e.0);
        row_mm(along, self.axes.along(), &self.spacing, 0.0) <= self.axes.length_mm()
            && extents
                .map(|e| e.1.whole_mm())
                .all(|across| across <= self.axes.breadth_mm())
    }

    /// Where the cell stands in the run before anything is moved: its layer pulled out along the run
    /// by 0.6 of the device's length each, in its own place across.
    pub(crate) fn start(&self, cell: usize) -> Option<(f64, f64)> {
        let (u, v) = self.homes[cell]?;
        Some((
            u + 0.6 * self.device.0 * f64::from(self.cells[cell].layer),
            v,
        ))
    }

    /// Order across the run, for sorting: homes first, the homeless as they come.
    pub(crate) fn across_order(&self, a: usize, b: usize) -> std::cmp::Ordering {
        let key = |c: usize| self.homes[c].map_or(f64::INFINITY, |h| h.1);
        key(a).total_cmp(&key(b)).then(a.cmp(&b))
    }

    /// Order along the run, for sorting.
    pub(crate) fn along_order(&self, a: usize, b: usize) -> std::cmp::Ordering {
        let key = |c: usize| self.start(c).map_or(f64::INFINITY, |s| s.0);
        key(a).total_cmp(&key(b)).then(a.cmp(&b))
    }

    /// Share by which cells of one lane are aligned across the run: feet on one line where that is
    /// downwards, so that their captions stand on one line too; else centres.
    pub(crate) fn lane_share(&self) -> f64 {
        match self.axes.across() {
            Way::Downwards => 1.0,
            _ => 0.5,
        }
    }

    /// What a lane takes up along and across.
    pub(crate) fn lane_extent(&self, lane: &[usize]) -> (Extent, Extent) {
        let along = lane.iter().map(|&c| self.extents[c].0);
        let across = lane.iter().map(|&c| self.extents[c].1);
        (
            row_extent(along, self.axes.along(), &self.spacing),
            aligned(across, self.lane_share()),
        )
    }

    /// What a station takes up along and across.
    pub(crate) fn station_extent(&self, station: &Station) -> (Extent, Extent) {
        let lanes = station.iter().map(|l| self.lane_extent(l));
        (
            aligned(lanes.clone().map(|l| l.0), 0.5),
            row_extent(lanes.map(|l| l.1), self.axes.across(), &self.spacing),
        )
    }

    /// The boxes of a cell's body and of its caption.
    pub(crate) fn boxes_of(&self, cell: &Cell, at: Point) -> [Option<Bounds>; 2] {
        let [w, h] = cell.body;
        let body = Bounds::between(at, Point::new(at.x + w, at.y + h));
        let captioned = self.spacing.captions && cell.is_captioned();
        let caption = captioned.then(|| {
            let left = at.x + 0.5 * (w - cell.caption.w);
            let top = at.y - self.spacing.own_caption_drop_mm();
            Bounds::between(
                Point::new(left, top - cell.caption.h),
                Point::new(left + cell.caption.w, top),
            )
        });
        [Some(body), caption]
    }
}

/// What a row at its least distances takes up.
fn row_extent(items: impl Iterator<Item = Extent> + Clone, way: Way, spacing: &Spacing) -> Extent {
    let before = items.clone().next().map_or(0.0, |i| i.before);
    let after = items.clone().last().map_or(0.0, |i| i.after);
    Extent {
        before,
        body: row_mm(items, way, spacing, 0.0) - before - after,
        after,
    }
}
