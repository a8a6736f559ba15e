//! The form of rates and prices: drawn, and read again as it was typed.

use super::Asked;
use crate::serve::ledger_forms::{
    Fields, amount, bytes_of, choice, field, in_percent, take_out, told,
};
use crate::serve::refusal::Refusal;
use ledger::cost::{Batch, Extra, LearningModel, Price, Pricing, Rates};
use ledger::parcel::CellRating;
use ledger::{Currency, Minor};
use maud::{Markup, html};
use piece::Standing;
use serde_json::json;

pub(super) fn rates_of(fields: &Fields, mut rates: Rates) -> Result<(Rates, Asked), Refusal> {
    let before = rates.clone();
    let currency = fields.currency()?;
    rates.currency = currency;
    let money =
        |name: &str| Ok::<Minor, Refusal>(fields.money(name, currency)?.unwrap_or_default());
    rates.labour_per_hour_minor = money("labour")?;
    rates.overhead_per_piece_minor = money("overhead_piece")?;
    rates.fee_fixed_minor = money("fee_fixed")?;
    rates.packing_minor = money("packing")?;
    rates.freight_minor = money("freight")?;
    rates.set_up_minor = money("set_up")?;
    rates.round_to_minor = money("round_to")?;
    let share = |name: &str, most| Ok::<_, Refusal>(fields.share(name, most)?.unwrap_or_default());
    rates.overhead_on_labour = share("overhead", 1000.0)?;
    rates.scrap = share("scrap", 99.0)?;
    rates.fee_on_price = share("fee", 99.0)?;
    rates.tax = share("tax", 1000.0)?;
    rates.whole_packs = fields.is_on("whole_packs");
    rates.pricing = match fields.text("pricing") {
        Some("price") => {
            fields.needed("asked")?;
            Pricing::PriceMinor(money("asked")?)
        }
        Some("markup") => Pricing::Markup(share("asked", 1000.0)?),
        _ => Pricing::Margin(share("asked", 99.0)?),
    };
    rates.batch = match fields.count("size", 0..=100_000)? {
        None | Some(0) => None,
        Some(size) => Some(Batch {
            size,
            done: fields.count("done", 0..=1_000_000)?.unwrap_or(0),
            learning: match fields.percent("learning", 100.0)? {
                Some(rate) if rate >= 0.5 => rate,
                Some(_) => {
                    return Err(Refusal::bad(
                        "Nobody learns that fast.",
                        "Type percent, 50 to 100: what each doubling takes of the time.",
                    )
                    .of_field("learning"));
                }
                None => 1.0,
            },
            model: match fields.text("model") {
                Some("cumulative_average") => LearningModel::CumulativeAverage,
                _ => LearningModel::Unit,
            },
        }),
    };
    rates.parts.clear();
    for n in fields.lines("extra") {
        let (what, cost) = (format!("extra.{n}.what"), format!("extra.{n}.cost"));
        if fields.text(&what).is_none() && fields.text(&cost).is_none() {
            continue;
        }
        rates.parts.push(Extra {
            what: fields.needed(&what)?.to_owned(),
            minor: money(&cost)?,
        });
    }
    rates.prices.clear();
    for n in fields.lines("price") {
        let of = |what: &str| format!("price.{n}.{what}");
        let Some(item) = fields.text(&of("item")) else {
            continue;
        };
        let Some(minor) = fields.money(&of("cost"), currency)? else {
            continue;
        };
        let per = fields.number(&of("per"), 1e-6..=1e9)?.unwrap_or(1.0);
        rates.prices.insert(item.to_owned(), Price { minor, per });
    }
    for (n, other) in rates.what_if.iter_mut().enumerate() {
        other.title = fields.needed(&format!("frame.{n}.title"))?.to_owned();
        if let Some(minor) = fields.money(&format!("frame.{n}.cost"), currency)? {
            other
                .prices
                .insert("kind:frame".into(), Price { minor, per: 1.0 });
        }
    }
    if rates != before {
        rates.standing = Standing::Own;
        rates.source = "edited in this shop".into();
    }
    let asked = Asked {
        mass_g: fields.number("mass", 1.0..=1e6)?,
        divisor_cm3_per_kg: fields.number("divisor", 500.0..=50_000.0)?,
        fragility_g: fields.number("fragility", 5.0..=500.0)?,
        cells: cells_of(fields)?,
    };
    // What the typed fields make must be what the document's own reader takes.
    let rates = Rates::from_json(&bytes_of(&json!(rates))).map_err(|e| told(&e))?;
    Ok((rates, asked))
}

fn cells_of(fields: &Fields) -> Result<Vec<CellRating>, Refusal> {
    let mut cells = Vec::new();
    for n in fields.lines("cell") {
        let of = |what: &str| format!("cell.{n}.{what}");
        if ["name", "volts", "amp_hours"]
            .iter()
            .all(|w| fields.text(&of(w)).is_none())
        {
            continue;
        }
        let number = |what: &str| {
            fields.needed(&of(what))?;
            Ok::<_, Refusal>(fields.number(&of(what), 1e-3..=1000.0)?.unwrap_or_default())
        };
        cells.push(CellRating {
            name: fields.needed(&of("name"))?.to_owned(),
            volts: number("volts")?,
            amp_hours: number("amp_hours")?,
            single_cell: fields.text(&of("is")) != Some("battery"),
        });
    }
    Ok(cells)
}

pub(super) fn form(r: &Rates, asked: &Asked) -> Markup {
    let currency = r.currency;
    let m = |minor| amount(Some(minor), currency);
    let s = |share| in_percent(f64::from(share));
    let (how, value) = match r.pricing {
        Pricing::Margin(share) => ("margin", s(share)),
        Pricing::Markup(share) => ("markup", s(share)),
        Pricing::PriceMinor(minor) => ("price", m(minor)),
    };
    let of = |v: Option<f64>| v.map_or(String::new(), |v| v.to_string());
    let batch = r.batch;
    html! {
        fieldset class="card" {
            legend { "Price" }
            div class="grid" {
                (choice("Made from", "pricing", how, [("margin", "margin, %"), ("markup", "markup, %"), ("price", "the price itself")].into_iter()))
                (field("Set to", "asked", &value, ""))
                (field("Rounded up to", "round_to", &m(r.round_to_minor), "0.01"))
                (field("Currency", "currency", currency.code(), "EUR"))
                (field("Tax, %", "tax", &s(r.tax), "0"))
                (field("Selling takes, %", "fee", &s(r.fee_on_price), "0"))
                (field("and of each sale", "fee_fixed", &m(r.fee_fixed_minor), "0"))
            }
        }
        fieldset class="card" {
            legend { "Work and overhead" }
            div class="grid" {
                (field("An hour of work", "labour", &m(r.labour_per_hour_minor), "0"))
                (field("Overhead on work, %", "overhead", &s(r.overhead_on_labour), "0"))
                (field("Overhead of each piece", "overhead_piece", &m(r.overhead_per_piece_minor), "0"))
                (field("Scrap, %", "scrap", &s(r.scrap), "0"))
                (field("Spent once for the design", "set_up", &m(r.set_up_minor), "0"))
                (field("Packing", "packing", &m(r.packing_minor), "0"))
                (field("Freight", "freight", &m(r.freight_minor), "0"))
            }
            label class="inline" { input type="checkbox" name="whole_packs" value="yes" checked[r.whole_packs]; "Count materials by whole packs" }
        }
        fieldset class="card" {
            legend { "Batch" }
            div class="grid" {
                (field("Pieces", "size", &batch.map_or(String::new(), |b| b.size.to_string()), "none"))
                (field("Made before", "done", &batch.map_or(String::new(), |b| b.done.to_string()), "0"))
                (field("Learning, %", "learning", &batch.map_or(String::new(), |b| in_percent(b.learning)), "85"))
                (choice("Curve", "model", match batch.map(|b| b.model) { Some(LearningModel::CumulativeAverage) => "cumulative_average", _ => "unit" },
                    [("unit", "of unit times"), ("cumulative_average", "of the average so far")].into_iter()))
            }
        }
        @if !r.what_if.is_empty() {
            fieldset class="card" {
                legend { "Other frames to compare" }
                @for (n, w) in r.what_if.iter().enumerate() {
                    div class="grid" {
                        (field("Frame", &format!("frame.{n}.title"), &w.title, ""))
                        (field("Costs", &format!("frame.{n}.cost"), &amount(w.prices.get("kind:frame").map(|p| p.minor), currency), "as above"))
                    }
                }
            }
        }
        fieldset class="card" {
            legend { "Bought for each piece" }
            p class="soft" { "Donors come from their own room." }
            ol class="lines" data-list="extra" { @for (n, e) in r.parts.iter().enumerate() { (extra_line(&n.to_string(), Some(e), currency)) } }
            template id="line-extra" { (extra_line("NEW", None, currency)) }
            p { button type="button" data-add="extra" { "Add something" } }
        }
        fieldset class="card" {
            legend { "Parcel" }
            div class="grid" {
                (field("Framed piece, g", "mass", &of(asked.mass_g), "the build says"))
                (field("Divisor, cm³ a kg", "divisor", &of(asked.divisor_cm3_per_kg), "as a rule"))
                (field("Shock it bears, times gravity", "fragility", &of(asked.fragility_g), "as a rule"))
            }
            p class="soft" { "Cells that travel along: what is printed on them. None of the framed piece do." }
            ol class="lines" data-list="cell" { @for (n, c) in asked.cells.iter().enumerate() { (cell_line(&n.to_string(), Some(c))) } }
            template id="line-cell" { (cell_line("NEW", None)) }
            p { button type="button" data-add="cell" { "Add a cell" } }
        }
        details class="card" {
            summary { "Prices of materials" }
            p class="soft" { "Kind: a whole sort, where the item itself has no price. Per: in the bill's unit (pieces, ml, mm, mm², g)." }
            ol class="lines" data-list="price" {
                @for (n, (item, p)) in r.prices.iter().enumerate() { (price_line(&n.to_string(), item, Some(p), currency)) }
            }
            template id="line-price" { (price_line("NEW", "", None, currency)) }
            p { button type="button" data-add="price" { "Add a price" } }
        }
    }
}

fn extra_line(n: &str, e: Option<&Extra>, currency: Currency) -> Markup {
    let title = e.map_or("a new one", |e| e.what.as_str());
    html! {
        li class="short-line" {
            input type="text" name={ "extra." (n) ".what" } value=(e.map_or("", |e| e.what.as_str())) aria-label="What is bought" placeholder="what";
            input class="n" type="text" inputmode="decimal" name={ "extra." (n) ".cost" } value=(amount(e.map(|e| e.minor), currency))
                aria-label={ "Cost of " (title) } placeholder="cost";
            (take_out(title))
        }
    }
}

fn cell_line(n: &str, c: Option<&CellRating>) -> Markup {
    let title = c.map_or("a new cell", |c| c.name.as_str());
    let name = |what: &str| format!("cell.{n}.{what}");
    let number = |v: Option<f64>| v.map_or(String::new(), |v| v.to_string());
    html! {
        li class="short-line cell" {
            input type="text" name=(name("name")) value=(c.map_or("", |c| c.name.as_str())) aria-label="Name of the cell" placeholder="name";
            input class="n" type="text" inputmode="decimal" name=(name("volts")) value=(number(c.map(|c| c.volts)))
                aria-label={ "Voltage of " (title) } placeholder="V";
            input class="n" type="text" inputmode="decimal" name=(name("amp_hours")) value=(number(c.map(|c| c.amp_hours)))
                aria-label={ "Capacity of " (title) } placeholder="Ah";
            select name=(name("is")) aria-label={ "What " (title) " is" } {
                option value="cell" selected[c.is_none_or(|c| c.single_cell)] { "one cell" }
                option value="battery" selected[c.is_some_and(|c| !c.single_cell)] { "a battery" }
            }
            (take_out(title))
        }
    }
}

fn price_line(n: &str, item: &str, p: Option<&Price>, currency: Currency) -> Markup {
    let title = if item.is_empty() { "a new item" } else { item };
    html! {
        li class="short-line wide" {
            input type="text" name={ "price." (n) ".item" } value=(item) aria-label="Item" placeholder="item";
            input class="n" type="text" inputmode="decimal" name={ "price." (n) ".cost" } value=(amount(p.map(|p| p.minor), currency))
                aria-label={ "Price of " (title) } placeholder="price";
            input class="n" type="text" inputmode="decimal" name={ "price." (n) ".per" } value=(p.map_or(String::new(), |p| p.per.to_string()))
                aria-label={ "Amount that it is for, " (title) } placeholder="per 1";
            (take_out(title))
        }
    }
}
