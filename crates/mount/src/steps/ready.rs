//! Parts made ready for the board: films off, trimmed, cleaned, stand-ins made, supports cut and glued to them.

use super::build::{Kind, Planned, Steps, id_of, merge};
use super::laying::{glue_cautions, how_to_lay, laying_minutes};
use crate::cautions::caution;
use crate::texts::{params, say};
use piece::{BackFilm, Bond, Joint, PartId, Stage, StandInForm};

impl Steps<'_> {
    /// Films off, trimmed, cleaned; stand-ins made. Each part's last step.
    pub(super) fn make_ready(&mut self, free: &[String]) -> Vec<String> {
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
    pub(super) fn make_supports(&mut self, ready: &[String]) -> Vec<String> {
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
}
