//! A plan made into places on the board.
//!
//! First what the stations take up along the run, then what the bands take up across it, both with
//! their gaps widened evenly; then each station's lanes across its band, and each lane's cells.

use crate::axes::{Extent, aligned, in_a_row, least_between_mm, row_mm, widest_within};
use crate::plan::{Band, Composed, Plan, Setting, Station};
use shape::{Bounds, Point};

/// A band is kept to its largest part where it would be no broader than this multiple of it.
const NEARLY_FILLED: f64 = 1.25;

impl Setting<'_> {
    /// Makes places of a plan.
    pub(crate) fn compose(&self, plan: &Plan) -> Composed {
        let (way_along, way_across) = (self.axes.along(), self.axes.across());
        let n = self.cells.len();
        let mut run = Places {
            starts: vec![(0.0, 0.0); n],
            band_of: vec![0; n],
            gaps: Vec::new(),
        };
        let (length, breadth) = (self.axes.length_mm(), self.axes.breadth_mm());
        let widest = self
            .spacing
            .widest_gap_mm((length * breadth).sqrt(), self.part_mm);
        let most_extra = (widest - self.spacing.gap_mm).max(0.0);

        let stations: Vec<Vec<(Extent, Extent)>> = plan
            .bands
            .iter()
            .map(|band| band.iter().map(|s| self.station_extent(s)).collect())
            .collect();
        let columns = self.share_length(plan, length, most_extra);

        let (across, extra_across) = self.share_breadth(plan, &stations, breadth, most_extra);
        let (band_starts, stack) = in_a_row(&across, way_across, &self.spacing, extra_across);
        let overflow = (
            columns
                .iter()
                .map(|c| (c.whole_mm - length).max(0.0))
                .sum::<f64>(),
            (stack.whole_mm() - breadth).max(0.0),
        );
        let top = 0.5 * (breadth - stack.whole_mm()) + stack.before;
        run.note_gaps(&across, &band_starts);

        for (b, band) in plan.bands.iter().enumerate() {
            let (starts, row) = in_a_row(
                &columns[b].stations,
                way_along,
                &self.spacing,
                columns[b].extra,
            );
            let left = 0.5 * (length - row.whole_mm()) + row.before;
            run.note_gaps(&columns[b].stations, &starts);
            let band_from = top + band_starts[b];
            let mut lanes: Vec<Vec<PlacedLane>> = Vec::with_capacity(band.len());
            for station in band {
                lanes.push(self.settle_station(station, band_from, across[b].body, most_extra));
            }
            if !self.rows {
                self.snap_lanes(&mut lanes, band_from, across[b].body);
            }
            for (s, station) in band.iter().enumerate() {
                for pair in lanes[s].windows(2) {
                    let bodies = pair[1].start - pair[0].start - pair[0].extent.body;
                    run.gaps
                        .push(bodies - pair[0].extent.after - pair[1].extent.before);
                }
                for (lane, placed) in station.iter().zip(&lanes[s]) {
                    let from = left + starts[s];
                    self.place_lane(lane, (from, &columns[b], s), placed, &mut run);
                    for &c in lane {
                        run.band_of[c] = b;
                    }
                }
            }
        }
        self.finish(run, overflow)
    }

    /// What the stations of each band take up along the run. Gaps between stations and inside lanes
    /// are widened alike until all bands are as long as the one that would be longest with its gaps
    /// as wide as they may be.
    fn share_length(&self, plan: &Plan, length: f64, most_extra: f64) -> Vec<Columns> {
        let lanes_of = |bands: &[usize]| -> StationLanes {
            let n = plan.bands[bands[0]].len();
            (0..n)
                .map(|s| {
                    bands
                        .iter()
                        .flat_map(|&b| &plan.bands[b][s])
                        .map(|lane| (self.lane_extent(lane).0, (lane.len() - 1) as f64))
                        .collect()
                })
                .collect()
        };
        let station_at = |lanes: &[(Extent, f64)], extra: f64| {
            let widened = lanes.iter().map(|&(e, joints)| Extent {
                body: e.body + joints * extra,
                ..e
            });
            aligned(widened, 0.5)
        };
        let length_at = |lanes: &[Vec<(Extent, f64)>], extra: f64| {
            let stations = lanes.iter().map(|l| station_at(l, extra));
            row_mm(stations, self.axes.along(), &self.spacing, extra)
        };
        // Bands that share their columns are one group, where that fits the length.
        let mut groups: Vec<(Vec<usize>, StationLanes)> = Vec::new();
        for b in 0..plan.bands.len() {
            let alike = groups
                .iter()
                .position(|(bands, _)| plan.bands[bands[0]].len() == plan.bands[b].len());
            if let Some(g) = alike.filter(|_| plan.grid) {
                let mut joined = groups[g].0.clone();
                joined.push(b);
                let lanes = lanes_of(&joined);
                if length_at(&lanes, 0.0) <= length {
                    groups[g] = (joined, lanes);
                    continue;
                }
            }
            groups.push((vec![b], lanes_of(&[b])));
        }
        let common = groups
            .iter()
            .map(|(_, lanes)| length_at(lanes, most_extra).min(length))
            .fold(0.0, f64::max);
        let mut found: Vec<Columns> = vec![Columns::default(); plan.bands.len()];
        for (bands, lanes) in &groups {
            let extra = widest_within(|e| length_at(lanes, e), 1.5 * most_extra, common);
            let columns = Columns {
                stations: lanes.iter().map(|l| station_at(l, extra)).collect(),
                extra,
                whole_mm: length_at(lanes, extra),
            };
            for &b in bands {
                found[b] = columns.clone();
            }
        }
        found
    }

    /// What each band takes up across the run, and by how much the gaps between bands are widened:
    /// the same widening inside the bands and between them, as far as the breadth goes.
    fn share_breadth(
        &self,
        plan: &Plan,
        stations: &[Vec<(Extent, Extent)>],
        breadth: f64,
        most_extra: f64,
    ) -> (Vec<Extent>, f64) {
        let band_at = |band: &Band, extents: &[(Extent, Extent)], extra: f64| {
            // Stations may stand at either edge of their band, so each edge keeps the most that is
            // asked.
            let mut most = Extent::default();
            let (mut least, mut single) = (0.0_f64, 0.0_f64);
            for (station, (_, e)) in band.iter().zip(extents) {
                let joints = station.len().saturating_sub(1) as f64;
                most.before = most.before.max(e.before);
                most.body = most.body.max(e.body + joints * extra);
                most.after = most.after.max(e.after);
                least = least.max(e.body);
                if station.len() == 1 {
                    single = single.max(e.body);
                }
            }
            // Where one part nearly fills the band, the others keep to its edges.
            if least <= single && most.body <= NEARLY_FILLED * single {
                most.body = single;
            }
            most
        };
        let bands = plan.bands.iter().zip(stations);
        let whole = |extra: f64| {
            let bands = bands.clone().map(|(band, e)| band_at(band, e, extra));
            row_mm(bands, self.axes.across(), &self.spacing, extra)
        };
        let extra = widest_within(whole, most_extra, breadth);
        let all = bands.clone().map(|(band, e)| band_at(band, e, extra));
        (all.collect(), extra)
    }

    /// Where a station's lanes lie across the run, in a band of `breadth` from `from`: spread to the
    /// band's edges where their gaps do not become too wide, else together.
    fn settle_station(
        &self,
        station: &Station,
        from: f64,
        breadth: f64,
        most_extra: f64,
    ) -> Vec<PlacedLane> {
        let extents: Vec<_> = station.iter().map(|l| self.lane_extent(l)).collect();
        let across: Vec<Extent> = extents.iter().map(|l| l.1).collect();
        let (_, whole) = in_a_row(&across, self.axes.across(), &self.spacing, 0.0);
        let joints = across.len().saturating_sub(1) as f64;
        let extra = if joints > 0.0 {
            ((breadth - whole.body) / joints).clamp(0.0, 1.6 * most_extra)
        } else {
            0.0
        };
        let (starts, stacked) = in_a_row(&across, self.axes.across(), &self.spacing, extra);
        let free = breadth - stacked.body;
        let offset = if self.rows {
            self.lane_share() * free
        } else if free > 1e-9 {
            self.settle_across(station, free, stacked.body, breadth)
        } else {
            0.0
        };
        starts
            .into_iter()
            .zip(extents)
            .map(|(start, (along, extent))| PlacedLane {
                start: from + offset + start,
                along,
                extent,
            })
            .collect()
    }

    /// Lanes of neighbouring stations that stand almost on one line are put on it: feet on feet, or
    /// middles on middles. A lane at the band's edge stays there, and no gap becomes too small.
    /// Parts of one size that could stand anywhere in the band stand level with each other.
    fn snap_lanes(&self, stations: &mut [Vec<PlacedLane>], from: f64, breadth: f64) {
        const SAME_SIZE_MM: f64 = 3.0;
        for s in 0..stations.len() {
            let [lane] = stations[s][..] else { continue };
            let level = stations
                .iter()
                .enumerate()
                .filter(|(other, lanes)| *other < s || (*other > s && lanes.len() > 1))
                .flat_map(|(_, lanes)| lanes)
                .find(|other| (other.extent.body - lane.extent.body).abs() <= SAME_SIZE_MM);
            if let Some(level) = level {
                let start = level.middle() - 0.5 * lane.extent.body;
                stations[s][0].start =
                    start.clamp(from, from + (breadth - lane.extent.body).max(0.0));
            }
        }
        const ALMOST_MM: f64 = 5.0;
        for s in 1..stations.len() {
            for l in 0..stations[s].len() {
                let lane = stations[s][l];
                let at_edge =
                    (lane.start - from).abs() < 1e-6 || (lane.end() - from - breadth).abs() < 1e-6;
                if at_edge {
                    continue;
                }
                let between = |a: Extent, b: Extent| {
                    least_between_mm(a, b, self.axes.across(), &self.spacing)
                };
                let low = match l.checked_sub(1).map(|k| stations[s][k]) {
                    Some(above) => above.end() + between(above.extent, lane.extent),
                    None => from,
                };
                let high = match stations[s].get(l + 1) {
                    Some(below) => below.start - between(lane.extent, below.extent),
                    None => from + breadth,
                } - lane.extent.body;
                let shift = stations[..s]
                    .iter()
                    .flatten()
                    .flat_map(|other| {
                        [
                            other.end() - lane.end(),
                            other.middle() - lane.middle(),
                            other.start - lane.start,
                        ]
                    })
                    .filter(|d| {
                        d.abs() <= ALMOST_MM && lane.start + d >= low && lane.start + d <= high
                    })
                    .min_by(|a, b| a.abs().total_cmp(&b.abs()));
                if let Some(shift) = shift {
                    stations[s][l].start += shift;
                }
            }
        }
    }

    /// Places the cells of a lane in the station `s` of the columns, which starts at `from`.
    fn place_lane(
        &self,
        lane: &[usize],
        (from, columns, s): (f64, &Columns, usize),
        placed: &PlacedLane,
        run: &mut Places,
    ) {
        let length = columns.stations[s].body;
        let items: Vec<Extent> = lane.iter().map(|&c| self.extents[c].0).collect();
        let joints = items.len().saturating_sub(1) as f64;
        // A lane nearly as long as its station is spread to the same edges.
        let short = length - placed.along.body - joints * columns.extra;
        let extra = if joints > 0.0 && short / joints <= 2.0 * self.spacing.gap_mm {
            columns.extra + (short / joints).max(0.0)
        } else {
            columns.extra
        };
        let (starts, row) = in_a_row(&items, self.axes.along(), &self.spacing, extra);
        run.note_gaps(&items, &starts);
        let left = from + 0.5 * (length - row.body);
        for (k, &c) in lane.iter().enumerate() {
            let down = self.lane_share() * (placed.extent.body - self.extents[c].1.body);
            run.starts[c] = (left + starts[k], placed.start + down);
        }
    }

    /// Where a station that does not fill its band lies across it: at the start, in the middle or at
    /// the end, whichever is nearest to home.
    fn settle_across(&self, station: &Station, free: f64, body: f64, band: f64) -> f64 {
        let homes: Vec<f64> = station
            .iter()
            .flatten()
            .filter_map(|&c| self.homes[c].map(|h| h.1))
            .collect();
        if homes.is_empty() || self.device.1 <= 0.0 || body > 0.75 * band {
            return 0.5 * free;
        }
        let mean = homes.iter().sum::<f64>() / homes.len() as f64;
        let wish = (mean / self.device.1 * band - 0.5 * body).clamp(0.0, free);
        [0.5 * free, 0.0, free]
            .into_iter()
            .min_by(|a, b| (a - wish).abs().total_cmp(&(b - wish).abs()))
            .unwrap_or(0.5 * free)
    }

    fn finish(&self, run: Places, overflow: (f64, f64)) -> Composed {
        let at: Vec<Point> = run
            .starts
            .iter()
            .zip(self.cells)
            .map(|(&(a, b), cell)| self.axes.on_board(a, b, cell.body))
            .collect();
        let boxes = at
            .iter()
            .zip(self.cells)
            .flat_map(|(&p, cell)| self.boxes_of(cell, p))
            .flatten();
        let extent = boxes
            .clone()
            .reduce(Bounds::joined)
            .unwrap_or(self.axes.region);
        let collisions_mm = if self.obstacles.is_empty() {
            0.0
        } else {
            boxes
                .flat_map(|b| self.obstacles.iter().map(move |o| depth_mm(b, *o)))
                .sum()
        };
        Composed {
            at,
            band_of: run.band_of,
            gaps: run.gaps,
            overflow,
            collisions_mm,
            extent,
        }
    }
}

/// How far one of two boxes must move to be clear of the other, mm; 0 where they share no area.
fn depth_mm(a: Bounds, b: Bounds) -> f64 {
    let dx = (a.max.x - b.min.x).min(b.max.x - a.min.x);
    let dy = (a.max.y - b.min.y).min(b.max.y - a.min.y);
    dx.min(dy).max(0.0)
}

/// Of each station its lanes: what each takes up along the run, and how many joints it has.
type StationLanes = Vec<Vec<(Extent, f64)>>;

/// What the stations of a band take up along the run.
#[derive(Debug, Clone, Default)]
struct Columns {
    stations: Vec<Extent>,
    /// What is added to each least distance.
    extra: f64,
    whole_mm: f64,
}

/// A lane that has its place across the run.
#[derive(Debug, Clone, Copy)]
struct PlacedLane {
    start: f64,
    along: Extent,
    extent: Extent,
}

impl PlacedLane {
    fn end(&self) -> f64 {
        self.start + self.extent.body
    }

    fn middle(&self) -> f64 {
        self.start + 0.5 * self.extent.body
    }
}

/// Places while they are found, in coordinates along and across.
struct Places {
    starts: Vec<(f64, f64)>,
    band_of: Vec<usize>,
    gaps: Vec<f64>,
}

impl Places {
    fn note_gaps(&mut self, items: &[Extent], starts: &[f64]) {
        for k in 1..items.len() {
            let bodies = starts[k] - (starts[k - 1] + items[k - 1].body);
            self.gaps
                .push(bodies - items[k - 1].after - items[k].before);
        }
    }
}
