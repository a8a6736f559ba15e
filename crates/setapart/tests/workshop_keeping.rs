//! The `workshop` command: pieces in and out, check, backup and restore.

#![allow(clippy::unwrap_used, reason = "helpers of tests may panic too")]

mod common;

use common::{Run, folder, run, small_piece};
use std::ffi::OsString;
use std::fs;
use std::path::Path;

fn on(workshop: &Path, args: &[&str]) -> Run {
    let mut all: Vec<OsString> = vec!["workshop".into(), "--workshop".into(), workshop.into()];
    all.extend(args.iter().map(OsString::from));
    run(all)
}

/// A document with one cut-out beside it.
fn document(at: &Path) -> String {
    let mut piece = small_piece();
    piece["parts"][1]["cutout"] = serde_json::json!({
        "image": "cutouts/p2.png", "px_per_mm": 12.0, "origin_mm": [0.0, 0.0]
    });
    fs::create_dir_all(at.join("cutouts")).unwrap();
    fs::write(at.join("cutouts/p2.png"), PNG).unwrap();
    let path = at.join("piece.json");
    fs::write(&path, piece.to_string()).unwrap();
    path.to_string_lossy().into_owned()
}

/// One grey pixel (PNG specification, 3rd edition; made with Python's zlib).
const PNG: &[u8] = &[
    0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a, 0x00, 0x00, 0x00, 0x0d, 0x49, 0x48, 0x44, 0x52,
    0x00, 0x00, 0x00, 0x01, 0x00, 0x00, 0x00, 0x01, 0x08, 0x00, 0x00, 0x00, 0x00, 0x3a, 0x7e, 0x9b,
    0x55, 0x00, 0x00, 0x00, 0x0a, 0x49, 0x44, 0x41, 0x54, 0x78, 0x9c, 0x63, 0x68, 0x00, 0x00, 0x00,
    0x82, 0x00, 0x81, 0x77, 0xcd, 0x72, 0xb6, 0x00, 0x00, 0x00, 0x00, 0x49, 0x45, 0x4e, 0x44, 0xae,
    0x42, 0x60, 0x82,
];

#[test]
fn a_piece_goes_in_as_a_document_and_out_as_a_bundle_that_every_command_reads() {
    let at = folder("workshop_in_and_out");
    let workshop = at.join("shop");
    let empty = on(&workshop, &["list"]);
    empty.is_refused_with(&["no workshop"]);
    let imported = on(&workshop, &["import", &document(&at)]);
    assert_eq!(imported.status, Some(0), "{}", imported.err);
    assert!(
        imported.out.contains("Three parts is piece number 1"),
        "{}",
        imported.out
    );
    let listed = on(&workshop, &["list", "--json"]).json();
    assert_eq!(listed["pieces"][0]["parts"], 3);
    let bundle = at.join("three.zip");
    let name = bundle.to_string_lossy().into_owned();
    let exported = on(&workshop, &["export", "1", "--out", &name]);
    assert_eq!(exported.status, Some(0), "{}", exported.err);
    let again = on(&workshop, &["import", &name]);
    assert_eq!(again.status, Some(0), "{}", again.err);
    let (one, two) = (
        on(&workshop, &["show", "1"]).out,
        on(&workshop, &["show", "2"]).out,
    );
    assert_eq!(one, two);
    let piece: serde_json::Value = serde_json::from_str(&one).unwrap();
    let image = piece["parts"][1]["cutout"]["image"].as_str().unwrap();
    assert_eq!(fs::read(workshop.join(image)).unwrap(), PNG);
    let check = common::run_on(["check", "--json"], one.as_bytes());
    assert_eq!(check.status, Some(0), "{}", check.err);
}

#[test]
fn a_damaged_workshop_is_found_and_its_backup_takes_its_place() {
    let at = folder("workshop_restore");
    let workshop = at.join("shop");
    on(&workshop, &["import", &document(&at)]);
    let backup = at.join("backup").to_string_lossy().into_owned();
    assert_eq!(on(&workshop, &["backup", &backup]).status, Some(0));
    assert_eq!(on(&workshop, &["check"]).status, Some(0));
    for entry in fs::read_dir(workshop.join("images")).unwrap() {
        fs::write(entry.unwrap().path(), "spoilt").unwrap();
    }
    let found = on(&workshop, &["check"]);
    assert_eq!(found.status, Some(1));
    assert!(
        found.out.contains("store.image-changed") && found.out.contains("Three parts"),
        "{}",
        found.out
    );
    let unsound = on(&workshop, &["backup", &backup]);
    unsound.is_refused_with(&["not the image it was"]);
    on(&workshop, &["restore", &backup]).is_refused_with(&["--replace"]);
    let restored = on(&workshop, &["restore", &backup, "--replace"]);
    assert_eq!(restored.status, Some(0), "{}", restored.err);
    assert!(
        restored.out.contains("shop-before-restore"),
        "{}",
        restored.out
    );
    assert_eq!(on(&workshop, &["check"]).status, Some(0));
}

#[test]
fn what_cannot_be_imported_is_told_and_leaves_no_workshop_behind() {
    let at = folder("workshop_refused");
    let workshop = at.join("shop");
    let write = |name: &str, bytes: &[u8]| {
        fs::write(at.join(name), bytes).unwrap();
        at.join(name).to_string_lossy().into_owned()
    };
    on(&workshop, &["import", &write("a.json", b"{}")]).is_refused_with(&["a.json", "format"]);
    let mut piece = small_piece();
    piece["parts"][0]["cutout"] = serde_json::json!({ "image": "../../secret.png", "px_per_mm": 12.0, "origin_mm": [0.0, 0.0] });
    on(
        &workshop,
        &["import", &write("b.json", piece.to_string().as_bytes())],
    )
    .is_refused_with(&["secret.png", "own folder"]);
    on(&workshop, &["import", "nowhere.zip"]).is_refused_with(&["nowhere.zip", "no such file"]);
    assert!(!workshop.exists());
    on(
        &workshop,
        &["import", &write("c.zip", b"PK\x03\x04 and then nothing")],
    )
    .is_refused_with(&["c.zip", "not a bundle"]);
    on(&workshop, &["show", "7"]).is_refused_with(&["no piece number 7"]);
    on(&workshop, &["show", "x"]).is_refused_with(&["invalid"]);
    let out = at.join("no/where.zip").to_string_lossy().into_owned();
    on(&workshop, &["export", "7", "--out", &out]).is_refused_with(&["where.zip"]);
}
