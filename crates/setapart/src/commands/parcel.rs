//! `parcel`: how a piece travels.

use super::ledger_files::read;
use super::{Outcome, read_piece};
use crate::cli;
use crate::document::Document;
use crate::failure::Failure;
use crate::say;
use ledger::parcel::{Carriage, CellRating, Parcel, ParcelOptions, pack};
use serde_json::json;

pub(crate) fn run(args: &cli::Parcel) -> Result<Outcome, Failure> {
    let mut carriage = match &args.carriage {
        Some(path) => read(path, Document::Carriage, Carriage::from_json)?,
        None => Carriage::built_in()?,
    };
    if args.show_carriage {
        say::print(carriage.to_json());
        return Ok(Outcome::Fine);
    }
    for (option, asked, figure, range) in [
        (
            "--divisor",
            args.divisor,
            &mut carriage.divisor_cm3_per_kg,
            500.0..=50_000.0,
        ),
        (
            "--fragility",
            args.fragility,
            &mut carriage.fragility_g,
            5.0..=500.0,
        ),
    ] {
        if let Some(value) = asked {
            if !range.contains(&value) {
                return Err(Failure::Argument {
                    option,
                    problem: format!(
                        "is {value}; it must be {} to {}",
                        range.start(),
                        range.end()
                    ),
                });
            }
            *figure = piece::Sourced::new(value, "given", piece::Standing::Own);
        }
    }
    let mut cells = Vec::new();
    for (option, list, single) in [
        ("--cell", &args.cell, true),
        ("--battery", &args.battery, false),
    ] {
        for text in list {
            cells.push(rating(text, option, single)?);
        }
    }
    let piece = read_piece(&args.piece)?;
    let parcel = pack(
        &piece,
        &carriage,
        &ParcelOptions {
            cells,
            mass_g: args.mass,
        },
    )?;
    if args.json {
        say::json(&json!(parcel));
    } else {
        say::print(told(&piece.name, &parcel));
    }
    Ok(Outcome::Fine)
}

fn rating(text: &str, option: &'static str, single_cell: bool) -> Result<CellRating, Failure> {
    let parts = text.rsplit_once('=').and_then(|(name, rest)| {
        let (volts, amp_hours) = rest.split_once(',')?;
        Some((
            name.to_owned(),
            volts.trim().parse().ok()?,
            amp_hours.trim().parse().ok()?,
        ))
    });
    let (name, volts, amp_hours) = parts.ok_or_else(|| Failure::Argument {
        option,
        problem: format!("{text:?}: write NAME=V,AH with decimal points, as in pack=14.4,5"),
    })?;
    Ok(CellRating {
        name,
        volts,
        amp_hours,
        single_cell,
    })
}

pub(super) fn told(name: &str, p: &Parcel) -> String {
    let size = |s: [f64; 3]| s.map(|v| format!("{v:.0}")).join(" x ");
    let mut text = format!("parcel for {name}\n");
    text += &format!(
        "  framed piece  {} mm, {:.0} g\n",
        size(p.piece_mm),
        p.piece_g.ceil()
    );
    text += &format!(
        "  cushion       {:.1} mm on every side (needed {:.1} mm for a fall of {:.0} mm), resting on {:.0} cm2 or more\n",
        p.cushion_mm,
        (p.cushion_needed_mm * 10.0).ceil() / 10.0,
        p.drop_mm,
        (p.bearing_mm2 / 100.0).ceil()
    );
    text += &format!(
        "  box           {} mm outside, {:.1} kg packed\n",
        size(p.size_mm),
        (p.mass_g / 100.0).ceil() / 10.0
    );
    text += &format!(
        "  charged       {} kg (by volume {} kg)\n",
        p.charged_kg, p.dimensional_kg
    );
    if let Some(freight) = p.freight {
        text += &format!("  freight       {freight}\n");
    }
    text += &format!("  lithium       {}\n", p.lithium.statement);
    for note in p.notes.iter().chain(&p.lithium.notes) {
        text += &format!("  note  {note}\n");
    }
    text += "\npacking\n";
    for (k, step) in p.steps.iter().enumerate() {
        text += &format!("  {}. {step}\n", k + 1);
    }
    text += "\nfigures\n";
    for f in &p.figures {
        let standing = f.standing.in_words();
        text += &format!(
            "  {:<36} {:>8} {:<7} {standing}: {}\n",
            f.name, f.value, f.unit, f.source
        );
    }
    text
}
