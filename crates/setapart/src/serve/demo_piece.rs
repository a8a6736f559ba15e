//! The demo piece in the store: captured and arranged like any other.

use super::refusal::Refusal;
use crate::commands::demo;
use crate::device::Device;
use shape::Watch;
use workshop::{Mark, Opened, Role, Taken, Work, Workshop};

/// Captures and arranges the built-in device, and stores it with its photos.
pub(crate) fn set_up(workshop: &Workshop, watch: &dyn Watch) -> Result<Opened, Refusal> {
    let device = Device::built_in()?;
    let made = demo::make(&device, watch)?;
    let mut piece = made.piece;
    let built = piece.build_is_current();
    for (id, png) in &made.pictures {
        let name = workshop.add_image(png)?;
        let part = piece.parts.iter_mut().find(|p| p.id == *id);
        if let Some(cutout) = part.and_then(|p| p.cutout.as_mut()) {
            cutout.image = name.to_string();
        }
    }
    // Its pictures have other names now, which is nothing to the build.
    let mark = piece.mark();
    if let Some(plan) = piece.build.as_mut().filter(|_| built) {
        plan.made_from = mark;
    }
    let (shop, drawer) = crate::commands::demo_ledger::records()?;
    piece.shop = shop;
    let opened = workshop.new_piece(&piece)?;
    for item in super::rooms::stock::demo_stock(&drawer) {
        workshop.add_stock(&item)?;
    }
    for (name, bytes) in Device::photos() {
        let image = workshop.add_image(bytes)?;
        let of_photo = device.parts.iter().filter(|p| p.photo == *name);
        let marks = of_photo.map(|p| Mark {
            at_mm: p.at_mm,
            thickness_mm: Some(p.edge_mm.unwrap_or(p.thickness_mm)),
            part: Some(p.id.clone()),
            left_out: false,
        });
        let work = Work {
            taken: Taken::Sheet { printed_mm: None },
            thickness_mm: None,
            marks: marks.collect(),
            strokes: Vec::new(),
        };
        workshop.add_photo(opened.id, &image, name, Role::Parts, &work)?;
    }
    Ok(opened)
}

impl From<crate::failure::Failure> for Refusal {
    fn from(e: crate::failure::Failure) -> Self {
        Self::told(e, "Try again.")
    }
}
