//! Bundles: there and back, the same bytes, and whatever somebody may hand us instead.

#![allow(clippy::unwrap_used, reason = "helpers of tests may panic too")]

mod common;

use common::{fresh, piece};
use sha2::{Digest, Sha256};
use std::io::{Cursor, Write};
use workshop::{Bundle, BundleError, Mark, PieceId, Role, Taken, Work, Workshop, WorkshopError};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

fn picture(n: u8) -> Vec<u8> {
    let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
    bytes.extend([n; 2_000]);
    bytes
}

/// A piece with two cut-outs and a photo.
fn with_pictures(store: &Workshop) -> PieceId {
    let mut doc = piece(3, 40);
    doc.name = "Ünder \"glass\"".into();
    for n in 0..2 {
        let name = store.add_image(&picture(n as u8)).unwrap();
        doc.parts[n].cutout = Some(piece::Cutout {
            image: name.to_string(),
            px_per_mm: 12.0,
            origin_mm: [-1.0, -1.0],
        });
    }
    let id = store.new_piece(&doc).unwrap().id;
    let photo = store.add_image(&picture(9)).unwrap();
    let work = Work {
        taken: Taken::Scan {
            dpi: Some([600.0, 600.0]),
        },
        marks: vec![Mark {
            at_mm: [1.0, 2.0],
            thickness_mm: Some(1.6),
            part: None,
            left_out: false,
        }],
        ..Work::default()
    };
    store
        .add_photo(id, &photo, "shells.png", Role::Parts, &work)
        .unwrap();
    id
}

fn bundle(store: &Workshop, id: PieceId, photos: bool) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    store.write_bundle(id, photos, &mut out).unwrap();
    out.into_inner()
}

#[test]
fn a_bundle_brings_a_piece_to_another_workshop_whole() {
    let here = fresh("bundle-here");
    let id = with_pictures(&here);
    let bytes = bundle(&here, id, true);
    let there = fresh("bundle-there");
    let opened = there.read_bundle(Cursor::new(&bytes)).unwrap();
    assert_eq!(opened.piece, here.piece(id).unwrap().piece);
    let (theirs, ours) = (there.photos(opened.id).unwrap(), here.photos(id).unwrap());
    assert_eq!(
        (&theirs[0].work, &theirs[0].name),
        (&ours[0].work, &ours[0].name)
    );
    assert_eq!(there.image(&theirs[0].image).unwrap(), picture(9));
    assert!(there.check(&|_| {}).unwrap().findings.is_empty());
}

#[test]
fn the_same_piece_gives_the_same_bytes() {
    let here = fresh("bundle-same-1");
    let id = with_pictures(&here);
    let bytes = bundle(&here, id, true);
    assert!(bundle(&here, id, true) == bytes);
    let there = fresh("bundle-same-2");
    let opened = there.read_bundle(Cursor::new(&bytes)).unwrap();
    assert!(bundle(&there, opened.id, true) == bytes);
    let without = bundle(&here, id, false);
    let plain = Bundle::open(Cursor::new(&without)).unwrap();
    assert!(plain.photos().is_empty());
    assert_eq!(plain.images().len(), 2);
}

/// A zip of these entries, packed as bundles are, or not.
fn zipped(entries: &[(&str, &[u8])]) -> Vec<u8> {
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in entries {
        let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
        writer.start_file(*name, options).unwrap();
        writer.write_all(bytes).unwrap();
    }
    writer.finish().unwrap().into_inner()
}

fn hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect()
}

/// A manifest of these files.
fn manifest(files: &[(&str, &[u8])]) -> Vec<u8> {
    let files: Vec<_> = files
        .iter()
        .map(|(name, bytes)| serde_json::json!({ "name": name, "bytes": bytes.len(), "sha256": hex(bytes) }))
        .collect();
    serde_json::json!({ "format": "setapart-bundle", "version": 1, "files": files })
        .to_string()
        .into_bytes()
}

/// A bundle of these files with a true manifest.
fn bundled(files: &[(&str, &[u8])]) -> Vec<u8> {
    let manifest = manifest(files);
    let mut all: Vec<(&str, &[u8])> = vec![("manifest.json", &manifest)];
    all.extend(files);
    zipped(&all)
}

fn refused(bytes: &[u8]) -> BundleError {
    match Bundle::open(Cursor::new(bytes)) {
        Err(e) => e,
        Ok(mut bundle) => bundle
            .images()
            .iter()
            .find_map(|name| bundle.image(name).err())
            .expect("a bundle that should have been refused"),
    }
}

fn plain_piece() -> Vec<u8> {
    piece(2, 20).to_json().into_bytes()
}

#[test]
fn the_smallest_bundle_is_taken() {
    let text = plain_piece();
    assert!(Bundle::open(Cursor::new(bundled(&[("piece.json", &text)]))).is_ok());
}

#[test]
fn names_that_lead_out_of_the_folder_are_refused() {
    let text = plain_piece();
    let long = format!("images/{}.png", "a".repeat(65));
    let upper = format!("images/{}.png", "A".repeat(64));
    for name in [
        "../evil.json",
        "/etc/cron.d/evil",
        "images/../../evil.png",
        "C:\\evil.json",
        "images\\..\\evil.png",
        "images/",
        "piece.json/",
        "PIECE.JSON",
        "./piece.json",
        "piece.json\0.png",
        "",
        long.as_str(),
        upper.as_str(),
    ] {
        let bytes = bundled(&[("piece.json", &text), (name, b"x")]);
        let said = refused(&bytes);
        assert!(
            matches!(
                &said,
                BundleError::OddName { .. } | BundleError::NotABundle(_)
            ),
            "{name:?}: {said}"
        );
    }
}

#[test]
fn a_file_that_is_there_twice_is_refused() {
    let (text, image) = (plain_piece(), picture(1));
    let (one, two) = (
        format!("images/{}.png", "1".repeat(64)),
        format!("images/{}.png", "2".repeat(64)),
    );
    let bytes = zipped(&[
        ("manifest.json", b"{}"),
        ("piece.json", &text),
        (&one, &image),
        (&two, &image),
    ]);
    // The writer refuses to write a name twice: the second is renamed in the bytes.
    let twice = replaced(&bytes, two.as_bytes(), one.as_bytes());
    let said = refused(&twice).to_string();
    assert!(said.contains("duplicate"), "{said}");
    let listed_twice = manifest(&[("piece.json", &text), ("piece.json", &text)]);
    let said = refused(&zipped(&[
        ("manifest.json", &listed_twice),
        ("piece.json", &text),
    ]))
    .to_string();
    assert!(said.contains("twice"), "{said}");
}

fn replaced(bytes: &[u8], from: &[u8], to: &[u8]) -> Vec<u8> {
    assert_eq!(from.len(), to.len());
    let mut out = bytes.to_vec();
    let mut n = 0;
    for at in 0..=out.len() - from.len() {
        if &out[at..at + from.len()] == from {
            out[at..at + from.len()].copy_from_slice(to);
            n += 1;
        }
    }
    assert_eq!(n, 2, "once in the entry, once in the directory");
    out
}

#[test]
fn wrong_hashes_and_sizes_are_refused() {
    let text = plain_piece();
    let other = piece(3, 20).to_json().into_bytes();
    let mut same_size = text.clone();
    let at = same_size.iter().rposition(|b| *b == b'1').unwrap();
    same_size[at] = b'2';
    for false_text in [&other, &same_size] {
        let said = refused(&zipped(&[
            ("manifest.json", &manifest(&[("piece.json", &text)])),
            ("piece.json", false_text),
        ]));
        assert!(
            matches!(&said, BundleError::Disagrees { name, .. } if name == "piece.json"),
            "{said}"
        );
    }
    // An image under the name of another: the manifest is true of its bytes.
    let (a, b) = (picture(1), picture(2));
    let name = format!("images/{}.png", hex(&a));
    let mut doc = piece(2, 20);
    doc.parts[0].cutout = Some(piece::Cutout {
        image: name.clone(),
        px_per_mm: 12.0,
        origin_mm: [0.0, 0.0],
    });
    let text = doc.to_json().into_bytes();
    let said = refused(&bundled(&[("piece.json", &text), (&name, &b)])).to_string();
    assert!(said.contains("its name says"), "{said}");
    let said = refused(&bundled(&[("piece.json", &text)])).to_string();
    assert!(said.contains("missing"), "{said}");
    let said = refused(&bundled(&[("piece.json", &plain_piece()), (&name, &a)])).to_string();
    assert!(said.contains("named by nothing"), "{said}");
}

#[test]
fn what_unpacks_to_more_than_it_says_is_refused_without_unpacking_it() {
    let text = plain_piece();
    // 300 MB of nothing in 300 kB.
    let bomb = vec![0u8; 300 << 20];
    let honest = manifest(&[("piece.json", &bomb)]);
    let packed = zipped(&[("manifest.json", &honest), ("piece.json", &bomb)]);
    drop(bomb);
    assert!(packed.len() < 1 << 20);
    assert!(matches!(refused(&packed), BundleError::TooLarge { .. }));
    let lying = manifest(&[("piece.json", &text)]);
    let bomb = vec![b' '; 100 << 20];
    let packed = zipped(&[("manifest.json", &lying), ("piece.json", &bomb)]);
    let said = refused(&packed).to_string();
    assert!(said.contains("longer"), "{said}");
    let packed = zipped(&[("manifest.json", &bomb), ("piece.json", &text)]);
    let said = refused(&packed).to_string();
    assert!(said.contains("longer"), "{said}");
}

#[test]
fn more_files_than_a_bundle_can_have_are_refused_by_count() {
    let names: Vec<String> = (0..5_000).map(|n| format!("images/{n:064x}.png")).collect();
    let entries: Vec<(&str, &[u8])> = names.iter().map(|n| (n.as_str(), b"".as_slice())).collect();
    let said = refused(&zipped(&entries));
    assert!(
        matches!(
            said,
            BundleError::TooLarge {
                found: 5_000,
                unit: "files",
                ..
            }
        ),
        "{said}"
    );
}

#[test]
fn what_comes_before_after_or_beside_a_bundle_is_refused() {
    let text = plain_piece();
    let sound = bundled(&[("piece.json", &text)]);
    for bytes in [
        [b"#!/bin/sh\n".as_slice(), &sound].concat(),
        [sound.as_slice(), b"more"].concat(),
        b"PK\x05\x06".to_vec(),
        b"".to_vec(),
        vec![0; 100_000],
    ] {
        assert!(Bundle::open(Cursor::new(&bytes)).is_err());
    }
    let later = br#"{"format": "setapart-bundle", "version": 2, "files": [], "more": 1}"#;
    assert!(matches!(
        refused(&zipped(&[("manifest.json", later)])),
        BundleError::Newer { found: 2 }
    ));
    let foreign = br#"{"format": "other", "version": 1, "files": []}"#;
    assert!(matches!(
        refused(&zipped(&[("manifest.json", foreign)])),
        BundleError::NotABundle(_)
    ));
}

#[test]
fn a_bundle_that_was_cut_short_or_changed_anywhere_is_refused_or_gives_the_same_piece() {
    let here = fresh("bundle-mutated");
    let id = with_pictures(&here);
    let sound = bundle(&here, id, true);
    let whole = Bundle::open(Cursor::new(&sound)).unwrap();
    let (doc, photos) = (whole.piece().clone(), whole.photos().to_vec());
    for length in (0..sound.len()).step_by(7) {
        assert!(
            Bundle::open(Cursor::new(&sound[..length])).is_err(),
            "cut to {length}"
        );
    }
    let step = if std::env::var_os("SETAPART_LONG").is_some() {
        1
    } else {
        5
    };
    let (mut tried, mut taken) = (0, 0);
    for at in (0..sound.len()).step_by(step) {
        let mut bytes = sound.clone();
        bytes[at] ^= 1 << (at % 8);
        tried += 1;
        let Ok(mut bundle) = Bundle::open(Cursor::new(&bytes)) else {
            continue;
        };
        assert_eq!(bundle.piece(), &doc, "byte {at}");
        assert_eq!(bundle.photos(), photos, "byte {at}");
        // What an image's name promises is what comes, or nothing does.
        let names = bundle.images();
        taken += i32::from(names.iter().all(|name| bundle.image(name).is_ok()));
    }
    // Dates and rights in the zip's records are not looked at.
    assert!(taken < tried / 20, "{taken} of {tried} changes were taken");
}

#[test]
fn a_refused_bundle_adds_no_piece() {
    let store = fresh("bundle-refused");
    let mut doc = piece(2, 20);
    doc.parts[0].cutout = Some(piece::Cutout {
        image: "../../secret.png".into(),
        px_per_mm: 12.0,
        origin_mm: [0.0, 0.0],
    });
    let text = doc.to_json().into_bytes();
    let refused = store
        .read_bundle(Cursor::new(bundled(&[("piece.json", &text)])))
        .unwrap_err();
    assert!(matches!(refused, WorkshopError::Bundle(_)), "{refused}");
    assert!(refused.to_string().contains("secret.png"), "{refused}");
    assert!(store.pieces().unwrap().is_empty());
}
