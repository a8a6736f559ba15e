//! What someone knows of a part, as a step says it.

use super::captions::write_caption;
use super::{EditError, known, named, short};
use piece::{BackFilm, Face, FreedBy, Hazard, Home, PartId, PartKind, Piece, StorageRecord, Turns};
use serde::{Deserialize, Serialize};

/// What someone knows of a part; what is left out stays as it is, `null` makes it unknown.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Knowledge {
    pub(crate) name: Option<String>,
    pub(crate) kind: Option<PartKind>,
    pub(crate) quantity: Option<u32>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) thickness_mm: Option<Option<f64>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) mass_g: Option<Option<f64>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) back_face: Option<Option<String>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) group: Option<Option<String>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) home: Option<Option<Home>>,
    pub(crate) face_shown: Option<Face>,
    pub(crate) turns: Option<Turns>,
    pub(crate) hazards: Option<Vec<Hazard>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) wall_mm: Option<Option<f64>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) inner_depth_mm: Option<Option<f64>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) lift_mm: Option<Option<f64>>,
    pub(crate) back_films: Option<Vec<BackFilm>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) freed_by: Option<Option<FreedBy>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) trim: Option<Option<String>>,
    #[serde(deserialize_with = "said", skip_serializing_if = "Option::is_none")]
    pub(crate) storage: Option<Option<StorageRecord>>,
}

/// Tells `null` from nothing.
fn said<'de, T: Deserialize<'de>, D: serde::Deserializer<'de>>(
    from: D,
) -> Result<Option<Option<T>>, D::Error> {
    Option::deserialize(from).map(Some)
}

impl Knowledge {
    pub(super) fn apply(&self, piece: &mut Piece, id: &PartId) -> Result<(), EditError> {
        let k = known(piece, id)?;
        let name = self.name.as_deref().map(|n| named("name", n)).transpose()?;
        for (field, text) in [
            ("back_face", &self.back_face),
            ("group", &self.group),
            ("trim", &self.trim),
        ] {
            short(
                field,
                text.as_ref().and_then(Option::as_deref).unwrap_or(""),
            )?;
        }
        let old_name = piece.parts[k].name.clone();
        let part = &mut piece.parts[k];
        part.kind = self.kind.unwrap_or(part.kind);
        part.quantity = self.quantity.unwrap_or(part.quantity);
        part.face_shown = self.face_shown.unwrap_or(part.face_shown);
        part.turns = self.turns.unwrap_or(part.turns);
        if let Some(v) = self.thickness_mm {
            part.thickness_mm = v;
        }
        if let Some(v) = self.mass_g {
            part.mass_g = v;
        }
        if let Some(v) = self.home {
            part.home = v;
        }
        for (to, said) in [
            (&mut part.wall_mm, self.wall_mm),
            (&mut part.inner_depth_mm, self.inner_depth_mm),
            (&mut part.lift_mm, self.lift_mm),
        ] {
            if let Some(v) = said {
                *to = v;
            }
        }
        if let Some(v) = &self.back_films {
            part.back_films.clone_from(v);
        }
        if let Some(v) = self.freed_by {
            part.freed_by = v;
        }
        if let Some(v) = &self.trim {
            part.trim = v.clone().filter(|t| !t.trim().is_empty());
        }
        if let Some(v) = &self.storage {
            part.storage.clone_from(v);
        }
        if let Some(v) = &self.back_face {
            part.back_face = v.clone().filter(|t| !t.trim().is_empty());
        }
        if let Some(v) = &self.group {
            part.group = v.clone().filter(|t| !t.trim().is_empty());
        }
        if let Some(v) = &self.hazards {
            part.hazards.clone_from(v);
        }
        if let Some(name) = name {
            part.name.clone_from(&name);
            // A caption that said the old name says the new one.
            let says_old = piece
                .caption(id)
                .is_some_and(|c| c.text.replace('\n', " ") == old_name);
            if says_old {
                write_caption(piece, id, &name)?;
            }
        }
        Ok(())
    }
}
