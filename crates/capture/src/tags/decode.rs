//! Which id do the cells of a four-sided region spell?

use super::codes::CODES_36H11;
use super::{TAG_CELLS, TAG_COUNT};
use crate::photo::{LinearLuma, PhotoPoint};

/// Cells of payload along a side.
const PAYLOAD: usize = TAG_CELLS - 2;

/// Most cells that may be misread. Ids differ by 11 or more in every rotation (recomputed from the
/// table in the tests), so that three misread cells leave no doubt which id it is.
const MOST_MISREAD: u32 = 3;

/// A mirrored tag has to read without a miss: mirrored codes are not far from upright ones by design.
const MOST_MISREAD_MIRRORED: u32 = 0;

/// Least difference between rim and border, as square roots of light (0 to 1).
const LEAST_CONTRAST: f64 = 0.1;

/// Cells of border and rim that may look wrong: a shadow's edge or a part may touch a corner.
const MOST_WRONG_SHARE: f64 = 0.15;

/// What the cells spell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Reading {
    pub(super) id: u32,
    pub(super) misread: u32,
    /// Which corner of the quad is the printed upper left one; the others follow clockwise as seen.
    pub(super) first_corner: usize,
    pub(super) mirrored: bool,
}

/// Reads the cells within the quad (full-size pixels, clockwise as seen).
pub(super) fn read_cells(luma: &LinearLuma, quad: &[PhotoPoint; 4]) -> Option<Reading> {
    let photo_from_cells = square_to_quad(quad)?;
    let cells = TAG_CELLS as f64;
    // Twice as many samples would not help: a cell is read at its middle, away from blurred edges.
    let at = |column: f64, row: f64| -> Option<f64> {
        let p = photo_from_cells.at((column + 0.5) / cells, (row + 0.5) / cells);
        luma.holds(p).then(|| luma.between(p).max(0.0).sqrt())
    };
    let border = ring(0, TAG_CELLS as i32 - 1);
    let rim = ring(-1, TAG_CELLS as i32);
    let read = |cells: &[[f64; 2]]| -> Vec<Sample> {
        cells
            .iter()
            .filter_map(|&[x, y]| Some(([x, y], at(x, y)?)))
            .collect()
    };
    let (border, rim) = (read(&border), read(&rim));
    let (black, white) = (Tilted::through(&border)?, Tilted::through(&rim)?);
    let middle = |x: f64, y: f64| 0.5 * (black.at(x, y) + white.at(x, y));
    let centre = 0.5 * (cells - 1.0);
    if white.at(centre, centre) - black.at(centre, centre) < LEAST_CONTRAST {
        return None;
    }
    let wrong = border
        .iter()
        .filter(|&&([x, y], v)| v > middle(x, y))
        .count()
        + rim.iter().filter(|&&([x, y], v)| v < middle(x, y)).count();
    if wrong as f64 > MOST_WRONG_SHARE * (border.len() + rim.len()) as f64 {
        return None;
    }
    let mut grid = [[false; PAYLOAD]; PAYLOAD];
    for (r, row) in grid.iter_mut().enumerate() {
        for (c, cell) in row.iter_mut().enumerate() {
            let (x, y) = (c as f64 + 1.0, r as f64 + 1.0);
            *cell = at(x, y)? > middle(x, y);
        }
    }
    look_up(grid)
}

fn look_up(grid: [[bool; PAYLOAD]; PAYLOAD]) -> Option<Reading> {
    let mut mirrored = grid;
    for row in &mut mirrored {
        row.reverse();
    }
    nearest(grid, MOST_MISREAD, false).or_else(|| nearest(mirrored, MOST_MISREAD_MIRRORED, true))
}

fn nearest(mut grid: [[bool; PAYLOAD]; PAYLOAD], most: u32, mirrored: bool) -> Option<Reading> {
    let mut best: Option<Reading> = None;
    for first_corner in 0..4 {
        let word = grid
            .iter()
            .flatten()
            .fold(0_u64, |word, &white| word << 1 | u64::from(white));
        for (id, code) in (0..TAG_COUNT).zip(CODES_36H11) {
            let misread = (word ^ code).count_ones();
            if misread <= most && best.is_none_or(|b| misread < b.misread) {
                best = Some(Reading {
                    id,
                    misread,
                    first_corner,
                    mirrored,
                });
            }
        }
        // Seen from the next corner clockwise, the right column is the top row.
        grid = std::array::from_fn(|r| std::array::from_fn(|c| grid[c][PAYLOAD - 1 - r]));
    }
    best
}

/// Cells of the square ring between two coordinates, both included.
fn ring(from: i32, to: i32) -> Vec<[f64; 2]> {
    (from..to)
        .flat_map(|i| {
            let along = i - from;
            [
                [i, from],
                [to, from + along],
                [to - along, to],
                [from, to - along],
            ]
        })
        .map(|cell| cell.map(f64::from))
        .collect()
}

/// A cell's column and row, and the brightness read there.
type Sample = ([f64; 2], f64);

/// A brightness that changes evenly across the tag: `a + b x + c y`.
struct Tilted([f64; 3]);

impl Tilted {
    /// Least squares; on a ring the offsets from its middle are uncorrelated, so that no equations have to
    /// be solved. Needs most of the ring.
    fn through(samples: &[Sample]) -> Option<Self> {
        if samples.len() < 20 {
            return None;
        }
        let n = samples.len() as f64;
        let mean = |f: &dyn Fn(&Sample) -> f64| samples.iter().map(f).sum::<f64>() / n;
        let (x, y, v) = (mean(&|s| s.0[0]), mean(&|s| s.0[1]), mean(&|s| s.1));
        let slope = |along: usize, middle: f64| {
            mean(&|s| (s.0[along] - middle) * (s.1 - v)) / mean(&|s| (s.0[along] - middle).powi(2))
        };
        let (b, c) = (slope(0, x), slope(1, y));
        (b.is_finite() && c.is_finite()).then_some(Self([v - b * x - c * y, b, c]))
    }

    fn at(&self, x: f64, y: f64) -> f64 {
        self.0[0] + self.0[1] * x + self.0[2] * y
    }
}

/// The projective map of the unit square (y down) onto four corners.
struct SquareToQuad([[f64; 3]; 3]);

/// Closed form, as in P. Heckbert, Fundamentals of Texture Mapping and Image Warping (1989), section 2.2.3.
fn square_to_quad(quad: &[PhotoPoint; 4]) -> Option<SquareToQuad> {
    let [p0, p1, p2, p3] = quad.map(|p| [p.x, p.y]);
    let (dx1, dy1) = (p1[0] - p2[0], p1[1] - p2[1]);
    let (dx2, dy2) = (p3[0] - p2[0], p3[1] - p2[1]);
    let sx = p0[0] - p1[0] + p2[0] - p3[0];
    let sy = p0[1] - p1[1] + p2[1] - p3[1];
    let det = dx1 * dy2 - dx2 * dy1;
    let g = (sx * dy2 - dx2 * sy) / det;
    let h = (dx1 * sy - sx * dy1) / det;
    (g.is_finite() && h.is_finite()).then_some(SquareToQuad([
        [p1[0] - p0[0] + g * p1[0], p3[0] - p0[0] + h * p3[0], p0[0]],
        [p1[1] - p0[1] + g * p1[1], p3[1] - p0[1] + h * p3[1], p0[1]],
        [g, h, 1.0],
    ]))
}

impl SquareToQuad {
    fn at(&self, u: f64, v: f64) -> PhotoPoint {
        let [x, y, w] = self.0.map(|row| row[0] * u + row[1] * v + row[2]);
        PhotoPoint::new(x / w, y / w)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tags::tag_pattern;

    fn payload(id: u32) -> [[bool; PAYLOAD]; PAYLOAD] {
        let rows = tag_pattern(id).expect("an id of the family");
        std::array::from_fn(|r| std::array::from_fn(|c| rows[r + 1][c + 1]))
    }

    #[test]
    fn every_id_reads_as_itself_even_with_three_cells_wrong() {
        for id in 0..TAG_COUNT {
            let mut grid = payload(id);
            grid[0][3] ^= true;
            grid[4][1] ^= true;
            grid[5][5] ^= true;
            let read = look_up(grid).expect("three misread cells are allowed");
            assert_eq!((read.id, read.misread, read.first_corner), (id, 3, 0));
            assert!(!read.mirrored);
        }
    }

    #[test]
    fn a_turned_tag_tells_its_first_corner() {
        // Turned a quarter clockwise: the printed upper left corner is seen at the upper right, corner 1.
        let grid = payload(17);
        let turned = std::array::from_fn(|r| std::array::from_fn(|c| grid[PAYLOAD - 1 - c][r]));
        let read = look_up(turned).expect("a tag");
        assert_eq!((read.id, read.first_corner), (17, 1));
    }

    #[test]
    fn a_mirrored_tag_is_noticed_and_no_id_passes_for_a_mirrored_one() {
        let mut noticed = 0;
        for id in 0..TAG_COUNT {
            let mut grid = payload(id);
            for row in &mut grid {
                row.reverse();
            }
            if let Some(read) = look_up(grid) {
                let own = read.mirrored && read.id == id;
                assert!(own || read.misread > 0, "{id}: {read:?}");
                noticed += u32::from(own);
            }
        }
        // The others have a mirror image that is another id with cells misread.
        assert!(noticed > TAG_COUNT * 9 / 10, "{noticed} of {TAG_COUNT}");
    }

    /// The figure 11 is computed from the published table; the format's own name (36h11) says the same.
    #[test]
    fn ids_differ_by_eleven_cells_or_more_in_every_rotation() {
        let words = |id| {
            let mut grid = payload(id);
            std::array::from_fn::<u64, 4, _>(|_| {
                let word = grid.iter().flatten().fold(0, |w, &b| w << 1 | u64::from(b));
                grid = std::array::from_fn(|r| std::array::from_fn(|c| grid[c][PAYLOAD - 1 - r]));
                word
            })
        };
        let all: Vec<[u64; 4]> = (0..TAG_COUNT).map(words).collect();
        let least = (0..all.len())
            .flat_map(|a| (0..a).map(move |b| (a, b)))
            .flat_map(|(a, b)| all[b].map(|word| (all[a][0] ^ word).count_ones()))
            .min();
        assert_eq!(least, Some(11));
    }
}
