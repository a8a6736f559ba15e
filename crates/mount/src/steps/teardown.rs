//! The steps by which a device comes apart.

use super::build::{Kind, SMALL_G, Steps, merge};
use super::order_out::{Taken, order_out};
use crate::cautions::{caution, of_part};
use crate::subject::Subject;
use crate::texts::{params, say};
use piece::{FreedBy, Part, PartId, PartKind, Stage};

impl Steps<'_> {
    /// Before the device is opened: its data seen to, a place laid out for what gets lost.
    pub(super) fn prepare(&mut self) -> Vec<String> {
        let mut ids = Vec::new();
        let work = self.work;
        for part in &work.piece.parts {
            if part
                .storage
                .as_ref()
                .is_some_and(|r| r.sanitization.is_none())
            {
                let minutes = self.minutes("data");
                let step = self.of_part(Stage::Prepare, "data", "step.data", part, &[], minutes);
                step.how = vec![say("how.data", &[]), say("how.data-record", &[])];
                merge(&mut step.cautions, of_part(part));
                ids.push(step.id.clone());
            }
        }
        let small: Vec<PartId> = work
            .subjects
            .iter()
            .filter(|s| s.is_real() && (s.part.kind == PartKind::Screw || s.mass_g <= SMALL_G))
            .map(|s| s.part.id.clone())
            .collect();
        if !small.is_empty() {
            let minutes = self.minutes("tray");
            let title = say("step.tray", params!("count": small.len()));
            let step = self.add(
                Stage::Prepare,
                "tray".into(),
                title,
                small,
                &ids.clone(),
                minutes,
            );
            step.how = vec![say("how.tray", &[])];
            ids.push("tray".into());
            self.is(Kind::Tray);
        }
        ids
    }

    /// The device comes apart: what covers a part before it, what is dangerous as soon as it can be reached. Whoever works
    /// towards a danger is warned of it.
    pub(super) fn take_apart(&mut self, prepared: &[String]) -> Vec<String> {
        let work = self.work;
        let taken: Vec<&Subject<'_>> = work
            .subjects
            .iter()
            .filter(|s| is_set_aside(s) || s.is_real() && s.part.freed_by.is_some())
            .collect();
        let parts: Vec<Taken<'_>> = taken
            .iter()
            .map(|s| Taken {
                part: s.part,
                danger: is_set_aside(s),
            })
            .collect();
        let mut ids = prepared.to_vec();
        let mut id_of_taken = vec![String::new(); taken.len()];
        for out in order_out(&parts, work.piece.choices.opened_from) {
            let s = taken[out.part];
            let mut before: Vec<String> =
                out.after.iter().map(|&k| id_of_taken[k].clone()).collect();
            if before.is_empty() {
                before = prepared.to_vec();
            }
            let towards: Vec<&Part> = out.towards.iter().map(|&k| taken[k].part).collect();
            let id = match s.part.freed_by.filter(|_| s.is_real()) {
                Some(way) => self.free(s.part, way, &before, &towards),
                None => self.set_aside(s.part, &before),
            };
            ids.push(id.clone());
            id_of_taken[out.part] = id;
        }
        ids
    }

    /// A dangerous part goes to whoever may have it; its stand-in takes its place.
    fn set_aside(&mut self, part: &Part, before: &[String]) -> String {
        let (code, how): (_, &[&str]) = if part.is_cell() {
            (
                "step.set-aside-cell",
                &["how.cell-recycle", "how.cell-voltage"],
            )
        } else {
            ("step.set-aside", &["how.set-aside"])
        };
        let minutes = self.minutes("set_aside");
        let step = self.of_part(Stage::Prepare, "set-aside", code, part, before, minutes);
        step.how = how.iter().map(|h| say(h, &[])).collect();
        merge(&mut step.cautions, of_part(part));
        step.id.clone()
    }

    /// A part comes free, on the way to some dangers.
    fn free(&mut self, part: &Part, way: FreedBy, before: &[String], towards: &[&Part]) -> String {
        let (code, time, dangers): (_, _, &[&str]) = match way {
            FreedBy::Lifting => ("step.free-lifting", "free_lifting", &[]),
            FreedBy::Unscrewing => ("step.free-unscrewing", "free_unscrewing", &[]),
            FreedBy::Unplugging => ("step.free-unplugging", "free_unplugging", &[]),
            FreedBy::CuttingLeads => ("step.free-cutting-leads", "free_cutting_leads", &["knife"]),
            FreedBy::Desoldering => ("step.free-desoldering", "free_desoldering", &["solder"]),
            FreedBy::WarmAir => ("step.free-warm-air", "free_warm_air", &["hot-air"]),
            FreedBy::ReworkStation => (
                "step.free-rework-station",
                "free_rework_station",
                &["hot-air", "solder"],
            ),
        };
        let minutes = self.minutes(time);
        let step = self.of_part(Stage::Prepare, "free", code, part, before, minutes);
        let own = vec![part.id.clone()];
        merge(
            &mut step.cautions,
            dangers.iter().map(|d| caution(d, own.clone())).collect(),
        );
        for danger in towards {
            merge(&mut step.cautions, of_part(danger));
        }
        step.id.clone()
    }
}

/// A part that is not mounted because it is dangerous.
fn is_set_aside(s: &Subject<'_>) -> bool {
    !s.is_real() && !of_part(s.part).is_empty()
}
