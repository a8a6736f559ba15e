//! A piece document that cannot be is refused, with the path of the field, and nothing is written.

mod common;

use common::{data, files_below, folder, placed, run, run_on, small_piece};
use serde_json::{Value, json};
use std::fs;

/// Every command that reads a piece.
const READERS: [&[&str]; 3] = [&["check"], &["arrange"], &["measure", "--json"]];

/// Where a document is spoilt, to what, and the path that the message must show.
fn spoilt() -> Vec<(&'static str, Value, &'static str)> {
    vec![
        ("/format", json!("something-else"), "format"),
        ("/version", json!(2), "version"),
        ("/name", json!(7), "name"),
        ("/frame/size_mm", json!([300.0]), "frame.size_mm"),
        ("/frame/size_mm/0", json!(-300.0), "frame.size_mm"),
        ("/frame/margin_mm/left", json!(500.0), "frame.margin_mm"),
        ("/layout/gap_mm", json!(-1.0), "layout.gap_mm"),
        ("/layout/spread", json!("sideways"), "layout.spread"),
        ("/parts/1/id", json!("p1"), "parts[1].id"),
        ("/parts/2/id", json!(""), "parts[2].id"),
        ("/parts/1/kind", json!("wing"), "parts[1].kind"),
        (
            "/parts/0/outline/outer",
            json!([[0.0, 0.0], [1.0, 1.0]]),
            "parts[0].outline",
        ),
        (
            "/parts/0/outline/outer/2",
            json!([90.0]),
            "parts[0].outline",
        ),
        (
            "/parts/1/outline/holes/0/1",
            json!([500.0, 5.0]),
            "parts[1].outline",
        ),
        (
            "/parts/2/thickness_mm",
            json!(-2.0),
            "parts[2].thickness_mm",
        ),
        ("/parts/2/home/layer", json!(-1), "parts[2].home.layer"),
        (
            "/placements",
            json!([placed("p9", 0.0, 0.0)]),
            "placements[0].part",
        ),
        (
            "/placements",
            json!([placed("p1", 0.0, 0.0), placed("p1", 9.0, 9.0)]),
            "placements[1].part",
        ),
        (
            "/captions",
            json!([{ "part": "p1", "text": "x", "x": 0, "y": 0, "w": -4, "h": 2 }]),
            "captions[0]",
        ),
    ]
}

#[test]
fn each_spoilt_field_is_refused_by_its_path() {
    for (pointer, value, path) in spoilt() {
        let mut piece = small_piece();
        *piece
            .pointer_mut(pointer)
            .expect("the small piece has the field") = value;
        run_on(["check"], piece.to_string().as_bytes()).is_refused_with(&[path]);
    }
}

#[test]
fn an_unknown_field_is_refused_not_dropped() {
    let mut piece = small_piece();
    piece["parts"][1]["colour"] = json!("green");
    run_on(["check"], piece.to_string().as_bytes()).is_refused_with(&["parts[1]", "colour"]);
}

#[test]
fn every_reader_refuses_what_is_no_document() {
    let whole = small_piece().to_string();
    let cases: [&[u8]; 5] = [
        b"",
        b"hello",
        b"[]",
        &whole.as_bytes()[..whole.len() / 2],
        b"\xff\xfe{}",
    ];
    for reader in READERS {
        for bytes in cases {
            run_on(reader, bytes).is_refused_with(&[]);
        }
    }
}

/// Documents that say what they are, as this program wrote them, with the words by which a message calls them and the
/// command that it names.
fn documents() -> Vec<(String, &'static str, &'static str)> {
    let printed = |args: &[&str]| {
        let printed = run(args);
        assert_eq!(printed.status, Some(0), "{args:?}: {}", printed.err);
        printed.out
    };
    let lots = fs::read_to_string(data("demo/lots.json")).expect("the lots are there");
    let profile = include_str!("../../../fuzz/seeds/scanner_profile/small.json");
    let table = folder("documents_of_every_kind").join("stock.csv");
    fs::write(&table, "part,condition\nlens,whole\n").expect("the table is written");
    let stock = printed(&["drawer", table.to_str().expect("a plain path"), "--json"]);
    vec![
        (small_piece().to_string(), "a piece document", "check --in"),
        (
            printed(&["verdict", "--blank", "handheld"]),
            "an intake form",
            "verdict FILE",
        ),
        (
            printed(&["verdict", "--show-kind", "handheld"]),
            "a kind of device",
            "verdict --kind",
        ),
        (lots, "a document of lots", "donors --lots"),
        (
            printed(&["donors", "--show-chances"]),
            "a table of chances",
            "donors --chances",
        ),
        (stock, "a document of stock", "drawer FILE"),
        (
            printed(&["cost", "--show-rates"]),
            "rates and prices",
            "cost --rates",
        ),
        (
            printed(&["parcel", "--show-carriage"]),
            "a carrier's figures",
            "parcel --carriage",
        ),
        (
            profile.to_owned(),
            "a scanner's profile",
            "capture --scanner",
        ),
    ]
}

#[test]
fn a_document_of_another_kind_is_told_as_what_it_is_with_the_command_that_reads_it() {
    let folder = folder("a_document_of_another_kind_is_told");
    let at = |name: &str| folder.join(name).to_str().expect("a plain path").to_owned();
    let (given, piece) = (at("given.json"), at("piece.json"));
    fs::write(&piece, small_piece().to_string()).expect("the piece is written");
    let (photo, out) = (data("demo/2-boards.jpg"), at("sheets"));
    let photo = photo.to_str().expect("a plain path");
    // What each wants, with the file that it is given in that place.
    let readers: Vec<(&str, Vec<&str>)> = vec![
        (
            "a piece document",
            vec!["sheets", "--in", &given, "--out", &out],
        ),
        ("a piece document", vec!["check", "--in", &given]),
        ("an intake form", vec!["verdict", &given]),
        ("a kind of device", {
            vec!["verdict", "--blank", "handheld", "--kind", &given]
        }),
        ("a document of lots", vec!["donors", "--lots", &given]),
        ("a table of chances", {
            let lots = "../../tests/data/demo/lots.json";
            vec!["donors", "--lots", lots, "--chances", &given]
        }),
        ("a document of stock", vec!["drawer", &given]),
        (
            "rates and prices",
            vec!["cost", "--in", &piece, "--rates", &given],
        ),
        (
            "a carrier's figures",
            vec!["parcel", "--in", &piece, "--carriage", &given],
        ),
        ("a scanner's profile", {
            vec!["capture", photo, "--dpi", "300", "--scanner", &given]
        }),
        ("a catalogue", {
            vec!["mount", "--in", &piece, "--catalogue", &given]
        }),
        ("a file of strokes", {
            vec!["capture", photo, "--strokes", &given]
        }),
        ("a sheet description", {
            vec!["capture", photo, "--sheet", &given]
        }),
        ("a list of frames", {
            vec!["frames", "--in", &piece, "--list", &given]
        }),
    ];
    for (document, is, read_by) in documents() {
        fs::write(&given, document).expect("the document is written");
        for (wanted, args) in readers.iter().filter(|(wanted, _)| *wanted != is) {
            let told = format!("given.json: {is}, not {wanted}; read it with `setapart {read_by}");
            run(args).is_refused_with(&[&told]);
        }
    }
}

#[test]
fn a_document_of_the_right_kind_is_still_told_by_its_field() {
    let blank = run(["verdict", "--blank", "handheld"]).out;
    let mut form: Value = serde_json::from_str(&blank).expect("the form is JSON");
    form["kolour"] = json!("grey");
    let told = run_on(["verdict"], form.to_string().as_bytes());
    told.is_refused_with(&["standard input: ", "kolour"]);
    assert!(!told.err.contains("read it with"), "{}", told.err);
}

#[test]
fn a_second_document_after_the_first_is_refused() {
    let twice = format!("{0}{0}", small_piece());
    run_on(["check"], twice.as_bytes()).is_refused_with(&["more"]);
}

#[test]
fn a_missing_file_is_named() {
    let path = folder("a_missing_file_is_named").join("nothing-here.json");
    for reader in READERS {
        let args = reader
            .iter()
            .copied()
            .chain(["--in", path.to_str().expect("a plain path")]);
        run(args).is_refused_with(&["nothing-here.json"]);
    }
}

#[test]
fn sheets_of_a_bad_document_write_nothing() {
    let folder = folder("sheets_of_a_bad_document_write_nothing");
    let (document, out) = (folder.join("piece.json"), folder.join("sheets"));
    let mut piece = small_piece();
    piece["frame"]["size_mm"] = json!([0.0, 0.0]);
    fs::write(&document, piece.to_string()).expect("the document is written");
    let args = [
        "sheets".as_ref(),
        "--in".as_ref(),
        document.as_os_str(),
        "--out".as_ref(),
        out.as_os_str(),
    ];
    run(args).is_refused_with(&["frame.size_mm"]);
    assert!(
        !out.exists() || files_below(&out).is_empty(),
        "{:?}",
        files_below(&folder)
    );
}

#[test]
fn arranging_a_bad_document_leaves_the_old_result_alone() {
    let folder = folder("arranging_a_bad_document_leaves_the_old_result_alone");
    let (bad, kept) = (folder.join("bad.json"), folder.join("kept.json"));
    fs::write(&bad, "{\"format\": \"setapart-piece\"}").expect("the bad document is written");
    fs::write(&kept, "what was there").expect("the old result is written");
    let args = [
        "arrange".as_ref(),
        "--in".as_ref(),
        bad.as_os_str(),
        "--out".as_ref(),
        kept.as_os_str(),
    ];
    run(args).is_refused_with(&[]);
    assert_eq!(
        fs::read_to_string(&kept).expect("it is still there"),
        "what was there"
    );
    assert_eq!(files_below(&folder), ["bad.json", "kept.json"]);
}
