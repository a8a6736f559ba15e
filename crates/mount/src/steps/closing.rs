//! The piece closed and hung, and what may be done with it later.

use super::build::{Steps, Work, merge, used_adhesives};
use super::laying::glue_cautions;
use crate::cautions::caution;
use crate::texts::{params, say};
use piece::{Caution, PartId, PartKind, Stage, Step};

impl Steps<'_> {
    /// Captions, clean glazing, no dust, films off, a photo, closed.
    pub(super) fn close(&mut self, holding: &[String], cured: &[String]) -> Vec<String> {
        let work = self.work;
        let all: Vec<PartId> = work.subjects.iter().map(|s| s.part.id.clone()).collect();
        let minutes = self.minutes("caption_each") * work.piece.captions.len() as f64;
        let step = self.add(
            Stage::Close,
            "captions".into(),
            say("step.captions", params!("count": work.piece.captions.len())),
            vec![],
            holding,
            minutes,
        );
        merge(&mut step.cautions, vec![caution("knife", vec![])]);
        let glass = work
            .piece
            .frame
            .glazing
            .as_ref()
            .and_then(|g| work.catalogue.glazings.get(g))
            .is_none_or(|g| g.glass);
        let step = self.plain(Stage::Close, "clean-glazing", &[]);
        if glass {
            merge(&mut step.cautions, vec![caution("glazing", vec![])]);
        }
        let mut before = [holding, cured].concat();
        before.extend(["captions".to_owned(), "clean-glazing".to_owned()]);
        let shown: Vec<PartId> = work
            .subjects
            .iter()
            .filter(|s| s.is_real() && s.part.kind == PartKind::Display)
            .map(|s| s.part.id.clone())
            .collect();
        let minutes = self.minutes("films_each") * (1.0 + shown.len() as f64);
        self.add(
            Stage::Close,
            "films-off".into(),
            say("step.films-off", &[]),
            shown,
            &before,
            minutes,
        )
        .how = vec![say("how.films-off", &[])];
        self.plain(Stage::Close, "static", &["films-off".into()]);
        let minutes = self.minutes("photo");
        self.add(
            Stage::Close,
            "photo".into(),
            say("step.photo", &[]),
            all,
            &["static".into()],
            minutes,
        )
        .how = vec![say("how.photo", &[])];
        let mut before = "photo".to_owned();
        for id in ["close", "clips", "seal"] {
            let step = self.plain(Stage::Close, id, &[before]);
            if id == "close" && glass {
                merge(&mut step.cautions, vec![caution("glazing", vec![])]);
            }
            before = id.into();
        }
        vec![before]
    }

    pub(super) fn hang(&mut self, closed: &[String]) {
        let mut before = closed.to_vec();
        let mut ids = vec!["hangers"];
        if self.work.has_wire {
            ids.push("wire");
        }
        ids.push("hang");
        for id in ids {
            let step = self.plain(Stage::Hang, id, &before);
            if id != "wire" {
                let code = if id == "hang" { "wall" } else { "drill" };
                merge(&mut step.cautions, vec![caution(code, vec![])]);
            }
            before = vec![id.into()];
        }
    }
}

/// What may be done later: opening the piece, and bonding a fallen part again.
pub(crate) fn later(work: &Work<'_>) -> Vec<Step> {
    let mut steps = Steps {
        work,
        all: Vec::new(),
    };
    let step = steps.plain(Stage::Later, "reopen", &[]);
    merge(&mut step.cautions, vec![caution("glazing", vec![])]);
    let mut undo = Vec::new();
    for a in used_adhesives(work)
        .into_iter()
        .filter_map(|id| work.catalogue.adhesives.get(id))
    {
        let code = match a.undo {
            crate::catalogue::Undo::Cut => "how.undo-thread",
            crate::catalogue::Undo::Warm => "how.undo-warmth",
            crate::catalogue::Undo::Solvent => "how.undo-solvent",
            crate::catalogue::Undo::Never => "how.undo-never",
        };
        undo.push(say(code, params!("adhesive": a.name.clone())));
    }
    let mut cautions: Vec<Caution> = Vec::new();
    for b in work.bonds {
        merge(&mut cautions, glue_cautions(b, work.catalogue));
    }
    let step = steps.plain(Stage::Later, "rebond", &["reopen".into()]);
    step.how.extend(undo);
    merge(&mut step.cautions, cautions);
    steps.all.into_iter().map(|p| p.step).collect()
}
