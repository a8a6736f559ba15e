//! A full disk, a folder that cannot be written, databases that are no workshop's, or of a later version, or damaged.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers of tests may panic and print too"
)]

mod common;

use ::piece::PartKind;
use common::{folder, fresh, part, piece, save};
use serde_json::json;
use std::fs;
use std::path::Path;
use std::process::Command;
use workshop::{
    Condition, Edit, Outcome, Reserved, Saved, StockItem, Verdict, Workshop, WorkshopError,
};

fn picture(n: u32, bytes: usize) -> Vec<u8> {
    let mut out = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut x = n | 1;
    while out.len() < bytes {
        x ^= x << 13;
        x ^= x >> 17;
        x ^= x << 5;
        out.extend(x.to_le_bytes());
    }
    out
}

/// Saves edits and images until one is refused, and says how far it came and what was said: `edits images message`.
fn fill(at: &Path) -> (u64, u32, String) {
    let store = Workshop::open_or_create(at).expect("the workshop opens");
    let opened = store
        .new_piece(&piece(8, 60))
        .expect("there is room for one piece");
    let mut state = opened.state;
    let mut doc = opened.piece;
    for n in 1..100_000 {
        doc.placements[n as usize % 8].x = n as f64 / 3.0;
        doc.name = format!("State {n}");
        match store.save(
            opened.id,
            state.revision,
            &doc,
            &Edit::new(format!("Edit {n}")),
        ) {
            Ok(Saved::Saved(now)) => state = now,
            Ok(Saved::Stale(_)) => panic!("stale"),
            Err(e) => return (n - 1, (n as u32 - 1) / 10, told(&store, e)),
        }
        if n % 10 == 0
            && let Err(e) = store.add_image(&picture(n as u32 / 10, 30_000))
        {
            return (n, n as u32 / 10 - 1, told(&store, e));
        }
    }
    panic!("the disk never became full");
}

/// The message; that everything can still be read is checked by the way.
fn told(store: &Workshop, e: WorkshopError) -> String {
    let listed = store.pieces().expect("a full disk can be read");
    store.piece(listed[0].id).expect("a full disk can be read");
    assert!(matches!(e, WorkshopError::Full { .. }), "{e:?}");
    e.to_string()
}

/// All that was confirmed is there, nothing is half there, and work goes on once there is room.
fn all_is_there(at: &Path, edits: u64, images: u32) {
    let store = Workshop::open(at).unwrap();
    let listed = store.pieces().unwrap();
    let opened = store.piece(listed[0].id).unwrap();
    assert_eq!(
        opened.piece.name,
        if edits == 0 {
            "Test piece".into()
        } else {
            format!("State {edits}")
        }
    );
    assert_eq!(
        store.history(opened.id, None, usize::MAX).unwrap().len() as u64,
        edits + 1
    );
    for n in 1..=images {
        let bytes = picture(n, 30_000);
        store
            .image(&workshop::ImageName::of(&bytes).unwrap())
            .unwrap();
    }
    let checked = store.check(&|_| {}).unwrap();
    assert!(checked.is_sound(), "{:?}", checked.findings);
    assert!(
        checked.findings.iter().all(|f| f.code != "store.leftover"),
        "{:?}",
        checked.findings
    );
    let mut doc = opened.piece.clone();
    doc.name = "There is room again".into();
    save(&store, opened.id, &opened.state, &doc, "Go on");
}

const FILL: &str = "SETAPART_FILL";

/// Runs the test of that name again with a shell's commands before it, and gives what it said it did.
#[cfg(unix)]
fn fill_under(commands: &str, test: &str, at: &Path) -> Option<(u64, u32, String)> {
    let exe = std::env::current_exe().unwrap();
    let script = format!("{commands} && exec {:?} {test} --exact --nocapture", exe);
    let done = Command::new("sh")
        .args(["-c", &script])
        .env(FILL, at)
        .output()
        .unwrap();
    let out = String::from_utf8_lossy(&done.stdout).into_owned();
    let line = out.lines().find_map(|l| l.split_once("filled: "));
    let Some((_, line)) = line else {
        println!("{out}\n{}", String::from_utf8_lossy(&done.stderr));
        return None;
    };
    let mut words = line.splitn(3, ' ');
    let edits = words.next()?.parse().ok()?;
    let images = words.next()?.parse().ok()?;
    Some((edits, images, words.next()?.into()))
}

fn play_the_filler() {
    if let Some(at) = std::env::var_os(FILL) {
        let (edits, images, said) = fill(Path::new(&at));
        println!("filled: {edits} {images} {said}");
        std::process::exit(0);
    }
}

#[cfg(unix)]
#[test]
fn a_file_that_may_not_grow_stops_the_edit_and_no_more() {
    play_the_filler();
    let at = folder("may-not-grow");
    // POSIX: ulimit -f counts blocks of 512 bytes. A signal that the shell ignores stays ignored.
    let test = "a_file_that_may_not_grow_stops_the_edit_and_no_more";
    let (edits, images, said) =
        fill_under("trap '' XFSZ && ulimit -f 4000", test, &at).expect("it ran");
    assert!(edits > 5, "{edits} edits");
    assert!(
        said.contains("disk is full") && said.contains("earlier ones are"),
        "{said}"
    );
    all_is_there(&at, edits, images);
}

/// A disk of 3 MB, where this process may mount one.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_stops_the_edit_and_no_more() {
    play_the_filler();
    let at = folder("full-disk");
    let mounted = Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=3m", "tmpfs"])
        .arg(&at)
        .output()
        .is_ok_and(|o| o.status.success());
    if !mounted {
        println!("not tried: this process may not mount a small disk");
        return;
    }
    let filled = std::panic::catch_unwind(|| {
        let test = "a_full_disk_stops_the_edit_and_no_more";
        let (edits, images, said) = fill_under("true", test, &at.join("workshop")).expect("it ran");
        assert!(edits > 5, "{edits} edits");
        assert!(said.contains("disk is full"), "{said}");
        // Looked at where there is room: the disk is as full as it was.
        let roomy = folder("full-disk-copied");
        let copied = Command::new("cp")
            .arg("-a")
            .arg(at.join("workshop"))
            .arg(&roomy)
            .status()
            .unwrap();
        assert!(copied.success());
        all_is_there(&roomy.join("workshop"), edits, images);
    });
    let unmounted = Command::new("umount").arg(&at).status();
    filled.unwrap();
    assert!(unmounted.unwrap().success());
}

/// Takes the right to write away, whoever runs this; `None` where that cannot be done.
#[cfg(unix)]
fn make_read_only(at: &Path) -> Option<Box<dyn Fn()>> {
    use std::os::unix::fs::PermissionsExt;
    let set =
        |path: &Path, mode| fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
    let all: Vec<_> = [at.into(), at.join("images"), at.join("workshop.db")]
        .into_iter()
        .filter(|p: &std::path::PathBuf| p.exists())
        .collect();
    for path in &all {
        let folder = path.is_dir();
        set(path, if folder { 0o555 } else { 0o444 });
    }
    let undo = move || {
        for path in &all {
            set(path, if path.is_dir() { 0o755 } else { 0o644 });
        }
    };
    if fs::write(at.join("probe"), "x").is_err() {
        return Some(Box::new(undo));
    }
    // Who may do anything needs a disk that cannot be written.
    fs::remove_file(at.join("probe")).unwrap();
    undo();
    let mount = |args: &[&str]| {
        Command::new("mount")
            .args(args)
            .arg(at)
            .output()
            .is_ok_and(|o| o.status.success())
    };
    let path = at.to_string_lossy().into_owned();
    if !mount(&["--bind", &path]) {
        return None;
    }
    let at = at.to_owned();
    let undo = move || {
        let _ = Command::new("umount").arg(&at).status();
    };
    if mount(&["-o", "remount,ro,bind"]) {
        Some(Box::new(undo))
    } else {
        undo();
        None
    }
}

#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_written_is_told_and_left_as_it_was() {
    let store = fresh("read-only");
    let opened = store.new_piece(&piece(2, 20)).unwrap();
    let at = store.folder().to_owned();
    let empty = folder("read-only-empty");
    drop(store);
    for (at, there) in [(&at, true), (&empty, false)] {
        let Some(undo) = make_read_only(at) else {
            println!("not tried: this process may write anywhere and mount nothing");
            return;
        };
        let refused = Workshop::open_or_create(at);
        undo();
        let refused = refused.expect_err("it cannot be written");
        assert!(
            matches!(refused, WorkshopError::ReadOnly { .. }),
            "{refused:?}"
        );
        let said = refused.to_string();
        assert!(
            said.contains("cannot be written") && said.contains(&*at.to_string_lossy()),
            "{said}"
        );
        if there {
            assert_eq!(
                Workshop::open(at).unwrap().piece(opened.id).unwrap(),
                opened
            );
        }
    }
}

#[test]
fn a_workshop_of_a_later_version_is_refused_and_left_as_it_was() {
    let store = fresh("later");
    store.new_piece(&piece(2, 20)).unwrap();
    let at = store.folder().to_owned();
    drop(store);
    let file = at.join("workshop.db");
    let db = rusqlite::Connection::open(&file).unwrap();
    db.pragma_update(None, "user_version", 99).unwrap();
    drop(db);
    let before = fs::read(&file).unwrap();
    let refused = Workshop::open_or_create(&at).unwrap_err();
    assert!(
        matches!(refused, WorkshopError::Newer { found: 99, .. }),
        "{refused:?}"
    );
    assert!(refused.to_string().contains("newer version"), "{refused}");
    assert!(fs::read(&file).unwrap() == before, "the file was changed");
}

#[test]
fn what_is_no_workshop_is_refused_and_left_as_it_was() {
    let at = folder("no-workshop");
    let file = at.join("workshop.db");
    fs::write(&file, "my own notes\n".repeat(500)).unwrap();
    let refused = Workshop::open_or_create(&at).unwrap_err();
    assert!(
        matches!(refused, WorkshopError::NotAWorkshop { .. }),
        "{refused:?}"
    );
    assert_eq!(
        fs::read_to_string(&file).unwrap(),
        "my own notes\n".repeat(500)
    );
    fs::remove_file(&file).unwrap();
    let db = rusqlite::Connection::open(&file).unwrap();
    db.execute_batch("CREATE TABLE recipe (id INTEGER)")
        .unwrap();
    drop(db);
    let refused = Workshop::open_or_create(&at).unwrap_err();
    assert!(
        matches!(refused, WorkshopError::NotAWorkshop { .. }),
        "{refused:?}"
    );
    assert!(matches!(
        Workshop::open(folder("nothing-there")),
        Err(WorkshopError::NotThere { .. })
    ));
}

#[test]
fn a_damaged_database_is_told() {
    let store = fresh("damaged");
    let opened = store.new_piece(&piece(30, 60)).unwrap();
    let mut state = opened.state;
    let mut doc = opened.piece;
    for n in 0..40 {
        doc.placements[n % 30].x += 1.0;
        state = save(&store, opened.id, &state, &doc, "x");
    }
    let at = store.folder().to_owned();
    drop(store);
    let file = at.join("workshop.db");
    let sound = fs::read(&file).unwrap();
    // One page after another is spoilt; each time somebody says so, or everything is as it was.
    let page = 4096;
    for n in 1..sound.len() / page {
        let mut bytes = sound.clone();
        bytes[n * page + 8..n * page + 600].fill(0x5a);
        fs::write(&file, &bytes).unwrap();
        let told = Workshop::open(&at).and_then(|store| store.check(&|_| {}));
        match told {
            Ok(checked) if checked.is_sound() => {
                let again = Workshop::open(&at).unwrap().piece(opened.id).unwrap();
                assert_eq!(again.piece, doc, "page {n} was spoilt, and nobody said so");
            }
            Ok(_) => {}
            Err(e) => assert!(
                matches!(
                    e,
                    WorkshopError::Damaged { .. } | WorkshopError::Database { .. }
                ),
                "page {n}: {e:?}"
            ),
        }
    }
}

/// Runs SQL on a workshop's database, as another program could; what the tables check is not checked.
fn spoil(at: &Path, sql: &str) {
    let db = rusqlite::Connection::open(at.join("workshop.db")).unwrap();
    db.pragma_update(None, "ignore_check_constraints", true)
        .unwrap();
    assert_eq!(db.execute(sql, []).unwrap(), 1, "{sql}");
}

#[test]
fn an_entry_that_cannot_be_read_is_told_and_not_taken_for_another() {
    for (n, sql) in [
        r#"UPDATE stock SET part = '{"id": "p4"}'"#,
        "UPDATE stock SET kind = 'gizmo'",
        "UPDATE stock SET condition = 'fine'",
        "UPDATE stock SET reserved_part = ''",
        "UPDATE image SET kind = 'bmp'",
        "UPDATE outcome SET verdict = 'maybe'",
        "UPDATE outcome SET evidence = '{'",
        "UPDATE outcome SET yields = ''",
    ]
    .into_iter()
    .enumerate()
    {
        let store = fresh(&format!("entry-{n}"));
        let opened = store.new_piece(&piece(1, 20)).unwrap();
        let stock = store
            .add_stock(&StockItem {
                name: "Main board".into(),
                kind: PartKind::Board,
                model: "Dipper 3".into(),
                condition: Condition::Whole,
                origin: String::new(),
                part: Some(part(4, 20)),
                image: Some(store.add_image(&picture(1, 500)).unwrap()),
                reserved: Some(Reserved {
                    piece: opened.id,
                    part: Some(common::id(1)),
                }),
                note: String::new(),
            })
            .unwrap();
        store
            .set_outcome(
                None,
                &Outcome {
                    kind: "recorder".into(),
                    verdict: Verdict::Donor,
                    reached: None,
                    evidence: json!({}),
                    yields: json!({}),
                    piece: None,
                    note: String::new(),
                },
            )
            .unwrap();
        assert!(store.check(&|_| {}).unwrap().findings.is_empty());
        spoil(store.folder(), sql);
        let damaged = |e: WorkshopError| matches!(e, WorkshopError::Damaged { .. });
        if sql.contains("outcome") {
            assert!(store.outcomes().is_err_and(damaged), "{sql}");
        } else {
            assert!(store.stock(false).is_err_and(damaged), "{sql}");
            assert!(store.stocked(stock).is_err_and(damaged), "{sql}");
        }
        assert!(!store.check(&|_| {}).unwrap().is_sound(), "{sql}");
    }
}

#[test]
fn a_picture_of_an_unknown_kind_is_told_kept_and_never_left_out_of_a_backup() {
    let store = fresh("image-kind");
    store.add_image(&picture(1, 500)).unwrap();
    spoil(store.folder(), "UPDATE image SET kind = 'bmp'");
    let checked = store.check(&|_| {}).unwrap();
    let codes: Vec<_> = checked.findings.iter().map(|f| f.code.as_str()).collect();
    assert_eq!(codes, ["store.image-kind"]);
    assert!(!checked.is_sound());
    let refused = store.back_up(&folder("image-kind-backup"), &|_| {});
    assert!(
        matches!(refused, Err(WorkshopError::Damaged { .. })),
        "{refused:?}"
    );
}

#[test]
fn many_windows_that_are_opened_at_once_make_one_workshop() {
    let at = folder("at-once");
    let identity: Vec<_> = std::thread::scope(|scope| {
        let open = || {
            let store = Workshop::open_or_create(&at).unwrap();
            store.new_piece(&piece(1, 20)).unwrap().id
        };
        let threads: Vec<_> = (0..8).map(|_| scope.spawn(open)).collect();
        threads.into_iter().map(|t| t.join().unwrap()).collect()
    });
    assert_eq!(identity.len(), 8);
    assert_eq!(Workshop::open(&at).unwrap().pieces().unwrap().len(), 8);
}
