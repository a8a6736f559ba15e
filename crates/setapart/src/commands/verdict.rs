//! `verdict`: repair, donor or display.

use super::Outcome;
use super::ledger_files::{add_tables, currency, in_words, read, read_or_stdin};
use crate::cli::{self, ActionName};
use crate::document::{Document, Wanted};
use crate::failure::Failure;
use crate::files::Outputs;
use crate::say;
use ledger::Money;
use ledger::intake::{ActionKind, DeviceKind, Experience, Intake, Verdict, judge};
use serde_json::json;

pub(crate) fn run(args: &cli::Verdict) -> Result<Outcome, Failure> {
    if let Some(id) = &args.show_kind {
        say::print(kind_called(id, "--show-kind")?.to_json());
        return Ok(Outcome::Fine);
    }
    if let Some(id) = &args.blank {
        let kind = match &args.kind {
            Some(path) => read(path, Document::DeviceKind, DeviceKind::from_json)?,
            None => kind_called(id, "--blank")?,
        };
        say::print(Intake::blank(&kind, currency(&args.currency)?).to_json());
        return Ok(Outcome::Fine);
    }
    let intake = read_or_stdin(args.form.as_deref(), Document::Intake, Intake::from_json)?;
    let kind = match &args.kind {
        Some(path) => {
            let kind = read(path, Document::DeviceKind, DeviceKind::from_json)?;
            if kind.id != intake.kind {
                return Err(Failure::Argument {
                    option: "--kind",
                    problem: format!(
                        "is of the kind {:?}, the form of {:?}",
                        kind.id, intake.kind
                    ),
                });
            }
            kind
        }
        None => kind_called(&intake.kind, "the form's kind")?,
    };
    let experience = match &args.outcomes {
        Some(path) => read(path, Wanted::Table("a table of outcomes"), |csv| {
            Experience::from_csv(csv, &kind)
        })?,
        None => Experience::none(&kind),
    };
    let planned = args.planned.map(|p| match p {
        ActionName::Repair => ActionKind::Repair,
        ActionName::Donor => ActionKind::Donor,
        ActionName::Display => ActionKind::Display,
        ActionName::Recycle => ActionKind::Recycle,
    });
    let verdict = judge(&intake, &kind, &experience, planned)?;
    let mut outputs = Outputs::default();
    add_tables(
        &mut outputs,
        &args.tables,
        &format!("Verdict on {}", verdict.device),
        &verdict.tables(),
    )?;
    outputs.write()?;
    if args.tables.json {
        say::json(&json!(verdict));
    } else {
        say::print(told(&verdict));
    }
    Ok(Outcome::Fine)
}

fn kind_called(id: &str, option: &'static str) -> Result<DeviceKind, Failure> {
    let kinds = DeviceKind::built_in()?;
    let names: Vec<String> = kinds
        .iter()
        .map(|k| format!("{} ({})", k.id, k.title))
        .collect();
    kinds
        .into_iter()
        .find(|k| k.id == id)
        .ok_or_else(|| Failure::Argument {
            option,
            problem: format!("there is no kind {id:?}; there are: {}", names.join("; ")),
        })
}

pub(super) fn told(v: &Verdict) -> String {
    let money = |minor: i64| Money::new(minor, v.currency);
    let mut text = format!("{}\n  {}\n", v.device, v.sentence);
    for w in &v.warnings {
        text += &format!("  warn  {}\n        {} [{}]\n", w.text, w.remedy, w.code);
    }
    let tables = v.tables();
    text += "\nwhat each brings on the average\n";
    text += &in_words(&tables[0]);
    for missing in &v.not_weighed {
        text += &format!("  not weighed: {missing}\n");
    }
    if let Some(p) = v.break_even_chance {
        text += &format!(
            "  repair pays from a chance of {p} on; it is {}\n",
            v.repair_chance
        );
    }
    text += "\nwhat may be wrong\n";
    text += &in_words(&tables[1]);
    if !v.parts.is_empty() {
        text += "\nits parts\n";
        text += &in_words(&tables[2]);
    }
    if !v.next_checks.is_empty() {
        text += &format!(
            "\nchecks that were not made, most worth first (no check is worth more than {})\n",
            money(v.perfect_information_minor)
        );
        text += &in_words(&tables[3]);
        let first = &v.next_checks[0];
        text += &format!("  how: {}\n", first.how);
        if let Some(caution) = &first.caution {
            text += &format!("  caution: {caution}\n");
        }
    }
    let standing = v.standing.in_words();
    text += &format!(
        "\nnumbers: {standing}; {} of your own devices counted; {}\n",
        v.n, v.source
    );
    text
}
