//! Connected dark regions of a picture: each pixel compared with the mean of its surroundings, dark
//! pixels gathered into runs along rows, runs that touch joined.

use super::half_size::HalfSize;
use shape::{mapped, thread_count};

/// Dark pixels `start..end` of one row.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Run {
    y: u32,
    start: u32,
    end: u32,
}

/// A dark region.
pub(super) struct Region {
    /// Pixels in it.
    pub(super) area: u32,
    /// The outermost pixels of each of its runs, in reading order: the hull's candidates.
    pub(super) rim: Vec<[i32; 2]>,
}

/// Which regions are worth a look, in half-size pixels.
pub(super) struct Wanted {
    /// Least width and height.
    pub(super) least_side: u32,
    /// Greatest width and height.
    pub(super) greatest_side: u32,
}

/// Dark regions of a wanted size, in the order of their first pixel. A pixel is dark where it is below
/// `share` of the mean of the square of `2 * reach + 1` pixels round it.
pub(super) fn dark_regions(
    view: &HalfSize,
    reach: usize,
    share: f64,
    wanted: &Wanted,
) -> Vec<Region> {
    gather(
        &all_dark_runs(view, reach, share, thread_count(view.height)),
        wanted,
    )
}

/// The runs of the whole view, found in `bands` bands of rows at the same time.
fn all_dark_runs(view: &HalfSize, reach: usize, share: f64, bands: usize) -> Vec<Run> {
    let rows = view.height.div_ceil(bands.max(1)).max(1);
    let firsts: Vec<usize> = (0..view.height).step_by(rows).collect();
    mapped(&firsts, |&first| {
        dark_runs(view, first, (first + rows).min(view.height), reach, share)
    })
    .concat()
}

/// The runs of rows `first..last`. Sums are whole numbers, so that where a band starts does not matter.
fn dark_runs(view: &HalfSize, first: usize, last: usize, reach: usize, share: f64) -> Vec<Run> {
    let (width, height) = (view.width, view.height);
    // share as a fraction of 1024: value * area * 1024 < sum * share.
    let share = (share * 1024.0) as u64;
    let mut columns = vec![0_u32; width];
    let add = |columns: &mut [u32], y: usize| {
        for (sum, &v) in columns.iter_mut().zip(view.row(y)) {
            *sum += u32::from(v);
        }
    };
    for y in first.saturating_sub(reach)..(first + reach).min(height) {
        add(&mut columns, y);
    }
    let mut prefix = vec![0_u64; width + 1];
    let mut runs = Vec::new();
    for y in first..last {
        // Rows y - reach ..= y + reach, as far as the picture goes.
        if y + reach < height {
            add(&mut columns, y + reach);
        }
        if y > reach && y > first {
            for (sum, &v) in columns.iter_mut().zip(view.row(y - reach - 1)) {
                *sum -= u32::from(v);
            }
        }
        let mut total = 0_u64;
        for (to, &sum) in prefix.iter_mut().skip(1).zip(&columns) {
            total += u64::from(sum);
            *to = total;
        }
        let high = (y + reach + 1).min(height) - y.saturating_sub(reach);
        let mut open = None;
        for (x, &v) in view.row(y).iter().enumerate() {
            let left = x.saturating_sub(reach);
            let right = (x + reach + 1).min(width);
            let sum = prefix[right] - prefix[left];
            let area = ((right - left) * high) as u64;
            let dark = u64::from(v) * area * 1024 < sum * share;
            match (dark, open) {
                (true, None) => open = Some(x),
                (false, Some(start)) => {
                    runs.push(run(y, start, x));
                    open = None;
                }
                _ => {}
            }
        }
        if let Some(start) = open {
            runs.push(run(y, start, width));
        }
    }
    runs
}

fn run(y: usize, start: usize, end: usize) -> Run {
    Run {
        y: y as u32,
        start: start as u32,
        end: end as u32,
    }
}

/// Joins runs that share a side (not only a corner), and keeps the regions of a wanted size.
fn gather(runs: &[Run], wanted: &Wanted) -> Vec<Region> {
    let mut parent: Vec<u32> = (0..runs.len() as u32).collect();
    let (mut above, mut row_start, mut row) = (0, 0, u32::MAX);
    let mut above_end = 0;
    for (i, run) in runs.iter().enumerate() {
        if run.y != row {
            let follows = row != u32::MAX && run.y == row + 1;
            (above, above_end) = if follows { (row_start, i) } else { (i, i) };
            (row_start, row) = (i, run.y);
        }
        while above < above_end && runs[above].end <= run.start {
            above += 1;
        }
        let mut other = above;
        while other < above_end && runs[other].start < run.end {
            let (a, b) = (root(&mut parent, i as u32), root(&mut parent, other as u32));
            // The earlier run leads, so that regions come out in reading order.
            parent[a.max(b) as usize] = a.min(b);
            other += 1;
        }
    }
    let mut sizes = vec![Size::default(); runs.len()];
    for (i, run) in runs.iter().enumerate() {
        sizes[root(&mut parent, i as u32) as usize].add(run);
    }
    let mut regions = Vec::new();
    let mut region_of = vec![u32::MAX; runs.len()];
    for (i, size) in sizes.iter().enumerate() {
        if size.is_wanted(wanted) {
            region_of[i] = regions.len() as u32;
            regions.push(Region {
                area: size.area,
                rim: Vec::new(),
            });
        }
    }
    for (i, run) in runs.iter().enumerate() {
        let region = region_of[root(&mut parent, i as u32) as usize];
        if let Some(region) = regions.get_mut(region as usize) {
            let y = run.y as i32;
            region.rim.push([run.start as i32, y]);
            region.rim.push([run.end as i32 - 1, y]);
        }
    }
    regions
}

/// The run that leads the region of `of`; shortens the way there.
fn root(parent: &mut [u32], mut of: u32) -> u32 {
    while parent[of as usize] != of {
        let next = parent[parent[of as usize] as usize];
        parent[of as usize] = next;
        of = next;
    }
    of
}

#[derive(Clone, Copy)]
struct Size {
    area: u32,
    x: [u32; 2],
    y: [u32; 2],
}

impl Default for Size {
    fn default() -> Self {
        Self {
            area: 0,
            x: [u32::MAX, 0],
            y: [u32::MAX, 0],
        }
    }
}

impl Size {
    fn add(&mut self, run: &Run) {
        self.area += run.end - run.start;
        self.x = [self.x[0].min(run.start), self.x[1].max(run.end)];
        self.y = [self.y[0].min(run.y), self.y[1].max(run.y + 1)];
    }

    fn is_wanted(&self, wanted: &Wanted) -> bool {
        self.area > 0
            && [self.x, self.y]
                .iter()
                .all(|[from, to]| (wanted.least_side..=wanted.greatest_side).contains(&(to - from)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn view(width: usize, height: usize, value: impl Fn(usize, usize) -> u8) -> HalfSize {
        HalfSize {
            width,
            height,
            data: (0..width * height)
                .map(|i| value(i % width, i / width))
                .collect(),
        }
    }

    #[test]
    fn the_number_of_bands_does_not_change_the_runs() {
        let speckled = view(97, 83, |x, y| (x * x * 31 + y * y * 17 + x * y * 7) as u8);
        let whole = all_dark_runs(&speckled, 9, 0.7, 1);
        assert!(whole.len() > 1000);
        for bands in [2, 3, 7, 83, 200] {
            assert_eq!(all_dark_runs(&speckled, 9, 0.7, bands), whole, "{bands}");
        }
    }

    #[test]
    fn a_dark_frame_is_one_region_and_its_inside_another() {
        let wanted = Wanted {
            least_side: 3,
            greatest_side: 60,
        };
        let ring = |x: usize, y: usize| {
            let r = x.abs_diff(40).max(y.abs_diff(40));
            if (17..=19).contains(&r) || r < 3 {
                20
            } else {
                200
            }
        };
        let regions = dark_regions(&view(80, 80, ring), 15, 0.7, &wanted);
        let areas: Vec<u32> = regions.iter().map(|r| r.area).collect();
        // By construction: 39 x 39 less 33 x 33 pixels, and 5 x 5.
        assert_eq!(areas, [39 * 39 - 33 * 33, 25]);
    }

    #[test]
    fn nothing_is_found_in_an_empty_picture() {
        let wanted = Wanted {
            least_side: 1,
            greatest_side: 9,
        };
        assert!(dark_regions(&view(0, 0, |_, _| 0), 5, 0.7, &wanted).is_empty());
        assert!(dark_regions(&view(30, 20, |_, _| 0), 5, 0.7, &wanted).is_empty());
    }
}
