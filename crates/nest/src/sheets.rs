//! Sheets of fixed size: how few hold a set.

use crate::budget::{Budget, StoppedBy};
use crate::construct::{Turned, leftmost};
use crate::item::{Item, Placement, Sheet};
use crate::kinds::Kinds;
use crate::lanes::{Found, shorten};
use crate::layout::{Job, Layout, Spot};
use crate::strip::{all_have_room, placements_of};
use crate::{NestError, verify};
use shape::{Point, Watch};

/// A set on several sheets.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetsLayout {
    /// The sheets that are used, by their place in the list as given, and what lies on each.
    pub sheets: Vec<(usize, Vec<Placement>)>,
    /// Pieces that found no room on any sheet: item and how many of it.
    pub left_over: Vec<(usize, usize)>,
    /// Why the search ended.
    pub stopped_by: StoppedBy,
}

/// Steps that one more piece on a sheet may take.
const STEPS_FOR_ONE_MORE: u64 = 1_500;
/// Pieces that may fail one after the other before a sheet counts as full.
const MOST_FAILURES: usize = 4;

/// Places all items on few of the sheets, taken in the order given; repeat a sheet to have it several times. A sheet
/// is filled with the largest pieces first, then one more is tried as long as that works.
///
/// # Errors
/// Any [`NestError`]; [`NestError::ItemTooLarge`] where an item fits on no sheet even alone.
pub fn fill_sheets(
    items: &[Item],
    sheets: &[Sheet],
    budget: &Budget,
    watch: &dyn Watch,
) -> Result<SheetsLayout, NestError> {
    // Sheets that are alike share their no-fit regions.
    let mut different: Vec<(&Sheet, Kinds)> = Vec::new();
    let mut like = Vec::with_capacity(sheets.len());
    for sheet in sheets {
        let at = different.iter().position(|(s, _)| *s == sheet);
        like.push(match at {
            Some(at) => at,
            None => {
                let kinds = Kinds::try_new(items, sheet.keep_outs(), sheet.spacing().gap_mm)?;
                different.push((sheet, kinds));
                different.len() - 1
            }
        });
    }
    no_item_too_large(items, &different)?;
    let mut left: Vec<usize> = items
        .iter()
        .enumerate()
        .flat_map(|(k, item)| std::iter::repeat_n(k, item.demand))
        .collect();
    let mut used = Vec::new();
    let mut steps = budget.steps;
    let mut stopped_by = StoppedBy::Goal;
    for (at, sheet) in sheets.iter().enumerate() {
        if left.is_empty() {
            break;
        }
        let mut filling = Filling::new(items, sheet, &different[like[at]].1);
        filling.greedy(&mut left);
        if stopped_by != StoppedBy::Watch && !left.is_empty() {
            match filling.one_more_each(&mut left, &mut steps, budget, watch) {
                StoppedBy::Goal => {}
                other => stopped_by = other,
            }
        }
        let placements = filling.placements();
        if placements.is_empty() {
            continue;
        }
        verify::no_overlaps(
            items,
            &placements,
            sheet.keep_outs(),
            sheet.spacing().gap_mm,
        )?;
        used.push((at, placements));
    }
    let mut left_over: Vec<(usize, usize)> = Vec::new();
    for item in left {
        match left_over.last_mut() {
            Some((last, count)) if *last == item => *count += 1,
            _ => left_over.push((item, 1)),
        }
    }
    Ok(SheetsLayout {
        sheets: used,
        left_over,
        stopped_by,
    })
}

/// Width and height inside the edges, mm.
fn field_of(sheet: &Sheet) -> [f64; 2] {
    let edge_mm = sheet.spacing().edge_mm;
    [sheet.width_mm(), sheet.height_mm()].map(|s| s - 2.0 * edge_mm)
}

/// The search's field starts `edge_mm` right of and above the sheet's corner.
fn keep_outs_of(kinds: &Kinds, edge_mm: f64) -> Vec<Spot> {
    kinds
        .kind_of_keep_out
        .iter()
        .map(|&k| (kinds.kinds[k].forms.start, Point::new(-edge_mm, -edge_mm)))
        .collect()
}

fn no_item_too_large(items: &[Item], sheets: &[(&Sheet, Kinds)]) -> Result<(), NestError> {
    if sheets.is_empty() {
        return Ok(());
    }
    for (k, item) in items.iter().enumerate().filter(|(_, i)| i.demand > 0) {
        let mut refused = None;
        let fits = sheets.iter().any(|(sheet, kinds)| {
            let [width_mm, height_mm] = field_of(sheet);
            let job = Job {
                kinds,
                pieces: vec![kinds.kind_of_item[k]],
                keep_outs: Vec::new(),
                height_mm,
            };
            let mut alone: Vec<Item> = items.to_vec();
            for (i, other) in alone.iter_mut().enumerate() {
                other.demand = if i == k { item.demand } else { 0 };
            }
            match all_have_room(&alone, &job, width_mm) {
                Ok(()) => true,
                Err(e) => {
                    refused = Some(e);
                    false
                }
            }
        });
        if let (false, Some(e)) = (fits, refused) {
            return Err(e);
        }
    }
    Ok(())
}

/// One sheet that is being filled.
struct Filling<'a> {
    job: Job<'a>,
    /// Items of the job's pieces.
    owners: Vec<usize>,
    spots: Vec<Spot>,
    width_mm: f64,
    edge_mm: f64,
    free_mm2: f64,
}

impl<'a> Filling<'a> {
    fn new(items: &[Item], sheet: &Sheet, kinds: &'a Kinds) -> Self {
        let [width_mm, height_mm] = field_of(sheet);
        let edge_mm = sheet.spacing().edge_mm;
        debug_assert_eq!(items.len(), kinds.kind_of_item.len());
        Self {
            job: Job {
                kinds,
                pieces: Vec::new(),
                keep_outs: keep_outs_of(kinds, edge_mm),
                height_mm,
            },
            owners: Vec::new(),
            spots: Vec::new(),
            width_mm,
            edge_mm,
            free_mm2: (width_mm * height_mm).min(sheet.area_mm2()),
        }
    }

    fn area_mm2(&self, item: usize) -> f64 {
        let kinds = self.job.kinds;
        kinds.kinds[kinds.kind_of_item[item]].area_mm2
    }

    fn largest_first(&self, left: &[usize]) -> Vec<usize> {
        let kinds = self.job.kinds;
        let size = |k: usize| kinds.kinds[kinds.kind_of_item[left[k]]].size;
        let mut order: Vec<usize> = (0..left.len()).collect();
        order.sort_by(|&a, &b| size(b).total_cmp(&size(a)).then(a.cmp(&b)));
        order
    }

    /// Takes what has room, the largest first, turned in the way that fills most; what has none stays in `left`.
    fn greedy(&mut self, left: &mut Vec<usize>) {
        let mut best: (f64, Vec<(usize, Spot)>) = (0.0, Vec::new());
        for turned in Turned::ALL {
            let found = self.with_room(left, turned);
            let mm2 = found.iter().map(|&(k, _)| self.area_mm2(left[k])).sum();
            if mm2 > best.0 * (1.0 + 1e-9) {
                best = (mm2, found);
            }
        }
        let mut taken = vec![false; left.len()];
        for (k, spot) in best.1 {
            self.take(left[k], spot);
            taken[k] = true;
        }
        let mut at = 0;
        left.retain(|_| {
            at += 1;
            !taken[at - 1]
        });
    }

    /// Those of the pieces left that find room one after the other, the largest first, and where.
    fn with_room(&self, left: &[usize], turned: Turned) -> Vec<(usize, Spot)> {
        let mut layout = Layout::of(&self.job, &self.job.keep_outs);
        let mut found = Vec::new();
        // Where one piece found no room, its like finds none either.
        let mut no_room = vec![false; self.job.kinds.kinds.len()];
        for k in self.largest_first(left) {
            let kind = self.job.kinds.kind_of_item[left[k]];
            if no_room[kind] {
                continue;
            }
            match leftmost(&self.job, &layout, kind, turned, self.width_mm) {
                Some(spot) => {
                    layout.push(&self.job, spot);
                    found.push((k, spot));
                }
                None => no_room[kind] = true,
            }
        }
        found
    }

    fn take(&mut self, item: usize, spot: Spot) {
        self.free_mm2 -= self.area_mm2(item);
        self.owners.push(item);
        self.job.pieces.push(self.job.kinds.kind_of_item[item]);
        self.spots.push(spot);
    }

    /// One more piece lies right of the others, then the search makes it fit, or does not.
    fn one_more_each(
        &mut self,
        left: &mut Vec<usize>,
        steps: &mut u64,
        budget: &Budget,
        watch: &dyn Watch,
    ) -> StoppedBy {
        let mut failed = vec![false; self.job.kinds.kinds.len()];
        let mut failures = 0;
        let all = left.len().max(1);
        while failures < MOST_FAILURES {
            let candidate = self.largest_first(left).into_iter().find(|&k| {
                !failed[self.job.kinds.kind_of_item[left[k]]]
                    && self.area_mm2(left[k]) <= self.free_mm2
            });
            let Some(k) = candidate else {
                return StoppedBy::Goal;
            };
            if *steps == 0 {
                return StoppedBy::Steps;
            }
            let item = left[k];
            let kind = self.job.kinds.kind_of_item[item];
            let kept = (self.owners.clone(), self.spots.clone());
            let free_mm2 = self.free_mm2;
            self.spots.truncate(self.owners.len());
            let mut layout = Layout::of(&self.job, &self.spots);
            for &spot in &self.job.keep_outs {
                layout.push(&self.job, spot);
            }
            let mut outcome = None;
            let anywhere = leftmost(&self.job, &layout, kind, Turned::Any, f64::INFINITY);
            if let Some(spot) = anywhere {
                self.take(item, spot);
                let mut spots = self.spots.clone();
                spots.extend(&self.job.keep_outs);
                let first = Found {
                    length_mm: self.job.length_of(&spots),
                    spots,
                };
                let share = Budget {
                    steps: (*steps).min(STEPS_FOR_ONE_MORE),
                    ..*budget
                };
                let what = "filling the sheets";
                let width_mm = self.width_mm;
                let done = shorten(&self.job, first, width_mm, &share, watch, what);
                *steps -= done.steps.min(*steps);
                outcome = Some((done.best, done.stopped_by));
            }
            match outcome {
                Some((found, _)) if found.length_mm <= self.width_mm => {
                    self.spots = found.spots;
                    self.spots.truncate(self.owners.len());
                    left.remove(k);
                    failures = 0;
                }
                other => {
                    (self.owners, self.spots) = kept;
                    self.job.pieces.truncate(self.owners.len());
                    self.free_mm2 = free_mm2;
                    failed[kind] = true;
                    failures += 1;
                    if other.is_some_and(|(_, by)| by == StoppedBy::Watch) {
                        return StoppedBy::Watch;
                    }
                }
            }
            let share = 1.0 - left.len() as f64 / all as f64;
            if watch.step("filling the sheets", share).is_err() {
                return StoppedBy::Watch;
            }
        }
        StoppedBy::Goal
    }

    fn placements(&self) -> Vec<Placement> {
        placements_of(&self.job, &self.owners, &self.spots, self.edge_mm)
    }
}
