//! What is written is whole or not there, under its own name.

mod common;

use common::{files_below, folder, piece_file, run, sheets};
use std::fs;
use std::path::Path;

#[test]
fn sheets_writes_whole_files_and_leaves_no_temporary_name() {
    let folder = folder("sheets_writes_whole_files_and_leaves_no_temporary_name");
    let (piece, out) = (piece_file(&folder), folder.join("out"));
    let run = sheets(&piece, &out, &[]);
    assert_eq!(run.status, Some(0), "{}", run.err);
    let files = files_below(&out);
    for name in [
        "board-art.pdf",
        "cut.dxf",
        "cut.svg",
        "light-table.svg",
        "outlines.svg",
        "plaque.pdf",
        "plaque.svg",
        "preview-side.png",
        "preview.png",
        "template-a4.pdf",
        "template-whole.pdf",
    ] {
        assert!(
            files.iter().any(|f| f == name),
            "{name} is missing: {files:?}"
        );
    }
    for name in &files {
        let bytes = fs::read(out.join(name)).expect("it can be read");
        let whole = match Path::new(name).extension().and_then(|e| e.to_str()) {
            Some("pdf") => {
                bytes.starts_with(b"%PDF-") && bytes.trim_ascii_end().ends_with(b"%%EOF")
            }
            Some("png") => {
                bytes.starts_with(b"\x89PNG\r\n\x1a\n") && bytes.ends_with(b"IEND\xaeB`\x82")
            }
            Some("svg") => bytes.trim_ascii_end().ends_with(b"</svg>"),
            Some("dxf") => bytes.ends_with(b"0\nEOF\n"),
            other => panic!("{name}: what is a file of the kind {other:?}?"),
        };
        assert!(whole, "{name} is not whole");
    }
}

#[test]
fn the_same_piece_gives_the_same_sheets() {
    let folder = folder("the_same_piece_gives_the_same_sheets");
    let piece = piece_file(&folder);
    let outs = ["first", "second"].map(|name| folder.join(name));
    for out in &outs {
        assert_eq!(sheets(&piece, out, &[]).status, Some(0));
    }
    let files = files_below(&outs[0]);
    assert_eq!(files, files_below(&outs[1]));
    for name in files {
        let [a, b] = [0, 1].map(|i: usize| fs::read(outs[i].join(&name)).expect("it can be read"));
        assert!(a == b, "{name} differs");
    }
}

#[test]
fn a_bar_more_than_one_percent_off_is_refused_and_nothing_is_written() {
    let folder = folder("a_bar_more_than_one_percent_off_is_refused");
    let (piece, out) = (piece_file(&folder), folder.join("out"));
    for (axis, measured) in [
        ("--printed-x", "98.5"),
        ("--printed-y", "101.2"),
        ("--printed-x", "-100"),
        ("--printed-y", "NaN"),
    ] {
        sheets(&piece, &out, &[axis, measured]).is_refused_with(&[]);
        assert!(
            !out.exists() || files_below(&out).is_empty(),
            "{axis} {measured}: {:?}",
            files_below(&out)
        );
    }
}

#[test]
fn an_unknown_paper_is_refused_with_the_known_ones() {
    let out = folder("an_unknown_paper_is_refused_with_the_known_ones").join("sheet.pdf");
    let args = [
        "capture-sheet".as_ref(),
        "--paper".as_ref(),
        "a9".as_ref(),
        "--out".as_ref(),
        out.as_os_str(),
    ];
    run(args).is_refused_with(&["a4", "letter", "a3", "tabloid"]);
    assert!(!out.exists());
}

#[test]
fn a_folder_where_a_file_should_go_is_refused() {
    let folder = folder("a_folder_where_a_file_should_go_is_refused");
    let args = [
        "capture-sheet".as_ref(),
        "--paper".as_ref(),
        "a4".as_ref(),
        "--out".as_ref(),
        folder.as_os_str(),
    ];
    run(args).is_refused_with(&[]);
    assert!(
        files_below(&folder).is_empty(),
        "{:?}",
        files_below(&folder)
    );
}

#[test]
fn a_file_where_a_folder_should_go_is_refused_and_kept() {
    let folder = folder("a_file_where_a_folder_should_go_is_refused_and_kept");
    let out = folder.join("out");
    fs::write(&out, "mine").expect("the file is written");
    let piece = piece_file(&folder);
    sheets(&piece, &out, &[]).is_refused_with(&["out"]);
    assert_eq!(fs::read_to_string(&out).expect("it is still there"), "mine");
}

#[test]
fn the_schema_names_the_fields_of_the_piece() {
    let run = run(["schema"]);
    assert_eq!(run.status, Some(0), "{}", run.err);
    let text = run.json().to_string();
    for field in [
        "size_mm",
        "gap_mm",
        "outline",
        "placements",
        "captions",
        "thickness_mm",
    ] {
        assert!(text.contains(field), "{field}");
    }
}

#[test]
fn a_wrong_command_line_gives_status_2() {
    for args in [
        vec!["no-such-command"],
        vec!["sheets"],
        vec!["check", "--no-such-option"],
        vec![],
    ] {
        assert_eq!(run(&args).status, Some(2), "{args:?}");
    }
}
