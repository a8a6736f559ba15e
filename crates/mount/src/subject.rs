//! A part as mounting sees it: what is really put on the board, with what is known and what has to be guessed.

use crate::catalogue::{Catalogue, Material};
use piece::{Face, FreedBy, Hazard, Part, Piece, Protrusion, StandInForm};
use shape::{Outline, Point, Pose, Vector};

/// Why the part itself is not put on the board, though the document says nothing of a stand-in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Withheld {
    /// A cell is never mounted.
    Cell,
    /// Refused by default: a tube, a part at mains or high voltage.
    Refused,
    /// Its hazard asks for a stand-in unless somebody qualified has made it safe.
    Dangerous,
    /// It cannot be freed with the equipment that is there.
    CannotBeFreed,
}

/// One placed part.
pub(crate) struct Subject<'a> {
    pub(crate) part: &'a Part,
    /// As it is seen in the frame, in its own coordinates.
    pub(crate) outline: Outline,
    /// Up on the wall is this many degrees from the part's own y axis, counter-clockwise.
    pub(crate) up_deg: f64,
    pub(crate) board_from_part: Pose,
    /// Height, mm; where it is not known, the least that it can be.
    pub(crate) height_mm: f64,
    pub(crate) height_unknown: bool,
    pub(crate) mass_g: f64,
    pub(crate) mass_estimated: bool,
    /// Name of the material of the face that is glued.
    pub(crate) material_name: String,
    /// Its entry; `None` where it is not in the catalogue.
    pub(crate) material: Option<&'a Material>,
    /// Form of the stand-in that is put there in its place.
    pub(crate) stand_in: Option<StandInForm>,
    pub(crate) withheld: Option<Withheld>,
}

/// What a part counts as where nobody said how high it is, mm.
const LEAST_HEIGHT_MM: f64 = 1.0;
/// Thickness of a stand-in's card, mm.
pub(crate) const CARD_MM: f64 = 1.5;

impl<'a> Subject<'a> {
    /// All placed parts in the order of the parts list.
    pub(crate) fn all(piece: &'a Piece, catalogue: &'a Catalogue) -> Vec<Self> {
        piece
            .parts
            .iter()
            .filter_map(|part| Some((part, piece.placement(&part.id)?.board_from_part())))
            .map(|(part, pose)| Self::new(piece, part, pose, catalogue))
            .collect()
    }

    fn new(piece: &Piece, part: &'a Part, pose: Pose, catalogue: &'a Catalogue) -> Self {
        let withheld = if part.stand_in.is_some() {
            None
        } else {
            why_withheld(piece, part)
        };
        let stand_in = match (&part.stand_in, withheld) {
            (Some(s), _) => Some(s.form),
            (None, Some(_)) => Some(if part.cutout.is_some() {
                StandInForm::Print
            } else {
                StandInForm::Card
            }),
            (None, None) => None,
        };
        let outline = crate::inset::lean(&part.shown_outline());
        let flat_copy = matches!(stand_in, Some(StandInForm::Print | StandInForm::Card));
        // What stands in the place of a withheld part is made of card, whatever the part itself is.
        let material_name = match (&part.back_face, withheld, flat_copy) {
            (_, Some(_), _) | (None, _, true) => "card".to_owned(),
            (Some(name), _, _) => name.clone(),
            (None, _, false) => String::new(),
        };
        let material = catalogue.materials.get(&material_name);
        let height = if withheld.is_some() {
            Some(CARD_MM)
        } else {
            part.thickness_mm.or(flat_copy.then_some(CARD_MM))
        };
        let height_mm = height.unwrap_or(LEAST_HEIGHT_MM);
        let known_mass = if withheld.is_some() {
            None
        } else {
            part.mass_g
        };
        let density = material.map_or(catalogue.rules.unknown_density_g_cm3.value, |m| {
            m.density_g_cm3.value
        });
        Self {
            up_deg: -pose.turn_deg,
            board_from_part: pose,
            mass_g: known_mass.unwrap_or_else(|| outline.area_mm2() * height_mm / 1000.0 * density),
            mass_estimated: known_mass.is_none(),
            height_unknown: height.is_none(),
            outline,
            part,
            height_mm,
            material_name,
            material,
            stand_in,
            withheld,
        }
    }

    /// The real part is put there, not a copy.
    pub(crate) fn is_real(&self) -> bool {
        self.stand_in.is_none()
    }

    /// Depth and wall of an inside that looks at the board, mm; `None` for what is not hollow towards the board.
    pub(crate) fn hollow(&self) -> Option<[f64; 2]> {
        let towards_board = self.is_real() && self.part.face_shown == Face::Front;
        match (self.part.inner_depth_mm, self.part.wall_mm) {
            (Some(depth), Some(wall)) if towards_board && depth > 0.0 => Some([depth, wall]),
            _ => None,
        }
    }

    /// What stands out of the face that looks at the board.
    pub(crate) fn protrusions(&self) -> &[Protrusion] {
        if self.is_real() && self.part.face_shown == Face::Front {
            &self.part.protrusions
        } else {
            &[]
        }
    }

    /// A pull down on the wall, in the part's own coordinates; length 1.
    pub(crate) fn down(&self) -> Vector {
        -crate::paths::up_in_face(self.up_deg)
    }

    /// The centre of its mass, taken as that of its outline.
    pub(crate) fn centre(&self) -> Point {
        self.outline.centroid()
    }

    pub(crate) fn named(&self) -> String {
        self.part.named()
    }
}

/// Whether a part itself may go on the board.
fn why_withheld(piece: &Piece, part: &Part) -> Option<Withheld> {
    if part.is_cell() {
        return Some(Withheld::Cell);
    }
    let has = |h: &Hazard| part.hazards.contains(h);
    let made_safe = piece.choices.made_safe.contains(&part.id);
    if made_safe {
        // Somebody qualified answers for it.
    } else if has(&Hazard::CathodeRayTube) || has(&Hazard::MainsPart) {
        return Some(Withheld::Refused);
    } else if has(&Hazard::FlashCapacitor) || has(&Hazard::ColdCathodeLamp) {
        return Some(Withheld::Dangerous);
    }
    match part.freed_by {
        Some(way) if needs_equipment(way) && piece.choices.lacks.contains(&way) => {
            Some(Withheld::CannotBeFreed)
        }
        _ => None,
    }
}

fn needs_equipment(way: FreedBy) -> bool {
    way != FreedBy::Lifting
}
