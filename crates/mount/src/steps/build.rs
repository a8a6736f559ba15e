//! The steps of one piece.

use super::laying::{glue_cautions, glue_title, how_to_lay, laying_minutes};
use crate::bonds::is_ribbon;
use crate::catalogue::Catalogue;
use crate::cautions::{caution, of_part};
use crate::subject::Subject;
use crate::texts::{params, say};
use piece::{
    BackFilm, Bond, Caution, Fastener, Joint, Part, PartId, PartKind, Phrase, Piece, Stage,
    StandInForm, Step, Support, Transfer,
};

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
    fn is_on(&self, part: &PartId) -> bool {
        self.kind != Kind::Tray && self.step.parts.contains(part)
    }
}

/// Steps as they are collected.
pub(super) struct Steps<'a> {
    pub(super) work: &'a Work<'a>,
    all: Vec<Planned>,
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
    fn plain(&mut self, stage: Stage, id: &str, after: &[String]) -> &mut Step {
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

    /// Films off, trimmed, cleaned; stand-ins made. Each part's last step.
    fn make_ready(&mut self, free: &[String]) -> Vec<String> {
        let work = self.work;
        let mut ids = free.to_vec();
        for s in work.subjects {
            let own = vec![s.part.id.clone()];
            let mine = |all: &[Planned]| -> Vec<String> {
                all.iter()
                    .rev()
                    .find(|planned| planned.is_on(&s.part.id))
                    .map(|planned| vec![planned.step.id.clone()])
                    .unwrap_or_default()
            };
            if let Some(form) = s.stand_in {
                let code = match form {
                    StandInForm::Print => "step.stand-in-print",
                    StandInForm::Card => "step.stand-in-card",
                    StandInForm::InertCopy => "step.stand-in-copy",
                };
                let (before, minutes) = (mine(&self.all), self.minutes("stand_in_each"));
                let step = self.of_part(Stage::DryFit, "stand-in", code, s.part, &before, minutes);
                if form != StandInForm::InertCopy {
                    merge(&mut step.cautions, vec![caution("knife", vec![])]);
                }
                ids.push(step.id.clone());
                self.is(Kind::StandIn);
                continue;
            }
            for film in &s.part.back_films {
                let what = match film {
                    BackFilm::Graphite => "strip-graphite",
                    BackFilm::LooseFoil => "strip-foil",
                    BackFilm::OldAdhesive => "strip-adhesive",
                };
                let (before, minutes) = (mine(&self.all), self.minutes("strip_each"));
                let code = format!("step.{what}");
                let step = self.of_part(Stage::Prepare, what, &code, s.part, &before, minutes);
                step.how = vec![say(&format!("how.{what}"), &[])];
                if *film == BackFilm::OldAdhesive {
                    merge(&mut step.cautions, vec![caution("solvent", vec![])]);
                }
                ids.push(step.id.clone());
            }
            if let Some(what) = &s.part.trim {
                let id = id_of("trim", s.part);
                let (before, minutes) = (mine(&self.all), self.minutes("trim_each"));
                let title = say(
                    "step.trim",
                    params!("part": s.part.name.clone(), "what": what.clone()),
                );
                let step = self.add(
                    Stage::Prepare,
                    id.clone(),
                    title,
                    own.clone(),
                    &before,
                    minutes,
                );
                merge(&mut step.cautions, vec![caution("knife", own.clone())]);
                ids.push(id);
            }
        }
        let real: Vec<PartId> = work
            .subjects
            .iter()
            .filter(|s| s.is_real())
            .map(|s| s.part.id.clone())
            .collect();
        if !real.is_empty() {
            let minutes = self.minutes("clean_each") * real.len() as f64;
            let title = say("step.clean", params!("count": real.len()));
            let before = self.among(&ids, |planned| planned.kind != Kind::StandIn);
            let step = self.add(
                Stage::Prepare,
                "clean".into(),
                title,
                real,
                &before,
                minutes,
            );
            step.how = vec![say("how.clean", &[]), say("how.clean-touch", &[])];
            merge(&mut step.cautions, vec![caution("solvent", vec![])]);
            ids.push("clean".into());
            self.is(Kind::Clean);
        }
        ids
    }

    /// Supports cut, and glued to their parts.
    fn make_supports(&mut self, ready: &[String]) -> Vec<String> {
        let work = self.work;
        let mut ids = Vec::new();
        if work.supports.is_empty() {
            return ids;
        }
        let layers: usize = work.supports.iter().map(|s| s.layers_mm.len()).sum();
        let minutes = self.minutes("cut_support_layer") * layers as f64;
        let title = say("step.cut-supports", params!("count": layers));
        let step = self.add(
            Stage::DryFit,
            "cut-supports".into(),
            title,
            vec![],
            &[],
            minutes,
        );
        step.how = vec![say("how.cut-supports", &[])];
        merge(&mut step.cautions, vec![caution("knife", vec![])]);
        for s in work.subjects {
            let joints: Vec<&Bond> = work
                .bonds
                .iter()
                .filter(|b| {
                    b.part == s.part.id
                        && matches!(b.joint, Joint::PartToSupport | Joint::SupportLayers)
                })
                .collect();
            if joints.is_empty() {
                continue;
            }
            let lay: f64 = joints.iter().map(|b| laying_minutes(b)).sum();
            let minutes = self.minutes("fill_each") + lay;
            let mut before = vec!["cut-supports".to_owned()];
            before.extend(self.among(ready, |planned| {
                planned.kind == Kind::Clean || planned.is_on(&s.part.id)
            }));
            let step = self.of_part(Stage::DryFit, "fill", "step.fill", s.part, &before, minutes);
            let filled = step.id.clone();
            for b in &joints {
                step.how.extend(how_to_lay(b, work.catalogue));
                merge(&mut step.cautions, glue_cautions(b, work.catalogue));
            }
            let hold = joints
                .iter()
                .filter_map(|b| work.catalogue.adhesives.get(&b.adhesive))
                .map(|a| a.handle_minutes.value)
                .fold(0.0, f64::max);
            let held = self.hold(Stage::DryFit, "fill-hold", s.part, &filled, hold, 1);
            ids.push(held);
        }
        ids
    }

    /// A part is held until it holds by itself: by hand where that is short. The step's id comes back.
    fn hold(
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
    fn among(&self, ids: &[String], such: impl Fn(&Planned) -> bool) -> Vec<String> {
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

    /// Glue, press, tie; then all adhesives cure. The last step of each part, and the waits.
    fn bond(&mut self, signed: &[String]) -> (Vec<String>, Vec<String>) {
        let work = self.work;
        let mut last = Vec::new();
        for s in work.subjects {
            let own = vec![s.part.id.clone()];
            let on_board = work.bonds.iter().find(|b| {
                b.part == s.part.id && matches!(b.joint, Joint::PartToBoard | Joint::SupportToBoard)
            });
            let mut done = signed.to_vec();
            if let Some(b) = on_board {
                let id = id_of("glue", s.part);
                let minutes = self.minutes("place_each") + laying_minutes(b);
                let step = self.add(
                    Stage::Bond,
                    id.clone(),
                    glue_title(s.part, b, work.catalogue),
                    own.clone(),
                    signed,
                    minutes,
                );
                step.how = how_to_lay(b, work.catalogue);
                if is_ribbon(s) {
                    step.how.push(say("how.ribbon", &[]));
                }
                merge(&mut step.cautions, glue_cautions(b, work.catalogue));
                let adhesive = work.catalogue.adhesives.get(&b.adhesive);
                let hold = adhesive
                    .map_or(1.0, |a| a.handle_minutes.value)
                    .max(self.minutes("press_each"));
                let weighs = adhesive.is_some_and(|a| a.presses) && needs_weight(s, work.supports);
                let clamps = u32::from(weighs);
                done = vec![self.hold(Stage::Bond, "press", s.part, &id, hold, clamps)];
            }
            let ties = work
                .fasteners
                .iter()
                .filter(|f| f.part == s.part.id)
                .count();
            if ties > 0 {
                let id = id_of("tie", s.part);
                let minutes = self.minutes("tie_each") * ties as f64;
                let title = say(
                    "step.tie",
                    params!("part": s.part.name.clone(), "count": ties),
                );
                self.add(Stage::Bond, id.clone(), title, own, &done, minutes);
                done = vec![id];
            }
            last.extend(done);
        }
        last.sort();
        last.dedup();
        (last, self.cure())
    }

    /// One wait for each adhesive, from the last part that holds by itself.
    fn cure(&mut self) -> Vec<String> {
        let work = self.work;
        let mut waits = Vec::new();
        for id in used_adhesives(work) {
            let Some(a) = work.catalogue.adhesives.get(id) else {
                continue;
            };
            let rest = (a.cure_minutes.value - a.handle_minutes.value).max(0.0);
            let mut before: Vec<String> = work
                .bonds
                .iter()
                .filter(|b| b.adhesive == id)
                .map(|b| match b.joint {
                    Joint::PartToBoard | Joint::SupportToBoard => format!("press.{}", b.part),
                    Joint::PartToSupport | Joint::SupportLayers => {
                        format!("fill-hold.{}", b.part)
                    }
                })
                .collect();
            before = self.among(&before, |_| true);
            if rest <= 0.0 || before.is_empty() {
                continue;
            }
            before.sort();
            before.dedup();
            let cure = format!("cure.{id}");
            let title = say("step.cure", params!("adhesive": a.name.clone()));
            let step = self.add(Stage::Bond, cure.clone(), title, vec![], &before, rest);
            step.hands_on_minutes = 0.0;
            step.how = vec![say(
                "how.cure",
                params!("adhesive": a.name.clone(), "hours": a.cure_minutes.value / 60.0),
            )];
            if a.gives_off.contains(&crate::catalogue::GivesOff::Solvent) {
                step.how.push(say("how.cure-solvent", &[]));
            }
            waits.push(cure);
        }
        waits
    }

    /// Captions, clean glazing, no dust, films off, a photo, closed.
    fn close(&mut self, holding: &[String], cured: &[String]) -> Vec<String> {
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

    fn hang(&mut self, closed: &[String]) {
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

/// Ids of the adhesives that are used, each once, sorted.
fn used_adhesives<'a>(work: &Work<'a>) -> Vec<&'a str> {
    let mut used: Vec<&str> = work.bonds.iter().map(|b| b.adhesive.as_str()).collect();
    used.sort_unstable();
    used.dedup();
    used
}

fn id_of(what: &str, part: &Part) -> String {
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

/// A weight lies on what presses foam together, and on what is so light that the glue would lift it.
fn needs_weight(s: &Subject<'_>, supports: &[Support]) -> bool {
    const LIGHT_G: f64 = 5.0;
    s.mass_g < LIGHT_G
        || supports
            .iter()
            .any(|p| p.part == s.part.id && p.compression > 0.0)
}
