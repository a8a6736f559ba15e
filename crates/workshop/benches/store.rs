//! Times saves and openings, and shows how they and the database grow; one thread, on the disk of the target folder.
//!
//! `cargo bench -p workshop` makes 10,000 edits of each piece, `cargo bench -p workshop -- long` 100,000; `usual` looks at the
//! piece of 80 parts of 200 points alone.

#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a table for people"
)]

#[path = "../tests/common/mod.rs"]
mod common;

use piece::Piece;
use std::time::Instant;
use workshop::{Edit, Saved, Workshop};

fn main() {
    let long = std::env::args().any(|a| a == "long");
    let most = if long { 100_000 } else { 10_000 };
    println!(
        "parts x points  edits    save ms: median   p95   p99     max   open ms   undo ms   database MB"
    );
    let usual = std::env::args().any(|a| a == "usual");
    for (parts, points) in [(18, 400), (80, 200), (80, 1_000)] {
        if !usual || (parts, points) == (80, 200) {
            edits_of(&common::piece(parts, points), parts, points, most);
        }
    }
    if !usual {
        whole_layouts();
    }
}

/// Milliseconds of the clock, and of this thread on a processor: the second says the same on a busy machine.
struct Timer(Instant, f64);

impl Timer {
    fn start() -> Self {
        Self(Instant::now(), cpu_ms())
    }

    fn ms(&self) -> (f64, f64) {
        (self.0.elapsed().as_secs_f64() * 1e3, cpu_ms() - self.1)
    }
}

/// Time that this thread had a processor (Linux: proc(5), schedstat); 0 elsewhere.
fn cpu_ms() -> f64 {
    std::fs::read_to_string("/proc/thread-self/schedstat")
        .ok()
        .and_then(|text| text.split(' ').next()?.parse::<f64>().ok())
        .map_or(0.0, |ns| ns / 1e6)
}

/// One part is moved a little, as by a key; every hundredth edit moves all, as arranging does.
fn edit(doc: &mut Piece, n: usize) {
    let parts = doc.placements.len();
    if n % 100 == 99 {
        for (k, p) in doc.placements.iter_mut().enumerate() {
            p.x = 20.0 + ((n + 7 * k) % 500) as f64 / 3.0;
        }
    } else {
        let p = &mut doc.placements[n % parts];
        p.x += 0.1;
        p.turn_deg = (n % 360) as f64;
    }
}

fn edits_of(doc: &Piece, parts: usize, points: usize, most: usize) {
    let at = common::folder(&format!("bench-{parts}-{points}"));
    let store = Workshop::open_or_create(&at).unwrap();
    let mut doc = doc.clone();
    let opened = store.new_piece(&doc).unwrap();
    let mut state = opened.state;
    let (mut times, mut cpu_times) = (Vec::new(), Vec::new());
    let mut told = 1_000;
    for n in 1..=most {
        edit(&mut doc, n);
        let timer = Timer::start();
        let saved = store
            .save(opened.id, state.revision, &doc, &Edit::new("Move a part"))
            .unwrap();
        let (ms, cpu_ms) = timer.ms();
        times.push(ms);
        cpu_times.push(cpu_ms);
        let Saved::Saved(now) = saved else {
            panic!("stale")
        };
        state = now;
        if n == told {
            told *= if told.to_string().starts_with('1') {
                5
            } else {
                2
            };
            times.sort_by(f64::total_cmp);
            let share = |p: f64| times[((times.len() - 1) as f64 * p) as usize];
            let timer = Timer::start();
            let cold = Workshop::open(&at).unwrap();
            let again = cold.piece(opened.id).unwrap();
            let open = timer.ms();
            assert_eq!(again.piece, doc);
            let timer = Timer::start();
            let back = cold.undo(opened.id, again.state.revision).unwrap();
            let undo = timer.ms();
            state = cold.redo(opened.id, back.state.revision).unwrap().state;
            let bytes = std::fs::metadata(at.join("workshop.db")).unwrap().len();
            println!(
                "{parts:>5} x {points:<6} {n:>8} {:>7.2} {:>6.2} {:>6.2} {:>7.1} {:>10.2} {:>7.1} {:>6.1} {:>7.1} {:>6.1} {:>12.1}",
                share(0.5),
                share(0.95),
                share(0.99),
                share(1.0),
                cpu_times.iter().sum::<f64>() / cpu_times.len() as f64,
                open.0,
                open.1,
                undo.0,
                undo.1,
                bytes as f64 / 1e6
            );
            times.clear();
            cpu_times.clear();
        }
    }
    drop(store);
    std::fs::remove_dir_all(at).unwrap();
}

/// A worse case for changes between texts: every edit moves all parts.
fn whole_layouts() {
    let at = common::folder("bench-whole");
    let store = Workshop::open_or_create(&at).unwrap();
    let mut doc = common::piece(80, 200);
    let opened = store.new_piece(&doc).unwrap();
    let mut state = opened.state;
    let start = Instant::now();
    for n in 1..=500 {
        edit(&mut doc, 100 * n - 1);
        let Saved::Saved(now) = store
            .save(opened.id, state.revision, &doc, &Edit::new("Arrange"))
            .unwrap()
        else {
            panic!("stale")
        };
        state = now;
    }
    let each = start.elapsed().as_secs_f64() * 1e3 / 500.0;
    let bytes = std::fs::metadata(at.join("workshop.db")).unwrap().len();
    println!(
        "500 edits that move all of 80 parts: {each:.2} ms each, {:.1} MB",
        bytes as f64 / 1e6
    );
    drop(store);
    std::fs::remove_dir_all(at).unwrap();
}
