//! Sheets of fixed size: does a set fit on one, which is the smallest that holds it, how few hold it all.

use crate::budget::{Budget, StoppedBy};
use crate::construct::{Turned, first_layout, leftmost};
use crate::item::{Item, Placement, Sheet, Spacing, Strip};
use crate::kinds::Kinds;
use crate::lanes::{Found, shorten};
use crate::layout::{Job, Layout, Spot};
use crate::strip::{all_have_room, fill_strip, pieces_of, placements_of};
use crate::{NestError, verify};
use shape::{Point, Watch};

/// Whether a set was made to fit on one sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Every piece, in the order of the items as given; `None` where no layout was found. That is proof only where
    /// `impossible` says so.
    pub placements: Option<Vec<Placement>>,
    /// No layout can be: the pieces' area is larger than the sheet's, or a piece is too large for it.
    pub impossible: bool,
    /// Why the search ended.
    pub stopped_by: StoppedBy,
}

/// The smallest of several sheets that holds a set.
#[derive(Debug, Clone, PartialEq)]
pub struct SmallestSheet {
    /// Which sheet, by its place in the list as given, and the placements on it; `None` where none was found.
    pub found: Option<(usize, Vec<Placement>)>,
    /// Why the search ended.
    pub stopped_by: StoppedBy,
}

/// A window of free size that holds a set.
#[derive(Debug, Clone, PartialEq)]
pub struct LeastWindow {
    /// Width, mm, with the distance from the edges.
    pub width_mm: f64,
    /// Height, mm, with the distance from the edges.
    pub height_mm: f64,
    /// Every piece, in the order of the items as given.
    pub placements: Vec<Placement>,
    /// Why the search ended.
    pub stopped_by: StoppedBy,
}

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
/// Shapes of window that are tried: width over height.
const ASPECTS: [f64; 5] = [1.0, 1.4, 0.71, 2.0, 0.5];

/// Places all items on one sheet.
///
/// # Errors
/// Any [`NestError`] but [`NestError::ItemTooLarge`], which here is an answer.
pub fn fit(
    items: &[Item],
    sheet: &Sheet,
    budget: &Budget,
    watch: &dyn Watch,
) -> Result<Fit, NestError> {
    let impossible = Fit {
        placements: None,
        impossible: true,
        stopped_by: StoppedBy::Goal,
    };
    let kinds = Kinds::try_new(items, sheet.keep_outs(), sheet.spacing().gap_mm)?;
    let area_mm2: f64 = items
        .iter()
        .map(|i| i.demand as f64 * i.outline.area_mm2())
        .sum();
    let edge_mm = sheet.spacing().edge_mm;
    let [width_mm, height_mm] = field_of(sheet);
    if width_mm <= 0.0 || height_mm <= 0.0 || area_mm2 > sheet.area_mm2() * (1.0 + 1e-9) {
        return Ok(impossible);
    }
    let (owners, pieces) = pieces_of(items, &kinds);
    let job = Job {
        kinds: &kinds,
        pieces,
        keep_outs: keep_outs_of(&kinds, edge_mm),
        height_mm,
    };
    if all_have_room(items, &job, width_mm).is_err()
        || job.least_length_mm() > width_mm * (1.0 + 1e-9)
    {
        return Ok(impossible);
    }
    let what = "fitting the window";
    if watch.step(what, 0.0).is_err() {
        return Err(NestError::Cancelled);
    }
    let spots = first_layout(&job);
    let first = Found {
        length_mm: job.length_of(&spots),
        spots,
    };
    let done = shorten(&job, first, width_mm, budget, watch, what);
    let (found, stopped_by) = (done.best, done.stopped_by);
    if found.length_mm > width_mm {
        return Ok(Fit {
            placements: None,
            impossible: false,
            stopped_by,
        });
    }
    let placements = placements_of(&job, &owners, &found.spots, edge_mm);
    verify::no_overlaps(
        items,
        &placements,
        sheet.keep_outs(),
        sheet.spacing().gap_mm,
    )?;
    Ok(Fit {
        placements: Some(placements),
        impossible: false,
        stopped_by,
    })
}

/// The smallest sheet by area that all items are found to fit on. The steps are shared out among the sheets that are
/// not too small on the face of it.
///
/// # Errors
/// Any that [`fit`] gives.
pub fn smallest_sheet(
    items: &[Item],
    sheets: &[Sheet],
    budget: &Budget,
    watch: &dyn Watch,
) -> Result<SmallestSheet, NestError> {
    let mut order: Vec<usize> = (0..sheets.len()).collect();
    let area = |k: usize| sheets[k].width_mm() * sheets[k].height_mm();
    order.sort_by(|&a, &b| area(a).total_cmp(&area(b)).then(a.cmp(&b)));
    let mut stopped_by = StoppedBy::Goal;
    for k in order {
        let answer = fit(items, &sheets[k], budget, watch)?;
        if !answer.impossible {
            stopped_by = answer.stopped_by;
        }
        if let Some(placements) = answer.placements {
            return Ok(SmallestSheet {
                found: Some((k, placements)),
                stopped_by,
            });
        }
        if answer.stopped_by == StoppedBy::Watch {
            break;
        }
    }
    Ok(SmallestSheet {
        found: None,
        stopped_by,
    })
}

/// A small window of any size that holds all items: several heights are tried, and the least area is taken.
///
/// # Errors
/// Any [`NestError`].
pub fn least_window(
    items: &[Item],
    spacing: Spacing,
    budget: &Budget,
    watch: &dyn Watch,
) -> Result<LeastWindow, NestError> {
    let area_mm2: f64 = items
        .iter()
        .map(|i| i.demand as f64 * i.outline.area_mm2())
        .sum();
    let mut best: Option<LeastWindow> = None;
    let mut refused = NestError::NothingToPlace;
    let share = Budget {
        steps: budget.steps / ASPECTS.len() as u64,
        ..*budget
    };
    for aspect in ASPECTS {
        // About three quarters of a window are covered in the end.
        let height_mm = (area_mm2 / 0.75 / aspect).sqrt() + 2.0 * spacing.edge_mm;
        let filled = Strip::try_new(height_mm, spacing)
            .and_then(|strip| fill_strip(items, &strip, &share, watch));
        let filled = match filled {
            Ok(filled) => filled,
            // Another height may do.
            Err(e @ (NestError::ItemTooLarge { .. } | NestError::BadLength { .. })) => {
                refused = e;
                continue;
            }
            Err(NestError::Cancelled) if best.is_some() => break,
            Err(e) => return Err(e),
        };
        let stopped_by = filled.stopped_by;
        let top = filled
            .placements
            .iter()
            .map(|p| {
                items[p.item]
                    .outline
                    .placed(p.strip_from_item)
                    .bounds()
                    .max
                    .y
            })
            .fold(0.0, f64::max);
        let window = LeastWindow {
            width_mm: filled.length_mm,
            height_mm: (top + spacing.edge_mm).min(height_mm),
            placements: filled.placements,
            stopped_by,
        };
        let size = |w: &LeastWindow| w.width_mm * w.height_mm;
        if best.as_ref().is_none_or(|b| size(&window) < size(b)) {
            best = Some(window);
        }
        if stopped_by == StoppedBy::Watch {
            break;
        }
    }
    let mut best = best.ok_or(refused)?;
    if best.stopped_by == StoppedBy::Goal {
        best.stopped_by = StoppedBy::Steps;
    }
    Ok(best)
}

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
