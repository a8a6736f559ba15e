//! What comes out of the device before what, told from where the parts sit in it.

use piece::{DeviceSide, Part, PartKind};
use shape::{Outline, intersection_area_mm2};

/// One part that comes out.
#[derive(Debug, Clone, Copy)]
pub(super) struct Taken<'a> {
    pub(super) part: &'a Part,
    /// It is dangerous and set aside as soon as it can be reached.
    pub(super) danger: bool,
}

/// A part's turn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Turn {
    /// Place of the part in the list that was given.
    pub(super) part: usize,
    /// Places of the parts that come out right before it.
    pub(super) after: Vec<usize>,
    /// Places of the dangers that lie behind it.
    pub(super) towards: Vec<usize>,
}

/// Parts that share less than this, seen from the open side, do not lie on each other, mm2. Homes are told to a millimetre
/// or so.
const LEAST_COVER_MM2: f64 = 2.0;

/// How near to the open side a part is reckoned. What compares as less never waits for what compares as more.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Depth {
    /// A screw outside all shells.
    Outside,
    /// A shell of which nobody knows where it sits: it may close the device.
    Shell,
    /// Layers from the open side.
    Layer(u32),
    /// A part of which nobody knows where it sits: it may lie under anything.
    Unknown,
}

/// The parts' turns, each after those that it waits for.
///
/// A part waits for those that lie nearer to the open side and cover it; where nobody knows where a part sits, for all shells. What
/// need not come out before a danger comes after it.
pub(super) fn order_out(parts: &[Taken<'_>], opened_from: Option<DeviceSide>) -> Vec<Turn> {
    let device = Device::new(parts, opened_from);
    let mut order: Vec<usize> = (0..parts.len()).collect();
    order.sort_by_key(|&k| (device.depths[k], k));
    let mut waits = Waits::none(parts.len());
    for (at, &k) in order.iter().enumerate() {
        // From the nearest on: what those wait for that it waits for need not be said again.
        for &before in order[..at].iter().rev() {
            if !waits.waits(k, before) && device.covers(before, k) {
                waits.add(k, before);
            }
        }
    }
    let dangers: Vec<usize> = (0..parts.len()).filter(|&k| parts[k].danger).collect();
    let towards = |k: usize| -> Vec<usize> {
        dangers
            .iter()
            .copied()
            .filter(|&d| waits.waits(d, k))
            .collect()
    };
    let on_the_way = |k: usize| parts[k].danger || !towards(k).is_empty();
    let (first, rest): (Vec<usize>, Vec<usize>) = order.iter().partition(|&&k| on_the_way(k));
    let mut turns = Vec::with_capacity(parts.len());
    for k in first {
        turns.push(Turn {
            part: k,
            after: waits.direct[k].clone(),
            towards: towards(k),
        });
    }
    for &k in &rest {
        let mut after = waits.direct[k].clone();
        // Through another that comes after the dangers it does so itself.
        if !after.iter().any(|b| rest.contains(b)) {
            after.extend(&dangers);
        }
        after.sort_unstable();
        after.dedup();
        turns.push(Turn {
            part: k,
            after,
            towards: Vec::new(),
        });
    }
    turns
}

/// Where the parts sit in the device.
struct Device<'a> {
    parts: &'a [Taken<'a>],
    depths: Vec<Depth>,
    /// Each part at its home, its openings closed: what lies in a shell's opening is still held by the shell.
    shadows: Vec<Option<Outline>>,
}

impl<'a> Device<'a> {
    fn new(parts: &'a [Taken<'a>], opened_from: Option<DeviceSide>) -> Self {
        let shadows: Vec<Option<Outline>> = parts.iter().map(|t| shadow(t.part)).collect();
        let layer = |t: &Taken<'_>| t.part.home.map(|h| h.layer);
        let shells = parts.iter().filter(|t| t.part.kind == PartKind::Shell);
        let (front, back) = (
            shells.clone().filter_map(layer).min(),
            shells.filter_map(layer).max(),
        );
        let deepest = parts.iter().filter_map(layer).max().unwrap_or(0);
        let side = opened_from.unwrap_or_else(|| likely_side(parts, &shadows));
        let depth = |part: &Part| match part.home {
            Some(home)
                if part.kind == PartKind::Screw
                    && (front.is_some_and(|f| home.layer < f)
                        || back.is_some_and(|b| home.layer > b)) =>
            {
                Depth::Outside
            }
            Some(home) => Depth::Layer(match side {
                DeviceSide::Front => home.layer,
                DeviceSide::Back => deepest - home.layer,
            }),
            None if part.kind == PartKind::Shell => Depth::Shell,
            None => Depth::Unknown,
        };
        Self {
            parts,
            depths: parts.iter().map(|t| depth(t.part)).collect(),
            shadows,
        }
    }

    /// Whether `over` is to come out before `under` can.
    fn covers(&self, over: usize, under: usize) -> bool {
        let is_shell = |k: usize| self.parts[k].part.kind == PartKind::Shell;
        if self.depths[over] >= self.depths[under] {
            return false;
        }
        match (self.depths[over], self.depths[under]) {
            (Depth::Outside, _) => {
                is_shell(under) && (self.shadows[under].is_none() || self.overlap(over, under))
            }
            (Depth::Shell, _) => !is_shell(under),
            (Depth::Layer(_), Depth::Layer(_)) => self.overlap(over, under),
            _ => is_shell(over),
        }
    }

    fn overlap(&self, a: usize, b: usize) -> bool {
        match (&self.shadows[a], &self.shadows[b]) {
            (Some(a), Some(b)) => intersection_area_mm2(a, b) > LEAST_COVER_MM2,
            _ => false,
        }
    }
}

fn shadow(part: &Part) -> Option<Outline> {
    let closed = Outline::try_new(part.outline.outer().points().to_vec(), vec![]).ok()?;
    Some(closed.placed(part.home?.device_from_part()))
}

/// The side from which fewer parts cover the first danger that has a home, else the back (common practice, no source: devices open
/// towards their cell, and mostly at the back).
fn likely_side(parts: &[Taken<'_>], shadows: &[Option<Outline>]) -> DeviceSide {
    let danger = parts
        .iter()
        .zip(shadows)
        .filter(|(t, _)| t.danger)
        .find_map(|(t, s)| Some((t.part.home?.layer, s.as_ref()?)));
    let Some((layer, at)) = danger else {
        return DeviceSide::Back;
    };
    let covering = |nearer: &dyn Fn(u32) -> bool| {
        parts
            .iter()
            .zip(shadows)
            .filter_map(|(t, s)| Some((t.part.home?.layer, s.as_ref()?)))
            .filter(|(l, s)| nearer(*l) && intersection_area_mm2(s, at) > LEAST_COVER_MM2)
            .count()
    };
    if covering(&|l| l < layer) < covering(&|l| l > layer) {
        DeviceSide::Front
    } else {
        DeviceSide::Back
    }
}

/// Which part waits for which, and through which.
struct Waits {
    direct: Vec<Vec<usize>>,
    /// One bit for each part that it waits for in the end.
    all: Vec<Vec<u64>>,
}

impl Waits {
    fn none(count: usize) -> Self {
        Self {
            direct: vec![Vec::new(); count],
            all: vec![vec![0; count.div_ceil(64)]; count],
        }
    }

    fn waits(&self, part: usize, before: usize) -> bool {
        self.all[part][before / 64] >> (before % 64) & 1 == 1
    }

    fn add(&mut self, part: usize, before: usize) {
        self.direct[part].push(before);
        let theirs = self.all[before].clone();
        let mine = &mut self.all[part];
        mine.iter_mut().zip(theirs).for_each(|(m, t)| *m |= t);
        mine[before / 64] |= 1 << (before % 64);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use piece::{Home, PartId};
    use shape::Point;

    fn part(id: &str, kind: PartKind, at: [f64; 4], layer: Option<u32>) -> Part {
        let [x, y, w, h] = at;
        let corners = vec![
            Point::new(0.0, 0.0),
            Point::new(w, 0.0),
            Point::new(w, h),
            Point::new(0.0, h),
        ];
        let outline = Outline::try_new(corners, vec![]).unwrap();
        let mut part = Part::new(PartId::try_new(id).unwrap(), id, kind, outline);
        part.home = layer.map(|layer| Home {
            x,
            y,
            turn_deg: 0.0,
            layer,
        });
        part
    }

    /// Case screw, front shell, display, board, cell and back shell: a cell beside the board, all under both shells.
    fn device() -> Vec<Part> {
        vec![
            part("front", PartKind::Shell, [0.0, 0.0, 60.0, 100.0], Some(1)),
            part("back", PartKind::Shell, [0.0, 0.0, 60.0, 100.0], Some(6)),
            part(
                "display",
                PartKind::Display,
                [5.0, 50.0, 50.0, 45.0],
                Some(2),
            ),
            part("board", PartKind::Board, [5.0, 40.0, 50.0, 55.0], Some(4)),
            part("cell", PartKind::Cell, [10.0, 5.0, 40.0, 60.0], Some(5)),
            part("screw", PartKind::Screw, [3.0, 3.0, 4.0, 4.0], Some(7)),
            part(
                "speaker",
                PartKind::Speaker,
                [5.0, 2.0, 10.0, 10.0],
                Some(2),
            ),
            part(
                "antenna",
                PartKind::Antenna,
                [45.0, 85.0, 8.0, 8.0],
                Some(5),
            ),
        ]
    }

    fn taken(parts: &[Part]) -> Vec<Taken<'_>> {
        let danger = |p: &Part| p.kind == PartKind::Cell;
        parts
            .iter()
            .map(|part| Taken {
                part,
                danger: danger(part),
            })
            .collect()
    }

    fn named(parts: &[Part], turns: &[Turn]) -> Vec<(String, Vec<String>, usize)> {
        let name = |k: &usize| parts[*k].id.to_string();
        turns
            .iter()
            .map(|t| {
                let after = t.after.iter().map(name).collect();
                (name(&t.part), after, t.towards.len())
            })
            .collect()
    }

    #[test]
    fn a_device_opens_towards_its_cell_which_comes_out_before_all_that_does_not_cover_it() {
        let parts = device();
        let turns = named(&parts, &order_out(&taken(&parts), None));
        let turn = |id: &str| turns.iter().position(|t| t.0 == id).unwrap();
        assert_eq!(turns[0], ("screw".into(), vec![], 1));
        assert_eq!(turns[1], ("back".into(), vec!["screw".into()], 1));
        assert_eq!(turns[2], ("cell".into(), vec!["back".into()], 0));
        assert!(turns[turn("antenna")].1.contains(&"cell".to_owned()));
        assert!(turn("board") > turn("cell") && turn("display") > turn("board"));
        assert_eq!(turns.last().unwrap().0, "front");
        for (k, (_, after, _)) in turns.iter().enumerate() {
            assert!(after.iter().all(|a| turn(a) < k));
        }
    }

    #[test]
    fn the_side_that_the_maker_names_is_the_side_that_is_opened() {
        let parts = device();
        let turns = named(&parts, &order_out(&taken(&parts), Some(DeviceSide::Front)));
        let turn = |id: &str| turns.iter().position(|t| t.0 == id).unwrap();
        assert!(turn("front") < turn("display") && turn("display") < turn("board"));
        assert!(turn("board") < turn("cell") && turn("cell") < turn("antenna"));
        // Whoever works down to the cell is warned of it at each part.
        for id in ["front", "display", "board"] {
            assert_eq!(turns[turn(id)].2, 1, "{id}");
        }
    }

    #[test]
    fn without_homes_shells_come_first_and_then_what_is_dangerous() {
        let mut parts = device();
        parts.iter_mut().for_each(|p| p.home = None);
        let turns = named(&parts, &order_out(&taken(&parts), None));
        assert_eq!(turns[0].0, "front");
        assert_eq!(turns[1].0, "back");
        assert_eq!(turns[2].0, "cell");
        assert!(turns[3..].iter().all(|t| t.1.contains(&"cell".to_owned())));
    }

    #[test]
    fn parts_in_any_homes_come_out_each_once_after_those_they_wait_for() {
        let mut dice = shape::Random::new(11);
        for _ in 0..300 {
            let count = 1 + dice.below(12);
            let kinds = [
                PartKind::Shell,
                PartKind::Screw,
                PartKind::Cell,
                PartKind::Board,
            ];
            let parts: Vec<Part> = (0..count)
                .map(|k| {
                    let mut at = || dice.below(40) as f64;
                    let at = [at(), at(), 3.0 + at(), 3.0 + at()];
                    let layer = (dice.below(5) > 0).then(|| dice.below(6) as u32);
                    part(&format!("p{k}"), kinds[dice.below(4)], at, layer)
                })
                .collect();
            let side = [None, Some(DeviceSide::Front), Some(DeviceSide::Back)][dice.below(3)];
            let turns = order_out(&taken(&parts), side);
            let mut seen = vec![false; count];
            for t in &turns {
                assert!(t.after.iter().all(|&a| seen[a]), "{turns:?}");
                assert!(!std::mem::replace(&mut seen[t.part], true));
            }
            assert!(seen.iter().all(|&s| s));
        }
    }
}
