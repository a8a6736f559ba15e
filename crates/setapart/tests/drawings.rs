//! `capture` of drawings: the same shape of JSON as photos give, without a camera.

mod common;

use common::{folder, run};
use std::fs;
use std::path::PathBuf;

const DXF: &str = "0\nSECTION\n2\nENTITIES\n0\nLWPOLYLINE\n8\nlid\n70\n1\n10\n0\n20\n0\n10\n40\n20\n0\n10\n40\n20\n30\n10\n0\n20\n30\n0\nCIRCLE\n10\n10\n20\n10\n40\n2\n0\nLINE\n10\n50\n20\n0\n11\n60\n21\n0\n0\nENDSEC\n0\nEOF\n";

fn file(test: &str, name: &str, text: &str) -> PathBuf {
    let path = folder(test).join(name);
    fs::write(&path, text).expect("the file is written");
    path
}

#[test]
fn a_drawing_gives_outlines_as_a_photo_does() {
    let path = file("a_drawing_gives_outlines", "lid.dxf", DXF);
    let done = run([
        "capture".as_ref(),
        path.as_os_str(),
        "--json".as_ref(),
        "--thickness".as_ref(),
        "1.6".as_ref(),
    ]);
    assert_eq!(done.status, Some(0), "{}", done.err);
    let json = done.json();
    let capture = &json["captures"][0];
    assert!(capture.get("camera").is_none());
    assert_eq!(capture["drawing"]["format"], "DXF");
    let outline = &capture["outlines"][0];
    assert_eq!(outline["outer"].as_array().map(Vec::len), Some(4));
    assert_eq!(outline["holes"].as_array().map(Vec::len), Some(1));
    assert_eq!(
        (&outline["thickness_mm"], &outline["name"]),
        (&1.6.into(), &"lid".into())
    );
    assert!(outline["sigma_mm"].as_f64().is_some_and(|s| s > 0.0));
    let codes: Vec<&str> = json["findings"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|f| f["code"].as_str())
        .collect();
    assert_eq!(codes, ["drawing.unit-assumed", "drawing.open-paths"]);
}

#[test]
fn the_unit_can_be_said_and_heights_come_from_the_table() {
    let path = file("the_unit_can_be_said", "lid.dxf", DXF);
    let table = path.with_file_name("heights.csv");
    fs::write(&table, "x_mm,y_mm,thickness_mm\n900,700,2.5\n").expect("the table is written");
    let done = run([
        "capture".as_ref(),
        path.as_os_str(),
        "--json".as_ref(),
        "--unit".as_ref(),
        "in".as_ref(),
        "--thicknesses".as_ref(),
        table.as_os_str(),
    ]);
    let outline = done.json()["captures"][0]["outlines"][0].clone();
    assert_eq!(outline["outer"][2], serde_json::json!([1016.0, 762.0]));
    assert_eq!(outline["thickness_mm"], 2.5);
    let words = run(["capture".as_ref(), path.as_os_str()]);
    assert!(
        words.out.contains("lid") && words.out.contains("drawing.open-paths"),
        "{}",
        words.out
    );
}

#[test]
fn bad_drawings_and_wrong_company_are_refused() {
    let path = file("bad_drawings", "cut.dxf", &DXF[..DXF.len() - 5]);
    run(["capture".as_ref(), path.as_os_str()]).is_refused_with(&["cut.dxf", "cut short"]);
    let empty = path.with_file_name("empty.gbr");
    fs::write(&empty, "").expect("the file is written");
    run(["capture".as_ref(), empty.as_os_str()]).is_refused_with(&["empty.gbr", "is empty"]);
    let sound = path.with_file_name("sound.dxf");
    fs::write(&sound, DXF).expect("the file is written");
    run([
        "capture".as_ref(),
        sound.as_os_str(),
        common::data("studio/window.jpg").as_os_str(),
    ])
    .is_refused_with(&["sound.dxf", "one kind"]);
    run([
        "capture".as_ref(),
        sound.as_os_str(),
        "--printed-x".as_ref(),
        "99".as_ref(),
    ])
    .is_refused_with(&["--printed-x"]);
    run([
        "capture".as_ref(),
        sound.as_os_str(),
        "--thickness".as_ref(),
        "-2".as_ref(),
    ])
    .is_refused_with(&["--thickness", "is -2", "0 to 500 mm"]);
    run(["capture", "no-such.svg"]).is_refused_with(&["no-such.svg", "no such file"]);
}

/// A file of block definitions and entities, in groups of code and value.
fn dxf(blocks: &str, entities: &str) -> String {
    let pairs =
        |text: &str| -> String { text.split_whitespace().map(|w| format!("{w}\n")).collect() };
    pairs(&format!(
        "0 SECTION 2 BLOCKS {blocks} 0 ENDSEC 0 SECTION 2 ENTITIES {entities} 0 ENDSEC 0 EOF"
    ))
}

#[test]
fn a_drawing_of_open_paths_alone_is_refused_with_where_they_end() {
    let open = dxf(
        "",
        "0 LINE 10 1 20 2 11 30 21 4 0 ARC 10 50 20 50 40 10 50 0 51 200",
    );
    let path = file("a_drawing_of_open_paths", "open.dxf", &open);
    run(["capture".as_ref(), path.as_os_str(), "--json".as_ref()]).is_refused_with(&[
        "open.dxf",
        "open paths left out: 2",
        "(1.00, 2.00)",
    ]);
}

#[test]
fn blocks_that_hold_themselves_are_refused_and_those_nested_deep_end_soon() {
    let itself = "0 BLOCK 2 a 10 0 20 0 0 INSERT 2 a 0 ENDBLK";
    let path = file(
        "blocks_that_hold_themselves",
        "self.dxf",
        &dxf(itself, "0 INSERT 2 a"),
    );
    run(["capture".as_ref(), path.as_os_str(), "--json".as_ref()])
        .is_refused_with(&["self.dxf", "holds itself"]);
    // Each holds the next one twice, thirty deep: a thousand million circles.
    let fan: String = (0..30)
        .map(|k| {
            format!(
                "0 BLOCK 2 b{k} 0 INSERT 2 b{0} 0 INSERT 2 b{0} 0 ENDBLK ",
                k + 1
            )
        })
        .collect();
    let last = "0 BLOCK 2 b30 0 CIRCLE 10 0 20 0 40 1 0 ENDBLK";
    let path = path.with_file_name("fan.dxf");
    fs::write(&path, dxf(&format!("{fan} {last}"), "0 INSERT 2 b0")).expect("the file is written");
    run(["capture".as_ref(), path.as_os_str(), "--json".as_ref()]).is_refused_with(&[
        "fan.dxf",
        "more than",
        "export the outline alone",
    ]);
}

#[test]
fn a_height_that_belongs_to_no_part_is_told_and_a_decimal_comma_too() {
    let path = file("a_height_that_belongs_to_no_part", "lid.dxf", DXF);
    let table = path.with_file_name("heights.csv");
    // The second point lies in the hole of 2 mm round (10, 10).
    fs::write(&table, "x_mm,y_mm,thickness_mm\n30,20,1.6\n10,10,2.5\n")
        .expect("the table is written");
    let words = |option: &str, value: &str| {
        let args = ["capture", &path.display().to_string(), option, value].map(str::to_owned);
        run(args)
    };
    let done = words("--thicknesses", &table.display().to_string());
    assert!(
        done.out
            .contains("2.5 mm at (10, 10) mm belongs to no part")
            && !done.out.contains("(30, 20)"),
        "{}",
        done.out
    );
    let comma = words("--thickness", "1,6");
    assert_eq!(comma.status, Some(2));
    assert!(
        comma.err.contains("write decimals with a point"),
        "{}",
        comma.err
    );
}

#[test]
fn a_drawing_becomes_a_new_piece_that_takes_no_others_place() {
    let path = file("a_drawing_becomes_a_new_piece", "lid.dxf", DXF);
    let piece = path.with_file_name("new.json");
    let args = [
        "capture".as_ref(),
        path.as_os_str(),
        "--unit".as_ref(),
        "mm".as_ref(),
        "--new-piece".as_ref(),
        piece.as_os_str(),
    ];
    assert_eq!(run(args).status, Some(0));
    let text = fs::read(&piece).expect("the piece is written");
    let new: serde_json::Value = serde_json::from_slice(&text).expect("it is JSON");
    assert_eq!(
        (&new["parts"][0]["id"], &new["parts"][0]["name"]),
        (&"lid".into(), &"Lid".into())
    );
    assert_eq!(
        new["parts"][0]["outline"]["holes"].as_array().map(Vec::len),
        Some(1)
    );
    run(args).is_refused_with(&["--new-piece", "is there already"]);
    assert_eq!(fs::read(&piece).expect("it is there still"), text);
}

/// They were taken, and did nothing.
#[test]
fn what_is_for_photos_only_is_refused_for_drawings_and_a_drawings_unit_for_photos() {
    let path = file("what_is_for_photos_only", "lid.dxf", DXF);
    let other = path.display().to_string();
    for option in ["--strokes", "--backs", "--cutouts", "--tidy"] {
        let value = if option == "--tidy" { "0.05" } else { &other };
        run(["capture", &other, option, value]).is_refused_with(&["lid.dxf", "leave out", option]);
    }
    let photo = common::data("demo/2-boards.jpg").display().to_string();
    run(["capture", &photo, "--unit", "mm"]).is_refused_with(&[
        "--unit",
        "drawings",
        "leave it out",
    ]);
}

/// The photo's four boards, with the pictures that are cut out of it.
#[test]
fn a_photo_becomes_a_new_piece_with_its_cut_outs_beside_it() {
    let folder = folder("a_photo_becomes_a_new_piece");
    let photo = common::data("demo/2-boards.jpg").display().to_string();
    let [piece, cutouts] = ["new.json", "cutouts"].map(|n| folder.join(n).display().to_string());
    let elsewhere = folder.join("elsewhere/new.json").display().to_string();
    fs::create_dir(folder.join("elsewhere")).expect("the folder is made");
    let args = |piece| {
        [
            "capture",
            &photo,
            "--thickness",
            "1.6",
            "--cutouts",
            &cutouts,
            "--new-piece",
            piece,
        ]
        .map(str::to_owned)
    };
    run(args(elsewhere.as_str())).is_refused_with(&["--new-piece", "must lie in the folder"]);
    assert!(!folder.join("cutouts").exists());
    assert_eq!(run(args(piece.as_str())).status, Some(0));
    let new: serde_json::Value =
        serde_json::from_slice(&fs::read(&piece).expect("the piece is written"))
            .expect("it is JSON");
    let parts = new["parts"].as_array().expect("parts");
    assert_eq!(parts.len(), 4);
    for part in parts {
        let image = part["cutout"]["image"].as_str().expect("a picture");
        assert!(folder.join(image).is_file(), "{image}");
        // A cut-out begins at the lower-left corner of its part, or a little outside of it.
        for k in 0..2 {
            let at = part["cutout"]["origin_mm"][k].as_f64().expect("a number");
            assert!((-2.0..0.5).contains(&at), "{part}");
        }
        assert!(part["outline"].get("exact").is_some());
    }
}
