//! Parts bonded to the board, and the waits until all adhesives have cured.

use super::build::{Steps, id_of, merge, used_adhesives};
use super::laying::{glue_cautions, glue_title, how_to_lay, laying_minutes};
use crate::bonds::is_ribbon;
use crate::subject::Subject;
use crate::texts::{params, say};
use piece::{Joint, Stage, Support};

impl Steps<'_> {
    /// Glue, press, tie; then all adhesives cure. The last step of each part, and the waits.
    pub(super) fn bond(&mut self, signed: &[String]) -> (Vec<String>, Vec<String>) {
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
}

/// A weight lies on what presses foam together, and on what is so light that the glue would lift it.
fn needs_weight(s: &Subject<'_>, supports: &[Support]) -> bool {
    const LIGHT_G: f64 = 5.0;
    s.mass_g < LIGHT_G
        || supports
            .iter()
            .any(|p| p.part == s.part.id && p.compression > 0.0)
}
