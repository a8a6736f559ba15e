//! The figures of the catalogue that a plan rests on.

use crate::catalogue::Catalogue;
use crate::depth::Sandwich;
use piece::{Bond, Figure, Sourced};

/// The figures that the plan rests on.
pub(super) fn figures(
    bonds: &[Bond],
    sandwich: &Sandwich<'_>,
    catalogue: &Catalogue,
) -> Vec<Figure> {
    let mut all = Vec::new();
    let mut put = |code: String, name: &str, unit: &str, s: &Sourced<f64>| {
        all.push(Figure {
            code,
            name: name.into(),
            value: s.value,
            unit: unit.into(),
            source: s.source.clone(),
            standing: s.standing,
        });
    };
    let mut used: Vec<&str> = bonds.iter().map(|b| b.adhesive.as_str()).collect();
    used.sort_unstable();
    used.dedup();
    for id in used {
        let Some(a) = catalogue.adhesives.get(id) else {
            continue;
        };
        let mut of = |field: &str, what: &str, unit: &str, s: &Sourced<f64>| {
            put(
                format!("adhesives.{id}.{field}"),
                &format!("{}: {what}", a.name),
                unit,
                s,
            );
        };
        of(
            "lap_shear_mpa",
            "lap shear in the test",
            "MPa",
            &a.lap_shear_mpa,
        );
        if let Some(cap) = &a.sustained_cap_mpa {
            of(
                "sustained_cap_mpa",
                "stress it may bear for years",
                "MPa",
                cap,
            );
        }
        if let Some(rule) = &a.tape_mm2_per_g {
            of("tape_mm2_per_g", "area for each gram", "mm2/g", rule);
        }
        of("open_minutes", "open time", "min", &a.open_minutes);
        of(
            "handle_minutes",
            "holds by itself after",
            "min",
            &a.handle_minutes,
        );
        of(
            "cure_minutes",
            "full strength after",
            "min",
            &a.cure_minutes,
        );
    }
    let (id, board) = sandwich.board;
    put(
        format!("boards.{id}.e_mpa"),
        &format!("{}: modulus in bending", board.name),
        "MPa",
        &board.e_mpa,
    );
    put(
        format!("boards.{id}.facing_mpa"),
        &format!("{}: its facing tears at", board.name),
        "MPa",
        &board.facing_mpa,
    );
    for (name, unit, s) in catalogue.rules.all() {
        put(format!("rules.{name}"), &name.replace('_', " "), unit, s);
    }
    all
}
