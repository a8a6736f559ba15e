//! A build plan made by rule for any piece, so that sheets and guide have something to show. Its numbers are made up.

#![allow(dead_code, reason = "each user takes its share")]

use piece::{
    ApplyAs, BillKind, BillLine, BillUnit, BoardPlan, Bond, BuildPlan, Caution, CutPlacement,
    CutSheet, Depth, Fastener, FastenerKind, Figure, Finding, Hanging, Hole, Joint, Level, Pack,
    PartDepth, PartKind, Phrase, Piece, Spacer, Stage, Standing, Step, Support, SupportKind,
    TapePiece,
};
use shape::{Point, offset};

fn phrase(text: &str) -> Phrase {
    Phrase::new("test.phrase", text)
}

/// The piece with a plan: a bead round the inside of each wide part, tape under ribbons, dots under small parts, a
/// fill in each shell, one tie, and a step or two for each part.
pub fn with_plan(mut piece: Piece) -> Piece {
    let mut bonds = Vec::new();
    let mut supports = Vec::new();
    for part in &piece.parts {
        let outline = part.shown_outline();
        let b = outline.bounds();
        let inner = offset(std::slice::from_ref(&outline), -4.0);
        let tape = part.kind == PartKind::Ribbon;
        let mut bond = Bond {
            part: part.id.clone(),
            joint: Joint::PartToBoard,
            faces: ["fr4".into(), "mount-board".into()],
            adhesive: if tape {
                "foam-tape"
            } else {
                "neutral-silicone"
            }
            .into(),
            apply_as: ApplyAs::Bead,
            paths: Vec::new(),
            perimeter_paths: 0,
            dots: Vec::new(),
            tapes: Vec::new(),
            bead_mm: 3.0,
            spread_mm: 5.0,
            bond_line_mm: 1.0,
            area_mm2: 100.0,
            dose_ml: 0.0,
            lay_minutes: Some(2.0),
            open_minutes: Some(15.0),
            utilisation: 0.4,
            loads: Vec::new(),
            reasons: Vec::new(),
            runners_up: Vec::new(),
        };
        if tape {
            let c = outline.centroid();
            bond.apply_as = ApplyAs::Tape;
            bond.tapes.push(TapePiece {
                outer: [(-4.0, -2.0), (4.0, -2.0), (4.0, 2.0), (-4.0, 2.0)]
                    .map(|(x, y)| Point::new(c.x + x, c.y + y))
                    .to_vec(),
                width_mm: 4.0,
                length_mm: 8.0,
            });
            (bond.bead_mm, bond.spread_mm) = (0.0, 0.0);
        } else if inner.is_empty() || b.width_mm().min(b.height_mm()) < 14.0 {
            bond.apply_as = ApplyAs::Dots;
            bond.dots.push(outline.centroid());
            bond.spread_mm = 3.0;
            bond.dose_ml = 0.1;
        } else {
            for ring in inner.iter().flat_map(shape::Outline::rings) {
                let mut path = ring.points().to_vec();
                path.extend(path.first().copied());
                bond.dose_ml += 0.007 * ring.length_mm();
                bond.paths.push(path);
            }
            bond.perimeter_paths = bond.paths.len();
        }
        bonds.push(bond);
        if part.kind == PartKind::Shell {
            for fill in offset(std::slice::from_ref(&outline), -3.0).iter().take(1) {
                let (outer, holes) = Support::rings_of(fill);
                supports.push(Support {
                    part: part.id.clone(),
                    kind: SupportKind::Fill,
                    outer,
                    holes,
                    layers_mm: vec![3.2, 3.2],
                    materials: vec!["pe-foam-27".into(), "pe-foam-27".into()],
                    height_mm: 6.2,
                    compression: 0.03,
                });
            }
        }
    }
    let steps = steps_of(&piece);
    let elapsed = steps.iter().map(|s| s.end_minute).fold(0.0, f64::max);
    let cut_sheets = vec![CutSheet {
        material: "pe-foam-27".into(),
        thickness_mm: 3.2,
        size_mm: [600.0, 400.0],
        placements: (0..supports.len())
            .map(|n| CutPlacement {
                support: n,
                layer: 0,
                x: 20.0 + 100.0 * n as f64,
                y: 20.0,
                turn_deg: 0.0,
            })
            .collect(),
        used: 0.2,
    }];
    let first = piece.parts.first();
    let fasteners = first.map(|part| Fastener {
        part: part.id.clone(),
        kind: FastenerKind::WireTie,
        holes: vec![
            Hole {
                x: 5.0,
                y: 5.0,
                diameter_mm: 1.5,
            },
            Hole {
                x: 9.0,
                y: 5.0,
                diameter_mm: 1.5,
            },
        ],
        holds_n: 20.0,
        why: phrase("heavier than 100 g"),
    });
    let depth = Depth {
        needed_mm: 30.0,
        rebate_mm: piece.frame.rebate_depth_mm,
        spare_mm: None,
        inside_mm: 22.0,
        layers: Vec::new(),
        spacer: Spacer {
            needed_mm: 22.0,
            stack_mm: vec![22.0],
            run_mm: 1300.0,
        },
        parts: piece
            .parts
            .iter()
            .map(|p| PartDepth {
                part: p.id.clone(),
                foot_mm: 1.0,
                top_mm: 1.0 + p.thickness_mm.unwrap_or(2.0),
                clearance_mm: 6.0,
                height_unknown: false,
            })
            .collect(),
        stock: Vec::new(),
    };
    let plan = BuildPlan {
        made_from: String::new(),
        depth,
        supports,
        cut_sheets,
        bonds,
        fasteners: fasteners.into_iter().collect(),
        board: BoardPlan {
            material: "mount-board".into(),
            thickness_mm: 2.0,
            size_mm: [300.0, 400.0],
            mass_g: 200.0,
            carries_g: 400.0,
            bow_mm: 0.4,
            bow_allowed_mm: 1.5,
            would_do: Vec::new(),
        },
        hanging: Hanging {
            masses: Vec::new(),
            hanger: "d-ring".into(),
            count: 2,
            rating_g: 9000.0,
            times: 6.0,
            below_top_mm: 120.0,
            off_centre_mm: 2.0,
            wire: None,
            notes: Vec::new(),
        },
        mass_g: 2340.0,
        hands_on_minutes: steps.iter().map(|s| s.hands_on_minutes).sum(),
        elapsed_minutes: elapsed,
        critical_minutes: elapsed,
        steps,
        later: vec![Step {
            id: "reopen".into(),
            code: "test.reopen".into(),
            title: "Open the frame again".into(),
            stage: Stage::Later,
            ..blank_step()
        }],
        bill: bill(),
        figures: vec![Figure {
            code: "test.figure".into(),
            name: "Lap shear strength of neutral silicone".into(),
            value: 0.4,
            unit: "MPa".into(),
            source: "adhesives handbook, table of families".into(),
            standing: Standing::Recalled,
        }],
        findings: vec![Finding {
            level: Level::Fix,
            code: "test.finding".into(),
            parts: Vec::new(),
            text: "The spacer leaves 2.1 mm to the glazing, 3 mm are asked.".into(),
            remedy: "Take the next spacer up.".into(),
            phrases: Vec::new(),
        }],
    };
    piece.build = Some(plan);
    let mark = piece.mark();
    if let Some(plan) = &mut piece.build {
        plan.made_from = mark;
    }
    piece
}

fn bill() -> Vec<BillLine> {
    let line = |kind, item: &str, title: &str, amount, unit, packs| BillLine {
        kind,
        item: item.into(),
        title: phrase(title),
        amount,
        unit,
        packs,
        parts: Vec::new(),
    };
    let pack = |size, count, form: &str| Pack {
        size,
        count,
        form: form.into(),
    };
    vec![
        line(
            BillKind::Frame,
            "frame",
            "Box frame 300 × 400 mm, rebate 35 mm",
            1.0,
            BillUnit::Piece,
            vec![pack(1.0, 1, "")],
        ),
        line(
            BillKind::Adhesive,
            "neutral-silicone",
            "Neutral silicone, clear",
            14.2,
            BillUnit::Ml,
            vec![pack(50.0, 1, "tube")],
        ),
        line(
            BillKind::Support,
            "pe-foam-27",
            "Polyethylene foam, 27 kg/m³",
            24000.0,
            BillUnit::Mm2,
            vec![pack(240_000.0, 1, "sheet, 600 × 400 mm")],
        ),
        line(
            BillKind::Tape,
            "foam-tape",
            "Acrylic foam tape, 4 mm wide",
            64.0,
            BillUnit::Mm,
            vec![pack(5000.0, 1, "roll")],
        ),
        line(
            BillKind::Consumable,
            "cloths",
            "Cloths without lint",
            6.0,
            BillUnit::Piece,
            Vec::new(),
        ),
    ]
}

fn blank_step() -> Step {
    Step {
        id: String::new(),
        code: String::new(),
        params: std::collections::BTreeMap::new(),
        title: String::new(),
        how: vec![phrase(
            "Go about it calmly, with both hands, on a cleared bench.",
        )],
        stage: Stage::Prepare,
        parts: Vec::new(),
        after: Vec::new(),
        minutes: 10.0,
        hands_on_minutes: 10.0,
        clamps: 0,
        start_minute: 0.0,
        end_minute: 10.0,
        slack_minutes: 0.0,
        cautions: Vec::new(),
    }
}

fn steps_of(piece: &Piece) -> Vec<Step> {
    let caution = Caution {
        code: "test.fumes".into(),
        params: std::collections::BTreeMap::new(),
        text: "Glue gives off fumes while it cures.".into(),
        protection: vec![phrase("Open windows"), phrase("nitrile gloves")],
        rule: phrase("Never work with it in a closed room. Local rules come first."),
        parts: Vec::new(),
    };
    let mut steps = Vec::new();
    let mut clock = 0.0;
    let mut push = |id: String, title: String, stage, parts, minutes: f64, hands: f64, cautions| {
        steps.push(Step {
            code: id.split('.').next().unwrap_or_default().to_owned(),
            id,
            title,
            stage,
            parts,
            minutes,
            hands_on_minutes: hands,
            start_minute: clock,
            end_minute: clock + minutes,
            cautions,
            ..blank_step()
        });
        clock += if hands > 0.0 { hands } else { 0.0 };
    };
    for part in &piece.parts {
        let name = &part.name;
        push(
            format!("clean.{}", part.id),
            format!("Clean the back of the {name}"),
            Stage::Prepare,
            vec![part.id.clone()],
            4.0,
            4.0,
            vec![],
        );
    }
    push(
        "dry-fit".into(),
        "Lay all parts out dry".into(),
        Stage::DryFit,
        piece.parts.iter().map(|p| p.id.clone()).collect(),
        25.0,
        25.0,
        vec![],
    );
    push(
        "transfer".into(),
        "Carry the places over".into(),
        Stage::Transfer,
        vec![],
        20.0,
        20.0,
        vec![],
    );
    for part in &piece.parts {
        let name = &part.name;
        push(
            format!("glue.{}", part.id),
            format!("Glue the {name}"),
            Stage::Bond,
            vec![part.id.clone()],
            6.0,
            6.0,
            vec![caution.clone()],
        );
    }
    push(
        "cure".into(),
        "Let the glue cure".into(),
        Stage::Bond,
        vec![],
        1440.0,
        0.0,
        vec![],
    );
    push(
        "close".into(),
        "Close the frame".into(),
        Stage::Close,
        vec![],
        15.0,
        15.0,
        vec![],
    );
    steps
}
