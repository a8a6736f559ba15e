//! Times choices of least cost.
//!
//! `cargo bench -p ledger`, or `cargo bench -p ledger -- FILE…` for set covers in the file form of the OR-Library: one
//! line of JSON each, which `reference/ledger_speed.py` sets beside HiGHS.

#![allow(
    clippy::unwrap_used,
    clippy::type_complexity,
    reason = "helpers of tests may panic too; cases are tuples"
)]
#![allow(clippy::print_stdout, reason = "a table for people and scripts")]

use ledger::cover::{Budget, Column, Program, read_cover_file, solve};
use shape::{Random, Silent};
use std::time::Instant;

/// Costs 1 to 100, each row covered twice at least: like the classes 4 to 6 of the literature.
fn generated(rows: usize, columns: usize, density: f64, seed: u64) -> Program {
    let mut random = Random::new(seed);
    let mut program = Program {
        needs: vec![1.0; rows],
        columns: (0..columns)
            .map(|group| Column {
                cost: 1 + random.below(100) as u64,
                group,
                entries: (0..rows)
                    .filter(|_| random.share() < density)
                    .map(|row| (row, 1.0))
                    .collect(),
            })
            .collect(),
    };
    for row in 0..rows {
        for _ in 0..2 {
            let column = &mut program.columns[random.below(columns)];
            if column.entries.iter().all(|e| e.0 != row) {
                column.entries.push((row, 1.0));
            }
        }
    }
    program
}

/// Chances instead of covers: each row asks for a confidence of 0.9.
fn chances(rows: usize, columns: usize, seed: u64) -> Program {
    let mut random = Random::new(seed);
    let mut program = generated(rows, columns, 0.15, seed);
    for column in &mut program.columns {
        column.cost = 500 + random.below(5_500) as u64;
        for entry in &mut column.entries {
            entry.1 = -(1.0 - [0.5_f64, 0.7, 0.85, 0.95][random.below(4)]).ln();
        }
    }
    program.needs = vec![-0.1f64.ln(); rows];
    program
}

fn timed(name: &str, program: &Program) {
    let start = Instant::now();
    match solve(program, None, Budget::default(), &Silent) {
        Ok(c) => println!(
            "{{\"name\": {name:?}, \"cost\": {}, \"proved\": {}, \"nodes\": {}, \"ms\": {:.1}}}",
            c.cost,
            c.is_proved(),
            c.nodes,
            start.elapsed().as_secs_f64() * 1e3
        ),
        Err(e) => println!("{{\"name\": {name:?}, \"error\": {:?}}}", e.to_string()),
    }
}

fn main() {
    let files: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| !a.starts_with("--"))
        .collect();
    if !files.is_empty() {
        for file in files {
            let program = std::fs::read(&file)
                .map_err(|e| e.to_string())
                .and_then(|b| read_cover_file(&b).map_err(|e| e.to_string()));
            match program {
                Ok(program) => timed(&file, &program),
                Err(e) => println!("{{\"name\": {file:?}, \"error\": {e:?}}}"),
            }
        }
        return;
    }
    for (name, rows, columns, density) in [
        ("like 4", 200, 1000, 0.02),
        ("like 5", 200, 2000, 0.02),
        ("like 6", 200, 1000, 0.05),
        ("like a", 300, 3000, 0.02),
    ] {
        for seed in 1..=3 {
            timed(
                &format!("{name}, seed {seed}"),
                &generated(rows, columns, density, seed),
            );
        }
    }
    for (rows, columns) in [(10, 50), (20, 100), (40, 200), (80, 400)] {
        timed(
            &format!("{rows} parts, {columns} lots"),
            &chances(rows, columns, 5),
        );
    }
}
