//! What somebody has typed and not yet entered: it survives a closed window and a restart.

use crate::workshop::Writing;
use crate::{PieceId, RevisionId, Workshop, WorkshopError};
use rusqlite::{OptionalExtension, params};
use serde::Serialize;

/// Largest draft, bytes.
const MAX_DRAFT_BYTES: usize = 4 << 20;

/// Longest name of a place, bytes.
const MAX_PLACE_BYTES: usize = 500;

/// Something typed and not yet entered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Draft {
    /// Where it was typed, as the page calls it, such as `capture/photo/12`.
    pub place: String,
    /// The piece that it is about.
    pub piece: Option<PieceId>,
    /// The state that it was begun on.
    pub based_on: Option<RevisionId>,
    /// What was typed, in the page's own form.
    pub body: String,
    /// When it was typed, milliseconds since 1970 (UTC).
    pub at_ms: i64,
}

impl Workshop {
    /// Keeps what was typed at a place, instead of what was kept there before.
    ///
    /// # Errors
    /// [`WorkshopError::TooLarge`] over 4 MB, [`WorkshopError::NoSuchPiece`].
    pub fn keep_draft(
        &self,
        place: &str,
        piece: Option<PieceId>,
        based_on: Option<RevisionId>,
        body: &str,
    ) -> Result<(), WorkshopError> {
        for (what, found, limit) in [
            ("what was typed", body.len(), MAX_DRAFT_BYTES),
            ("the name of its place", place.len(), MAX_PLACE_BYTES),
        ] {
            if found > limit {
                return Err(WorkshopError::TooLarge {
                    what,
                    found: found as u64,
                    limit: limit as u64,
                    unit: "bytes",
                });
            }
        }
        self.write(|w: &Writing<'_>| {
            if let Some(piece) = piece {
                crate::pieces::document_of(w.db, piece)?;
            }
            w.db.prepare_cached(
                "INSERT INTO draft (place, piece, based_on, body, at_ms) VALUES (?1, ?2, ?3, ?4, ?5) \
                 ON CONFLICT (place) DO UPDATE SET piece = ?2, based_on = ?3, body = ?4, at_ms = ?5",
            )?
            .execute(params![place, piece.map(|p| p.0), based_on.map(|r| r.0), body, w.now_ms])?;
            Ok(())
        })
    }

    /// What was typed at a place.
    ///
    /// # Errors
    /// Where the database cannot be read.
    pub fn draft(&self, place: &str) -> Result<Option<Draft>, WorkshopError> {
        self.read(|db| {
            Ok(db
                .prepare_cached(
                    "SELECT place, piece, based_on, body, at_ms FROM draft WHERE place = ?1",
                )?
                .query_row([place], |row| {
                    Ok(Draft {
                        place: row.get(0)?,
                        piece: row.get::<_, Option<i64>>(1)?.map(PieceId),
                        based_on: row.get::<_, Option<i64>>(2)?.map(RevisionId),
                        body: row.get(3)?,
                        at_ms: row.get(4)?,
                    })
                })
                .optional()?)
        })
    }

    /// Lets go of what was typed at a place: it was entered, or thrown away.
    ///
    /// # Errors
    /// Where the database cannot be written.
    pub fn drop_draft(&self, place: &str) -> Result<(), WorkshopError> {
        self.write(|w| {
            w.db.prepare_cached("DELETE FROM draft WHERE place = ?1")?
                .execute([place])?;
            Ok(())
        })
    }
}
