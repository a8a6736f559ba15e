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

use ledger::Currency;
use ledger::cover::{Budget, Column, Program, read_cover_file, solve};
use ledger::donors::{LotChances, Market, Need, Question};
use ledger::drawer::Drawer;
use piece::PartId;
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
        not_all: Vec::new(),
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

/// A whole question as people ask it: what to buy, the runner-up, and what certainty costs. A share of the cells has a
/// chance; `conditions` makes the lots whole devices that say their condition instead.
fn question(parts: usize, lots: usize, conditions: bool, seed: u64) {
    let mut random = Random::new(seed);
    let names = ["working", "no-power", "display-broken", "liquid"];
    let mut csv = String::from("id,price,shipping,condition");
    for p in 0..parts {
        csv += &format!(",part:p{p}");
    }
    for lot in 0..lots {
        let condition = if conditions {
            names[random.below(4)]
        } else {
            ""
        };
        let price = 5.0 + random.below(5_500) as f64 / 100.0;
        csv += &format!("\nl{lot},{price:.2},4.50,{condition}");
        for _ in 0..parts {
            csv += match random.share() {
                _ if conditions => ",?",
                s if s < 0.15 => [",0.5", ",0.7", ",0.85", ",0.95"][random.below(4)],
                _ => ",-",
            };
        }
    }
    let market = Market::from_csv(csv.as_bytes(), Currency::try_new("EUR").unwrap()).unwrap();
    let chances = LotChances::built_in().unwrap();
    let drawer = Drawer::new();
    let question = Question {
        market: &market,
        needs: (0..parts)
            .map(|p| Need::new(PartId::try_new(format!("p{p}")).unwrap()))
            .collect(),
        drawer: &drawer,
        piece: None,
        chances: &chances,
        budget: Budget::default(),
    };
    let start = Instant::now();
    let answer = question.answer(&Silent).unwrap();
    let answered = start.elapsed().as_secs_f64();
    let curve = question.curve(&Silent).unwrap();
    println!(
        "{{\"name\": \"question of {parts} parts, {lots} lots{}\", \"cost\": {}, \"proved\": {}, \"second_proved\": {}, \
         \"curve_proved\": {}, \"of\": {}, \"answer_s\": {answered:.2}, \"s\": {:.2}}}",
        if conditions { ", whole devices" } else { "" },
        answer.cost,
        answer.proved,
        answer.runner_up_proved,
        curve.iter().filter(|p| p.proved).count(),
        curve.len(),
        start.elapsed().as_secs_f64()
    );
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
    for (parts, lots, conditions) in [(10, 50, false), (40, 200, false), (40, 200, true)] {
        question(parts, lots, conditions, 5);
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
