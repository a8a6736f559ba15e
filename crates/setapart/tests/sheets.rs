//! `sheets` told wrong things: each is refused by name, and nothing is written.

#![allow(clippy::unwrap_used, reason = "a test may stop at once")]

mod common;

use common::{files_below, folder, piece_file, placed, run, sheets, small_piece};
use serde_json::json;
use std::fs;
use std::path::Path;

/// Runs `sheets` with more arguments; it must refuse with these words and write nothing.
fn refused(test: &str, more: &[&str], words: &[&str]) {
    let folder = folder(test);
    let piece = piece_file(&folder);
    let out = folder.join("out");
    sheets(&piece, &out, more).is_refused_with(words);
    assert!(!out.exists() || files_below(&out).is_empty());
}

#[test]
fn unknown_paper_style_and_tool_are_refused() {
    refused("sheets-paper", &["--paper", "a7"], &["a7", "letter"]);
    refused("sheets-style", &["--art", "loud"], &["loud", "quiet"]);
    refused("sheets-tool", &["--tool", "-1"], &["tool"]);
    refused(
        "sheets-tool-wide",
        &["--tool", "40"],
        &["tool's width", "12"],
    );
    refused(
        "sheets-scaled",
        &["--printed-x", "97"],
        &["1 %", "fit to page"],
    );
    refused(
        "sheets-edition",
        &["--edition", "the third one of a very large edition"],
        &["edition", "24"],
    );
}

#[test]
fn art_that_is_hostile_or_none_is_refused_with_its_file() {
    let art = folder("sheets-art");
    let file = |name: &str, bytes: &[u8]| {
        let path = art.join(name);
        fs::write(&path, bytes).unwrap();
        path.to_str().unwrap().to_owned()
    };
    // A header that promises 65,535 pixels a side.
    let huge = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\xff\xff\0\0\xff\xff\x08\x06\0\0\0\0\0\0\0";
    for (name, bytes, words) in [
        ("none.svg", b"this is no picture".as_slice(), ["none.svg", "svg"]),
        ("huge.png", huge.as_slice(), ["huge.png", ""]),
        (
            "text.svg",
            b"<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'><text>a</text></svg>",
            ["text.svg", "paths"],
        ),
        (
            "fetch.svg",
            b"<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'><image href='/etc/passwd'/></svg>",
            ["fetch.svg", "picture"],
        ),
    ] {
        let path = file(name, bytes);
        refused(&format!("sheets-{name}"), &["--art-file", &path], &words);
    }
    refused(
        "sheets-art-missing",
        &["--art-file", "nowhere.png"],
        &["nowhere.png", "no such file"],
    );
}

#[test]
fn a_folder_that_is_a_file_is_refused_before_the_work() {
    let folder = folder("sheets-folder");
    let piece = piece_file(&folder);
    let out = folder.join("taken");
    fs::write(&out, "a file").unwrap();
    sheets(&piece, &out, &[]).is_refused_with(&["taken"]);
    assert_eq!(fs::read_to_string(&out).unwrap(), "a file");
}

#[test]
fn without_a_build_plan_the_rest_is_drawn_and_it_is_said() {
    let folder = folder("sheets-no-plan");
    let piece = piece_file(&folder);
    let out = folder.join("out");
    let svg = folder.join("art.svg");
    fs::write(
        &svg,
        "<svg xmlns='http://www.w3.org/2000/svg' width='30' height='40'><rect width='30' height='40' fill='#246'/></svg>",
    )
    .unwrap();
    let more = [
        "--json",
        "--art-file",
        svg.to_str().unwrap(),
        "--light-words",
        "--silhouettes",
        "none",
        "--tool",
        "0.2",
    ];
    let run = sheets(&piece, &out, &more);
    assert_eq!(run.status, Some(0), "{}", run.err);
    let said = run.json();
    assert!(
        said["notes"][0].as_str().unwrap().contains("mount"),
        "{said}"
    );
    let files = files_below(&out);
    assert!(
        !files
            .iter()
            .any(|f| f.starts_with("guide") || f.starts_with("glue")),
        "{files:?}"
    );
    assert_eq!(said["files"].as_array().unwrap().len(), files.len());
}

/// Runs a shell command in which `$SETAPART`, `$PIECE` and `$OUT` are the program, a piece and a folder for its sheets; `shell`
/// is what begins the shell.
#[cfg(unix)]
fn in_shell(
    shell: &[&str],
    script: &str,
    piece: &Path,
    out: &Path,
) -> std::io::Result<std::process::Output> {
    std::process::Command::new(shell[0])
        .args(&shell[1..])
        .args(["-c", script])
        .env("SETAPART", env!("CARGO_BIN_EXE_setapart"))
        .env("PIECE", piece)
        .env("OUT", out)
        .output()
}

/// The shell lets no file grow beyond 32 kB; with the signal for that ignored, writing fails as it does on a full disk.
#[cfg(unix)]
#[test]
fn files_that_may_not_grow_leave_everything_as_it_was() {
    let folder = folder("sheets-limited");
    let piece = piece_file(&folder);
    let (fresh, kept) = (folder.join("new/deep"), folder.join("kept"));
    std::fs::create_dir(&kept).unwrap();
    std::fs::write(kept.join("template-a4.pdf"), "mine").unwrap();
    for out in [&fresh, &kept] {
        let script =
            r#"trap "" XFSZ; ulimit -f 64; exec "$SETAPART" sheets --in "$PIECE" --out "$OUT""#;
        let done = in_shell(&["sh"], script, &piece, out).unwrap();
        let said = String::from_utf8_lossy(&done.stderr);
        assert_eq!(done.status.code(), Some(2), "{said}");
        assert!(
            said.contains("cannot write") && said.contains("larger than"),
            "{said}"
        );
    }
    assert!(
        !folder.join("new").exists(),
        "folders that were made are gone"
    );
    assert_eq!(files_below(&kept), ["template-a4.pdf"]);
    assert_eq!(
        std::fs::read_to_string(kept.join("template-a4.pdf")).unwrap(),
        "mine"
    );
}

/// Exit status 1 came without a word, and not at all for what mounting found.
#[test]
fn what_stands_in_the_way_is_told_with_the_sheets() {
    let folder = folder("sheets-stops");
    let (plain, mounted) = (folder.join("piece.json"), folder.join("mounted.json"));
    let out = folder.join("out");
    let sheets = |piece: &Path| sheets(piece, &out, &[]);
    let mut piece = small_piece();
    piece["placements"] = json!([placed("p1", -1.0, 40.0)]);
    fs::write(&plain, piece.to_string()).unwrap();
    let off = sheets(&plain);
    assert_eq!(off.status, Some(1));
    assert!(off.err.contains("[layout.outside-window]"), "{}", off.err);

    // A rebate of 3 mm holds glazing and backing at most.
    piece["placements"] = json!([placed("p1", 30.0, 40.0)]);
    piece["frame"]["rebate_depth_mm"] = json!(3.0);
    fs::write(&plain, piece.to_string()).unwrap();
    let args = [
        "mount".as_ref(),
        "--in".as_ref(),
        plain.as_os_str(),
        "--out".as_ref(),
        mounted.as_os_str(),
    ];
    assert_eq!(run(args).status, Some(1));
    assert_eq!(sheets(&plain).status, Some(0));
    let shallow = sheets(&mounted);
    assert_eq!(shallow.status, Some(1), "{}", shallow.err);
    assert!(
        shallow.err.contains("stop  ") && shallow.err.contains("[depth."),
        "{}",
        shallow.err
    );
}

/// A real disk of 256 kB, in memory and in a name space of its own, so that it is gone with its shell. Where this machine
/// lets nobody mount one, the test before is what there is.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_named_and_nothing_is_left_on_it() {
    let folder = folder("sheets-full-disk");
    let piece = piece_file(&folder);
    let disk = folder.join("disk");
    std::fs::create_dir(&disk).unwrap();
    let own_space = ["unshare", "--map-root-user", "--mount", "sh"];
    let script = r#"mount -t tmpfs -o size=256k none "$OUT" || exit 77; echo mounted
        echo mine > "$OUT/guide.html"
        "$SETAPART" sheets --in "$PIECE" --out "$OUT"; echo "status $?"
        "$SETAPART" sheets --in "$PIECE" --out "$OUT/new"; echo "status $?"
        ls -A "$OUT"; cat "$OUT/guide.html""#;
    let Ok(done) = in_shell(&own_space, script, &piece, &disk) else {
        return;
    };
    let (said, told) = (
        String::from_utf8_lossy(&done.stdout),
        String::from_utf8_lossy(&done.stderr),
    );
    if !said.starts_with("mounted") {
        return;
    }
    assert_eq!(
        said.lines().collect::<Vec<_>>(),
        ["mounted", "status 2", "status 2", "guide.html", "mine"],
        "{told}"
    );
    assert_eq!(
        told.matches("the disk is full; make room and try again")
            .count(),
        2,
        "{told}"
    );
}
