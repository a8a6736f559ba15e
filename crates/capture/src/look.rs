//! Where a picture shows parts: its field, and the light of what they lie on.

use crate::linear::LinearImage;
use crate::plane::{SheetPlane, border_px, in_photo, px_per_mm};
use crate::segment::{dark, grid::FieldGrid, paper};
use crate::silhouette::SilhouetteError;
use shape::{Bounds, Point};

/// Where a picture's field lies in it, and where its background shows.
pub(crate) struct Look {
    /// The field's border, pixels.
    pub(crate) border_px: Vec<[f64; 2]>,
    /// Places that show the background unless something lies on them, pixels.
    pub(crate) white_px: Vec<[f64; 2]>,
    /// A card may cover the whole field.
    pub(crate) may_be_covered: bool,
    /// The background may be dark: no sheet lies under the parts.
    pub(crate) may_be_dark: bool,
    /// The plane tells which way heights lean in the picture.
    pub(crate) lean_known: bool,
    /// Pixels per millimetre at the field's middle.
    pub(crate) px_per_mm: f64,
}

impl Look {
    /// A field of a sheet; `white` are points of the sheet that show its own white unless something lies on them.
    pub(crate) fn on_sheet(
        plane: &impl SheetPlane,
        field: Bounds,
        white: &[Point],
    ) -> Result<Self, SilhouetteError> {
        Ok(Self {
            border_px: border_px(plane, field),
            white_px: in_photo(plane, white),
            may_be_covered: true,
            may_be_dark: false,
            lean_known: true,
            px_per_mm: px_per_mm(plane, field).ok_or(SilhouetteError::FieldNotSeen)?,
        })
    }

    /// The field's cells, and their light over the background's.
    pub(crate) fn paper(
        &self,
        image: &LinearImage<'_>,
    ) -> Result<(FieldGrid, paper::Relative), SilhouetteError> {
        let mut grid = FieldGrid::over(image, &self.border_px, self.px_per_mm)
            .ok_or(SilhouetteError::FieldNotSeen)?;
        if self.may_be_dark && dark::is_dark(image, &self.white_px) {
            let relative =
                dark::relative_to_ground(image, &grid).ok_or(SilhouetteError::NoPaper)?;
            return Ok((grid, relative));
        }
        let cells_per_mm = self.px_per_mm / grid.cell_px as f64;
        let relative = paper::relative_to_background(
            image,
            &mut grid,
            &self.white_px,
            cells_per_mm,
            self.may_be_covered,
        )
        .ok_or(SilhouetteError::NoPaper)?;
        Ok((grid, relative))
    }
}
