//! The streams that parts are handed in with when they are left over.

use crate::{Hazard, Part, PartKind};
use serde::Serialize;

/// Where something that is left over is handed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Stream {
    /// Cells and batteries.
    Cells,
    /// Circuit boards.
    Boards,
    /// Screens.
    Screens,
    /// Lamps with mercury.
    MercuryLamps,
    /// Tubes under vacuum.
    Tubes,
    /// Capacitors.
    Capacitors,
    /// Cables.
    Cables,
    /// Parts with beryllium: kept whole, handed in as hazardous waste.
    Hazardous,
    /// Plastics.
    Plastics,
    /// Metals.
    Metals,
    /// Glass.
    Glass,
    /// What is of several materials.
    Mixed,
}

impl Stream {
    /// Where a thing goes: by what can hurt somebody first, then by what it is and is made of.
    pub fn of(kind: PartKind, hazards: &[Hazard], material: Option<&str>) -> Self {
        for (hazard, stream) in [
            (Hazard::LithiumCell, Self::Cells),
            (Hazard::ColdCathodeLamp, Self::MercuryLamps),
            (Hazard::CathodeRayTube, Self::Tubes),
            (Hazard::Beryllium, Self::Hazardous),
            (Hazard::FlashCapacitor, Self::Capacitors),
        ] {
            if hazards.contains(&hazard) {
                return stream;
            }
        }
        match (kind, material) {
            (PartKind::Cell, _) => Self::Cells,
            (PartKind::Board, _) => Self::Boards,
            (PartKind::Display, _) => Self::Screens,
            (PartKind::Ribbon, _) => Self::Cables,
            (_, Some("fr4")) => Self::Boards,
            (
                PartKind::Speaker
                | PartKind::Microphone
                | PartKind::Motor
                | PartKind::Camera
                | PartKind::Connector
                | PartKind::Antenna,
                _,
            ) => Self::Mixed,
            (_, Some("glass")) => Self::Glass,
            (
                _,
                Some("aluminium" | "stainless" | "steel" | "copper" | "brass" | "zinc" | "ferrite"),
            ) => Self::Metals,
            (PartKind::Screw | PartKind::Bracket | PartKind::Shield, _) => Self::Metals,
            (
                _,
                Some(
                    "abs" | "pc" | "pc-abs" | "pmma" | "pa" | "pvc" | "pet" | "pe" | "pp" | "pom"
                    | "silicone-rubber" | "rubber",
                ),
            ) => Self::Plastics,
            (PartKind::Keys | PartKind::Wheel, None) => Self::Plastics,
            _ => Self::Mixed,
        }
    }

    /// Where a part of a piece goes: the real one, where a stand-in is shown for it.
    pub fn of_part(part: &Part) -> Self {
        Self::of(part.kind, &part.hazards, part.known_material())
    }
}

impl Part {
    /// What the real part's back is made of, where that is known: a stand-in's material says nothing of it.
    pub fn known_material(&self) -> Option<&str> {
        match self.stand_in {
            Some(_) => None,
            None => self.back_face.as_deref(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Stream;
    use crate::{Hazard, Part, PartId, PartKind, StandIn, StandInForm};
    use shape::{Outline, Point};

    #[test]
    fn a_danger_comes_before_what_a_thing_is_made_of() {
        let of = |hazards: &[Hazard]| Stream::of(PartKind::Board, hazards, Some("steel"));
        assert_eq!(of(&[]), Stream::Boards);
        assert_eq!(of(&[Hazard::SharpEdge]), Stream::Boards);
        assert_eq!(of(&[Hazard::Beryllium]), Stream::Hazardous);
        let both = [Hazard::Beryllium, Hazard::LithiumCell];
        assert_eq!(of(&both), Stream::Cells);
    }

    #[test]
    fn a_stand_ins_material_does_not_send_the_real_part_anywhere() {
        let outline = Outline::rectangle(Point::new(0.0, 0.0), Point::new(9.0, 9.0)).unwrap();
        let id = PartId::try_new("p").unwrap();
        let mut part = Part::new(id, "Weight", PartKind::Other, outline);
        part.back_face = Some("steel".into());
        assert_eq!(Stream::of_part(&part), Stream::Metals);
        part.stand_in = Some(StandIn {
            form: StandInForm::Card,
            why: "gone".into(),
        });
        assert_eq!(Stream::of_part(&part), Stream::Mixed);
    }
}
