//! What holds for every piece.

#![allow(missing_docs, clippy::unwrap_used)]

mod common;

use common::{catalogue, disc, part, piece, rectangle, slowly};
use mount::{BeadRule, Resources, Task, lay_beads, lay_dots, lay_tape, schedule};
use piece::{
    BackFilm, BuildPlan, FreedBy, Hazard, Part, PartKind, Piece, StandIn, StandInForm, SupportKind,
};
use proptest::prelude::*;
use shape::{EdgeTree, Outline, Point, Silent, Vector, difference, union};

/// A plate with a notch, a hole and a tab, whose sizes vary.
fn odd_shape() -> impl Strategy<Value = Outline> {
    (
        8.0..90.0f64,
        8.0..70.0f64,
        0.1..0.8f64,
        0.0..0.9f64,
        0.0..1.0f64,
    )
        .prop_map(|(w, h, notch, tab, hole)| {
            let base = rectangle(w, h);
            let bite = rectangle(notch * w / 2.0, notch * h / 2.0)
                .shifted(Vector::new(w * 0.6, h - notch * h / 3.0));
            let mut o = difference(&base, &[bite]).remove(0);
            if tab > 0.1 {
                let t = rectangle(tab * w * 0.4, 4.0).shifted(Vector::new(2.0, h - 1.0));
                o = union(&[o, t]).remove(0);
            }
            let r = hole * w.min(h) / 6.0;
            if r > 0.5 {
                o = difference(&o, &[disc(w * 0.3, h * 0.4, r)]).remove(0);
            }
            o.at_origin().0
        })
}

fn any_part(k: usize) -> impl Strategy<Value = Part> {
    let kinds = prop_oneof![
        Just(PartKind::Board),
        Just(PartKind::Shell),
        Just(PartKind::Cell),
        Just(PartKind::Ribbon),
        Just(PartKind::Display),
        Just(PartKind::Screw),
    ];
    let faces = prop_oneof![
        Just("abs"),
        Just("fr4"),
        Just("stainless"),
        Just("copper"),
        Just("polyimide"),
        Just("glass"),
        Just("unheard-of")
    ];
    let hazards = prop::collection::vec(
        prop_oneof![
            Just(Hazard::LithiumCell),
            Just(Hazard::FlashCapacitor),
            Just(Hazard::MainsPart),
            Just(Hazard::Beryllium),
            Just(Hazard::CrackedGlass),
            Just(Hazard::SharpEdge),
        ],
        0..3,
    );
    let freed = prop::option::of(prop_oneof![
        Just(FreedBy::CuttingLeads),
        Just(FreedBy::Desoldering),
        Just(FreedBy::WarmAir),
        Just(FreedBy::ReworkStation),
        Just(FreedBy::Lifting),
    ]);
    (
        (odd_shape(), kinds, faces, hazards, freed),
        (
            0.3..20.0f64,
            0.1..300.0f64,
            any::<bool>(),
            any::<bool>(),
            0.0..10.0f64,
        ),
    )
        .prop_map(
            move |(
                (outline, kind, face, hazards, freed_by),
                (height, mass, known, films, lift),
            )| {
                let mut p = part(&format!("p{k}"), kind, outline, height, mass, face);
                p.hazards = hazards;
                p.freed_by = freed_by;
                p.trim = films.then(|| "the tab".to_owned());
                p.back_films = if films {
                    vec![BackFilm::LooseFoil]
                } else {
                    vec![]
                };
                p.lift_mm = (lift > 7.0).then_some(lift);
                if kind == PartKind::Shell {
                    p.wall_mm = Some(1.5);
                    p.inner_depth_mm = Some(0.7 * height);
                }
                if !known {
                    p.thickness_mm = None;
                    p.mass_g = None;
                }
                if kind == PartKind::Cell && known {
                    p.stand_in = Some(StandIn {
                        form: StandInForm::Print,
                        why: "a cell".into(),
                    });
                }
                p
            },
        )
}

fn any_piece() -> impl Strategy<Value = Piece> {
    (any_part(0), any_part(1), any_part(2)).prop_map(|(a, b, c)| piece(vec![a, b, c]))
}

fn plan(piece: &Piece) -> BuildPlan {
    mount::plan(piece, &catalogue(), &Silent).unwrap()
}

/// Every point of the line lies at least so deep inside the outline.
fn deep_inside(outline: &Outline, line: &[Point], depth: f64) -> bool {
    let tree = EdgeTree::new(outline.clone());
    line.windows(2).all(|w| {
        outline.contains(w[0].lerp(w[1], 0.5))
            && tree.line_clearance_mm(w[0], w[1], depth + 1.0) >= depth - 1e-3
            || tree.signed_distance_mm(w[0]).abs() >= depth - 1e-3
                && edge_clear(&tree, w[0], w[1], depth)
    })
}

fn edge_clear(tree: &EdgeTree, a: Point, b: Point, depth: f64) -> bool {
    (0..=8).all(|k| {
        let p = a.lerp(b, f64::from(k) / 8.0);
        tree.outline().contains(p) && tree.nearest(p, depth - 1e-3).is_none()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn pressed_beads_never_leave_the_part(
        face in odd_shape(),
        spread in 1.0..8.0f64,
        up in 0.0..360.0f64,
        vent in prop_oneof![Just(0.0), Just(8.0)],
    ) {
        let rule = BeadRule { spread_mm: spread, margin_mm: 1.0, pitch_mm: 15.0, vent_mm: vent, up_deg: up };
        if let Some(beads) = lay_beads(&face, &rule) {
            prop_assert!(beads.perimeter > 0 && beads.perimeter <= beads.paths.len());
            for path in &beads.paths {
                prop_assert!(deep_inside(&face, path, spread / 2.0 + 1.0), "{path:?}");
            }
        }
    }

    #[test]
    fn dots_and_tape_never_leave_the_part(face in odd_shape(), spread in 1.0..6.0f64, area in 10.0..500.0f64) {
        let tree = EdgeTree::new(face.clone());
        for d in lay_dots(&face, spread, 0.5, 10.0, 8) {
            prop_assert!(face.contains(d));
            prop_assert!(tree.nearest(d, spread / 2.0 + 0.5 - 1e-3).is_none());
        }
        let strips = lay_tape(&face, 1.0, &[19.0, 12.0, 6.0, 3.0], area);
        for s in &strips {
            let o = Outline::try_new(s.corners.to_vec(), vec![]).unwrap();
            let out: f64 = difference(&o, std::slice::from_ref(&face)).iter().map(Outline::area_mm2).sum();
            prop_assert!(out < 1e-6, "{out}");
        }
        for (k, s) in strips.iter().enumerate() {
            for t in &strips[..k] {
                let outline = |s: &mount::TapeStrip| Outline::try_new(s.corners.to_vec(), vec![]).unwrap();
                prop_assert!(shape::intersection_area_mm2(&outline(s), &outline(t)) < 1e-6);
            }
        }
    }

    #[test]
    fn schedules_never_use_more_hands_or_clamps_than_there_are(
        minutes in prop::collection::vec((0.0..50.0f64, any::<bool>(), 0u32..3, 0usize..6, any::<bool>()), 1..30),
        hands in 1u32..4,
        clamps in 2u32..6,
    ) {
        let mut tasks: Vec<Task> = Vec::new();
        for (k, &(m, hands_on, c, back, at_once)) in minutes.iter().enumerate() {
            // What starts at once takes over its one predecessor's hands and clamps: a press after gluing, never a chain.
            let at_once = at_once
                && back == 1
                && k > 0
                && !tasks[k - 1].at_once
                && (tasks[k - 1].hands_on || !hands_on);
            tasks.push(Task {
                id: format!("t{k}"),
                minutes: m,
                hands_on,
                clamps: c,
                at_once,
                after: if back > 0 && k >= back { vec![format!("t{}", k - back)] } else { vec![] },
            });
        }
        let (timings, critical) = schedule(&tasks, Resources { hands, clamps }).unwrap();
        let end = timings.iter().map(|t| t.end).fold(0.0, f64::max);
        prop_assert!(end >= critical - 1e-9);
        for (k, task) in tasks.iter().enumerate().filter(|(_, t)| t.at_once) {
            prop_assert!(timings[k].start == timings[k - 1].end, "{}", task.id);
        }
        for t in &timings {
            let at = t.start + 1e-7;
            let now = |k: &usize| timings[*k].start <= at && timings[*k].end > at;
            let running: Vec<usize> = (0..tasks.len()).filter(now).collect();
            prop_assert!(running.iter().filter(|&&k| tasks[k].hands_on).count() <= hands as usize);
            prop_assert!(running.iter().map(|&k| tasks[k].clamps).sum::<u32>() <= clamps);
        }
    }
}

#[test]
fn fills_never_leave_the_shell_and_keep_off_its_wall() {
    slowly(24, 200, &any_piece(), |piece| {
        for s in plan(&piece)
            .supports
            .iter()
            .filter(|s| s.kind == SupportKind::Fill)
        {
            let shell = piece.part(&s.part).unwrap();
            let fill = s.outline().unwrap();
            let out: f64 = difference(&fill, std::slice::from_ref(&shell.outline))
                .iter()
                .map(Outline::area_mm2)
                .sum();
            prop_assert!(out < 1e-6);
            let wall = Outline::try_new(shell.outline.outer().points().to_vec(), vec![]).unwrap();
            let tree = EdgeTree::new(wall);
            for p in fill.outer().points() {
                prop_assert!(
                    tree.nearest(*p, shell.wall_mm.unwrap() + 0.5 - 0.02)
                        .is_none()
                );
            }
        }
        Ok(())
    });
}

#[test]
fn no_plan_tells_anyone_to_open_cut_or_pierce_a_cell() {
    slowly(24, 200, &any_piece(), |piece| {
        let plan = plan(&piece);
        for p in &piece.parts {
            if p.kind != PartKind::Cell && !p.hazards.contains(&Hazard::LithiumCell) {
                continue;
            }
            for s in plan
                .steps
                .iter()
                .chain(&plan.later)
                .filter(|s| s.parts.contains(&p.id))
            {
                let harmless = [
                    "step.set-aside-cell",
                    "step.stand-in-print",
                    "step.stand-in-card",
                    "step.stand-in-copy",
                    "step.dry-fit",
                    "step.glue",
                    "step.press",
                    "step.tie",
                    "step.tie.one",
                    "step.dry-fit.one",
                    "step.fill",
                    "step.fill-hold",
                    "step.photo",
                ];
                prop_assert!(harmless.contains(&s.code.as_str()), "{}", s.code);
            }
            // What is glued in its place is a stand-in.
            if p.stand_in.is_none() {
                prop_assert!(
                    plan.findings
                        .iter()
                        .any(|f| f.code == "hazard.cell" && f.parts.contains(&p.id))
                );
                for b in plan.bonds.iter().filter(|b| b.part == p.id) {
                    prop_assert!(
                        b.faces[0] == "card" || b.faces[0].ends_with("foam"),
                        "{:?}",
                        b.faces
                    );
                }
            }
        }
        for word in plan
            .steps
            .iter()
            .chain(&plan.later)
            .flat_map(|s| s.how.iter().map(|h| &h.text).chain([&s.title]))
        {
            let text = word.to_lowercase();
            for verb in [
                "open", "cut", "pierce", "puncture", "drill", "crush", "bend",
            ] {
                prop_assert!(!text.contains(&format!("{verb} the cell")), "{text}");
            }
        }
        Ok(())
    });
}

#[test]
fn every_hazard_has_its_caution_when_its_part_is_first_handled() {
    slowly(24, 200, &any_piece(), |piece| {
        let plan = plan(&piece);
        for p in piece.parts.iter().filter(|p| !p.hazards.is_empty()) {
            let first = plan.steps.iter().find(|s| s.parts.contains(&p.id)).unwrap();
            let told = first
                .cautions
                .iter()
                .filter(|c| c.parts.contains(&p.id))
                .count();
            let mut hazards = p.hazards.clone();
            hazards.sort();
            hazards.dedup();
            let own = hazards.len()
                + usize::from(p.kind == PartKind::Cell && !hazards.contains(&Hazard::LithiumCell));
            prop_assert!(
                told >= own,
                "{} {:?}: {:?}",
                first.id,
                hazards,
                first.cautions
            );
            prop_assert!(
                first
                    .cautions
                    .iter()
                    .all(|c| !c.rule.text.is_empty() && !c.text.is_empty())
            );
        }
        Ok(())
    });
}

#[test]
fn a_plan_is_sound_the_same_again_and_read_back() {
    slowly(24, 200, &any_piece(), |piece| {
        let mut piece = piece;
        let first = plan(&piece);
        prop_assert_eq!(&first, &plan(&piece));
        piece.build = Some(first);
        prop_assert!(piece.build_is_current());
        let again = Piece::from_json(piece.to_json().as_bytes());
        prop_assert!(again.is_ok(), "{:?}", again.err());
        prop_assert!(again.unwrap().build_is_current());
        Ok(())
    });
}

#[test]
fn every_step_comes_after_what_it_waits_for() {
    slowly(24, 200, &any_piece(), |piece| {
        let plan = plan(&piece);
        prop_assert!(
            plan.findings.iter().all(|f| f.code != "steps.no-order"),
            "{:?}",
            plan.findings
        );
        for (k, s) in plan.steps.iter().enumerate() {
            for a in &s.after {
                let before = plan.steps[..k].iter().find(|b| b.id == *a);
                prop_assert!(
                    before.is_some_and(|b| b.end_minute <= s.start_minute + 1e-9),
                    "{} after {a}",
                    s.id
                );
            }
            prop_assert!((s.end_minute - s.start_minute - s.minutes).abs() < 1e-6);
            prop_assert!(s.end_minute <= plan.elapsed_minutes + 1e-9);
        }
        prop_assert!(plan.elapsed_minutes >= plan.critical_minutes - 1e-6);
        Ok(())
    });
}

#[test]
fn a_press_starts_the_minute_its_glue_is_laid_and_keeps_its_clamp() {
    let task = |id: &str, minutes, hands_on, clamps, at_once, after: &[&str]| Task {
        id: id.into(),
        minutes,
        hands_on,
        clamps,
        at_once,
        after: after.iter().map(|a| (*a).to_owned()).collect(),
    };
    let tasks: Vec<Task> = (0..3)
        .flat_map(|k| {
            let glue = format!("glue{k}");
            [
                task(&glue, 5.0, true, 0, false, &[]),
                task(&format!("press{k}"), 60.0, false, 1, true, &[&glue]),
            ]
        })
        .collect();
    let resources = Resources {
        hands: 1,
        clamps: 2,
    };
    let (t, critical) = schedule(&tasks, resources).unwrap();
    for k in 0..3 {
        assert_eq!(t[2 * k].end, t[2 * k + 1].start);
    }
    assert_eq!(critical, 65.0);
    // By hand: two go at once; the third waits for the first clamp at 65 minutes.
    let mut starts: Vec<f64> = (0..3).map(|k| t[2 * k].start).collect();
    starts.sort_by(f64::total_cmp);
    assert_eq!(starts, [0.0, 5.0, 65.0]);
}

#[test]
fn tasks_that_wait_for_themselves_are_refused() {
    let task = |id: &str, after: &str| Task {
        id: id.into(),
        minutes: 1.0,
        hands_on: true,
        clamps: 0,
        at_once: false,
        after: vec![after.into()],
    };
    let resources = Resources {
        hands: 1,
        clamps: 1,
    };
    assert!(schedule(&[task("a", "b"), task("b", "a")], resources).is_err());
    assert!(schedule(&[task("a", "nobody")], resources).is_err());
}

/// A name that nothing was put in for stands in braces.
fn no_brace_in_any_text(value: &serde_json::Value) {
    match value {
        serde_json::Value::String(text) => assert!(!text.contains('{'), "{text}"),
        serde_json::Value::Array(all) => all.iter().for_each(no_brace_in_any_text),
        serde_json::Value::Object(all) => all.values().for_each(no_brace_in_any_text),
        _ => {}
    }
}

#[test]
fn tasks_that_take_no_time_that_can_be_are_refused() {
    for minutes in [f64::NAN, f64::INFINITY, -1.0] {
        let task = Task {
            id: "a".into(),
            minutes,
            hands_on: true,
            clamps: 0,
            at_once: false,
            after: vec![],
        };
        let resources = Resources {
            hands: 1,
            clamps: 0,
        };
        let refused = schedule(&[task], resources).unwrap_err();
        assert!(
            matches!(refused, mount::ScheduleError::NoTime { .. }),
            "{refused}"
        );
    }
}

#[test]
fn every_code_has_a_text_and_no_name_is_left_in_braces() {
    let plan = plan(&piece(vec![common::shell(), common::plate()]));
    let text = serde_json::to_string(&plan).unwrap();
    for (code, _) in mount::english() {
        assert!(!code.is_empty());
    }
    no_brace_in_any_text(&serde_json::from_str(&text).unwrap());
    let known: Vec<&str> = mount::english().iter().map(|(c, _)| *c).collect();
    let mut sorted = known.clone();
    sorted.sort_unstable();
    sorted.dedup();
    assert_eq!(sorted.len(), known.len(), "a code is there twice");
    for s in plan.steps.iter().chain(&plan.later) {
        for code in s.how.iter().map(|h| &h.code).chain([&s.code]) {
            assert!(known.contains(&code.as_str()), "{code}");
        }
    }
    for finding in &plan.findings {
        let said: Vec<&str> = finding.phrases.iter().map(|p| p.text.as_str()).collect();
        if !said.is_empty() {
            assert_eq!(
                said.join(" "),
                format!("{} {}", finding.text, finding.remedy)
            );
        }
        for phrase in &finding.phrases {
            assert!(known.contains(&phrase.code.as_str()), "{}", phrase.code);
        }
    }
}

/// A rebate too shallow, a material nobody knows, an adhesive nobody sells and a cell: each is told with phrases.
#[test]
fn what_must_be_changed_is_told_in_phrases() {
    let mut plate = common::plate();
    plate.back_face = Some("cheese".into());
    let mut cell = common::shell();
    cell.kind = piece::PartKind::Cell;
    let mut bad = piece(vec![plate, cell]);
    bad.frame.rebate_depth_mm = Some(4.0);
    bad.choices.board = Some("ice".into());
    let plan = plan(&bad);
    let known: Vec<&str> = mount::english().iter().map(|(c, _)| *c).collect();
    let grave = plan
        .findings
        .iter()
        .filter(|f| f.level != piece::Level::Note);
    let grave: Vec<&piece::Finding> = grave.collect();
    for wanted in [
        "depth.touches-glazing",
        "bond.material-unknown",
        "hazard.cell",
        "board.unknown",
    ] {
        assert!(
            grave.iter().any(|f| f.code == wanted),
            "{wanted}: {grave:?}"
        );
    }
    for finding in grave {
        assert!(finding.phrases.len() > 1, "{}", finding.code);
        for phrase in &finding.phrases {
            assert!(known.contains(&phrase.code.as_str()), "{}", phrase.code);
        }
    }
}
