//! One adhesive laid under one face: beads where there is room, else dots; tape; a thin coat.

use crate::bead::{bead_ml, bead_spread_mm, dot_ml, dot_spread_mm};
use crate::catalogue::{Adhesive, Rules};
use crate::group::{Element, Group};
use crate::inset::Face;
use crate::paths::{BeadRule, beads_on, dots_on};
use crate::tape::tape_on;
use piece::{ApplyAs, TapePiece};
use shape::{Outline, Point};

/// An adhesive as it lies under a part.
#[derive(Debug, Clone, Default)]
pub(crate) struct Laid {
    pub(crate) apply_as: Option<ApplyAs>,
    pub(crate) paths: Vec<Vec<Point>>,
    pub(crate) perimeter: usize,
    pub(crate) dots: Vec<Point>,
    pub(crate) tapes: Vec<TapePiece>,
    pub(crate) bead_mm: f64,
    pub(crate) spread_mm: f64,
    /// Without waste, ml; 0 for tape.
    pub(crate) net_ml: f64,
    pub(crate) lay_minutes: f64,
    pub(crate) elements: Vec<Element>,
}

/// A dot's ball against the bead of the same nozzle.
const BALL_PER_BEAD: f64 = 1.5;
/// Minutes for one dot.
const DOT_MINUTES: f64 = 0.05;
const MOST_DOTS: usize = 8;
/// Least distance of two dots' centres, mm.
const DOTS_APART_MM: f64 = 10.0;

/// What laying needs to know besides the faces.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lie {
    /// Which way is up on the wall, degrees.
    pub(crate) up_deg: f64,
    /// The joint shuts air out on both sides.
    pub(crate) airtight: bool,
    /// A ribbon: tape runs along all of it.
    pub(crate) all_along: bool,
    /// Mass that hangs on it, g.
    pub(crate) mass_g: f64,
    /// Shock in carriage, times gravity.
    pub(crate) shock_g: f64,
}

/// Lays an adhesive under faces; `None` where they are too narrow for it.
pub(crate) fn lay(faces: &[Face], a: &Adhesive, lie: &Lie, r: &Rules) -> Option<Laid> {
    let laid = match a.apply_as {
        ApplyAs::Bead => lay_bead_or_dots(faces, a, lie, r)?,
        ApplyAs::Dots => lay_all_dots(faces, a, r)?,
        ApplyAs::Tape => lay_all_tape(faces, a, lie, r)?,
        ApplyAs::Film => lay_film(faces, a)?,
    };
    Some(laid)
}

fn lay_bead_or_dots(faces: &[Face], a: &Adhesive, lie: &Lie, r: &Rules) -> Option<Laid> {
    let line = a.bond_line_mm.value;
    if faces.iter().all(|f| f.breadth_mm() <= r.narrow_mm.value) {
        return lay_all_dots(faces, a, r);
    }
    for &bead_mm in &a.beads_mm.value {
        let spread_mm = bead_spread_mm(bead_mm, line);
        let rule = BeadRule {
            spread_mm,
            margin_mm: r.bead_margin_mm.value,
            pitch_mm: r.infill_pitch_mm.value,
            vent_mm: if a.needs_air && lie.airtight {
                r.vent_mm.value
            } else {
                0.0
            },
            up_deg: lie.up_deg,
        };
        let mut laid = Laid {
            apply_as: Some(ApplyAs::Bead),
            bead_mm,
            spread_mm,
            ..Laid::default()
        };
        let mut infill = Vec::new();
        for beads in faces.iter().filter_map(|f| beads_on(f, &rule)) {
            let length = beads.length_mm();
            laid.net_ml += bead_ml(length, bead_mm);
            laid.lay_minutes += length / a.lay_mm_per_minute.value;
            let mut paths = beads.paths;
            infill.extend(paths.split_off(beads.perimeter));
            laid.paths.extend(paths);
        }
        if laid.paths.is_empty() {
            continue;
        }
        laid.perimeter = laid.paths.len();
        laid.paths.extend(infill);
        laid.elements = laid
            .paths
            .iter()
            .flat_map(|p| p.windows(2))
            .map(|w| Element::Strip {
                from: w[0],
                to: w[1],
                width_mm: spread_mm,
            })
            .collect();
        return Some(laid);
    }
    lay_all_dots(faces, a, r)
}

fn lay_all_dots(faces: &[Face], a: &Adhesive, r: &Rules) -> Option<Laid> {
    let line = a.bond_line_mm.value;
    a.beads_mm.value.iter().find_map(|bead| {
        let ball = bead * BALL_PER_BEAD;
        let spread_mm = dot_spread_mm(ball, line);
        let apart = (1.5 * spread_mm).max(DOTS_APART_MM);
        let margin = r.bead_margin_mm.value / 2.0;
        let dots: Vec<Point> = faces
            .iter()
            .flat_map(|f| dots_on(f, spread_mm, margin, apart, MOST_DOTS))
            .collect();
        if dots.is_empty() {
            return None;
        }
        Some(Laid {
            apply_as: Some(ApplyAs::Dots),
            bead_mm: ball,
            spread_mm,
            net_ml: dot_ml(ball) * dots.len() as f64,
            lay_minutes: DOT_MINUTES * dots.len() as f64,
            elements: dots
                .iter()
                .map(|at| Element::Dot {
                    at: *at,
                    diameter_mm: spread_mm,
                })
                .collect(),
            dots,
            ..Laid::default()
        })
    })
}

fn lay_all_tape(faces: &[Face], a: &Adhesive, lie: &Lie, r: &Rules) -> Option<Laid> {
    let faces_mm2: f64 = faces.iter().map(|f| f.outline().area_mm2()).sum();
    // Twice what the mass asks for, and no less than a tenth of the face.
    let by_mass = a.tape_mm2_per_g.as_ref().map_or(0.0, |t| t.value) * lie.mass_g;
    let by_shock =
        a.tape_short_mm2_per_g.as_ref().map_or(0.0, |t| t.value) * lie.mass_g * lie.shock_g
            / a.tension_share.value;
    let asked = if lie.all_along {
        faces_mm2
    } else {
        (2.0 * by_mass.max(by_shock)).max(0.1 * faces_mm2)
    };
    let mut laid = Laid {
        apply_as: Some(ApplyAs::Tape),
        ..Laid::default()
    };
    for face in faces {
        let share = asked * face.outline().area_mm2() / faces_mm2.max(1e-9);
        for strip in tape_on(face, r.tape_margin_mm.value, &a.roll_widths_mm, share) {
            laid.lay_minutes += strip.length_mm / a.lay_mm_per_minute.value + 0.2;
            let outline = Outline::try_new(strip.corners.to_vec(), vec![]).ok()?;
            laid.elements.push(Element::Face(outline));
            laid.tapes.push(TapePiece {
                outer: strip.corners.to_vec(),
                width_mm: strip.width_mm,
                length_mm: strip.length_mm,
            });
        }
    }
    (!laid.tapes.is_empty()).then_some(laid)
}

fn lay_film(faces: &[Face], a: &Adhesive) -> Option<Laid> {
    const EDGE_MM: f64 = 1.0;
    let coats: Vec<Outline> = faces
        .iter()
        .flat_map(|f| f.inset(EDGE_MM).to_vec())
        .collect();
    let area: f64 = coats.iter().map(Outline::area_mm2).sum();
    if coats.is_empty() {
        return None;
    }
    Some(Laid {
        apply_as: Some(ApplyAs::Film),
        paths: coats
            .iter()
            .map(|o| {
                let ring = o.outer().points();
                ring.iter().chain(ring.first()).copied().collect()
            })
            .collect(),
        perimeter: coats.len(),
        net_ml: area * a.bond_line_mm.value / 1000.0,
        lay_minutes: 0.3 + area / 5000.0,
        elements: coats.into_iter().map(Element::Face).collect(),
        ..Laid::default()
    })
}

impl Laid {
    pub(crate) fn group(&self) -> Option<Group> {
        Group::try_new(self.elements.clone())
    }
}
