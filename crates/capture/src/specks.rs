//! What is no part: specks, slivers along shade, whiskers of an edge, and what hardly differs from the paper.

use crate::silhouette::{SMALLEST_PART_MM, Silhouette};
use shape::{Outline, Ring, difference, offset, thinned};

/// Half of the smallest part's disc: what is left below that is a glint's or a shade's edge.
pub(crate) fn is_large_enough(outline: &Outline) -> bool {
    outline.area_mm2() > 0.4 * SMALLEST_PART_MM * SMALLEST_PART_MM
}

/// Large enough, and no sliver such as runs along the foot of a wall.
pub(crate) fn is_a_part(silhouette: &Silhouette) -> bool {
    let outline = &silhouette.in_sheet;
    is_large_enough(outline) && !narrowed(outline).is_empty()
}

/// What is narrower than this all over is no part, mm.
const SLIVER_MM: f64 = 0.7;

/// Where a disc of a sliver's width fits in, its centre.
fn narrowed(outline: &Outline) -> Vec<Outline> {
    offset(std::slice::from_ref(outline), -0.5 * SLIVER_MM)
}

/// Whether most of something is as narrow as a sliver. Beside a part that is its shade; alone it may be a wire with its tab.
pub(crate) fn is_mostly_sliver(outline: &Outline) -> bool {
    // What is broad on the whole is not narrow for the most part: most outlines need no closer look.
    if mean_width_mm(outline) > SLIVER_MM {
        return false;
    }
    let broad = offset(&narrowed(outline), 0.5 * SLIVER_MM);
    let broad_mm2: f64 = broad.iter().map(Outline::area_mm2).sum();
    broad_mm2 < LEAST_BROAD_SHARE * outline.area_mm2()
}

/// Of two shade lines seen beside white shells 0.45 was as broad as a sliver or broader, of the smallest screws on the same rendered photos
/// 0.84 and more.
const LEAST_BROAD_SHARE: f64 = 0.6;

/// Whether something small differs so little from the paper that it is likelier a change of light.
///
/// On rendered photos of eleven devices' parts and eight of others, small true parts had no more than 0.25 of their edge
/// below three times the noise, and seven of ten inventions 0.48 and more.
pub(crate) fn is_faint(silhouette: &Silhouette) -> bool {
    silhouette.faint_share > FAINT_SHARE && silhouette.in_sheet.area_mm2() < FAINT_MM2
}

/// Share of the edge that may be below the noise.
const FAINT_SHARE: f64 = 0.45;

/// Something larger is a part, whose faint edge is told, mm2: a white shell on white paper.
const FAINT_MM2: f64 = 30.0;

/// An outline without its whiskers: narrow as no cut is, and longer than a corner's tip, they run along shade that the edge caught. Where
/// one led from part to part, both are left.
pub(crate) fn without_whiskers(outline: &Outline) -> Vec<Outline> {
    let plain = coarser(outline);
    let core = offset(std::slice::from_ref(&plain), -0.5 * WHISKER_MM);
    let broad = offset(&core, 0.5 * WHISKER_MM + WHISKER_SLACK_MM);
    let mut whiskers = difference(outline, &broad);
    whiskers.retain(|w| {
        let length_mm = 0.5 * w.perimeter_mm();
        length_mm > WHISKER_LENGTH_MM && w.area_mm2() > WHISKER_MM2
    });
    if whiskers.is_empty() {
        return vec![outline.clone()];
    }
    let mut pieces = difference(outline, &whiskers);
    pieces.retain(|p| is_large_enough(p) && mean_width_mm(p) > SLIVER_MM);
    pieces.sort_by(|a, b| b.area_mm2().total_cmp(&a.area_mm2()));
    // A strip is the rest of something that was seen in part only, such as a shell's rim.
    let strip = pieces
        .iter()
        .skip(1)
        .any(|p| mean_width_mm(p) < PART_WIDTH_MM);
    if strip || pieces.is_empty() {
        return vec![outline.clone()];
    }
    pieces
}

/// An outline with fewer points: what is wide enough shows as well on it, in a fraction of the time.
fn coarser(outline: &Outline) -> Outline {
    let ring = |r: &Ring| thinned(r.points(), WHISKER_THINNING_MM);
    let holes = outline.holes().iter().map(ring).collect();
    Outline::try_new(ring(outline.outer()), holes).unwrap_or_else(|_| outline.clone())
}

/// How wide a long strip of the same area and perimeter is; of a disc, half its diameter.
fn mean_width_mm(outline: &Outline) -> f64 {
    2.0 * outline.area_mm2() / outline.perimeter_mm()
}

/// What a whisker joins to something else is a part if it is wider than this, mm.
const PART_WIDTH_MM: f64 = 2.0;

/// Three pixels of a photo that is fine enough: what is narrower is no feature that a photo shows, mm.
const WHISKER_MM: f64 = 0.3;

/// Points of an outline are left out for whiskers that move its edge by no more than this, mm.
const WHISKER_THINNING_MM: f64 = 0.01;

/// What thinning and rounding at convex corners take is left alone, mm.
const WHISKER_SLACK_MM: f64 = 0.02;

/// Shorter ones are corners, mm.
const WHISKER_LENGTH_MM: f64 = 1.0;

/// So are smaller ones, mm2.
const WHISKER_MM2: f64 = 0.15;

#[cfg(test)]
mod tests {
    use super::*;
    use shape::Point;

    fn outline(list: &[(f64, f64)]) -> Outline {
        let ring = list.iter().map(|&(x, y)| Point::new(x, y)).collect();
        Outline::try_new(ring, Vec::new()).expect("an outline")
    }

    fn seen(in_sheet: Outline, faint_share: f64) -> Silhouette {
        Silhouette {
            in_sheet,
            faint_share,
            like_shade_share: 0.0,
            edge_sigma_mm: 0.1,
            at_field_edge: false,
            openings_left_out: 0,
            pieces_left_out: 0,
        }
    }

    /// By construction: a square of 6 mm with a whisker 4 mm long and 0.2 mm wide at its right side, and with a tab of the same
    /// length that is as wide as a photo shows.
    #[test]
    fn whiskers_go_and_tabs_stay() {
        let with_tab = |wide: f64| {
            outline(&[
                (0.0, 0.0),
                (6.0, 0.0),
                (6.0, 3.0),
                (10.0, 3.0),
                (10.0, 3.0 + wide),
                (6.0, 3.0 + wide),
                (6.0, 6.0),
                (0.0, 6.0),
            ])
        };
        let trimmed = without_whiskers(&with_tab(0.2)).remove(0);
        // The whisker's root, where the square's side begins to bear it, may stay.
        assert!(
            (trimmed.area_mm2() - 36.0).abs() < 0.05,
            "{}",
            trimmed.area_mm2()
        );
        assert!(trimmed.bounds().max.x < 6.2);
        let tab = with_tab(0.5);
        assert_eq!(without_whiskers(&tab), std::slice::from_ref(&tab));
        let square = Outline::rectangle(Point::new(0.0, 0.0), Point::new(6.0, 6.0)).expect("one");
        assert_eq!(without_whiskers(&square), std::slice::from_ref(&square));
    }

    #[test]
    fn a_shade_line_with_a_hump_is_mostly_sliver_and_a_screw_is_not() {
        let line = outline(&[
            (0.0, 0.0),
            (30.0, 0.0),
            (30.0, 0.4),
            (16.0, 0.4),
            (15.5, 1.2),
            (14.5, 1.2),
            (14.0, 0.4),
            (0.0, 0.4),
        ]);
        assert!(is_mostly_sliver(&line));
        assert!(is_a_part(&seen(line, 0.0)), "alone it is kept");
        let screw = Outline::rectangle(Point::new(0.0, 0.0), Point::new(1.3, 1.3)).expect("one");
        assert!(!is_mostly_sliver(&screw));
    }

    #[test]
    fn only_what_is_small_is_taken_for_light() {
        let square = |side: f64| {
            Outline::rectangle(Point::new(0.0, 0.0), Point::new(side, side)).expect("one")
        };
        assert!(is_faint(&seen(square(3.0), 0.9)));
        assert!(!is_faint(&seen(square(3.0), 0.3)));
        assert!(!is_faint(&seen(square(60.0), 0.9)), "it is told instead");
    }
}
