//! The steps of one piece as they are collected, and what is done to the board before anything is bonded to it.

use crate::catalogue::Catalogue;
use crate::cautions::{caution, of_part};
use crate::subject::Subject;
use crate::texts::{params, say};
use piece::{Bond, Caution, Fastener, Part, PartId, Phrase, Piece, Stage, Step, Support, Transfer};

/// All that the steps are made from.
pub(crate) struct Work<'a> {
    pub(crate) piece: &'a Piece,
    pub(crate) catalogue: &'a Catalogue,
    pub(crate) subjects: &'a [Subject<'a>],
    pub(crate) supports: &'a [Support],
    pub(crate) bonds: &'a [Bond],
    pub(crate) fasteners: &'a [Fastener],
    pub(crate) has_wire: bool,
}

/// Parts up to this mass and size go into the tray: they get lost.
pub(super) const SMALL_G: f64 = 1.0;
/// A pressed part that holds within this time is held by hand, minutes.
const BY_HAND_MINUTES: f64 = 2.0;

/// What other steps have to know of a step. Ids are for people and documents, and a part's id may hold anything.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Of none of the others.
    Other,
    /// The tray is laid out, for parts that are not in it yet.
    Tray,
    /// A stand-in is made.
    StandIn,
    /// All real parts are cleaned.
    Clean,
    /// A part is held from the very minute that its glue is laid.
    Hold,
}

/// A step with what it is.
pub(crate) struct Planned {
    pub(crate) step: Step,
    pub(crate) kind: Kind,
}

impl Planned {
    /// It is work on that part, not only a place for it.
    pub(super) fn is_on(&self, part: &PartId) -> bool {
        self.kind != Kind::Tray && self.step.parts.contains(part)
    }
}

/// Steps as they are collected.
pub(super) struct Steps<'a> {
    pub(super) work: &'a Work<'a>,
    pub(super) all: Vec<Planned>,
}

/// All steps in an order in which they can be done, not yet scheduled.
pub(crate) fn build(work: &Work<'_>) -> Vec<Planned> {
    let mut steps = Steps {
        work,
        all: Vec::new(),
    };
    let prepared = steps.prepare();
    let free = steps.take_apart(&prepared);
    let ready = steps.make_ready(&free);
    let under = steps.make_supports(&ready);
    let board = steps.carry_over();
    let signed = steps.dry_fit(&ready, &under, &board);
    let (holding, cured) = steps.bond(&signed);
    let closed = steps.close(&holding, &cured);
    steps.hang(&closed);
    steps.all
}

impl Steps<'_> {
    pub(super) fn minutes(&self, work: &str) -> f64 {
        self.work.catalogue.minutes_for(work)
    }

    /// One more step at which somebody works; its id comes back.
    pub(super) fn add(
        &mut self,
        stage: Stage,
        id: String,
        title: Phrase,
        parts: Vec<PartId>,
        after: &[String],
        minutes: f64,
    ) -> &mut Step {
        let mut cautions: Vec<Caution> = Vec::new();
        for s in self
            .work
            .subjects
            .iter()
            .filter(|s| s.is_real() && parts.contains(&s.part.id))
        {
            merge(&mut cautions, of_part(s.part));
        }
        let mut after = after.to_vec();
        after.dedup();
        let at = self.all.len();
        let step = Step {
            id,
            code: title.code,
            params: title.params,
            title: title.text,
            how: Vec::new(),
            stage,
            parts,
            after,
            minutes,
            hands_on_minutes: minutes,
            clamps: 0,
            start_minute: 0.0,
            end_minute: 0.0,
            slack_minutes: 0.0,
            cautions,
        };
        self.all.push(Planned {
            step,
            kind: Kind::Other,
        });
        &mut self.all[at].step
    }

    /// Says of the step that came last what it is.
    pub(super) fn is(&mut self, kind: Kind) {
        if let Some(last) = self.all.last_mut() {
            last.kind = kind;
        }
    }

    /// A step of the whole piece whose title, way and minutes stand under its own id.
    pub(super) fn plain(&mut self, stage: Stage, id: &str, after: &[String]) -> &mut Step {
        let minutes = self.minutes(&id.replace('-', "_"));
        let title = say(&format!("step.{id}"), &[]);
        let step = self.add(stage, id.into(), title, vec![], after, minutes);
        step.how = vec![say(&format!("how.{id}"), &[])];
        step
    }

    /// A step of one part, titled with its name: its id is what is done and to which part.
    pub(super) fn of_part(
        &mut self,
        stage: Stage,
        what: &str,
        code: &str,
        part: &Part,
        after: &[String],
        minutes: f64,
    ) -> &mut Step {
        let id = id_of(what, part);
        let parts = vec![part.id.clone()];
        self.add(stage, id, titled(code, part), parts, after, minutes)
    }

    /// A part is held until it holds by itself: by hand where that is short. The step's id comes back.
    pub(super) fn hold(
        &mut self,
        stage: Stage,
        what: &str,
        part: &Part,
        after: &str,
        minutes: f64,
        clamps: u32,
    ) -> String {
        let (code, after) = (format!("step.{what}"), [after.to_owned()]);
        let step = self.of_part(stage, what, &code, part, &after, minutes);
        if minutes > BY_HAND_MINUTES {
            step.hands_on_minutes = 0.0;
            step.clamps = clamps;
        }
        let id = step.id.clone();
        self.is(Kind::Hold);
        id
    }

    /// Those of the ids whose steps are such, in their order.
    pub(super) fn among(&self, ids: &[String], such: impl Fn(&Planned) -> bool) -> Vec<String> {
        let is_such = |id: &&String| self.all.iter().any(|p| p.step.id == **id && such(p));
        ids.iter().filter(is_such).cloned().collect()
    }

    /// The template on the board, and the places carried over.
    fn carry_over(&mut self) -> Vec<String> {
        let work = self.work;
        self.plain(Stage::Transfer, "print-template", &[]);
        self.plain(Stage::Transfer, "register", &["print-template".into()]);
        let way = work.piece.choices.transfer.unwrap_or(Transfer::Prick);
        let (code, how) = match way {
            Transfer::Tape => ("step.transfer-tape", "how.transfer-tape"),
            Transfer::Prick => ("step.transfer-prick", "how.transfer-prick"),
            Transfer::CutOut => ("step.transfer-cut-out", "how.transfer-cut-out"),
        };
        let minutes = self.minutes("transfer_each") * work.subjects.len() as f64;
        let step = self.add(
            Stage::Transfer,
            "transfer".into(),
            say(code, params!("count": work.subjects.len())),
            vec![],
            &["register".into()],
            minutes,
        );
        step.how = vec![say(how, &[])];
        if way == Transfer::CutOut {
            merge(&mut step.cautions, vec![caution("knife", vec![])]);
        }
        let mut last = "transfer".to_owned();
        let holes: usize = work.fasteners.iter().map(|f| f.holes.len()).sum();
        if holes > 0 {
            let minutes = self.minutes("drill_hole") * holes as f64;
            let step = self.add(
                Stage::Transfer,
                "drill".into(),
                say("step.drill", params!("count": holes)),
                vec![],
                &[last],
                minutes,
            );
            merge(&mut step.cautions, vec![caution("drill", vec![])]);
            last = "drill".into();
        }
        vec![last]
    }

    /// All parts on the board without glue, and somebody's word for it.
    fn dry_fit(&mut self, ready: &[String], under: &[String], board: &[String]) -> Vec<String> {
        let work = self.work;
        let parts: Vec<PartId> = work.subjects.iter().map(|s| s.part.id.clone()).collect();
        let before: Vec<String> = [ready, under, board].concat();
        let minutes = self.minutes("dry_fit_each") * parts.len() as f64;
        self.add(
            Stage::DryFit,
            "dry-fit".into(),
            say("step.dry-fit", params!("count": parts.len())),
            parts,
            &before,
            minutes,
        )
        .how = vec![say("how.dry-fit", &[]), say("how.dry-fit-depth", &[])];
        self.plain(Stage::DryFit, "sign-off", &["dry-fit".into()]);
        vec!["sign-off".into()]
    }
}

/// Ids of the adhesives that are used, each once, sorted.
pub(super) fn used_adhesives<'a>(work: &Work<'a>) -> Vec<&'a str> {
    let mut used: Vec<&str> = work.bonds.iter().map(|b| b.adhesive.as_str()).collect();
    used.sort_unstable();
    used.dedup();
    used
}

pub(super) fn id_of(what: &str, part: &Part) -> String {
    format!("{what}.{}", part.id)
}

fn titled(code: &str, part: &Part) -> Phrase {
    say(code, params!("part": part.name.clone()))
}

/// Puts more cautions among those that are there, each once with all its parts.
pub(super) fn merge(cautions: &mut Vec<Caution>, more: Vec<Caution>) {
    for c in more {
        match cautions.iter_mut().find(|k| k.code == c.code) {
            Some(k) => {
                k.parts.extend(c.parts);
                k.parts.sort();
                k.parts.dedup();
            }
            None => cautions.push(c),
        }
    }
    cautions.sort_by(|a, b| a.code.cmp(&b.code));
}
