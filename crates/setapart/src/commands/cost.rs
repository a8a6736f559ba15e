//! `cost`: what a piece costs and must bring.

use super::ledger_files::{add_tables, in_words, picture, read};
use super::picture::PictureKind;
use super::{Outcome, read_piece};
use crate::cli;
use crate::document::{Document, Wanted};
use crate::failure::Failure;
use crate::files::Outputs;
use crate::say;
use ledger::cost::{Pricing, Quote, Rates, Reckoning, reckon};
use ledger::donors::Purchase;
use ledger::{LedgerError, Minor, Money, Share};
use press::chart::{Bar, Bars, lay_out_bars};
use serde_json::json;

pub(crate) fn run(args: &cli::Cost) -> Result<Outcome, Failure> {
    let picture_kind = args.picture.as_deref().map(PictureKind::of).transpose()?;
    let mut rates = match &args.rates {
        Some(path) => read(path, Document::Rates, Rates::from_json)?,
        None => Rates::built_in()?,
    };
    if args.show_rates {
        say::print(rates.to_json());
        return Ok(Outcome::Fine);
    }
    if let Some(path) = &args.prices {
        rates = read(path, Wanted::Table("a table of prices"), |csv| {
            rates.with_prices_from_csv(csv)
        })?;
    }
    if let Some(pricing) = asked_price(args, &rates)? {
        rates.pricing = pricing;
    }
    let mut bought = Vec::new();
    if let Some(path) = &args.donors {
        let purchase = read(
            path,
            Wanted::Other("the output of donors --json"),
            Purchase::from_json,
        )?;
        if purchase.currency != rates.currency {
            return Err(Failure::Ledger {
                path: path.clone(),
                source: LedgerError::Currencies {
                    place: "the purchase of donors".into(),
                    found: purchase.currency.to_string(),
                    expected: rates.currency.to_string(),
                },
            });
        }
        bought.push(("donors".to_owned(), purchase.cost_minor.get()));
    }
    let piece = read_piece(&args.piece)?;
    let reckoning = reckon(&piece, &rates, &bought)?;
    let mut outputs = Outputs::default();
    if let (Some(path), Some(kind)) = (&args.picture, picture_kind) {
        outputs.add(
            path,
            picture(
                kind,
                &lay_out_bars(&bars(&piece.name, &reckoning.finished))?,
            )?,
        );
    }
    add_tables(
        &mut outputs,
        &args.tables,
        &format!("Cost of {}", piece.name),
        &reckoning.tables(),
    )?;
    outputs.write()?;
    if args.tables.json {
        say::json(&json!(reckoning));
    } else {
        say::print(told(&piece.name, &rates, &reckoning));
    }
    Ok(Outcome::Fine)
}

fn asked_price(args: &cli::Cost, rates: &Rates) -> Result<Option<Pricing>, Failure> {
    let share = |option: &'static str, value: f64, below_one: bool| {
        let share = Share::try_new(value)
            .ok()
            .filter(|s| !below_one || *s < Share::ALL);
        share.ok_or_else(|| Failure::Argument {
            option,
            problem: format!(
                "is {value}; it must be 0 to {}; write 0.35 for 35 %",
                if below_one { "below 1" } else { "1000" }
            ),
        })
    };
    Ok(match (args.margin, args.markup, &args.price) {
        (Some(margin), _, _) => Some(Pricing::Margin(share("--margin", margin, true)?)),
        (_, Some(markup), _) => Some(Pricing::Markup(share("--markup", markup, false)?)),
        (_, _, Some(price)) => {
            let minor = Minor::from_decimal(price, rates.currency).map_err(|problem| {
                Failure::Argument {
                    option: "--price",
                    problem,
                }
            })?;
            Some(Pricing::PriceMinor(minor))
        }
        _ => None,
    })
}

/// Where the money goes, as a picture.
pub(super) fn bars(name: &str, quote: &Quote) -> Bars {
    let price = quote.price_minor.max(1) as f64;
    let money = |minor: i64| Money::new(minor, quote.currency);
    Bars {
        title: format!("Where the money goes: {name}"),
        subtitle: format!(
            "{} is paid, {} of it is left",
            money(quote.price_minor),
            money(quote.profit_minor)
        ),
        bars: quote
            .by_group()
            .into_iter()
            .map(|(what, minor)| Bar {
                label: what.into(),
                value: minor as f64,
                amount: format!("{}   {:.0} %", money(minor), 100.0 * minor as f64 / price),
                marked: what == "profit",
            })
            .collect(),
    }
}

pub(super) fn told(name: &str, rates: &Rates, r: &Reckoning) -> String {
    let money = |minor: i64| Money::new(minor, rates.currency);
    let mut text = format!("cost of {name}\n");
    for note in &r.notes {
        text += &format!("  note  {note}\n");
    }
    let tables = r.tables();
    text += &in_words(&tables[0]);
    text += &format!(
        "  margin {:.1} % of the price without tax, markup {:.1} % on all costs, {:.0} minutes of work\n",
        100.0 * r.finished.margin,
        100.0 * r.finished.markup,
        r.finished.minutes
    );
    if let Some(n) = r.finished.break_even_pieces {
        text += &format!("  what is spent once comes back with piece {n}\n");
    }
    text += "\nside by side\n";
    text += &in_words(&tables[1]);
    if let Some(b) = &r.batch {
        text += &format!(
            "\na batch of {}{}: {:.0} minutes each on the average, the first {:.0}\n  learning {:.0} %, {}; all cost {}, {} are left\n",
            b.size,
            if b.done > 0 {
                format!(" after {}", b.done)
            } else {
                String::new()
            },
            b.average_minutes,
            b.first_minutes,
            100.0 * b.learning,
            b.model_title,
            money(b.total_minor),
            money(b.profit_minor)
        );
    }
    let standing = rates.standing.in_words();
    text += &format!(
        "\nrates: {standing}{}{}\n",
        if rates.source.is_empty() { "" } else { "; " },
        rates.source
    );
    text
}
