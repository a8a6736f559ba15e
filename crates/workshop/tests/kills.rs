//! The program is killed at any moment: nothing that was confirmed is lost.
//!
//! The test starts itself again as a program under load, which says on standard output what was confirmed, and kills it
//! (SIGKILL on Unix). 15 kills; with `SETAPART_LONG` 1,000.

#![allow(clippy::unwrap_used, reason = "helpers of tests may panic too")]

mod common;

use common::{folder, piece, save};
use piece::Piece;
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::mpsc::channel;
use std::time::Duration;
use workshop::{Edit, PieceId, RevisionId, Role, Saved, Work, Workshop};

/// Names the folder to the program under load.
const LOAD: &str = "SETAPART_LOAD";

/// Kills before a fresh workshop is begun, so that the check after each kill stays quick.
const KILLS_A_FOLDER: usize = 50;

/// State number `n` of a piece.
fn state_of(n: u64) -> Piece {
    let mut piece = piece(6, 24);
    piece.placements[n as usize % 6].x = n as f64 / 7.0;
    piece.parts[(n / 6) as usize % 6].name = format!("Part named in state {n}");
    if n % 40 == 39 {
        piece.placements.reverse();
    }
    piece
}

fn picture(n: u64) -> Vec<u8> {
    let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
    bytes.extend(n.to_le_bytes().repeat(3_000));
    bytes
}

/// Says what was confirmed, in one write.
fn confirm(line: String) {
    let mut out = std::io::stdout().lock();
    // A reader that went away ends the program.
    if out
        .write_all(format!("{line}\n").as_bytes())
        .and_then(|()| out.flush())
        .is_err()
    {
        std::process::exit(0);
    }
}

/// Edits, undoes, adds images and photos on three threads until it is killed.
fn work_until_killed(at: &Path) -> ! {
    let store = Workshop::open_or_create(at).expect("the workshop opens");
    let seed = u64::from(std::process::id());
    let one = store.new_piece(&state_of(0)).expect("a new piece");
    confirm(format!("edit {} {} 0", one.id, one.state.revision));
    std::thread::scope(|scope| {
        scope.spawn(|| {
            let mut state = one.state.clone();
            for n in 1.. {
                state = save(&store, one.id, &state, &state_of(n), &format!("Edit {n}"));
                confirm(format!("edit {} {} {n}", one.id, state.revision));
            }
        });
        scope.spawn(|| {
            let two = store.new_piece(&state_of(0)).expect("a new piece");
            let mut state = two.state;
            for n in 1.. {
                let edit = Edit::new("x").of_gesture(format!("g{}", n / 3));
                let Saved::Saved(now) = store
                    .save(two.id, state.revision, &state_of(n), &edit)
                    .expect("saved")
                else {
                    panic!("stale");
                };
                confirm(format!("edit {} {} {n}", two.id, now.revision));
                state = now;
                if n % 5 == 0 {
                    let back = store.undo(two.id, state.revision).expect("undone");
                    state = back.state;
                    if n % 2 == 0 {
                        state = store.redo(two.id, state.revision).expect("redone").state;
                    }
                }
            }
        });
        scope.spawn(|| {
            for n in 0.. {
                let name = store.add_image(&picture(seed << 32 | n)).expect("an image");
                confirm(format!("image {name} {}", seed << 32 | n));
                let photo = store
                    .add_photo(one.id, &name, "p.png", Role::Parts, &Work::default())
                    .expect("a photo");
                confirm(format!("photo {}", photo.id));
                store
                    .keep_draft("place", Some(one.id), None, &n.to_string())
                    .expect("a draft");
                confirm(format!("draft {n}"));
            }
        });
    });
    unreachable!("the threads work until they are killed")
}

/// What the program said it had stored.
#[derive(Default)]
struct Confirmed {
    edits: BTreeMap<(i64, i64), u64>,
    images: BTreeMap<String, u64>,
    photos: Vec<i64>,
    draft: Option<u64>,
}

impl Confirmed {
    fn note(&mut self, line: &str) {
        let words: Vec<&str> = line.split(' ').collect();
        let number = |word: &str| word.parse::<i64>().expect("a number");
        match words[..] {
            ["edit", piece, revision, n] => {
                self.edits
                    .insert((number(piece), number(revision)), number(n) as u64);
            }
            ["image", name, n] => {
                self.images.insert(name.into(), number(n) as u64);
            }
            ["photo", id] => self.photos.push(number(id)),
            ["draft", n] => self.draft = Some(number(n) as u64),
            // What the test harness of the child says.
            _ => {}
        }
    }

    /// All of it is there, to the byte.
    fn is_all_in(&self, store: &Workshop) {
        for (&(id, revision), &n) in &self.edits {
            let id: PieceId = id.to_string().parse().unwrap();
            let revision: RevisionId = revision.to_string().parse().unwrap();
            let found = store
                .piece_at(id, revision)
                .unwrap_or_else(|e| panic!("edit {n} of piece {id} is lost: {e}"));
            assert_eq!(found, state_of(n), "edit {n} of piece {id}");
        }
        for (name, &n) in &self.images {
            let found = store
                .image(&name.parse().unwrap())
                .unwrap_or_else(|e| panic!("{name} is lost: {e}"));
            assert!(found == picture(n), "{name}");
        }
        for id in &self.photos {
            store
                .photo(id.to_string().parse().unwrap())
                .unwrap_or_else(|e| panic!("photo {id} is lost: {e}"));
        }
    }
}

#[test]
fn nothing_that_was_confirmed_is_lost_when_the_program_is_killed() {
    if let Some(at) = std::env::var_os(LOAD) {
        work_until_killed(Path::new(&at));
    }
    let kills = if std::env::var_os("SETAPART_LONG").is_some() {
        1_000
    } else {
        15
    };
    let mut random = 0x5e7a_9a27_u64;
    let mut all = 0;
    let mut at = folder("kills");
    let mut before = Confirmed::default();
    for kill in 0..kills {
        if kill % KILLS_A_FOLDER == 0 {
            at = folder("kills");
            before = Confirmed::default();
        }
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args([
                "nothing_that_was_confirmed_is_lost_when_the_program_is_killed",
                "--exact",
                "--nocapture",
            ])
            .env(LOAD, &at)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let out = BufReader::new(child.stdout.take().unwrap());
        let (begun, work_begins) = channel();
        let reader = std::thread::spawn(move || {
            let mut confirmed = Confirmed::default();
            // A line that was cut off by the kill was not said.
            for line in out.split(b'\n').map_while(Result::ok) {
                confirmed.note(&String::from_utf8_lossy(&line));
                if confirmed.edits.len() == 1 {
                    let _ = begun.send(());
                }
            }
            confirmed
        });
        // One in four in the first moments, when the workshop is made or opened; the others well into the work, however
        // busy the machine is.
        if kill % 4 != 0 {
            let _ = work_begins.recv_timeout(Duration::from_secs(30));
        }
        random ^= random << 13;
        random ^= random >> 7;
        random ^= random << 17;
        std::thread::sleep(Duration::from_millis(5 + random % 250));
        child.kill().unwrap();
        let ended = child.wait_with_output().unwrap();
        let confirmed = reader.join().unwrap();
        let said = String::from_utf8_lossy(&ended.stderr);
        assert!(!said.contains("panicked"), "kill {kill}: {said}");
        if !Workshop::is_there(&at) {
            assert!(confirmed.edits.is_empty());
            continue;
        }
        let store =
            Workshop::open_or_create(&at).unwrap_or_else(|e| panic!("after kill {kill}: {e}"));
        confirmed.is_all_in(&store);
        before.is_all_in(&store);
        if let Some(n) = confirmed.draft {
            let kept: u64 = store.draft("place").unwrap().unwrap().body.parse().unwrap();
            assert!(kept >= n);
        }
        let checked = store.check(&|_| {}).unwrap();
        assert!(
            checked.is_sound(),
            "after kill {kill}: {:?}",
            checked.findings
        );
        all += confirmed.edits.len() + confirmed.images.len() + confirmed.photos.len();
        // The last folder's are looked at again after each later kill.
        before = confirmed;
    }
    println!("{kills} kills, {all} edits, images and photos were confirmed, none lost");
    assert!(
        all > kills,
        "the load was too light to say anything: {all} confirmed"
    );
}
