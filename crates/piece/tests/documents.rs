//! The piece document: what is read, what is refused and where the refusal points.

#![allow(missing_docs, clippy::unwrap_used)]

use piece::{
    AssemblyAxis, BackCutout, BackFilm, Boss, BuildChoices, Caption, Cutout, Device, DeviceSide,
    Face, Frame, FreedBy, Hazard, Home, KeepOut, Margin, Moulding, Part, PartId, PartKind, Piece,
    PieceError, Placement, Protrusion, Sanitization, ShopRecords, Spread, StandIn, StandInForm,
    StorageRecord, Style, Transfer, Turns, json_schema,
};
use serde_json::{Value, json};
use shape::{Outline, Point};

fn frame() -> Frame {
    Frame {
        size_mm: [300.0, 400.0],
        lip_mm: 6.0,
        board_clearance_mm: 2.0,
        rebate_depth_mm: Some(35.0),
        margin_mm: Margin {
            left: 12.0,
            right: 12.0,
            top: 12.0,
            bottom: 18.0,
        },
        spacer_width_mm: 5.0,
        glazing: Some("float-2".into()),
    }
}

fn plate(id: &str) -> Part {
    let outline = Outline::try_new(
        [[0.0, 0.0], [40.1, 0.0], [40.1, 30.7], [0.0, 30.7]]
            .map(Point::from)
            .to_vec(),
        vec![
            [[5.0, 5.0], [5.0, 9.3], [9.1, 5.0]]
                .map(Point::from)
                .to_vec(),
        ],
    )
    .unwrap();
    Part::new(
        PartId::try_new(id).unwrap(),
        "Plate",
        PartKind::Other,
        outline,
    )
}

/// Every field filled.
fn full() -> Piece {
    let mut piece = Piece::new("A piece", frame());
    piece.device = Some(Device {
        name: "Recorder".into(),
        maker: Some("Nobody".into()),
        year: Some("about 1990".into()),
    });
    piece.layout.style = Style::Knolled;
    piece.layout.spread = Spread::Up;
    piece.layout.gap_mm = 3.5;
    piece.layout.nesting = false;
    piece.layout.keep_outs = vec![KeepOut {
        x: 100.0,
        y: 20.0,
        w: 60.0,
        h: 20.0,
        why: "plaque".into(),
    }];
    let mut part = plate("p1");
    part.quantity = 2;
    part.sigma_mm = Some(0.05);
    part.thickness_mm = Some(1.6);
    part.mass_g = Some(11.2);
    part.back_face = Some("fr4".into());
    part.face_shown = Face::Back;
    part.hazards = vec![Hazard::LithiumCell, Hazard::SharpEdge];
    part.turns = Turns::Quarter;
    part.group = Some("audio".into());
    part.stand_in = Some(StandIn {
        form: StandInForm::Print,
        why: "a cell is never mounted".into(),
    });
    part.cutout = Some(Cutout {
        image: "p1.png".into(),
        px_per_mm: 20.0,
        origin_mm: [-0.5, -0.5],
    });
    part.back_cutout = Some(BackCutout {
        image: "p1-back.png".into(),
        px_per_mm: 18.0,
        origin_mm: [-0.4, -0.6],
        turn_deg: 0.7,
    });
    part.home = Some(Home {
        x: 12.0,
        y: 40.5,
        turn_deg: 90.0,
        layer: 3,
    });
    part.wall_mm = Some(1.5);
    part.inner_depth_mm = Some(6.0);
    let square = |at: f64, side: f64| {
        Outline::rectangle(Point::new(at, at), Point::new(at + side, at + side)).unwrap()
    };
    part.openings = vec![square(20.0, 3.0)];
    part.bosses = vec![Boss {
        outline: square(30.0, 2.0),
        screw_mm: Some(2.0),
    }];
    part.protrusions = vec![Protrusion {
        outline: square(10.0, 4.0),
        height_mm: 1.2,
    }];
    part.lift_mm = Some(3.0);
    part.back_films = vec![BackFilm::Graphite, BackFilm::LooseFoil];
    part.freed_by = Some(FreedBy::Desoldering);
    part.trim = Some("the tab at the left".into());
    part.storage = Some(StorageRecord {
        medium: Some("flash chip".into()),
        sanitization: Some(Sanitization::Purge),
        technique: Some("block erase".into()),
        by: Some("the bench".into()),
        on: Some("2026-03-01".into()),
    });
    piece.parts = vec![part, plate("p2")];
    piece.placements = vec![Placement {
        part: PartId::try_new("p1").unwrap(),
        x: 0.1 + 0.2,
        y: 1.0 / 3.0,
        turn_deg: -33.3,
        pinned: true,
    }];
    piece.captions = vec![Caption {
        part: PartId::try_new("p1").unwrap(),
        text: "Plate\nof two".into(),
        x: 10.0,
        y: 10.0,
        w: 30.0,
        h: 11.0,
        letter_mm: Some(3.5),
        leader: vec![Point::new(12.0, 14.0), Point::new(30.0, 40.0)],
    }];
    let id = |text: &str| PartId::try_new(text).unwrap();
    piece.axes = vec![AssemblyAxis {
        parts: vec![id("p1"), id("p2")],
        lines: vec![[Point::new(20.0, 15.0), Point::new(20.0, 90.0)]],
    }];
    piece.choices = BuildChoices {
        board: Some("fibreboard-6".into()),
        backing: Some("fibreboard-3".into()),
        moulding: Some(Moulding {
            width_mm: 18.0,
            height_mm: 42.0,
            material: "oak".into(),
        }),
        air_gap_mm: Some(6.0),
        adhesives: [(id("p2"), "epoxy".into())].into(),
        reversible: Some(true),
        unaired: Some(false),
        warmest_c: Some(35.0),
        shock_g: Some(30.0),
        tie_above_g: Some(120.0),
        tie_above_utilisation: Some(0.4),
        transfer: Some(Transfer::Tape),
        hands: Some(2),
        clamps: Some(6),
        made_safe: [id("p2")].into(),
        lacks: [FreedBy::ReworkStation].into(),
        opened_from: Some(DeviceSide::Back),
    };
    piece.shop = ShopRecords {
        intake: Some(json!({"format": "setapart-intake"})),
        lots: Some(json!({"format": "setapart-lots"})),
        rates: Some(json!({"format": "setapart-rates"})),
        parcel: Some(json!({"mass_g": 2500})),
    };
    piece
}

/// The properties that the schema has and none of the values fills.
fn unfilled(schema: &Value, node: &Value, values: &[&Value], path: &str, found: &mut Vec<String>) {
    let node = match node["$ref"].as_str() {
        Some(at) => schema.pointer(at.trim_start_matches('#')).unwrap(),
        None => node,
    };
    for more in node["anyOf"].as_array().into_iter().flatten() {
        unfilled(schema, more, values, path, found);
    }
    if node["items"].is_object() {
        let items: Vec<&Value> = values.iter().flat_map(|v| v.as_array().unwrap()).collect();
        unfilled(schema, &node["items"], &items, path, found);
    }
    for (name, inner) in node["properties"].as_object().into_iter().flatten() {
        let there: Vec<&Value> = values.iter().filter_map(|v| v.get(name)).collect();
        let path = format!("{path}.{name}");
        if there.is_empty() {
            found.push(path);
        } else {
            unfilled(schema, inner, &there, &path, found);
        }
    }
}

#[test]
fn the_full_piece_fills_every_field_but_the_plan_and_arcs() {
    let schema = json_schema();
    let value: Value = serde_json::from_str(&full().to_json()).unwrap();
    let mut found = Vec::new();
    unfilled(&schema, &schema, &[&value], "", &mut found);
    assert_eq!(
        found,
        [
            ".build",
            ".parts.bosses.outline.exact",
            ".parts.openings.exact",
            ".parts.outline.exact",
            ".parts.protrusions.outline.exact"
        ]
    );
}

#[test]
fn a_piece_reads_back_to_the_last_bit() {
    for piece in [Piece::new("Empty", frame()), full()] {
        let text = piece.to_json();
        assert!(text.ends_with("}\n"));
        let again = Piece::from_json(text.as_bytes()).unwrap();
        assert_eq!(again, piece);
        assert_eq!(again.to_json(), text);
    }
}

/// A plate of 40 x 30 with one corner of radius 10 as an arc, and its polygon by the closed form.
fn with_arc() -> Value {
    let mut value: Value = serde_json::from_str(&full().to_json()).unwrap();
    let mut outer = vec![[0.0, 0.0], [40.0, 0.0]];
    // 64 steps to the quarter: a chord is off by 10 (1 - cos(pi/256)) = 0.0008 mm.
    for k in 0..=64 {
        let (s, c) = (f64::from(k) * std::f64::consts::PI / 128.0).sin_cos();
        outer.push([30.0 + 10.0 * c, 20.0 + 10.0 * s]);
    }
    outer.push([0.0, 30.0]);
    let bulge = (std::f64::consts::PI / 8.0).tan();
    value["parts"][0]["outline"] = json!({
        "outer": outer, "holes": [],
        "exact": { "outer": [[0, 0, 0], [40, 0, 0], [40, 20, bulge], [30, 30, 0], [0, 30, 0]], "holes": [] },
    });
    value
}

#[test]
fn lines_and_arcs_beside_the_points_are_kept() {
    let piece = Piece::from_json(with_arc().to_string().as_bytes()).unwrap();
    let exact = piece.parts[0].outline.exact().unwrap();
    assert_eq!(exact.counts(), (4, 1));
    let again = Piece::from_json(piece.to_json().as_bytes()).unwrap();
    assert_eq!(again, piece);
    assert_eq!(again.to_json(), piece.to_json());
    assert!(piece.parts[1].outline.exact().is_none());
    let written: Value = serde_json::from_str(&piece.to_json()).unwrap();
    assert!(written["parts"][1]["outline"].get("exact").is_none());
}

#[test]
fn lines_and_arcs_that_tell_another_outline_are_refused() {
    type Change = fn(&mut Value);
    let changes: [(Change, &str); 6] = [
        (
            |e| e["outer"][3][1] = json!(30.02),
            "mm from outer and holes",
        ),
        (
            |e| e["outer"][2][2] = json!(-0.4142),
            "mm from outer and holes",
        ),
        (
            |e| e["holes"] = json!([[[5, 5, 1], [8, 5, 1]]]),
            "number of holes",
        ),
        (|e| e["outer"][2][2] = json!(1e9), "point 2"),
        (|e| e["outer"] = json!([[0, 0, 0]]), "two points"),
        (|e| e["outer"][0] = json!([0, 0]), "invalid length 2"),
    ];
    for (change, words) in changes {
        let mut value = with_arc();
        change(&mut value["parts"][0]["outline"]["exact"]);
        let refused = Piece::from_json(value.to_string().as_bytes())
            .unwrap_err()
            .to_string();
        assert!(refused.starts_with("parts[0].outline"), "{refused}");
        assert!(refused.contains(words), "{refused}");
    }
}

#[test]
fn what_is_not_known_is_not_written() {
    let value: Value = serde_json::from_str(&Piece::new("Empty", frame()).to_json()).unwrap();
    assert!(value.get("device").is_none());
    let mut piece = full();
    piece.parts = vec![plate("p1")];
    let value: Value = serde_json::from_str(&piece.to_json()).unwrap();
    for field in ["sigma_mm", "thickness_mm", "mass_g", "back_face", "wall_mm"] {
        assert!(value["parts"][0].get(field).is_none(), "{field}");
    }
}

/// The document of the project's design page, with an outline in place of its dots.
#[test]
fn the_document_of_the_design_page_is_read() {
    let text = r#"{ "format": "setapart-piece", "version": 1, "name": "x",
      "frame": { "size_mm": [300, 400], "lip_mm": 6, "board_clearance_mm": 2, "rebate_depth_mm": 35,
                 "margin_mm": { "left": 12, "right": 12, "top": 12, "bottom": 18 }, "spacer_width_mm": 5,
                 "glazing": "float-2" },
      "layout": { "style": "exploded", "gap_mm": 4, "spread": "right", "keep_outs": [] },
      "parts": [ { "id": "p1", "name": "Main board", "kind": "board", "quantity": 1,
                   "outline": { "outer": [[0,0],[30,0],[30,20]], "holes": [] }, "sigma_mm": 0.05,
                   "thickness_mm": 1.6, "mass_g": 11.2, "back_face": "fr4", "face_shown": "front",
                   "hazards": [], "turns": "none", "group": null, "stand_in": null, "cutout": null,
                   "home": { "x": 12.0, "y": 40.5, "turn_deg": 0, "layer": 3 } } ],
      "placements": [ { "part": "p1", "x": 80.2, "y": 210.0, "turn_deg": 0, "pinned": false } ],
      "captions":  [ { "part": "p1", "text": "Main board", "x": 60, "y": 260, "w": 42, "h": 6,
                       "leader": [[81, 262], [85, 220]] } ] }"#;
    let piece = Piece::from_json(text.as_bytes()).unwrap();
    assert_eq!(piece.parts[0].kind, PartKind::Board);
    assert_eq!(piece.captions[0].leader.len(), 2);
    // Window, board and field by the page's words: size less the lip on each side; size less the
    // clearance; window less margin and spacer.
    let (window, board, field) = (
        piece.frame.window(),
        piece.frame.board(),
        piece.frame.field(),
    );
    assert_eq!((window.width_mm(), window.height_mm()), (288.0, 388.0));
    assert_eq!((board.width_mm(), board.height_mm()), (298.0, 398.0));
    assert_eq!((field.min.x, field.min.y), (17.0, 23.0));
    assert_eq!((field.max.x, field.max.y), (271.0, 371.0));
}

/// A change to a sound document, the path that its refusal must name, and a word of its reason.
#[test]
fn each_malformed_document_is_refused_with_the_path_of_the_bad_field() {
    type Change = fn(&mut Value);
    let cases: [(Change, &str, &str); 45] = [
        (|d| d["format"] = json!("other"), "format", "setapart-piece"),
        (|d| d["version"] = json!(2), "version", "version 1"),
        (|d| d["version"] = json!("1"), "version", "invalid type"),
        (|d| d["name"] = json!(7), "name", "invalid type"),
        (
            |d| {
                d.as_object_mut().unwrap().remove("frame");
            },
            ".",
            "missing field `frame`",
        ),
        (
            |d| d["frame"]["size_mm"] = json!([300]),
            "frame.size_mm",
            "length 2",
        ),
        (
            |d| d["frame"]["size_mm"] = json!([300, 4e9]),
            "frame.size_mm",
            "10 to 10000",
        ),
        (
            |d| d["frame"]["lip_mm"] = json!(-1),
            "frame.lip_mm",
            "0 to 10000",
        ),
        (
            |d| d["frame"]["margin_mm"]["left"] = json!(280),
            "frame.margin_mm",
            "nothing of the window",
        ),
        (
            |d| d["frame"]["board_clearance_mm"] = json!(300),
            "frame.board_clearance_mm",
            "nothing of the board",
        ),
        (
            |d| d["frame"]["rebate"] = json!(35),
            "frame.rebate",
            "unknown field",
        ),
        (
            |d| d["layout"]["style"] = json!("scattered"),
            "layout.style",
            "unknown variant",
        ),
        (
            |d| d["layout"]["gap_mm"] = json!(-0.1),
            "layout.gap_mm",
            "0 to 100",
        ),
        (
            |d| d["layout"]["keep_outs"][0]["w"] = json!(0),
            "layout.keep_outs[0]",
            "positive width",
        ),
        (
            |d| d["parts"][1]["id"] = json!("p1"),
            "parts[1].id",
            "earlier part",
        ),
        (
            |d| d["parts"][1]["id"] = json!(""),
            "parts[1].id",
            "1 to 64 characters",
        ),
        (
            |d| d["parts"][0]["kind"] = json!("gizmo"),
            "parts[0].kind",
            "unknown variant",
        ),
        (
            |d| d["parts"][0]["outline"] = json!({}),
            "parts[0].outline",
            "missing field `outer`",
        ),
        (
            |d| d["parts"][0]["outline"]["outer"][2] = json!([1]),
            "parts[0].outline.outer[2]",
            "length 2",
        ),
        (
            |d| d["parts"][0]["outline"]["outer"][2] = json!(["a", 1]),
            "parts[0].outline.outer[2][0]",
            "invalid type",
        ),
        (
            |d| d["parts"][0]["outline"]["outer"] = json!([[0, 0], [1, 1]]),
            "parts[0].outline",
            "three distinct points",
        ),
        (
            |d| d["parts"][0]["outline"]["outer"] = json!([[0, 0], [9, 9], [9, 0], [0, 8]]),
            "parts[0].outline",
            "crosses or touches itself",
        ),
        (
            |d| d["parts"][0]["outline"]["holes"][0] = json!([[90, 90], [91, 90], [91, 91]]),
            "parts[0].outline",
            "outside the outer ring",
        ),
        (
            |d| d["parts"][0]["thickness_mm"] = json!(-1),
            "parts[0].thickness_mm",
            "0 to 500",
        ),
        (
            |d| d["parts"][0]["quantity"] = json!(1.5),
            "parts[0].quantity",
            "invalid type",
        ),
        (
            |d| d["parts"][0]["home"]["layer"] = json!(-1),
            "parts[0].home.layer",
            "invalid value",
        ),
        (
            |d| d["parts"][0]["colour"] = json!("red"),
            "parts[0].colour",
            "unknown field",
        ),
        (
            |d| d["parts"][0]["hazards"] = json!(["smell"]),
            "parts[0].hazards[0]",
            "unknown variant",
        ),
        (
            |d| d["placements"][0]["part"] = json!("p9"),
            "placements[0].part",
            "no part",
        ),
        (
            |d| d["placements"][0]["x"] = json!(null),
            "placements[0].x",
            "invalid type",
        ),
        (
            |d| d["placements"][0]["x"] = json!(1e9),
            "placements[0]",
            "within 100 m",
        ),
        (
            |d| d["parts"][0]["home"]["x"] = json!(-1e6),
            "parts[0].home",
            "within 100 m",
        ),
        (
            |d| d["parts"][0]["home"]["turn_deg"] = json!(1e300),
            "parts[0].home",
            "within 100 m",
        ),
        (
            |d| d["parts"][0]["cutout"]["px_per_mm"] = json!(0),
            "parts[0].cutout.px_per_mm",
            "0.001 to 10000",
        ),
        (
            |d| d["parts"][0]["cutout"]["origin_mm"][1] = json!(1e6),
            "parts[0].cutout.origin_mm",
            "within 100 m",
        ),
        (
            |d| d["parts"][0]["back_cutout"]["px_per_mm"] = json!(-18),
            "parts[0].back_cutout.px_per_mm",
            "0.001 to 10000",
        ),
        (
            |d| d["parts"][0]["back_cutout"]["turn_deg"] = json!(1e9),
            "parts[0].back_cutout.origin_mm",
            "within 100 m",
        ),
        (
            |d| d["layout"]["keep_outs"][0]["x"] = json!(1e6),
            "layout.keep_outs[0]",
            "within 100 m",
        ),
        (
            |d| d["captions"][0]["w"] = json!(1e6),
            "captions[0]",
            "within 100 m",
        ),
        (
            |d| d["captions"][0]["leader"][1][0] = json!(1e6),
            "captions[0].leader",
            "within 100 m",
        ),
        (
            |d| d["axes"][0]["lines"][0][1][0] = json!(-1e6),
            "axes[0].lines",
            "within 100 m",
        ),
        (
            |d| {
                let again = d["placements"][0].clone();
                d["placements"].as_array_mut().unwrap().push(again);
            },
            "placements[1].part",
            "placed twice",
        ),
        (
            |d| d["captions"][0]["part"] = json!("p9"),
            "captions[0].part",
            "no part",
        ),
        (
            |d| d["captions"][0]["w"] = json!(-1),
            "captions[0]",
            "not negative",
        ),
        (
            |d| d["captions"][0]["leader"] = json!([[1, 2, 3]]),
            "captions[0].leader[0]",
            "trailing characters",
        ),
    ];
    for (k, (change, path, reason)) in cases.into_iter().enumerate() {
        let mut document: Value = serde_json::from_str(&full().to_json()).unwrap();
        change(&mut document);
        let error = Piece::from_json(document.to_string().as_bytes()).unwrap_err();
        let (PieceError::Malformed { path: found, .. } | PieceError::Unsound { path: found, .. }) =
            &error
        else {
            panic!("case {k}: {error}");
        };
        assert_eq!(found, path, "case {k}: {error}");
        assert!(error.to_string().contains(reason), "case {k}: {error}");
    }
}

#[test]
fn a_text_that_is_not_json_is_refused_with_its_line() {
    for text in [
        "",
        "{",
        "not json",
        "[1, 2]",
        "{\"format\": \"setapart-piece\",,}",
    ] {
        let error = Piece::from_json(text.as_bytes()).unwrap_err();
        assert!(
            matches!(error, PieceError::Malformed { .. }),
            "{text}: {error}"
        );
    }
    let error = Piece::from_json(b"{\n\"name\": 7x}").unwrap_err();
    assert!(error.to_string().contains("line 2"), "{error}");
    let error = Piece::from_json(&[0xff, 0xfe, 0x00]).unwrap_err();
    assert!(matches!(error, PieceError::Malformed { .. }));
}

#[test]
fn what_follows_after_the_document_is_refused() {
    let text = full().to_json() + "{}";
    let error = Piece::from_json(text.as_bytes()).unwrap_err();
    assert!(
        error
            .to_string()
            .contains("more follows after the document"),
        "{error}"
    );
}

#[test]
fn numbers_that_no_float_holds_are_refused() {
    let text = full()
        .to_json()
        .replace("\"gap_mm\": 3.5", "\"gap_mm\": 1e999");
    assert!(text.contains("1e999"));
    let error = Piece::from_json(text.as_bytes()).unwrap_err();
    assert!(error.to_string().starts_with("layout.gap_mm: "), "{error}");
    let text = full()
        .to_json()
        .replace("\"gap_mm\": 3.5", "\"gap_mm\": NaN");
    assert!(Piece::from_json(text.as_bytes()).is_err());
}

#[test]
fn nesting_without_end_is_an_error_and_no_crash() {
    for open in ["[", "{\"device\":", "{\"parts\":[{\"outline\":{\"outer\":["] {
        let text = open.repeat(200_000);
        assert!(Piece::from_json(text.as_bytes()).is_err(), "{open}");
    }
}

#[test]
fn arrays_without_measure_are_an_error_and_no_crash() {
    // A ring of two hundred thousand points.
    let points: Vec<String> = (0..200_000).map(|k| format!("[{k},{}]", k % 7)).collect();
    let mut document: Value = serde_json::from_str(&full().to_json()).unwrap();
    document["parts"][0]["outline"]["outer"] = json!("RING");
    let text = document
        .to_string()
        .replace("\"RING\"", &format!("[{}]", points.join(",")));
    let error = Piece::from_json(text.as_bytes()).unwrap_err();
    assert!(
        error
            .to_string()
            .contains("has 200000 points, the limit is 20000"),
        "{error}"
    );

    // More parts than a frame can show.
    let mut piece = Piece::new("Many", frame());
    piece.parts = (0..2_001).map(|k| plate(&format!("p{k}"))).collect();
    let error = Piece::from_json(piece.to_json().as_bytes()).unwrap_err();
    assert_eq!(error.to_string(), "parts: has 2001, limit 2000");

    // More bytes than a document can have; refused before they are read.
    let blank = vec![b' '; (64 << 20) + 1];
    assert!(matches!(
        Piece::from_json(&blank).unwrap_err(),
        PieceError::TooLarge { .. }
    ));
}

#[test]
fn ids_have_one_to_sixty_four_characters_and_no_control_characters() {
    assert!(PartId::try_new("x".repeat(64)).is_ok());
    assert!(PartId::try_new("ß".repeat(64)).is_ok());
    for bad in [
        String::new(),
        "x".repeat(65),
        "a\nb".into(),
        "a\u{7f}".into(),
    ] {
        assert!(PartId::try_new(bad).is_err());
    }
}

#[test]
fn a_part_shown_from_the_back_is_mirrored_in_its_own_box() {
    let piece = full();
    let (shown, captured) = (piece.parts[0].shown_outline(), &piece.parts[0].outline);
    assert_eq!(shown.bounds(), captured.bounds());
    // The hole's lower-left corner at x = 5 comes to lie at 40.1 - 5.
    let right = shown.holes()[0].bounds().max.x;
    assert!((right - 35.1).abs() < 1e-12);
    assert_eq!(piece.parts[1].shown_outline(), piece.parts[1].outline);
}

#[test]
fn outlines_on_the_board_come_in_the_order_of_the_parts() {
    let mut piece = full();
    let mut second = piece.placements[0].clone();
    second.part = PartId::try_new("p2").unwrap();
    second.turn_deg = 0.0;
    second.x = 7.0;
    piece.placements.insert(0, second);
    let outlines = piece.outlines_on_board();
    let ids: Vec<&str> = outlines.iter().map(|(p, _)| p.id.as_str()).collect();
    assert_eq!(ids, ["p1", "p2"]);
    assert_eq!(outlines[1].1.bounds().min.x, 7.0);
    assert_eq!(piece.item_numbers()[&piece.parts[1].id], 2);
}

/// The schema is part of the document's promise. A change here is a change of the form: raise its
/// version where old documents are no longer read.
#[test]
fn the_schema_names_every_field_and_refuses_others() {
    let schema = json_schema();
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/piece.schema.json");
    if std::env::var_os("SETAPART_BLESS").is_some() {
        std::fs::write(&path, format!("{schema:#}\n")).unwrap();
    }
    let snapshot: Value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
    assert!(
        schema == snapshot,
        "the schema changed; if that is meant, SETAPART_BLESS=1 writes tests/piece.schema.json anew"
    );
    assert_eq!(schema["additionalProperties"], json!(false));
    // Every field that a full document writes has its place in the schema.
    let document: Value = serde_json::from_str(&full().to_json()).unwrap();
    for field in document.as_object().unwrap().keys() {
        assert!(schema["properties"].get(field).is_some(), "{field}");
    }
    let part = &schema["$defs"]["Part"]["properties"];
    for field in document["parts"][0].as_object().unwrap().keys() {
        assert!(part.get(field).is_some(), "{field}");
    }
}

#[test]
fn findings_sort_stops_first_whatever_their_order_was() {
    use piece::{Finding, Level};
    let make = |level, code: &str, part: &str| Finding {
        level,
        code: code.into(),
        parts: vec![PartId::try_new(part).unwrap()],
        text: String::new(),
        remedy: String::new(),
        phrases: Vec::new(),
    };
    let sorted = vec![
        make(Level::Stop, "b", "p1"),
        make(Level::Fix, "a", "p1"),
        make(Level::Fix, "a", "p2"),
        make(Level::Note, "a", "p1"),
    ];
    let mut shuffled = vec![
        sorted[3].clone(),
        sorted[1].clone(),
        sorted[0].clone(),
        sorted[2].clone(),
    ];
    Finding::sort(&mut shuffled);
    assert_eq!(shuffled, sorted);
}
