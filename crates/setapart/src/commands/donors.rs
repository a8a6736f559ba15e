//! `donors`: what to buy.

use super::ledger_files::{add_tables, currency, in_words, is_csv, picture, read};
use super::picture::PictureKind;
use super::{Outcome, read_piece};
use crate::cli::{self, PieceIn};
use crate::document::{Document, Wanted};
use crate::failure::Failure;
use crate::files::{self, Outputs};
use crate::progress::Progress;
use crate::say;
use ledger::cover::{Budget, MAX_COVER_BYTES, StoppedBy, read_cover_file, solve};
use ledger::donors::{Answer, CurvePoint, LotChances, Market, Need, Question, Selection};
use ledger::drawer::Drawer;
use ledger::{Chance, Money};
use piece::{PartId, Piece};
use press::chart::{StepPoint, Steps, lay_out_steps};
use serde_json::json;
use std::path::Path;

pub(crate) fn run(args: &cli::Donors) -> Result<Outcome, Failure> {
    if let Some(seconds) = args.time
        && !(0.0..=86_400.0).contains(&seconds)
    {
        return Err(Failure::Argument {
            option: "--time",
            problem: format!("is {seconds}; it must be 0 to 86400 seconds"),
        });
    }
    if args.show_chances {
        say::print(LotChances::built_in()?.to_json());
        return Ok(Outcome::Fine);
    }
    if let Some(path) = &args.cover {
        return cover(path, args);
    }
    let picture_kind = args.picture.as_deref().map(PictureKind::of).transpose()?;
    let market = read_market(args)?;
    let drawer = match &args.drawer {
        Some(path) if is_csv(path) => {
            read(path, Wanted::Table("a table of stock"), Drawer::from_csv)?
        }
        Some(path) => read(path, Document::Drawer, Drawer::from_json)?,
        None => Drawer::new(),
    };
    let mut chances = match &args.chances {
        Some(path) => read(path, Document::LotChances, LotChances::from_json)?,
        None => LotChances::built_in()?,
    };
    if let Some(path) = &args.lot_outcomes {
        read(path, Wanted::Table("a table of outcomes"), |csv| {
            chances.learn(csv)
        })?;
    }
    let piece = if args.input.is_some() || market.needs.is_empty() {
        Some(read_piece(&PieceIn {
            input: args.input.clone(),
        })?)
    } else {
        None
    };
    let question = Question {
        market: &market,
        needs: market.needs_of(piece.as_ref())?,
        drawer: &drawer,
        piece: piece.as_ref().map(|p| p.name.as_str()),
        chances: &chances,
        budget: Budget::default(),
    };
    let progress = Progress::with_time_limit(args.time);
    let answer = question.answer(&progress)?;
    let curve = question.curve(&progress)?;
    drop(progress);
    let mut outputs = Outputs::default();
    if let (Some(path), Some(kind)) = (&args.picture, picture_kind) {
        outputs.add(
            path,
            picture(
                kind,
                &lay_out_steps(&curve_picture(&question, &answer, &curve))?,
            )?,
        );
    }
    add_tables(&mut outputs, &args.tables, "Donors", &answer.tables())?;
    outputs.write()?;
    if args.tables.json {
        let mut value = json!(answer);
        value["curve"] = json!(curve);
        say::json(&value);
    } else {
        say::print(told(&answer, &curve, piece.as_ref()));
    }
    Ok(Outcome::Fine)
}

fn read_market(args: &cli::Donors) -> Result<Market, Failure> {
    let Some(path) = &args.lots else {
        return Err(Failure::Argument {
            option: "--lots",
            problem: "is missing".into(),
        });
    };
    let mut market = if is_csv(path) {
        let currency = currency(&args.currency)?;
        read(path, Wanted::Table("a table of lots"), |csv| {
            Market::from_csv(csv, currency)
        })?
    } else {
        read(path, Document::Lots, Market::from_json)?
    };
    if let Some(confidence) = args.confidence {
        market.confidence = Chance::try_new(confidence).map_err(|e| Failure::Argument {
            option: "--confidence",
            problem: e.to_string(),
        })?;
        for need in &mut market.needs {
            need.confidence = None;
        }
    }
    if !args.need.is_empty() {
        market.needs = args
            .need
            .iter()
            .map(|n| need(n))
            .collect::<Result<_, _>>()?;
    }
    Ok(market)
}

fn need(text: &str) -> Result<Need, Failure> {
    let bad = |problem: String| Failure::Argument {
        option: "--need",
        problem,
    };
    let (name, quantity) = match text.rsplit_once('=') {
        Some((name, n)) => {
            let n = n.parse::<u32>().ok().filter(|n| (1..=50).contains(n));
            (
                name,
                n.ok_or_else(|| bad(format!("{text:?}: behind = stands how many, 1 to 50")))?,
            )
        }
        None => (text, 1),
    };
    let part = PartId::try_new(name).map_err(|e| bad(format!("{text:?}: {e}")))?;
    Ok(Need {
        quantity,
        per_device: Some(1),
        ..Need::new(part)
    })
}

/// A set cover of the literature, by the search that chooses lots.
fn cover(path: &Path, args: &cli::Donors) -> Result<Outcome, Failure> {
    let bytes = files::read(path, MAX_COVER_BYTES as u64, "a set cover file")?;
    let program = read_cover_file(&bytes).map_err(|source| Failure::Cover {
        path: path.into(),
        source,
    })?;
    let progress = Progress::with_time_limit(args.time);
    let choice =
        solve(&program, None, Budget::default(), &progress).map_err(ledger::LedgerError::from)?;
    drop(progress);
    let buy: Vec<usize> = choice.columns.iter().map(|c| c + 1).collect();
    let proved = choice.is_proved();
    if args.tables.json {
        let stopped_by = match choice.stopped_by {
            StoppedBy::Proof => "proof",
            StoppedBy::Steps => "steps",
            StoppedBy::Watch => "watch",
        };
        say::json(&json!({
            "buy": buy, "cost": choice.cost, "confidence": 1.0, "proved": proved, "bound": choice.bound,
            "stopped_by": stopped_by, "nodes": choice.nodes,
        }));
    } else {
        let word = if proved { "proved" } else { "not proved" };
        say::line(format_args!(
            "{} columns, cost {}, {word} (no less than {})",
            buy.len(),
            choice.cost,
            choice.bound
        ));
    }
    Ok(Outcome::Fine)
}

pub(super) fn curve_picture(
    question: &Question<'_>,
    answer: &Answer,
    curve: &[CurvePoint],
) -> Steps {
    let currency = answer.currency;
    let point = |p: &CurvePoint| StepPoint {
        chance: p.confidence.get(),
        paid: p
            .cost_minor
            .map(|minor| (minor as f64, Money::new(minor, currency).to_string())),
    };
    Steps {
        title: "What certainty costs".into(),
        subtitle: format!(
            "Least cost at which each of {} parts is there with the confidence below",
            question.needs.len()
        ),
        x_title: "confidence asked of each part".into(),
        points: curve.iter().map(point).collect(),
        asked: Some(question.market.confidence.get()),
    }
}

pub(super) fn told(answer: &Answer, curve: &[CurvePoint], piece: Option<&Piece>) -> String {
    let mut text = match piece {
        Some(piece) => format!("donors for {}\n", piece.name),
        None => "donors\n".into(),
    };
    let tables = answer.tables();
    text += &in_words(&tables[0]);
    let proof = if answer.proved {
        "nothing cheaper does; proved".into()
    } else {
        format!(
            "not proved: nothing below {} does",
            Money::new(answer.bound_minor, answer.currency)
        )
    };
    text += &format!("  {proof}\n\nhow sure each part is\n");
    text += &in_words(&tables[1]);
    text += &format!("  all of them at once: {}\n", whole(&answer.selection));
    if let Some(second) = &answer.runner_up {
        let lots = second
            .buy
            .iter()
            .map(|b| format!("{} x {}", b.count, b.title));
        let stand_ins = second
            .stand_ins
            .iter()
            .map(|s| format!("a stand-in for {}", s.part));
        let all: Vec<String> = lots.chain(stand_ins).collect();
        text += &format!(
            "\nrunner-up: {}, {}; all at once: {}{}\n",
            Money::new(second.cost_minor, answer.currency),
            if all.is_empty() {
                "nothing to buy".into()
            } else {
                all.join(", ")
            },
            whole(second),
            if answer.runner_up_proved {
                ""
            } else {
                "; not proved: there may be a cheaper second"
            }
        );
    }
    text += "\nwhat certainty costs\n";
    for p in curve {
        let cost = p.cost_minor.map_or("out of reach".into(), |m| {
            Money::new(m, answer.currency).to_string()
        });
        let all = p
            .whole
            .map_or(String::new(), |w| format!("   all at once {w}"));
        let proof = if p.proved { "" } else { "   (not proved)" };
        text += &format!(
            "  {:>7}  {cost:>16}{all}{proof}\n",
            p.confidence.to_string()
        );
    }
    text
}

fn whole(s: &Selection) -> String {
    if s.confidence == s.confidence_at_most {
        s.confidence.to_string()
    } else {
        format!("{} to {}", s.confidence, s.confidence_at_most)
    }
}
