//! Which sheet the tags are of, at the size that it was printed, and which of them count.

use super::error::{CameraError, CameraWarning};
use super::fit::Sighting;
use crate::photo::PhotoPoint;
use crate::sheet::Sheet;
use crate::tags::TagsSeen;
use shape::{Bounds, Point};
use std::collections::BTreeMap;

/// Fewest tags that give a camera: three would leave too little to notice a wrong one by.
pub(super) const LEAST_TAGS: usize = 4;

/// The sheet, at the size that its bars say it was printed, and its tags.
pub(super) fn sheet_and_sightings(
    seen: &TagsSeen,
    sheet: Option<&Sheet>,
    printed_mm: [f64; 2],
    warnings: &mut Vec<CameraWarning>,
) -> Result<(Sheet, Vec<Sighting>), CameraError> {
    if seen.mirrored.len() > seen.tags.len().max(1) {
        return Err(CameraError::Mirrored);
    }
    if seen.tags.is_empty() {
        return Err(CameraError::NoTag);
    }
    let [sx, sy] = print_scale(printed_mm)?;
    let sheet = stretched(&which_sheet(seen, sheet)?, |p| {
        Point::new(p.x * sx, p.y * sy)
    });
    let sightings = sightings(seen, &sheet, warnings)?;
    Ok((sheet, sightings))
}

/// A tag's corners: mm of the sheet at the size that its bars say, and where they were seen.
pub(crate) type CornersSeen = ([Point; 4], [PhotoPoint; 4]);

/// The corners of one sheet's tags, for who needs no camera.
pub(crate) fn sighted(
    seen: &TagsSeen,
    sheet: Option<&Sheet>,
    printed_mm: [f64; 2],
) -> Result<Vec<CornersSeen>, CameraError> {
    let (_, sightings) = sheet_and_sightings(seen, sheet, printed_mm, &mut Vec::new())?;
    let corners = |s: Sighting| (s.on_sheet, s.in_photo);
    Ok(sightings.into_iter().map(corners).collect())
}

/// The sheet that the tags are of.
fn which_sheet(seen: &TagsSeen, given: Option<&Sheet>) -> Result<Sheet, CameraError> {
    let ids: Vec<u32> = seen.tags.iter().map(|t| t.id).collect();
    if let Some(sheet) = given {
        let own = ids.iter().filter(|id| sheet.tags.contains_key(id)).count();
        return if 2 * own > ids.len() || own >= LEAST_TAGS {
            Ok(sheet.clone())
        } else {
            Err(CameraError::OtherSheet { ids })
        };
    }
    let papers = Sheet::papers_of(ids.iter().copied());
    // One tag of another paper may be a misreading; it is then a foreign tag.
    let most = papers.values().copied().max().unwrap_or(0);
    let there: Vec<_> = papers
        .iter()
        .filter(|&(_, &count)| count == most || count > 1)
        .map(|(&paper, _)| paper)
        .collect();
    match there[..] {
        [] => Err(CameraError::OtherSheet { ids }),
        [paper] => Ok(Sheet::ours(paper)),
        _ => Err(CameraError::TwoSheets { papers: there }),
    }
}

/// How much larger than meant the bars say that the sheet came out.
fn print_scale(printed_mm: [f64; 2]) -> Result<[f64; 2], CameraError> {
    if printed_mm.iter().all(|mm| (90.0..=110.0).contains(mm)) {
        Ok(printed_mm.map(|mm| mm / 100.0))
    } else {
        Err(CameraError::PrintScale { printed_mm })
    }
}

/// The sheet with all its places moved; its axes keep their directions.
pub(super) fn stretched(sheet: &Sheet, moved: impl Fn(Point) -> Point) -> Sheet {
    let corner = moved(Point::new(sheet.size_mm[0], sheet.size_mm[1]));
    let tags: BTreeMap<u32, [Point; 4]> = sheet
        .tags
        .iter()
        .map(|(&id, corners)| (id, corners.map(&moved)))
        .collect();
    Sheet {
        size_mm: corner.into(),
        tags,
        field: Bounds {
            min: moved(sheet.field.min),
            max: moved(sheet.field.max),
        },
        paper: sheet.paper,
    }
}

/// The tags that are this sheet's and were seen at one place each.
fn sightings(
    seen: &TagsSeen,
    sheet: &Sheet,
    warnings: &mut Vec<CameraWarning>,
) -> Result<Vec<Sighting>, CameraError> {
    let own = |id: &u32| sheet.tags.contains_key(id);
    let mut foreign: Vec<u32> = seen
        .tags
        .iter()
        .map(|t| t.id)
        .filter(|id| !own(id))
        .collect();
    foreign.dedup();
    if !foreign.is_empty() {
        warnings.push(CameraWarning::ForeignTags { ids: foreign });
    }
    let repeated: Vec<u32> = seen.repeated.iter().copied().filter(own).collect();
    if repeated.len() > 1 {
        return Err(CameraError::SameSheetTwice { ids: repeated });
    }
    if !repeated.is_empty() {
        warnings.push(CameraWarning::RepeatedTags {
            ids: repeated.clone(),
        });
    }
    let sightings: Vec<Sighting> = seen
        .tags
        .iter()
        .filter(|t| !repeated.contains(&t.id))
        .filter_map(|t| {
            Some(Sighting {
                id: t.id,
                on_sheet: *sheet.tags.get(&t.id)?,
                in_photo: t.corners_in_photo,
                sigma_px: t.corner_sigma_px,
                fitted_share: t.fitted_share,
                side_heights_mm: [0.0; 4],
            })
        })
        .collect();
    if sightings.len() < LEAST_TAGS {
        let ids = sightings.iter().map(|s| s.id).collect();
        return Err(CameraError::FewTags { ids });
    }
    Ok(sightings)
}
