//! Cells of a picture that hang together.

/// The cells within so many of one along both axes, itself among them, rows from the top.
pub(super) fn around(
    size: [usize; 2],
    cell: usize,
    reach: usize,
) -> impl Iterator<Item = usize> + use<> {
    let [width, height] = size;
    let (x, y) = (cell % width, cell / width);
    let columns = x.saturating_sub(reach)..(x + reach + 1).min(width);
    let rows = y.saturating_sub(reach)..(y + reach + 1).min(height);
    rows.flat_map(move |j| columns.clone().map(move |i| j * width + i))
}

/// The cells that share a side with one.
pub(super) fn beside(size: [usize; 2], cell: usize) -> impl Iterator<Item = usize> + use<> {
    let [width, _] = size;
    around(size, cell, 1).filter(move |&other| {
        other != cell && (other % width == cell % width || other / width == cell / width)
    })
}

/// All cells that hang together with one by their sides. `take` says whether a cell belongs to them, of each at most once if it
/// then says so no more.
pub(super) fn piece_of(
    size: [usize; 2],
    first: usize,
    mut take: impl FnMut(usize) -> bool,
) -> Vec<usize> {
    let mut piece: Vec<usize> = take(first).then_some(first).into_iter().collect();
    let mut next = 0;
    while let Some(&cell) = piece.get(next) {
        next += 1;
        piece.extend(beside(size, cell).filter(|&other| take(other)));
    }
    piece
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE: [usize; 2] = [5, 4];

    #[test]
    fn neighbours_end_at_the_pictures_border() {
        assert_eq!(around(SIZE, 0, 1).collect::<Vec<_>>(), [0, 1, 5, 6]);
        assert_eq!(around(SIZE, 19, 1).collect::<Vec<_>>(), [13, 14, 18, 19]);
        assert_eq!(around(SIZE, 7, 2).count(), 20);
        assert_eq!(beside(SIZE, 0).collect::<Vec<_>>(), [1, 5]);
        assert_eq!(beside(SIZE, 7).collect::<Vec<_>>(), [2, 6, 8, 12]);
        // The end of one row is not beside the start of the next.
        assert_eq!(beside(SIZE, 4).collect::<Vec<_>>(), [3, 9]);
    }

    #[test]
    fn a_piece_holds_what_its_sides_reach_and_no_corner() {
        let picture = b"##..# .#... ....# ..###";
        let picture: Vec<u8> = picture.iter().copied().filter(|c| *c != b' ').collect();
        let mut free: Vec<bool> = picture.iter().map(|c| *c == b'#').collect();
        let mut piece_from = |first: usize| {
            let mut piece = piece_of(SIZE, first, |c| std::mem::take(&mut free[c]));
            piece.sort_unstable();
            piece
        };
        assert_eq!(piece_from(0), [0, 1, 6]);
        assert_eq!(piece_from(0), [] as [usize; 0]);
        assert_eq!(piece_from(18), [14, 17, 18, 19]);
    }
}
