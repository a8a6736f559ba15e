//! What is to be placed, where it may lie, and where it came to lie.

use crate::NestError;
use shape::{Bounds, Outline, Pose};

/// How an item may be turned about its origin.
#[derive(Debug, Clone, PartialEq)]
pub enum Turns {
    /// These turns only, degrees counter-clockwise; at least one.
    Listed(Vec<f64>),
    /// Any turn. The search tries evenly spaced ones: 24 of them where the items have few different outlines, down
    /// to 8 where they have many.
    Free,
}

impl Turns {
    /// As it lies, only.
    pub fn none() -> Self {
        Self::Listed(vec![0.0])
    }

    /// The four quarter turns.
    pub fn quarters() -> Self {
        Self::Listed(vec![0.0, 90.0, 180.0, 270.0])
    }
}

/// An outline that is to be placed a number of times.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// The outline in its own coordinates, mm. Its holes are kept: another item may lie in one.
    pub outline: Outline,
    /// How many of it are to be placed; 0 asks for none.
    pub demand: usize,
    /// How it may be turned.
    pub turns: Turns,
}

/// Where one copy of an item lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement {
    /// Which item, by its place in the list as given.
    pub item: usize,
    /// Carries the item's own coordinates to those of the strip, sheet or window.
    pub strip_from_item: Pose,
}

/// A run of fixed height and open length: y from 0 to the height, x from 0 on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strip {
    height_mm: f64,
    spacing: Spacing,
}

impl Strip {
    /// A strip of this height, mm.
    ///
    /// # Errors
    /// [`NestError::BadLength`] where a length is not a number in range.
    pub fn try_new(height_mm: f64, spacing: Spacing) -> Result<Self, NestError> {
        Ok(Self {
            height_mm: side("the strip's height", height_mm)?,
            spacing: spacing.checked()?,
        })
    }

    /// Height, mm.
    pub fn height_mm(&self) -> f64 {
        self.height_mm
    }

    /// Distances that are kept.
    pub fn spacing(&self) -> Spacing {
        self.spacing
    }
}

/// Distances that are kept free, mm. Never less is kept than is asked; up to a hundred-thousandth of a millimetre more.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Spacing {
    /// Between two items, and between an item and a keep-out.
    pub gap_mm: f64,
    /// Between an item and the edge of the strip, sheet or window.
    pub edge_mm: f64,
}

impl Spacing {
    fn checked(self) -> Result<Self, NestError> {
        for (what, value) in [
            ("the gap", self.gap_mm),
            ("the distance from the edge", self.edge_mm),
        ] {
            if !(0.0..=MOST_SIDE_MM).contains(&value) {
                return Err(NestError::BadLength { what, value });
            }
        }
        Ok(self)
    }
}

/// A rectangle to place on: x from 0 to the width, y from 0 to the height, less the keep-outs.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    width_mm: f64,
    height_mm: f64,
    keep_outs: Vec<Outline>,
    spacing: Spacing,
}

impl Sheet {
    /// A sheet of this size, mm.
    ///
    /// # Errors
    /// [`NestError::BadLength`] where a length is not a number in range; [`NestError::TooManyPieces`] for more keep-outs
    /// than the limit.
    pub fn try_new(
        width_mm: f64,
        height_mm: f64,
        keep_outs: Vec<Outline>,
        spacing: Spacing,
    ) -> Result<Self, NestError> {
        if keep_outs.len() > MOST_KEEP_OUTS {
            return Err(NestError::TooManyPieces {
                what: "keep-outs",
                found: keep_outs.len(),
                limit: MOST_KEEP_OUTS,
            });
        }
        Ok(Self {
            width_mm: side("the sheet's width", width_mm)?,
            height_mm: side("the sheet's height", height_mm)?,
            keep_outs,
            spacing: spacing.checked()?,
        })
    }

    /// Width, mm.
    pub fn width_mm(&self) -> f64 {
        self.width_mm
    }

    /// Height, mm.
    pub fn height_mm(&self) -> f64 {
        self.height_mm
    }

    /// Where nothing may lie, in the sheet's coordinates.
    pub fn keep_outs(&self) -> &[Outline] {
        &self.keep_outs
    }

    /// Distances that are kept.
    pub fn spacing(&self) -> Spacing {
        self.spacing
    }

    /// Width times height less the largest keep-out that lies on the sheet whole, mm2: what can be covered at most.
    pub(crate) fn area_mm2(&self) -> f64 {
        let field = Bounds::between(
            shape::Point::new(0.0, 0.0),
            shape::Point::new(self.width_mm, self.height_mm),
        );
        // A keep-out may reach over the edge or lie on another one: only sure area is taken off.
        let taken = self
            .keep_outs
            .iter()
            .filter(|k| field.holds(k.bounds()))
            .map(Outline::area_mm2)
            .fold(0.0, f64::max);
        self.width_mm * self.height_mm - taken
    }
}

/// Longest side and distance, mm: as far as outlines' coordinates go.
pub(crate) const MOST_SIDE_MM: f64 = 1e5;
/// Most keep-outs on one sheet.
pub(crate) const MOST_KEEP_OUTS: usize = 200;

fn side(what: &'static str, value: f64) -> Result<f64, NestError> {
    if value > 0.0 && value <= MOST_SIDE_MM {
        Ok(value)
    } else {
        Err(NestError::BadLength { what, value })
    }
}
