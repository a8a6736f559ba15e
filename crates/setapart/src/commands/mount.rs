//! `mount`: how a piece is built.

use super::picture::tell_missing_letters;
use super::{Outcome, findings_in_words, read_piece};
use crate::cli;
use crate::document::{Wanted, read_file};
use crate::failure::Failure;
use crate::progress::Progress;
use crate::{files, say};
use ::mount::{Catalogue, MAX_CATALOGUE_BYTES};
use piece::{ApplyAs, Bond, BuildPlan, Fastener, FastenerKind, Joint, Piece};
use serde_json::json;
use std::path::Path;

pub(crate) fn run(args: &cli::Mount) -> Result<Outcome, Failure> {
    let catalogue = read_catalogue(args.catalogue.as_deref())?;
    if args.show_catalogue {
        say::json(&json!(catalogue));
        return Ok(Outcome::Fine);
    }
    let mut piece = read_piece(&args.piece)?;
    let progress = Progress::new();
    let plan = ::mount::plan(&piece, &catalogue, &progress)?;
    drop(progress);
    let mut outputs = files::Outputs::default();
    if let Some(path) = &args.out {
        piece.build = Some(plan.clone());
        outputs.add(path, piece.to_json());
    }
    if let Some(path) = &args.chart {
        outputs.add(path, chart(path, &piece, &plan)?);
    }
    outputs.write()?;
    if args.json {
        say::json(&json!(plan));
    } else {
        say::print(in_words(&piece, &plan, &catalogue));
    }
    Ok(Outcome::of(&plan.findings))
}

/// The schedule in the format that the file's name asks for.
fn chart(path: &Path, piece: &Piece, plan: &BuildPlan) -> Result<Vec<u8>, Failure> {
    const PX_PER_MM: f64 = 8.0;
    let page = press::schedule::lay_out(&piece.name, plan)?;
    tell_missing_letters(&page);
    let ending = path.extension().and_then(|e| e.to_str()).unwrap_or("");
    match ending.to_lowercase().as_str() {
        "svg" => Ok(press::to_svg(&page).into_bytes()),
        "png" => Ok(press::to_png(&page, PX_PER_MM)?),
        "pdf" => {
            let info = press::DocumentInfo {
                title: format!("{}, schedule", piece.name),
                description: "Schedule of the build, made by Setapart".into(),
                language: "en".into(),
            };
            Ok(press::to_pdf(&[page], &info)?)
        }
        _ => Err(Failure::Argument {
            option: "--chart",
            problem: format!(
                "{} ends in none of .svg, .pdf and .png; rename it",
                path.display()
            ),
        }),
    }
}

/// The built-in catalogue, with the user's own changes where a file is given.
pub(crate) fn read_catalogue(path: Option<&Path>) -> Result<Catalogue, Failure> {
    let Some(path) = path else {
        return Catalogue::built_in().map_err(|source| Failure::Catalogue {
            path: "the built-in catalogue".into(),
            source,
        });
    };
    let failed = |source| Failure::Catalogue {
        path: path.into(),
        source,
    };
    read_file(
        Wanted::Other("a catalogue"),
        path,
        MAX_CATALOGUE_BYTES as u64,
        Catalogue::with_json,
        failed,
    )
}

/// Longest name that a table shows.
const NAME: usize = 22;

fn in_words(piece: &Piece, plan: &BuildPlan, catalogue: &Catalogue) -> String {
    let mut text = format!("{}\n", piece.name);
    text += &depth_in_words(plan);
    text += &board_in_words(plan, catalogue);
    text += &hanging_in_words(plan, catalogue);
    text += &parts_in_words(piece, plan, catalogue);
    text += &supports_in_words(piece, plan, catalogue);
    text += &time_in_words(plan);
    if plan.findings.is_empty() {
        text += "\nfindings: none\n";
    } else {
        text += "\nfindings\n";
        text += &findings_in_words(&plan.findings);
    }
    text
}

fn depth_in_words(plan: &BuildPlan) -> String {
    let d = &plan.depth;
    let rebate = match (d.rebate_mm, d.spare_mm) {
        (Some(r), Some(s)) if s >= 0.0 => format!("the rebate has {r:.1}, {s:.1} to spare"),
        (Some(r), Some(s)) => format!("the rebate has {r:.1}, {:.1} too little", -s),
        _ => "the rebate is not known".into(),
    };
    let spacer = if d.spacer.stack_mm.is_empty() {
        format!("cut to {:.1} mm", d.inside_mm)
    } else {
        let stack: Vec<String> = d.spacer.stack_mm.iter().map(|s| format!("{s}")).collect();
        format!("{} mm", stack.join(" + "))
    };
    format!(
        "  depth     {:.1} mm needed; {rebate}; spacers {spacer}\n",
        d.needed_mm
    )
}

fn board_in_words(plan: &BuildPlan, catalogue: &Catalogue) -> String {
    let b = &plan.board;
    let name = catalogue
        .boards
        .get(&b.material)
        .map_or(b.material.as_str(), |e| e.name.as_str());
    format!(
        "  board     {name}; carries {:.0} g; bows by {:.2} mm lying flat, {:.1} allowed\n",
        b.carries_g, b.bow_mm, b.bow_allowed_mm
    )
}

fn hanging_in_words(plan: &BuildPlan, catalogue: &Catalogue) -> String {
    let h = &plan.hanging;
    let name = |id: &str| {
        catalogue
            .hangers
            .get(id)
            .map_or(id.to_owned(), |e| e.name.clone())
    };
    let wire = match &h.wire {
        Some(w) => format!(
            "; wire at {:.0} degrees pulls {:.0} N of {:.0}",
            w.above_horizontal_deg, w.tension_n, w.rating_n
        ),
        None => String::new(),
    };
    format!(
        "  hanging   {:.2} kg; {} x {}, {:.0} times the mass{wire}\n",
        plan.mass_g / 1000.0,
        h.count,
        name(&h.hanger),
        h.times
    )
}

fn parts_in_words(piece: &Piece, plan: &BuildPlan, catalogue: &Catalogue) -> String {
    let mut text = String::from("\n");
    text += &format!(
        "  {:>4} {:<NAME$} {:>7} {:>7} {:>6}  held by\n",
        "item", "part", "top mm", "air mm", "used"
    );
    let numbers = piece.item_numbers();
    let mut rows: Vec<(f64, String)> = Vec::new();
    for d in &plan.depth.parts {
        let bonds: Vec<&Bond> = plan.bonds.iter().filter(|b| b.part == d.part).collect();
        let used = bonds.iter().map(|b| b.utilisation).fold(0.0, f64::max);
        let ties: Vec<&Fastener> = plan.fasteners.iter().filter(|f| f.part == d.part).collect();
        let mut how: Vec<String> = bonds.iter().map(|b| bond_in_words(b, catalogue)).collect();
        if let Some(first) = ties.first() {
            let name = match first.kind {
                FastenerKind::WireTie => "wire ties",
                FastenerKind::Strap => "straps",
                FastenerKind::Screw => "screws",
            };
            how.push(format!("{} {name}", ties.len()));
        }
        let name = piece.part(&d.part).map_or("", |p| p.name.as_str());
        let short: String = name.chars().take(NAME).collect();
        rows.push((
            used,
            format!(
                "  {:>4} {short:<NAME$} {:>7.1} {:>7.1} {:>4.0} %  {}\n",
                numbers.get(&d.part).copied().unwrap_or(0),
                d.top_mm,
                d.clearance_mm,
                100.0 * used,
                how.join("; "),
            ),
        ));
    }
    // The worst first.
    rows.sort_by(|a, b| b.0.total_cmp(&a.0));
    text.extend(rows.into_iter().map(|(_, row)| row));
    text
}

fn bond_in_words(bond: &Bond, catalogue: &Catalogue) -> String {
    let name = catalogue
        .adhesives
        .get(&bond.adhesive)
        .map_or(bond.adhesive.as_str(), |a| a.name.as_str());
    let amount = match bond.apply_as {
        ApplyAs::Bead => format!("beads of {} mm, {:.2} ml", bond.bead_mm, bond.dose_ml),
        ApplyAs::Dots => {
            let dots = say::counted(bond.dots.len(), "dot");
            format!("{dots}, {:.2} ml", bond.dose_ml)
        }
        ApplyAs::Tape => say::counted(bond.tapes.len(), "piece"),
        ApplyAs::Film => format!("a thin coat, {:.2} ml", bond.dose_ml),
    };
    let to = match bond.joint {
        Joint::PartToBoard => "",
        Joint::PartToSupport => "to its support: ",
        Joint::SupportToBoard => "to the board: ",
        Joint::SupportLayers => "between layers: ",
    };
    format!("{to}{name}, {amount}")
}

fn supports_in_words(piece: &Piece, plan: &BuildPlan, catalogue: &Catalogue) -> String {
    if plan.supports.is_empty() {
        return String::new();
    }
    let mut text = String::from("\nsupports\n");
    for s in &plan.supports {
        let layers: Vec<String> = s.layers_mm.iter().map(|l| format!("{l}")).collect();
        let foam = s
            .materials
            .first()
            .and_then(|m| catalogue.foams.get(m))
            .map_or("", |f| f.name.as_str());
        text += &format!(
            "  {:<NAME$} {foam} {} mm, pressed to {:.1} mm ({:.0} %)\n",
            piece.part(&s.part).map_or("", |p| p.name.as_str()),
            layers.join(" + "),
            s.height_mm,
            100.0 * s.compression
        );
    }
    let sheets = say::counted(plan.cut_sheets.len(), "sheet");
    text += &format!("  cut from {sheets}\n");
    text
}

fn time_in_words(plan: &BuildPlan) -> String {
    format!(
        "\n{} steps, {} at work, {} from the first to the last\n",
        plan.steps.len(),
        duration(plan.hands_on_minutes),
        duration(plan.elapsed_minutes)
    )
}

/// Minutes as people say them.
pub(crate) fn duration(minutes: f64) -> String {
    let whole = minutes.round() as u64;
    let (days, hours, rest) = (whole / 1440, whole % 1440 / 60, whole % 60);
    match (days, hours) {
        (0, 0) => format!("{rest} min"),
        (0, _) => format!("{hours} h {rest} min"),
        _ => format!("{days} d {hours} h"),
    }
}
