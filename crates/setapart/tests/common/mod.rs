//! What the whole-command tests share: running the binary, a fresh folder, test data.

#![allow(dead_code, reason = "each test file uses its own share")]

use std::ffi::OsStr;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// What one run of the program gave.
pub struct Run {
    /// Exit status; `None` where a signal ended it.
    pub status: Option<i32>,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Run {
    /// Standard output as JSON.
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out).unwrap_or_else(|e| {
            panic!(
                "no JSON on standard output: {e}\n{}\n{}",
                self.out, self.err
            )
        })
    }

    /// Bad input: status 2, nothing on standard output, one message that holds all these words, no panic.
    pub fn is_refused_with(&self, words: &[&str]) {
        assert_eq!(self.status, Some(2), "{}\n{}", self.out, self.err);
        assert!(
            self.out.is_empty(),
            "bad input wrote to standard output: {}",
            self.out
        );
        for word in words {
            assert!(
                self.err.to_lowercase().contains(&word.to_lowercase()),
                "the message lacks {word:?}: {}",
                self.err
            );
        }
        assert!(!self.err.contains("panicked"), "{}", self.err);
    }
}

/// Runs the program with nothing on standard input.
pub fn run<S: AsRef<OsStr>>(args: impl IntoIterator<Item = S>) -> Run {
    run_on(args, b"")
}

/// Runs the program with these bytes on standard input.
pub fn run_on<S: AsRef<OsStr>>(args: impl IntoIterator<Item = S>, stdin: &[u8]) -> Run {
    let mut child = Command::new(env!("CARGO_BIN_EXE_setapart"))
        .args(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut to_child = child.stdin.take().expect("standard input is piped");
    let bytes = stdin.to_vec();
    let writer = std::thread::spawn(move || {
        // A program that refuses its arguments may close the pipe unread.
        let _ = to_child.write_all(&bytes);
    });
    let done = child.wait_with_output().expect("the program ends");
    writer.join().expect("the writer ends");
    Run {
        status: done.status.code(),
        out: String::from_utf8(done.stdout).expect("output is UTF-8"),
        err: String::from_utf8(done.stderr).expect("messages are UTF-8"),
    }
}

/// Runs `sheets` on a piece's file into a folder, with more arguments.
pub fn sheets(piece: &Path, out: &Path, more: &[&str]) -> Run {
    let mut args: Vec<&OsStr> = vec!["sheets".as_ref(), "--in".as_ref(), piece.as_ref()];
    args.extend(["--out".as_ref(), out.as_os_str()]);
    args.extend(more.iter().map(OsStr::new));
    run(args)
}

/// A fresh, empty folder for one test.
pub fn folder(test: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(test);
    if path.exists() {
        fs::remove_dir_all(&path).expect("the old folder goes");
    }
    fs::create_dir_all(&path).expect("the new folder comes");
    path
}

/// A file of the repository's test data.
pub fn data(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../tests/data")
        .join(path)
}

/// Names of all files below a folder, sorted, with `/` between folders.
pub fn files_below(folder: &Path) -> Vec<String> {
    fn visit(at: &Path, prefix: &str, found: &mut Vec<String>) {
        for entry in fs::read_dir(at).expect("the folder can be read") {
            let entry = entry.expect("the entry can be read");
            let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
            if entry.path().is_dir() {
                visit(&entry.path(), &format!("{name}/"), found);
            } else {
                found.push(name);
            }
        }
    }
    let mut found = Vec::new();
    visit(folder, "", &mut found);
    found.sort();
    found
}

/// A piece of three parts on a 300 x 400 mm board, nothing placed yet.
pub fn small_piece() -> serde_json::Value {
    serde_json::json!({
        "format": "setapart-piece", "version": 1, "name": "Three parts",
        "frame": {
            "size_mm": [300.0, 400.0], "lip_mm": 6.0, "board_clearance_mm": 2.0,
            "rebate_depth_mm": 35.0, "spacer_width_mm": 5.0, "glazing": "float-2",
            "margin_mm": { "left": 12.0, "right": 12.0, "top": 12.0, "bottom": 18.0 }
        },
        "layout": { "style": "exploded", "gap_mm": 4.0, "spread": "up", "keep_outs": [] },
        "parts": [
            part("p1", "Front shell", 90.0, 60.0, 0),
            part("p2", "Main board", 70.0, 40.0, 1),
            part("p3", "Rear shell", 90.0, 60.0, 2)
        ],
        "placements": [], "captions": []
    })
}

/// The small piece with its parts placed, as a file in a folder.
pub fn piece_file(folder: &Path) -> PathBuf {
    let mut piece = small_piece();
    piece["placements"] = serde_json::json!([
        placed("p1", 30.0, 40.0),
        placed("p2", 30.0, 110.0),
        placed("p3", 30.0, 160.0)
    ]);
    let path = folder.join("piece.json");
    fs::write(&path, piece.to_string()).expect("the piece is written");
    path
}

/// A rectangular part with a square hole.
pub fn part(id: &str, name: &str, w: f64, h: f64, layer: u32) -> serde_json::Value {
    serde_json::json!({
        "id": id, "name": name, "kind": "other", "quantity": 1,
        "outline": {
            "outer": [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]],
            "holes": [[[5.0, 5.0], [5.0, 8.0], [8.0, 8.0], [8.0, 5.0]]]
        },
        "thickness_mm": 2.0,
        "home": { "x": 0.0, "y": 0.0, "turn_deg": 0.0, "layer": layer }
    })
}

/// A placement without a turn.
pub fn placed(part: &str, x: f64, y: f64) -> serde_json::Value {
    serde_json::json!({ "part": part, "x": x, "y": y, "turn_deg": 0.0, "pinned": false })
}
