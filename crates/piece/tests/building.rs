//! The build plan in the document: read, written, refused, and known to be old.

#![allow(missing_docs, clippy::unwrap_used)]

use piece::{
    ApplyAs, BillKind, BillLine, BillUnit, BoardPlan, Bond, BuildPlan, Caution, CutPlacement,
    CutSheet, Depth, DepthLayer, DepthLayerKind, Fastener, FastenerKind, Figure, Frame, Hanging,
    Hole, Joint, Level, LoadCaseKind, LoadResult, Margin, MassLine, Moulding, Pack, Part,
    PartDepth, PartId, PartKind, Phrase, Piece, RunnerUp, Sourced, Spacer, Stage, Standing, Step,
    StockDepth, Support, SupportKind, TapePiece, Transfer, Wire,
};
use serde_json::{Value, json};
use shape::{Outline, Point};

fn id() -> PartId {
    PartId::try_new("p1").unwrap()
}

fn piece() -> Piece {
    let side = |v| Margin {
        left: v,
        right: v,
        top: v,
        bottom: v,
    };
    let mut piece = Piece::new(
        "A piece",
        Frame {
            size_mm: [200.0, 200.0],
            lip_mm: 6.0,
            board_clearance_mm: 2.0,
            rebate_depth_mm: Some(30.0),
            margin_mm: side(10.0),
            spacer_width_mm: 5.0,
            glazing: None,
        },
    );
    let outline = Outline::rectangle(Point::new(0.0, 0.0), Point::new(40.0, 20.0)).unwrap();
    piece.parts = vec![Part::new(id(), "Plate", PartKind::Other, outline)];
    piece.choices.moulding = Some(Moulding {
        width_mm: 20.0,
        height_mm: 40.0,
        material: "oak".into(),
    });
    piece.choices.transfer = Some(Transfer::Prick);
    piece.choices.adhesives.insert(id(), "epoxy".into());
    piece
}

/// Every list filled.
fn plan(piece: &Piece) -> BuildPlan {
    let points = [[1.0, 1.0], [39.0, 1.0], [39.0, 19.0]].map(Point::from);
    let phrase = || Phrase::new("a.b", "Lay 3 beads.").with("count", 3usize);
    BuildPlan {
        made_from: piece.mark(),
        depth: Depth {
            needed_mm: 24.0,
            rebate_mm: Some(30.0),
            spare_mm: Some(6.0),
            inside_mm: 12.0,
            layers: vec![DepthLayer {
                kind: DepthLayerKind::Glazing,
                name: "float-2".into(),
                thickness_mm: 2.0,
            }],
            spacer: Spacer {
                needed_mm: 12.0,
                stack_mm: vec![12.0],
                run_mm: 700.0,
            },
            parts: vec![PartDepth {
                part: id(),
                foot_mm: 2.0,
                top_mm: 7.0,
                clearance_mm: 5.0,
                height_unknown: true,
            }],
            stock: vec![StockDepth {
                name: "30".into(),
                rebate_mm: 30.0,
                spare_mm: 6.0,
            }],
        },
        supports: vec![Support {
            part: id(),
            kind: SupportKind::Fill,
            outer: points.to_vec(),
            holes: vec![],
            layers_mm: vec![3.0],
            materials: vec!["pe-foam".into()],
            height_mm: 2.9,
            compression: 0.03,
        }],
        cut_sheets: vec![CutSheet {
            material: "pe-foam".into(),
            thickness_mm: 3.0,
            size_mm: [300.0, 200.0],
            placements: vec![CutPlacement {
                support: 0,
                layer: 0,
                x: 5.0,
                y: 5.0,
                turn_deg: 90.0,
            }],
            used: 0.1,
        }],
        bonds: vec![Bond {
            part: id(),
            joint: Joint::PartToBoard,
            faces: ["abs".into(), "mount-board".into()],
            adhesive: "neutral-silicone".into(),
            apply_as: ApplyAs::Bead,
            paths: vec![points.to_vec()],
            perimeter_paths: 1,
            dots: vec![points[0]],
            tapes: vec![TapePiece {
                outer: points.to_vec(),
                width_mm: 12.0,
                length_mm: 20.0,
            }],
            bead_mm: 3.0,
            spread_mm: 7.0,
            bond_line_mm: 1.0,
            area_mm2: 300.0,
            dose_ml: 0.4,
            lay_minutes: Some(0.2),
            open_minutes: Some(10.0),
            utilisation: 0.2,
            loads: vec![LoadResult {
                load: LoadCaseKind::Peel,
                acts: 0.01,
                allowed: 0.05,
                utilisation: 0.2,
            }],
            reasons: vec![phrase()],
            runners_up: vec![RunnerUp {
                adhesive: "epoxy".into(),
                would_do: true,
                why: vec![phrase()],
            }],
        }],
        fasteners: vec![Fastener {
            part: id(),
            kind: FastenerKind::WireTie,
            holes: vec![Hole {
                x: 1.0,
                y: 2.0,
                diameter_mm: 1.5,
            }],
            holds_n: 20.0,
            why: phrase(),
        }],
        board: BoardPlan {
            material: "mount-board".into(),
            thickness_mm: 3.0,
            size_mm: [198.0, 198.0],
            mass_g: 90.0,
            carries_g: 100.0,
            bow_mm: 0.1,
            bow_allowed_mm: 1.0,
            would_do: vec!["fibreboard".into()],
        },
        hanging: Hanging {
            masses: vec![MassLine {
                what: phrase(),
                mass_g: 100.0,
                estimated: true,
            }],
            hanger: "d-ring".into(),
            count: 2,
            rating_g: 9000.0,
            times: 10.0,
            below_top_mm: 60.0,
            off_centre_mm: -1.0,
            wire: Some(Wire {
                name: "wire".into(),
                above_horizontal_deg: 30.0,
                tension_n: 9.0,
                rating_n: 100.0,
                length_mm: 300.0,
            }),
            notes: vec![phrase()],
        },
        mass_g: 1000.0,
        steps: vec![Step {
            id: "glue.p1".into(),
            code: "glue".into(),
            params: phrase().params,
            title: "Glue the plate".into(),
            how: vec![phrase()],
            stage: Stage::Bond,
            parts: vec![id()],
            after: vec![],
            minutes: 3.0,
            hands_on_minutes: 3.0,
            clamps: 1,
            start_minute: 0.0,
            end_minute: 3.0,
            slack_minutes: 0.0,
            cautions: vec![Caution {
                code: "solvent".into(),
                params: phrase().params,
                text: "Fumes.".into(),
                protection: vec![phrase()],
                rule: phrase(),
                parts: vec![id()],
            }],
        }],
        later: vec![],
        elapsed_minutes: 3.0,
        critical_minutes: 3.0,
        hands_on_minutes: 3.0,
        bill: vec![BillLine {
            kind: BillKind::Adhesive,
            item: "neutral-silicone".into(),
            title: phrase(),
            amount: 0.4,
            unit: BillUnit::Ml,
            packs: vec![Pack {
                size: 90.0,
                count: 1,
                form: "tube".into(),
            }],
            parts: vec![id()],
        }],
        figures: vec![Figure {
            code: "x".into(),
            name: "X".into(),
            value: 1.0,
            unit: "mm".into(),
            source: "recalled".into(),
            standing: Standing::Recalled,
        }],
        findings: vec![piece::Finding {
            level: Level::Note,
            code: "depth.x".into(),
            parts: vec![id()],
            text: "T.".into(),
            remedy: "R.".into(),
            phrases: Vec::new(),
        }],
    }
}

#[test]
fn a_piece_with_its_build_plan_reads_back_the_same() {
    let mut piece = piece();
    piece.build = Some(plan(&piece));
    let text = piece.to_json();
    let again = Piece::from_json(text.as_bytes()).unwrap();
    assert_eq!(again, piece);
    assert_eq!(again.to_json(), text);
}

#[test]
fn a_plan_is_known_to_be_old_once_anything_changed() {
    let mut piece = piece();
    assert!(!piece.build_is_current());
    piece.build = Some(plan(&piece));
    assert!(piece.build_is_current());
    piece.parts[0].mass_g = Some(3.0);
    assert!(!piece.build_is_current());
    // A part that went leaves an old plan behind, and a document that can still be read.
    piece.parts.clear();
    piece.choices.adhesives.clear();
    assert!(Piece::from_json(piece.to_json().as_bytes()).is_ok());
}

#[test]
fn numbers_in_a_plan_that_cannot_be_are_refused_by_name() {
    let mut piece = piece();
    piece.build = Some(plan(&piece));
    let whole: Value = serde_json::from_str(&piece.to_json()).unwrap();
    type Change = fn(&mut Value);
    let changes: [(Change, &str); 6] = [
        (
            |b| b["supports"][0]["outer"][0][0] = json!(1e12),
            "build.supports[0]",
        ),
        (|b| b["bonds"][0]["dose_ml"] = json!(-1), "build.bonds[0]"),
        (
            |b| b["bonds"][0]["tapes"][0]["outer"][0][1] = json!(1e300),
            "build.bonds[0]",
        ),
        (
            |b| b["cut_sheets"][0]["placements"][0]["support"] = json!(7),
            "build.cut_sheets[0]",
        ),
        (|b| b["steps"][0]["minutes"] = json!(-3), "build.steps[0]"),
        (|b| b["bonds"][0]["unheard_of"] = json!(1), "build.bonds[0]"),
    ];
    for (change, path) in changes {
        let mut value = whole.clone();
        change(&mut value["build"]);
        let refused = Piece::from_json(value.to_string().as_bytes())
            .unwrap_err()
            .to_string();
        assert!(refused.starts_with(path), "{refused}");
    }
}

#[test]
fn choices_that_cannot_be_are_refused_by_name() {
    let mut piece = piece();
    piece.choices.shock_g = Some(-40.0);
    let refused = piece.check_sound().unwrap_err().to_string();
    assert!(refused.contains("choices.shock_g"), "{refused}");
    piece.choices.shock_g = None;
    piece
        .choices
        .adhesives
        .insert(PartId::try_new("nobody").unwrap(), "epoxy".into());
    let refused = piece.check_sound().unwrap_err().to_string();
    assert!(refused.contains("choices.adhesives"), "{refused}");
}

#[test]
fn a_number_without_a_source_is_the_users_own() {
    let own: Sourced<f64> = serde_json::from_str(r#"{"value": 2.5}"#).unwrap();
    assert_eq!(own.standing, Standing::Own);
}
