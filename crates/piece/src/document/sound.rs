//! What a piece document's types alone cannot tell: ids, references, sizes.

use super::{Piece, PieceError, VERSION};
use crate::place::{FAR, are_near, is_near};
use crate::{BuildPlan, PartId};
use std::collections::BTreeSet;

/// More parts than one frame can show.
const MAX_PARTS: usize = 2_000;

/// Longest side of any frame, mm.
const MAX_FRAME_MM: f64 = 10_000.0;

impl Piece {
    /// Checks what the types alone cannot: the format mark, ids, references and sizes.
    ///
    /// # Errors
    /// [`PieceError::Unsound`] for the first thing that cannot be.
    pub fn check_sound(&self) -> Result<(), PieceError> {
        let bad = |path: String, problem: String| Err(PieceError::Unsound { path, problem });
        if self.format != Piece::FORMAT {
            return bad(
                "format".into(),
                format!("is {:?}, not {:?}", self.format, Piece::FORMAT),
            );
        }
        if self.version != VERSION {
            return bad(
                "version".into(),
                format!("is {}; this program reads version {VERSION}", self.version),
            );
        }
        self.check_frame()?;
        if !(0.0..=100.0).contains(&self.layout.gap_mm) {
            return bad("layout.gap_mm".into(), "must be 0 to 100 mm".into());
        }
        for (i, k) in self.layout.keep_outs.iter().enumerate() {
            let path = format!("layout.keep_outs[{i}]");
            if !are_near(&[k.x, k.y, k.w, k.h]) {
                return bad(path, FAR.into());
            }
            if k.w <= 0.0 || k.h <= 0.0 {
                return bad(path, "needs a positive width and height".into());
            }
        }
        if self.parts.len() > MAX_PARTS {
            return bad(
                "parts".into(),
                format!("has {}, limit {MAX_PARTS}", self.parts.len()),
            );
        }
        let mut ids = BTreeSet::new();
        for (i, part) in self.parts.iter().enumerate() {
            if !ids.insert(&part.id) {
                return bad(
                    format!("parts[{i}].id"),
                    format!("{:?} is the id of an earlier part too", part.id.as_str()),
                );
            }
            for (field, value, limit) in [
                ("thickness_mm", part.thickness_mm, 500.0),
                ("sigma_mm", part.sigma_mm, 100.0),
                ("mass_g", part.mass_g, 100_000.0),
                ("wall_mm", part.wall_mm, 500.0),
                ("inner_depth_mm", part.inner_depth_mm, 500.0),
                ("lift_mm", part.lift_mm, 500.0),
            ] {
                if value.is_some_and(|v| !(0.0..=limit).contains(&v)) {
                    return bad(
                        format!("parts[{i}].{field}"),
                        format!("must be 0 to {limit}"),
                    );
                }
            }
            for (k, p) in part.protrusions.iter().enumerate() {
                if !(0.0..=500.0).contains(&p.height_mm) {
                    return bad(
                        format!("parts[{i}].protrusions[{k}].height_mm"),
                        "must be 0 to 500".into(),
                    );
                }
            }
            for (k, b) in part.bosses.iter().enumerate() {
                if b.screw_mm.is_some_and(|d| !(0.1..=20.0).contains(&d)) {
                    return bad(
                        format!("parts[{i}].bosses[{k}].screw_mm"),
                        "must be 0.1 to 20".into(),
                    );
                }
            }
            if part
                .home
                .is_some_and(|h| !are_near(&[h.x, h.y, h.turn_deg]))
            {
                return bad(format!("parts[{i}].home"), FAR.into());
            }
            let (front, back) = (&part.cutout, &part.back_cutout);
            for (field, picture) in [
                (
                    "cutout",
                    front.as_ref().map(|c| (c.px_per_mm, c.origin_mm, 0.0)),
                ),
                (
                    "back_cutout",
                    back.as_ref()
                        .map(|c| (c.px_per_mm, c.origin_mm, c.turn_deg)),
                ),
            ] {
                let Some((px_per_mm, [x, y], turn_deg)) = picture else {
                    continue;
                };
                if !(1e-3..=1e4).contains(&px_per_mm) {
                    return bad(
                        format!("parts[{i}].{field}.px_per_mm"),
                        "must be 0.001 to 10000".into(),
                    );
                }
                if !are_near(&[x, y, turn_deg]) {
                    return bad(format!("parts[{i}].{field}.origin_mm"), FAR.into());
                }
            }
        }
        let mut placed = BTreeSet::new();
        for (i, p) in self.placements.iter().enumerate() {
            let path = format!("placements[{i}]");
            if !ids.contains(&p.part) {
                return bad(format!("{path}.part"), no_such_part(&p.part));
            }
            if !placed.insert(&p.part) {
                return bad(
                    format!("{path}.part"),
                    format!("{} is placed twice", p.part),
                );
            }
            if !are_near(&[p.x, p.y, p.turn_deg]) {
                return bad(path, FAR.into());
            }
        }
        for (i, c) in self.captions.iter().enumerate() {
            let path = format!("captions[{i}]");
            if !ids.contains(&c.part) {
                return bad(format!("{path}.part"), no_such_part(&c.part));
            }
            if !are_near(&[c.x, c.y, c.w, c.h]) {
                return bad(path, FAR.into());
            }
            if c.w < 0.0 || c.h < 0.0 {
                return bad(path, "needs a size that is not negative".into());
            }
            if !c.leader.iter().all(is_near) {
                return bad(format!("{path}.leader"), FAR.into());
            }
        }
        for (i, axis) in self.axes.iter().enumerate() {
            if let Some(stranger) = axis.parts.iter().find(|p| !ids.contains(p)) {
                return bad(format!("axes[{i}].parts"), no_such_part(stranger));
            }
            if !axis.lines.iter().flatten().all(is_near) {
                return bad(format!("axes[{i}].lines"), FAR.into());
            }
        }
        self.check_choices()?;
        match self.build.as_ref().and_then(BuildPlan::unsound) {
            Some((path, problem)) => bad(path, problem.into()),
            None => Ok(()),
        }
    }

    fn check_choices(&self) -> Result<(), PieceError> {
        let c = &self.choices;
        let moulding = |f: fn(&crate::Moulding) -> f64| c.moulding.as_ref().map(f);
        for (field, value, range) in [
            ("air_gap_mm", c.air_gap_mm, 0.0..=200.0),
            ("warmest_c", c.warmest_c, -20.0..=90.0),
            ("shock_g", c.shock_g, 1.0..=500.0),
            ("tie_above_g", c.tie_above_g, 0.0..=100_000.0),
            ("tie_above_utilisation", c.tie_above_utilisation, 0.0..=1.0),
            ("hands", c.hands.map(f64::from), 1.0..=100.0),
            ("clamps", c.clamps.map(f64::from), 0.0..=10_000.0),
            ("moulding.width_mm", moulding(|m| m.width_mm), 1.0..=500.0),
            ("moulding.height_mm", moulding(|m| m.height_mm), 1.0..=500.0),
        ] {
            if value.is_some_and(|v| !range.contains(&v)) {
                return Err(PieceError::Unsound {
                    path: format!("choices.{field}"),
                    problem: format!("must be {} to {}", range.start(), range.end()),
                });
            }
        }
        match c.adhesives.keys().find(|id| self.part(id).is_none()) {
            Some(id) => Err(PieceError::Unsound {
                path: "choices.adhesives".into(),
                problem: no_such_part(id),
            }),
            None => Ok(()),
        }
    }

    fn check_frame(&self) -> Result<(), PieceError> {
        let bad = |field: &str, problem: &str| {
            Err(PieceError::Unsound {
                path: format!("frame.{field}"),
                problem: problem.into(),
            })
        };
        let f = &self.frame;
        if !f.size_mm.iter().all(|v| (10.0..=MAX_FRAME_MM).contains(v)) {
            return bad("size_mm", "must be 10 to 10000 mm on each side");
        }
        let m = f.margin_mm;
        for (field, value) in [
            ("lip_mm", f.lip_mm),
            ("board_clearance_mm", f.board_clearance_mm),
            ("spacer_width_mm", f.spacer_width_mm),
            ("margin_mm.left", m.left),
            ("margin_mm.right", m.right),
            ("margin_mm.top", m.top),
            ("margin_mm.bottom", m.bottom),
            ("rebate_depth_mm", f.rebate_depth_mm.unwrap_or(0.0)),
        ] {
            if !(0.0..=MAX_FRAME_MM).contains(&value) {
                return bad(field, "must be a length of 0 to 10000 mm");
            }
        }
        let field = f.field();
        if field.width_mm() <= 0.0 || field.height_mm() <= 0.0 {
            return bad(
                "margin_mm",
                "leaves nothing of the window: lip, spacer and margins are too wide",
            );
        }
        let board = f.board();
        if board.width_mm() <= 0.0 || board.height_mm() <= 0.0 {
            return bad(
                "board_clearance_mm",
                "leaves nothing of the board: must be less than each side of size_mm",
            );
        }
        Ok(())
    }
}

fn no_such_part(id: &PartId) -> String {
    format!("there is no part with the id {:?}", id.as_str())
}
