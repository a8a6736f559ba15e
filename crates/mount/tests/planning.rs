//! What a plan says of small pieces whose answer is known.

#![allow(missing_docs, clippy::unwrap_used)]

mod common;

use common::{catalogue, codes, disc, id, part, piece, plan, plate, rectangle, shell};
use mount::Catalogue;
use piece::{
    ApplyAs, BackFilm, FastenerKind, FreedBy, Hazard, Joint, Level, Part, PartKind, Protrusion,
    Sanitization, StandInForm, Standing, StorageRecord, SupportKind,
};
use shape::{Outline, Point, Silent};

#[test]
fn a_sound_piece_has_no_stop() {
    let plan = plan(&piece(vec![shell(), plate()]));
    assert!(
        plan.findings.iter().all(|f| f.level != Level::Stop),
        "{:?}",
        plan.findings
    );
}

/// By hand: glazing 2, air 5, plate 5 on 1 mm of silicone, board, backing.
#[test]
fn the_depth_is_the_sum_of_its_layers() {
    let p = plan(&piece(vec![plate()]));
    let c = catalogue();
    let bond = p
        .bonds
        .iter()
        .find(|b| b.joint == Joint::PartToBoard)
        .unwrap();
    let board = c.boards[&p.board.material].thickness_mm.value;
    let backing = c.backings["backing-board-2"].thickness_mm.value;
    let by_hand = 2.0 + 5.0 + 5.0 + bond.bond_line_mm + board + backing;
    assert!(
        (p.depth.needed_mm - by_hand).abs() < 0.1,
        "{}",
        p.depth.needed_mm
    );
    let layers: f64 = p.depth.layers.iter().map(|l| l.thickness_mm).sum();
    let stack: f64 = p.depth.spacer.stack_mm.iter().sum();
    assert!((layers - (2.0 + stack + board + backing)).abs() < 1e-9);
    let part = &p.depth.parts[0];
    assert!((part.top_mm - 5.0 - bond.bond_line_mm).abs() < 1e-9);
    assert!(part.clearance_mm >= 5.0);
}

#[test]
fn a_part_that_reaches_the_glazing_is_a_stop_with_a_frame_that_does() {
    let mut p = piece(vec![Part {
        thickness_mm: Some(60.0),
        ..plate()
    }]);
    let found = plan(&p);
    let stop = found
        .findings
        .iter()
        .find(|f| f.code == "depth.touches-glazing")
        .unwrap();
    assert_eq!(stop.level, Level::Stop);
    assert!(stop.remedy.contains("75 mm"), "{}", stop.remedy);
    p.frame.rebate_depth_mm = None;
    assert!(!codes(&plan(&p)).contains(&"depth.touches-glazing"));
}

#[test]
fn a_shell_is_filled_inside_its_wall_and_clear_of_its_window() {
    let mut s = shell();
    s.outline = Outline::try_new(
        rectangle(60.0, 100.0).outer().points().to_vec(),
        vec![
            rectangle(20.0, 20.0)
                .shifted(shape::Vector::new(20.0, 60.0))
                .outer()
                .points()
                .to_vec(),
        ],
    )
    .unwrap();
    let p = plan(&piece(vec![s]));
    let fill = p
        .supports
        .iter()
        .find(|s| s.kind == SupportKind::Fill)
        .unwrap();
    let outline = fill.outline().unwrap();
    // 1.5 mm of wall and 0.5 mm of clearance; 1.5 mm round the window.
    let b = outline.bounds();
    assert!((b.min.x - 2.0).abs() < 0.03 && (b.max.x - 58.0).abs() < 0.03);
    let expected = 56.0 * 96.0 - 23.0 * 23.0;
    assert!(
        (outline.area_mm2() - expected).abs() < 15.0,
        "{}",
        outline.area_mm2()
    );
    let joints: Vec<Joint> = p.bonds.iter().map(|b| b.joint).collect();
    assert!(joints.contains(&Joint::PartToSupport) && joints.contains(&Joint::SupportToBoard));
    // The stack, pressed by no more than a tenth, and both bond lines fill the inside.
    let line = |j| p.bonds.iter().find(|b| b.joint == j).unwrap().bond_line_mm;
    let inside = fill.height_mm + line(Joint::PartToSupport) + line(Joint::SupportToBoard);
    assert!((inside - 9.0).abs() < 1e-9, "{inside}");
    let stack: f64 = fill.layers_mm.iter().sum();
    assert!(fill.height_mm <= stack && fill.height_mm >= 0.9 * stack - 1e-9);
    assert!(!p.cut_sheets.is_empty());
    // Its rim stands on the board.
    assert!((p.depth.parts[0].top_mm - 10.5).abs() < 1e-9);
}

#[test]
fn walls_that_eat_the_inside_are_told() {
    let s = Part {
        wall_mm: Some(29.0),
        ..shell()
    };
    let p = plan(&piece(vec![s]));
    assert!(codes(&p).contains(&"support.no-room"), "{:?}", codes(&p));
    let s = Part {
        inner_depth_mm: Some(20.0),
        ..shell()
    };
    assert!(codes(&plan(&piece(vec![s]))).contains(&"support.impossible"));
}

#[test]
fn a_lifted_part_stands_on_what_lifts_it() {
    let p = plan(&piece(vec![Part {
        lift_mm: Some(12.0),
        ..plate()
    }]));
    assert_eq!(p.supports[0].kind, SupportKind::Lift);
    assert!((p.depth.parts[0].top_mm - 17.0).abs() < 1e-9);
}

#[test]
fn a_board_with_chips_below_stands_on_pads() {
    let mut board = plate();
    board.protrusions = vec![Protrusion {
        outline: rectangle(12.0, 10.0).shifted(shape::Vector::new(18.0, 15.0)),
        height_mm: 2.2,
    }];
    let p = plan(&piece(vec![board]));
    let pads: Vec<_> = p
        .supports
        .iter()
        .filter(|s| s.kind == SupportKind::Pad)
        .collect();
    assert!(pads.len() >= 3, "{}", pads.len());
    for pad in pads {
        let o = pad.outline().unwrap();
        assert!(o.bounds().min.x >= 0.0 && o.bounds().max.x <= 50.0);
    }
    // Feet of one height that hold the middle between them get pads themselves.
    let mut footed = plate();
    footed.protrusions = [(6.0, 6.0), (44.0, 6.0), (25.0, 34.0)]
        .map(|(x, y)| Protrusion {
            outline: disc(x, y, 4.0),
            height_mm: 3.0,
        })
        .to_vec();
    let p = plan(&piece(vec![footed]));
    assert_eq!(p.supports.len(), 3);
    assert!(
        p.supports[0]
            .outline()
            .unwrap()
            .contains(Point::new(6.0, 6.0))
    );
}

#[test]
fn ribbons_get_tape_and_small_screws_get_dots() {
    let ribbon = part(
        "ribbon",
        PartKind::Ribbon,
        rectangle(40.0, 9.0),
        0.3,
        0.5,
        "polyimide",
    );
    let screw = part(
        "screw",
        PartKind::Screw,
        disc(3.0, 3.0, 3.0),
        2.2,
        0.6,
        "stainless",
    );
    let p = plan(&piece(vec![ribbon, screw]));
    let of = |name: &str| p.bonds.iter().find(|b| b.part == id(name)).unwrap();
    assert_eq!(of("ribbon").apply_as, ApplyAs::Tape);
    assert!(of("ribbon").tapes[0].length_mm > 35.0);
    assert!(matches!(
        of("screw").apply_as,
        ApplyAs::Dots | ApplyAs::Tape
    ));
}

#[test]
fn nothing_acid_comes_near_copper_and_no_solvent_into_an_unaired_room() {
    let mut p = piece(vec![part(
        "coil",
        PartKind::Other,
        rectangle(30.0, 30.0),
        4.0,
        9.0,
        "copper",
    )]);
    p.choices.unaired = Some(true);
    let found = plan(&p);
    let runners = &found.bonds[0].runners_up;
    assert_ne!(found.bonds[0].adhesive, "acetic-silicone");
    assert!(runners.iter().all(
        |r| !(r.would_do && (r.adhesive == "acetic-silicone" || r.adhesive == "solvent-clear"))
    ));
    p.choices
        .adhesives
        .insert(id("coil"), "acetic-silicone".into());
    let found = plan(&p);
    let fix = found
        .findings
        .iter()
        .find(|f| f.code == "bond.choice-fails")
        .unwrap();
    assert!(fix.text.contains("corrodes"), "{}", fix.text);
}

#[test]
fn each_choice_gives_its_reasons_and_what_was_not_taken() {
    let p = plan(&piece(vec![plate()]));
    for b in &p.bonds {
        assert!(!b.reasons.is_empty());
        assert!(!b.runners_up.is_empty());
        assert!(b.runners_up.iter().all(|r| !r.why.is_empty()));
        assert!(
            b.loads
                .windows(2)
                .all(|w| w[0].utilisation >= w[1].utilisation)
        );
        assert!((b.utilisation - b.loads[0].utilisation).abs() < 1e-12);
    }
}

#[test]
fn a_heavy_part_is_tied_through_its_openings_or_strapped() {
    let mut heavy = part(
        "block",
        PartKind::Other,
        rectangle(80.0, 60.0),
        20.0,
        400.0,
        "aluminium",
    );
    let p = plan(&piece(vec![heavy.clone()]));
    assert!(p.fasteners.iter().all(|f| f.kind == FastenerKind::Strap) && !p.fasteners.is_empty());
    let hole = |x: f64| disc(x, 5.0, 2.0).outer().points().to_vec();
    heavy.outline = Outline::try_new(
        rectangle(80.0, 60.0).outer().points().to_vec(),
        vec![hole(5.0), hole(75.0)],
    )
    .unwrap();
    let outline = heavy.outline.clone();
    let p = plan(&piece(vec![heavy]));
    assert_eq!(p.fasteners.len(), 2);
    for f in &p.fasteners {
        assert_eq!(f.kind, FastenerKind::WireTie);
        assert!(
            f.holes
                .iter()
                .all(|h| !outline.contains(Point::new(h.x, h.y)))
        );
    }
    assert!(p.steps.iter().any(|s| s.id == "tie.block") && p.steps.iter().any(|s| s.id == "drill"));
}

#[test]
fn a_strap_is_not_put_over_a_screw_that_its_adhesive_holds() {
    let screw = |mass_g: f64| {
        part(
            "screw",
            PartKind::Screw,
            disc(0.0, 0.0, 2.0),
            4.0,
            mass_g,
            "stainless",
        )
    };
    let p = plan(&piece(vec![screw(1.0)]));
    let used = p.bonds[0].utilisation;
    assert!(used > 0.5 && used < 1.0, "{used}");
    assert!(p.fasteners.is_empty());
    // What its adhesive does not hold is tied, however light.
    let p = plan(&piece(vec![screw(2.9)]));
    assert!(p.bonds[0].utilisation > 1.0);
    assert!(!p.fasteners.is_empty());
}

#[test]
fn the_lightest_board_is_not_taken_where_its_facing_tears_and_another_holds() {
    let screw = part(
        "screw",
        PartKind::Screw,
        disc(0.0, 0.0, 2.0),
        4.0,
        1.0,
        "stainless",
    );
    // With much air before the glazing the lightest board would do, if it were for its bow alone.
    let mut wide = piece(vec![screw]);
    wide.choices.air_gap_mm = Some(40.0);
    let p = plan(&wide);
    assert!(
        p.findings.iter().all(|f| f.level != Level::Stop),
        "{:?}",
        p.findings
    );
    let lightest = p.board.would_do[0].clone();
    assert_ne!(p.board.material, lightest);
    // The maker's own choice stands, and what it does is told.
    wide.choices.board = Some(lightest.clone());
    let p = plan(&wide);
    assert_eq!(p.board.material, lightest);
    assert!(codes(&p).contains(&"bond.too-weak"));
}

#[test]
fn a_cell_is_never_mounted_and_its_place_is_kept() {
    let mut cell = part(
        "cell",
        PartKind::Cell,
        rectangle(40.0, 50.0),
        5.0,
        30.0,
        "pouch-cell",
    );
    cell.freed_by = Some(FreedBy::CuttingLeads);
    let p = plan(&piece(vec![cell, plate()]));
    assert!(
        codes(&p).contains(&"hazard.cell") && codes(&p).contains(&"hazard.cell-freed-by-force")
    );
    assert!(p.steps.iter().all(|s| s.id != "free.cell"));
    let aside = p.steps.iter().find(|s| s.id == "set-aside.cell").unwrap();
    assert!(
        aside
            .cautions
            .iter()
            .any(|c| c.code == "cell" && c.rule.text.contains("Never"))
    );
    // It is card that is glued there.
    assert_eq!(
        p.bonds.iter().find(|b| b.part == id("cell")).unwrap().faces[0],
        "card"
    );
    // Somebody's word does not change that.
    let mut again = piece(vec![part(
        "cell",
        PartKind::Cell,
        rectangle(40.0, 50.0),
        5.0,
        30.0,
        "abs",
    )]);
    again.choices.made_safe.insert(id("cell"));
    assert!(codes(&plan(&again)).contains(&"hazard.cell"));
}

#[test]
fn a_device_is_opened_before_anything_in_it_is_freed() {
    let freed = |id: &str, kind| Part {
        freed_by: Some(FreedBy::Unscrewing),
        ..part(id, kind, rectangle(40.0, 30.0), 3.0, 8.0, "abs")
    };
    let p = plan(&piece(vec![
        freed("board", PartKind::Board),
        freed("back", PartKind::Shell),
        freed("screen", PartKind::Other),
        freed("front", PartKind::Shell),
    ]));
    let start = |id: &str| {
        let step = p.steps.iter().find(|s| s.id == format!("free.{id}"));
        step.map(|s| s.start_minute).expect("a step that frees it")
    };
    for inside in ["board", "screen"] {
        assert!(
            start(inside) > start("back").max(start("front")),
            "{inside}"
        );
    }
}

#[test]
fn tubes_and_mains_parts_are_refused_unless_somebody_qualified_answers() {
    for hazard in [
        Hazard::CathodeRayTube,
        Hazard::MainsPart,
        Hazard::FlashCapacitor,
    ] {
        let mut p = piece(vec![Part {
            hazards: vec![hazard],
            ..plate()
        }]);
        assert!(plan(&p).findings.iter().any(|f| f.level == Level::Stop));
        p.choices.made_safe.insert(id("plate"));
        let found = plan(&p);
        assert!(found.findings.iter().all(|f| f.level != Level::Stop));
        // The caution stays.
        let glue = found.steps.iter().find(|s| s.id == "glue.plate").unwrap();
        assert!(!glue.cautions.is_empty());
    }
}

#[test]
fn a_part_that_cannot_be_freed_here_gets_a_stand_in() {
    let mut p = piece(vec![Part {
        freed_by: Some(FreedBy::ReworkStation),
        ..plate()
    }]);
    assert!(plan(&p).steps.iter().any(|s| s.id == "free.plate"));
    p.choices.lacks.insert(FreedBy::ReworkStation);
    let found = plan(&p);
    assert!(codes(&found).contains(&"stand-in.cannot-be-freed"));
    assert!(found.steps.iter().any(|s| s.id == "stand-in.plate"));
}

#[test]
fn data_that_nobody_answers_for_are_found() {
    let mut p = piece(vec![Part {
        storage: Some(StorageRecord::default()),
        ..plate()
    }]);
    assert!(codes(&plan(&p)).contains(&"data.unknown"));
    let record = p.parts[0].storage.as_mut().unwrap();
    record.sanitization = Some(Sanitization::Destroy);
    assert!(codes(&plan(&p)).contains(&"data.incomplete"));
    let record = p.parts[0].storage.as_mut().unwrap();
    record.by = Some("the bench".into());
    record.on = Some("2026-13-01".into());
    assert!(codes(&plan(&p)).contains(&"data.day"));
    p.parts[0].storage.as_mut().unwrap().on = Some("2026-03-01".into());
    assert!(!codes(&plan(&p)).iter().any(|c| c.starts_with("data.")));
}

#[test]
fn films_come_off_before_the_part_is_glued() {
    let p = plan(&piece(vec![Part {
        back_films: vec![BackFilm::Graphite],
        ..plate()
    }]));
    let start = |id: &str| p.steps.iter().find(|s| s.id == id).unwrap().start_minute;
    assert!(start("strip-graphite.plate") < start("clean"));
    assert!(start("clean") < start("glue.plate"));
}

#[test]
fn what_is_not_known_is_told_and_not_taken_as_nothing() {
    let bare = Part::new(id("bare"), "Bare", PartKind::Other, rectangle(30.0, 20.0));
    let p = plan(&piece(vec![bare]));
    for code in ["depth.height-unknown", "mass.unknown", "bond.face-unknown"] {
        assert!(codes(&p).contains(&code), "{code}: {:?}", codes(&p));
    }
    assert!(p.findings.iter().all(|f| f.level == Level::Note));
    assert!(p.depth.parts[0].height_unknown);
    let odd = part(
        "odd",
        PartKind::Other,
        rectangle(30.0, 20.0),
        2.0,
        3.0,
        "unobtainium",
    );
    let p = plan(&piece(vec![odd]));
    let fix = p
        .findings
        .iter()
        .find(|f| f.code == "bond.material-unknown")
        .unwrap();
    assert!(fix.text.contains("unobtainium") && fix.remedy.contains("stainless"));
}

#[test]
fn a_part_narrower_than_any_bead_is_told_with_what_to_do() {
    let thread = part(
        "thread",
        PartKind::Other,
        rectangle(30.0, 0.6),
        0.6,
        0.2,
        "stainless",
    );
    let p = plan(&piece(vec![thread]));
    let stop = p
        .findings
        .iter()
        .find(|f| f.code == "bond.too-narrow")
        .unwrap();
    assert!(stop.remedy.contains("wire"), "{}", stop.remedy);
}

#[test]
fn an_unknown_glazing_board_or_backing_is_told() {
    let mut p = piece(vec![plate()]);
    p.frame.glazing = Some("float-77".into());
    p.choices.board = Some("marble".into());
    p.choices.backing = Some("slate".into());
    let found = plan(&p);
    for code in [
        "depth.glazing-unknown",
        "board.unknown",
        "depth.backing-unknown",
    ] {
        assert!(codes(&found).contains(&code), "{code}");
    }
}

#[test]
fn an_empty_piece_has_a_plan_too() {
    let p = plan(&piece(vec![]));
    assert!(p.depth.parts.is_empty() && p.mass_g > 0.0);
}

/// A catalogue whose sheets of foam have these sides, mm.
fn with_sheets(sides_mm: [f64; 2]) -> Catalogue {
    let mut own = catalogue();
    for foam in own.foams.values_mut() {
        foam.sheet_mm.value = sides_mm;
    }
    own
}

/// A lifted frame of 60 x 100 mm: its lift is a narrow ring, 56 x 96 mm, of which a sheet of 110 mm holds one.
fn ring(name: &str) -> Part {
    let outline = Outline::try_new(
        rectangle(60.0, 100.0).outer().points().to_vec(),
        vec![
            rectangle(36.0, 76.0)
                .shifted(shape::Vector::new(12.0, 12.0))
                .outer()
                .points()
                .to_vec(),
        ],
    )
    .unwrap();
    Part {
        lift_mm: Some(5.0),
        ..part(name, PartKind::Bracket, outline, 3.0, 6.0, "aluminium")
    }
}

#[test]
fn supports_that_fill_many_small_sheets_are_laid_out_on_as_many() {
    let rings = |n: usize| piece((0..n).map(|k| ring(&format!("ring{k}"))).collect());
    let own = with_sheets([110.0, 110.0]);
    let found = mount::plan(&rings(6), &own, &Silent).unwrap();
    assert!(!codes(&found).contains(&"support.no-sheet"));
    assert_eq!(found.supports.len(), 6);
    let laid: usize = found.cut_sheets.iter().map(|s| s.placements.len()).sum();
    let layers: usize = found.supports.iter().map(|s| s.layers_mm.len()).sum();
    assert_eq!(laid, layers);
}

#[test]
fn why_supports_find_no_sheet_is_told_as_it_is() {
    let told = |sides_mm, n: usize| {
        let parts = (0..n).map(|k| ring(&format!("ring{k}"))).collect();
        let found = mount::plan(&piece(parts), &with_sheets(sides_mm), &Silent).unwrap();
        let finding = found
            .findings
            .iter()
            .find(|f| f.code == "support.no-sheet")
            .unwrap();
        let codes: Vec<String> = finding.phrases.iter().map(|p| p.code.clone()).collect();
        codes
    };
    let case = "case.support.no-sheet".to_owned();
    assert_eq!(
        told([110.0, 110.0], 20),
        [
            case.clone(),
            "why-sheet.too-many".into(),
            "remedy.support.too-many".into()
        ]
    );
    for sides_mm in [[80.0, 80.0], [10.0, 10.0]] {
        assert_eq!(
            told(sides_mm, 1),
            [
                case.clone(),
                "why-sheet.too-small".into(),
                "remedy.support.no-sheet".into()
            ]
        );
    }
}

/// By hand: a plate of 60 mm needs more than the 40 mm of its frame.
#[test]
fn the_bill_asks_for_the_rebate_that_is_needed() {
    for height in [5.0, 60.0] {
        let found = plan(&piece(vec![Part {
            thickness_mm: Some(height),
            ..plate()
        }]));
        let frame = found.bill.iter().find(|l| l.item == "frame").unwrap();
        let asked = &frame.title.params["rebate_mm"];
        assert_eq!(*asked, piece::Param::from(found.depth.needed_mm));
        assert!(found.depth.needed_mm > height);
    }
}

#[test]
fn every_number_of_the_catalogue_can_be_ones_own() {
    let own = Catalogue::with_json(
        br#"{"rules": {"air_gap_mm": 9}, "foams": {"cork": {"name": "cork", "material": "card",
            "thicknesses_mm": {"value": [2, 4]}, "sheet_mm": {"value": [300, 200]}, "preference": 0}}}"#,
    )
    .unwrap();
    assert_eq!(own.rules.air_gap_mm.value, 9.0);
    assert_eq!(own.rules.air_gap_mm.standing, Standing::Own);
    let found = mount::plan(&piece(vec![plate()]), &own, &Silent).unwrap();
    assert!(found.depth.parts[0].clearance_mm >= 9.0);
    assert_eq!(own.foams["cork"].thicknesses_mm.standing, Standing::Own);
}

#[test]
fn catalogues_that_cannot_be_are_refused_by_name() {
    for (text, path) in [
        ("[]", "."),
        ("{", "."),
        (r#"{"rules": {"air_gap_mm": -1}}"#, "rules.air_gap_mm"),
        (r#"{"rules": {"unheard_of": 1}}"#, "rules"),
        (
            r#"{"adhesives": {"epoxy": {"gap_mm": [3, 1]}}}"#,
            "adhesives.epoxy.gap_mm",
        ),
        (
            r#"{"adhesives": {"epoxy": {"lap_shear_mpa": "much"}}}"#,
            "adhesives.epoxy.lap_shear_mpa",
        ),
        (
            r#"{"materials": {"abs": {"face": "nowhere"}}}"#,
            "materials.abs.face",
        ),
        (
            r#"{"foams": {"eva-foam": {"thicknesses_mm": []}}}"#,
            "foams.eva-foam.thicknesses_mm",
        ),
        (
            r#"{"backings": {"fibreboard-3": {"density_g_cm3": 0}}}"#,
            "backings.fibreboard-3.density_g_cm3",
        ),
        (
            r#"{"glazings": {"float-2": {"density_kg_m3": -2500}}}"#,
            "glazings.float-2.density_kg_m3",
        ),
        (
            r#"{"rebates": [{"name": "odd", "rebate_mm": {"value": -13}}]}"#,
            "rebates[0].rebate_mm",
        ),
        (
            r#"{"hangers": {"strap-hanger": {"rating_g": 0}}}"#,
            "hangers.strap-hanger.rating_g",
        ),
        (
            r#"{"wires": {"picture-wire-9": {"rating_n": -90}}}"#,
            "wires.picture-wire-9.rating_n",
        ),
        (
            r#"{"fastenings": {"strap": {"holds_n": 0}}}"#,
            "fastenings.strap.holds_n",
        ),
        (
            r#"{"fastenings": {"wire_tie": {"hole_mm": 1000}}}"#,
            "fastenings.wire_tie.hole_mm",
        ),
        (
            r#"{"faces": {"metal": {"gap_mm": -0.1}}}"#,
            "faces.metal.gap_mm",
        ),
        (
            r#"{"adhesives": {"epoxy": {"cautions": ["glue.unheard-of"]}}}"#,
            "adhesives.epoxy.cautions",
        ),
        (r#"{"minutes": {"fotograph": 2}}"#, "minutes.fotograph"),
    ] {
        let refused = Catalogue::with_json(text.as_bytes())
            .unwrap_err()
            .to_string();
        assert!(refused.starts_with(path), "{text}: {refused}");
    }
}

#[test]
fn a_stand_in_that_the_maker_chose_is_what_is_glued() {
    let mut cell = part(
        "cell",
        PartKind::Cell,
        rectangle(40.0, 50.0),
        1.5,
        2.2,
        "card",
    );
    cell.stand_in = Some(piece::StandIn {
        form: StandInForm::Card,
        why: "recycled".into(),
    });
    let p = plan(&piece(vec![cell]));
    assert!(
        p.findings.iter().all(|f| f.level != Level::Stop),
        "{:?}",
        p.findings
    );
    assert!(p.steps.iter().any(|s| s.id == "stand-in.cell"));
    assert!(p.steps.iter().any(|s| s.id == "set-aside.cell"));
}

/// The id of one part may end in a dot and the id of another.
#[test]
fn a_support_waits_for_its_own_part_and_no_other() {
    let own = Part {
        id: id("a"),
        back_films: vec![BackFilm::LooseFoil],
        ..shell()
    };
    let other = Part {
        id: id("x.a"),
        back_films: vec![BackFilm::OldAdhesive],
        ..plate()
    };
    let found = plan(&piece(vec![own, other]));
    let fill = found.steps.iter().find(|s| s.id == "fill.a").unwrap();
    assert_eq!(fill.after, ["cut-supports", "strip-foil.a", "clean"]);
}

#[test]
fn figures_say_the_unit_of_each_rule() {
    let found = plan(&piece(vec![plate()]));
    let unit = |code: &str| {
        let figure = found.figures.iter().find(|f| f.code == code).unwrap();
        figure.unit.clone()
    };
    assert_eq!(unit("rules.gravity_m_s2"), "m/s²");
    assert_eq!(unit("rules.unknown_density_g_cm3"), "g/cm³");
    assert_eq!(unit("rules.shock_g"), "times gravity");
    assert_eq!(unit("rules.tie_above_g"), "g");
    assert_eq!(unit("rules.air_gap_mm"), "mm");
    assert_eq!(unit("rules.wire_above_horizontal_deg"), "degrees");
    assert_eq!(unit("rules.warmest_c"), "degrees Celsius");
    assert_eq!(unit("rules.poisson"), "");
}

/// A seed's worth of damage: bytes changed, cut and doubled. Nothing panics, and what is read plans the piece.
#[test]
fn damaged_catalogues_are_refused_or_plan_the_piece() {
    let whole = serde_json::to_vec(&catalogue()).unwrap();
    let mut dice = shape::Random::new(5);
    let p = piece(vec![plate()]);
    for _ in 0..60 {
        let mut bytes = whole.clone();
        for _ in 0..=dice.below(3) {
            let at = dice.below(bytes.len());
            match dice.below(3) {
                0 => bytes[at] = b"0123456789-.e[]{},:\"nul"[dice.below(23)],
                1 => bytes.truncate(at),
                _ => bytes.insert(at, b'9'),
            }
            if bytes.is_empty() {
                break;
            }
        }
        if let Ok(own) = Catalogue::with_json(&bytes) {
            let mut built = p.clone();
            built.build = Some(mount::plan(&p, &own, &Silent).unwrap());
            built.check_sound().unwrap();
        }
    }
}
