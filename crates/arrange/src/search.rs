//! Finds a good plan: first plans by dynamic programming, then seeded changes to the best of them.

use crate::plan::{Band, Composed, Plan, Setting, Station};
use crate::rows;
use crate::score::{Score, score};
use shape::{Random, Watch};

/// Most cells of one station in the first plans.
const STATION: usize = 6;

/// Most bands that the first plans try.
const BANDS: usize = 6;

/// Starts that are tried before one is chosen.
const TRIED_STARTS: usize = 4;

/// How much worse a plan may be at the start of a search and still be gone on from. Of 0.03, 0.08, 0.2
/// and 0.5 this range gave the best means over six seeds on six pieces.
const HEAT: f64 = 0.15;

/// What a search found.
#[derive(Debug, Clone)]
pub(crate) struct Found {
    pub(crate) plan: Plan,
    pub(crate) composed: Composed,
    pub(crate) score: Score,
    /// The watch ended the search before its steps were done.
    pub(crate) stopped: bool,
}

impl Found {
    /// Everything lies in the region.
    pub(crate) fn fits(&self) -> bool {
        beyond_mm(&self.composed) <= 1e-9
    }
}

/// What is too long, too broad, or in an obstacle, mm.
fn beyond_mm(composed: &Composed) -> f64 {
    composed.overflow.0 + composed.overflow.1 + composed.collisions_mm
}

fn price(setting: &Setting<'_>, score: &Score, composed: &Composed) -> f64 {
    let over = beyond_mm(composed);
    // Far above any score, and falling towards what fits.
    score.total(&setting.weights) + if over > 1e-9 { 10.0 + over } else { 0.0 }
}

/// Searches for a plan that fits the region and scores well. Returns the best that it saw, which may
/// not fit.
pub(crate) fn find_plan(
    setting: &Setting<'_>,
    seed: u64,
    steps: u32,
    watch: &dyn Watch,
) -> Option<Found> {
    let first = if setting.rows {
        rows::first_plans(setting)
    } else {
        first_plans(setting)
    };
    let mut starts: Vec<(f64, Found)> = first
        .into_iter()
        .map(|plan| {
            let composed = setting.compose(&plan);
            let score = score(setting, &composed);
            let found = Found {
                plan,
                composed,
                score,
                stopped: false,
            };
            (price(setting, &found.score, &found.composed), found)
        })
        .collect();
    starts.sort_by(|a, b| a.0.total_cmp(&b.0));
    // The best start of each number of bands is tried for a while, the best of those for longest.
    let mut tried: Vec<usize> = Vec::new();
    starts.retain(|(_, found)| {
        let n = found.plan.bands.len();
        let new = !tried.contains(&n) && tried.len() < TRIED_STARTS;
        if new {
            tried.push(n);
        }
        new
    });
    let n_starts = starts.len() as u32;
    let short = steps / (TRIED_STARTS as u32 + 2);
    let mut best: Option<(f64, Found)> = None;
    for (k, (start_price, found)) in starts.into_iter().enumerate() {
        let (price, found) = improve(
            setting,
            start_price,
            found,
            seed.wrapping_add(k as u64),
            short,
            watch,
        );
        if best.as_ref().is_none_or(|(p, _)| price < *p) {
            best = Some((price, found));
        }
        if best.as_ref().is_some_and(|(_, f)| f.stopped) {
            return best.map(|(_, f)| f);
        }
    }
    let (best_price, found) = best?;
    let left = steps.saturating_sub(short * n_starts);
    Some(improve(setting, best_price, found, !seed, left, watch).1)
}

/// Simulated annealing over plans (Kirkpatrick, Gelatt and Vecchi 1983); the best plan seen is kept.
fn improve(
    setting: &Setting<'_>,
    mut best_price: f64,
    mut best: Found,
    seed: u64,
    steps: u32,
    watch: &dyn Watch,
) -> (f64, Found) {
    let mut random = Random::new(seed);
    let (mut now, mut now_price) = (best.plan.clone(), best_price);
    for step in 0..steps {
        if step % 64 == 0
            && watch
                .step("arranging", f64::from(step) / f64::from(steps))
                .is_err()
        {
            best.stopped = true;
            break;
        }
        let done = f64::from(step) / f64::from(steps);
        if step == steps / 2 || step == steps * 4 / 5 {
            now = best.plan.clone();
            now_price = best_price;
        }
        let changed = if setting.rows {
            rows::changed(&now, &mut random)
        } else {
            changed(setting, &now, &mut random)
        };
        let Some(tried) = changed else {
            continue;
        };
        let composed = setting.compose(&tried);
        let score = score(setting, &composed);
        let tried_price = price(setting, &score, &composed);
        let heat = HEAT * (1.0 - done).powi(2) + 1e-4;
        if tried_price <= now_price || random.share() < ((now_price - tried_price) / heat).exp() {
            if tried_price < best_price - 1e-12 {
                best_price = tried_price;
                best = Found {
                    plan: tried.clone(),
                    composed,
                    score,
                    stopped: false,
                };
            }
            now = tried;
            now_price = tried_price;
        }
    }
    (best_price, best)
}

/// Plans that follow the device: runs of neighbouring layers share a station where that saves length,
/// at several prices for sharing, folded into one to [`BANDS`] bands.
fn first_plans(setting: &Setting<'_>) -> Vec<Plan> {
    let mut order: Vec<usize> = (0..setting.cells.len()).collect();
    order.sort_by(|&a, &b| {
        setting.cells[a]
            .layer
            .cmp(&setting.cells[b].layer)
            .then_with(|| setting.along_order(a, b))
    });
    let mut plans: Vec<Plan> = Vec::new();
    for n_bands in 1..=BANDS.min(order.len()) {
        let breadth = setting.axes.breadth_mm() / n_bands as f64
            - (setting.spacing.letter_mm + setting.spacing.gap_mm);
        let table = station_table(setting, &order, breadth);
        for sharing_mm in [0.0, 12.0, 40.0, 120.0] {
            let stations = chain(setting, &order, &table, sharing_mm);
            if let Some(plan) = fold(setting, stations, n_bands)
                && !plans.contains(&plan)
            {
                plans.push(plan);
            }
        }
    }
    plans
}

/// For each end, the stations that the last one, two, … cells before it can share, with their costs.
type StationTable = Vec<Vec<(usize, Station, f64)>>;

fn station_table(setting: &Setting<'_>, order: &[usize], breadth: f64) -> StationTable {
    (1..=order.len())
        .map(|end| {
            (end.saturating_sub(STATION)..end)
                .filter_map(|start| {
                    let (station, cost) = best_station(setting, &order[start..end], breadth)?;
                    Some((start, station, cost))
                })
                .collect()
        })
        .collect()
}

/// Cuts the ordered cells into stations so that their lengths and the price of sharing are least.
fn chain(
    setting: &Setting<'_>,
    order: &[usize],
    table: &StationTable,
    sharing_mm: f64,
) -> Vec<Station> {
    let n = order.len();
    let mut best: Vec<(f64, usize, Station)> = vec![(0.0, 0, Vec::new())];
    for (last, ends_here) in table.iter().enumerate() {
        let mut at_end: Option<(f64, usize, Station)> = None;
        for (start, station, cost) in ends_here {
            let mut layers: Vec<u32> = order[*start..=last]
                .iter()
                .map(|&c| setting.cells[c].layer)
                .collect();
            layers.dedup();
            let price = best[*start].0
                + cost
                + setting.spacing.gap_mm
                + sharing_mm * (layers.len() - 1) as f64;
            if at_end.as_ref().is_none_or(|(p, ..)| price < *p) {
                at_end = Some((price, *start, station.clone()));
            }
        }
        best.push(at_end.unwrap_or_default());
    }
    let mut stations = Vec::new();
    let mut end = n;
    while end > 0 {
        let (_, start, station) = &best[end];
        stations.push(station.clone());
        end = *start;
    }
    stations.reverse();
    stations
}

/// The shortest station for some cells that is no broader than `breadth`, and its cost in mm. A
/// single cell always has one.
fn best_station(setting: &Setting<'_>, run: &[usize], breadth: f64) -> Option<(Station, f64)> {
    let mut cells = run.to_vec();
    cells.sort_by(|&a, &b| setting.across_order(a, b));
    let mut best: Option<(Station, f64)> = None;
    // Each bit says whether a lane ends between two neighbours across the run.
    for cuts in 0..1u32 << (cells.len() - 1) {
        let mut station: Station = vec![vec![cells[0]]];
        for (k, &c) in cells.iter().enumerate().skip(1) {
            let last = station.len() - 1;
            if cuts >> (k - 1) & 1 == 1 {
                station.push(vec![c]);
            } else {
                station[last].push(c);
            }
        }
        for lane in &mut station {
            lane.sort_by(|&a, &b| setting.along_order(a, b));
        }
        let (along, across) = setting.station_extent(&station);
        if across.whole_mm() > breadth && cells.len() > 1 {
            continue;
        }
        let cost = along.whole_mm() + lost_order_mm(setting, &station);
        if best.as_ref().is_none_or(|(_, c)| cost < *c) {
            best = Some((station, cost));
        }
    }
    best
}

/// How far cells of one lane were apart across the run at home: what putting them side by side loses.
fn lost_order_mm(setting: &Setting<'_>, station: &Station) -> f64 {
    let mut lost = 0.0;
    for lane in station {
        for (k, &a) in lane.iter().enumerate() {
            for &b in &lane[..k] {
                if let (Some(p), Some(q)) = (setting.homes[a], setting.homes[b]) {
                    lost += 0.25 * (p.1 - q.1).abs();
                }
            }
        }
    }
    lost
}

/// Folds a run of stations into bands so that the longest band is as short as can be.
fn fold(setting: &Setting<'_>, stations: Vec<Station>, n_bands: usize) -> Option<Plan> {
    let n = stations.len();
    if n_bands > n {
        return None;
    }
    // Length of all stations before each one.
    let mut until = vec![0.0];
    for station in &stations {
        let length = setting.station_extent(station).0.whole_mm() + setting.spacing.gap_mm;
        until.push(until[until.len() - 1] + length);
    }
    let span = |from: usize, to: usize| until[to] - until[from];
    // least[b][i]: the first i stations in b + 1 bands, the longest band's length; and where the last
    // band starts.
    let mut least = vec![vec![(f64::INFINITY, 0usize); n + 1]; n_bands];
    for (i, entry) in least[0].iter_mut().enumerate().skip(1) {
        *entry = (span(0, i), 0);
    }
    for b in 1..n_bands {
        for i in b + 1..=n {
            for start in b..i {
                let longest = least[b - 1][start].0.max(span(start, i));
                if longest < least[b][i].0 {
                    least[b][i] = (longest, start);
                }
            }
        }
    }
    let mut bands: Vec<Band> = Vec::new();
    let mut end = n;
    let mut rest = stations;
    for b in (0..n_bands).rev() {
        let start = least[b][end].1;
        bands.push(rest.split_off(start));
        end = start;
    }
    bands.reverse();
    Some(Plan {
        bands,
        grid: n_bands > 1,
    })
}

/// A plan with one thing changed; `None` where the drawn change does not apply.
fn changed(setting: &Setting<'_>, plan: &Plan, random: &mut Random) -> Option<Plan> {
    let mut new = plan.clone();
    let b = random.below(new.bands.len());
    let s = random.below(new.bands[b].len());
    let l = random.below(new.bands[b][s].len());
    let lane = |cells: Vec<usize>| {
        let mut cells = cells;
        cells.sort_by(|&x, &y| setting.along_order(x, y));
        cells
    };
    match random.below(13) {
        // A cell moves to the station before or after.
        0 | 1 => {
            let cell = take_cell(&mut new, b, s, l, random);
            let to = if random.below(2) == 0 {
                s.checked_sub(1)?
            } else {
                s + 1
            };
            let station = new.bands[b].get_mut(to)?;
            insert_lane(setting, station, vec![cell]);
        }
        // Two neighbouring stations become one.
        2 => {
            let next = (s + 1 < new.bands[b].len()).then(|| new.bands[b].remove(s + 1))?;
            for lane in next {
                insert_lane(setting, &mut new.bands[b][s], lane);
            }
        }
        // A lane leaves its station and becomes one of its own.
        3 => {
            if new.bands[b][s].len() < 2 {
                return None;
            }
            let lane = new.bands[b][s].remove(l);
            let at = s + random.below(2);
            new.bands[b].insert(at, vec![lane]);
        }
        // A station goes over the fold between two bands.
        4 => {
            if new.bands.len() < 2 {
                return None;
            }
            let k = random.below(new.bands.len() - 1);
            if random.below(2) == 0 {
                let station = new.bands[k].pop()?;
                new.bands[k + 1].insert(0, station);
            } else {
                let station = new.bands[k + 1].remove(0);
                new.bands[k].push(station);
            }
        }
        // Two lanes become one, side by side.
        5 => {
            let station = &mut new.bands[b][s];
            if l + 1 >= station.len() {
                return None;
            }
            let next = station.remove(l + 1);
            let joined = station[l].iter().copied().chain(next).collect();
            station[l] = lane(joined);
        }
        // A cell leaves its lane and becomes one of its own.
        6 => {
            if new.bands[b][s][l].len() < 2 {
                return None;
            }
            let k = random.below(new.bands[b][s][l].len());
            let cell = new.bands[b][s][l].remove(k);
            insert_lane(setting, &mut new.bands[b][s], vec![cell]);
        }
        // Bands are joined, or one is cut in two.
        7 => {
            if new.bands.len() > 1 && random.below(2) == 0 {
                let k = random.below(new.bands.len() - 1);
                let next = new.bands.remove(k + 1);
                new.bands[k].extend(next);
            } else {
                if new.bands[b].len() < 2 {
                    return None;
                }
                let at = 1 + random.below(new.bands[b].len() - 1);
                let rest = new.bands[b].split_off(at);
                new.bands.insert(b + 1, rest);
            }
        }
        // Two neighbouring stations change places.
        9 => {
            if s + 1 >= new.bands[b].len() {
                return None;
            }
            new.bands[b].swap(s, s + 1);
        }
        // A cell moves to any station, into a lane of its own.
        10 | 11 => {
            let cell = take_cell(&mut new, b, s, l, random);
            drop_empty(&mut new);
            if new.bands.is_empty() {
                return None;
            }
            let b = random.below(new.bands.len());
            let s = random.below(new.bands[b].len());
            insert_lane(setting, &mut new.bands[b][s], vec![cell]);
        }
        // Bands share their columns, or no longer do.
        8 => new.grid = !new.grid,
        // A cell moves into any lane.
        _ => {
            let cell = take_cell(&mut new, b, s, l, random);
            drop_empty(&mut new);
            if new.bands.is_empty() {
                return None;
            }
            let b = random.below(new.bands.len());
            let s = random.below(new.bands[b].len());
            let l = random.below(new.bands[b][s].len());
            let mut cells = new.bands[b][s][l].clone();
            cells.push(cell);
            new.bands[b][s][l] = lane(cells);
        }
    }
    drop_empty(&mut new);
    (new != *plan).then_some(new)
}

fn take_cell(plan: &mut Plan, b: usize, s: usize, l: usize, random: &mut Random) -> usize {
    let lane = &mut plan.bands[b][s][l];
    let k = random.below(lane.len());
    lane.remove(k)
}

/// Puts a lane where its home across the run belongs in a station.
fn insert_lane(setting: &Setting<'_>, station: &mut Station, lane: Vec<usize>) {
    let at = station
        .iter()
        .position(|other| match (lane.first(), other.first()) {
            (Some(&a), Some(&b)) => setting.across_order(a, b).is_lt(),
            _ => true,
        })
        .unwrap_or(station.len());
    station.insert(at, lane);
}

fn drop_empty(plan: &mut Plan) {
    for band in &mut plan.bands {
        for station in band.iter_mut() {
            station.retain(|lane| !lane.is_empty());
        }
        band.retain(|station| !station.is_empty());
    }
    plan.bands.retain(|band| !band.is_empty());
}
