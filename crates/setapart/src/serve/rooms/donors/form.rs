//! The form of lots and needs: drawn, and read again as it was typed.

use crate::serve::bench::OnBench;
use crate::serve::ledger_forms::{Fields, amount, bytes_of, field, in_percent, take_out, told};
use crate::serve::refusal::Refusal;
use ledger::donors::{FitWord, Lot, LotChances, LotPart, Market, Need, Sibling};
use ledger::{Chance, Currency};
use maud::{Markup, html};
use piece::PartId;
use serde_json::json;
use std::collections::{BTreeMap, BTreeSet};

pub(super) fn market_of(
    fields: &Fields,
    currency: Currency,
    before: Option<Market>,
) -> Result<Market, Refusal> {
    // A table takes the place of the lots; the rest of the form stays.
    let mut market = match fields.text("table") {
        Some(csv) => {
            Market::from_csv(csv.as_bytes(), currency).map_err(|e| told(&e).of_field("table"))?
        }
        None => Market::of_lots(currency, Vec::new()),
    };
    if let Some(c) = fields.chance("confidence")? {
        market.confidence = c;
    }
    for n in fields.lines("need") {
        let of = |what: &str| format!("need.{n}.{what}");
        let Some(part) = fields.text(&of("part")) else {
            continue;
        };
        let part = part_id(part, &of("part"))?;
        let old = before
            .iter()
            .flat_map(|m| &m.needs)
            .find(|o| o.part == part);
        let mut need = old.cloned().unwrap_or_else(|| Need::new(part));
        need.quantity = fields.count(&of("quantity"), 1..=50)?.unwrap_or(1);
        need.confidence = fields.chance(&of("confidence"))?;
        need.stand_in_minor = fields.money(&of("stand_in"), currency)?;
        market.needs.push(need);
    }
    for n in fields.lines("sibling") {
        let of = |what: &str| format!("sibling.{n}.{what}");
        let (Some(model), Some(part)) = (fields.text(&of("model")), fields.text(&of("part")))
        else {
            continue;
        };
        let fits = fields.needed(&of("fits"))?;
        let fit = match fits {
            "fit" => Some(FitWord::Fit),
            "trim" => Some(FitWord::Trim),
            "no" => Some(FitWord::No),
            _ => None,
        };
        market.siblings.push(Sibling {
            model: model.to_owned(),
            part: part_id(part, &of("part"))?,
            chance: if fit.is_none() {
                fields.chance(&of("fits"))?
            } else {
                None
            },
            fit,
        });
    }
    if fields.text("table").is_none() {
        for n in fields.lines("lot") {
            if let Some(lot) = lot_of(fields, n, currency, &market)? {
                market.lots.push(lot);
            }
        }
    }
    Market::from_json(&bytes_of(&json!(market))).map_err(|e| told(&e))
}

fn part_id(text: &str, name: &str) -> Result<PartId, Refusal> {
    PartId::try_new(text).map_err(|e| {
        Refusal::bad(
            crate::say::sentence(&e.to_string()),
            "Type the id of a part, such as main-board.",
        )
        .of_field(name)
    })
}

fn lot_of(
    fields: &Fields,
    n: u32,
    currency: Currency,
    market: &Market,
) -> Result<Option<Lot>, Refusal> {
    let of = |what: &str| format!("lot.{n}.{what}");
    let own = |what: &str| fields.text(&of(what)).map(str::to_owned);
    if own("title").is_none() && own("price").is_none() {
        return Ok(None);
    }
    let taken = |id: &str| market.lots.iter().any(|l| l.id == id);
    let id = own("id").unwrap_or_else(|| {
        let free = (n + 1..).map(|k| format!("lot {k}")).find(|id| !taken(id));
        free.unwrap_or_default()
    });
    fields.needed(&of("price"))?;
    let (mut parts, mut lacks) = (None, BTreeSet::new());
    if let Some(text) = fields.text(&of("has")) {
        match text.strip_prefix("all but") {
            Some(rest) => {
                for word in rest.split(',').map(str::trim).filter(|w| !w.is_empty()) {
                    lacks.insert(part_id(word, &of("has"))?);
                }
            }
            None => parts = Some(parts_of(text, &of("has"))?),
        }
    }
    Ok(Some(Lot {
        id,
        title: own("title"),
        model: own("model"),
        price_minor: fields.money(&of("price"), currency)?.unwrap_or_default(),
        shipping_minor: fields.money(&of("shipping"), currency)?.unwrap_or_default(),
        more_shipping_minor: fields.money(&of("more_shipping"), currency)?,
        available: fields.count(&of("available"), 0..=50)?.unwrap_or(1),
        condition: own("condition"),
        dead: fields.chance(&of("dead"))?,
        parts,
        lacks,
    }))
}

/// `display, screw-1 90 % x 8`: parts with the chance that each comes out whole, and how many there are.
fn parts_of(text: &str, name: &str) -> Result<BTreeMap<PartId, LotPart>, Refusal> {
    let mut parts = BTreeMap::new();
    for words in text.split(',').map(str::trim).filter(|w| !w.is_empty()) {
        let bad = || {
            Refusal::bad(
                format!("{words:?} cannot be read."),
                "Write parts as in: display 70 %, screw-1 90 % x 8; or nothing for a whole device, or: all but display.",
            )
            .of_field(name)
        };
        let (id, rest) = words.split_once(' ').unwrap_or((words, ""));
        let (chance, count) = match rest.split_once('x') {
            Some((chance, count)) => (chance.trim(), Some(count.trim())),
            None => (rest.trim(), None),
        };
        let percent = chance.trim_end_matches('%').trim();
        let part = LotPart {
            chance: match percent {
                "" => None,
                p => {
                    let p = p.parse::<f64>().map_err(|_| bad())? / 100.0;
                    Some(Chance::try_new((p * 1e12).round() / 1e12).map_err(|_| bad())?)
                }
            },
            count: count.map(str::parse).transpose().map_err(|_| bad())?,
        };
        parts.insert(part_id(id, name)?, part);
    }
    Ok(parts)
}

/// The same as it is typed.
fn has_in_words(lot: &Lot) -> String {
    if let Some(parts) = &lot.parts {
        let one = |(id, p): (&PartId, &LotPart)| {
            let mut text = id.to_string();
            if let Some(c) = p.chance {
                text += &format!(" {} %", in_percent(c.get()));
            }
            if let Some(n) = p.count {
                text += &format!(" x {n}");
            }
            text
        };
        return parts.iter().map(one).collect::<Vec<_>>().join(", ");
    }
    if lot.lacks.is_empty() {
        return String::new();
    }
    let lacks: Vec<&str> = lot.lacks.iter().map(PartId::as_str).collect();
    format!("all but {}", lacks.join(", "))
}

pub(super) fn form(on: &OnBench, m: &Market) -> Markup {
    let conditions = LotChances::built_in()
        .map(|t| t.conditions)
        .unwrap_or_default();
    let conditions: Vec<(&str, &str)> = conditions
        .iter()
        .map(|c| (c.id.as_str(), c.title.as_str()))
        .collect();
    let currency = m.currency;
    html! {
        fieldset class="card" {
            legend { "Asked" }
            div class="grid" {
                (field("Sure of each part, %", "confidence", &in_percent(m.confidence.get()), "90"))
                (field("Currency", "currency", currency.code(), "EUR"))
            }
            p { a href="/stock" { "What is in stock" } }
        }
        fieldset class="card" data-take="table" {
            legend { "Lots on offer" }
            p class="soft" { "Has: nothing for a whole device; else its parts, as in “display 70 %, screw-1 90 % x 8”, or “all but display”." }
            ol class="lines" data-list="lot" { @for (n, lot) in m.lots.iter().enumerate() { (lot_line(&n.to_string(), Some(lot), &conditions, currency)) } }
            template id="line-lot" { (lot_line("NEW", None, &conditions, currency)) }
            p class="buttons" {
                button type="button" data-add="lot" { "Add a lot" }
                label class="button" for="lots-file" { "Take lots from a table (CSV)" }
                input class="quiet" id="lots-file" type="file" accept=".csv,text/csv" data-into="table";
            }
            input type="hidden" name="table" value="";
            p class="soft" { "A table has the columns id and price, and any of title, model, shipping, more_shipping, available, condition, dead, \
                currency, and part:ID with chances from 0 to 1. It takes the place of the lots above; it can be dropped here." }
        }
        fieldset class="card" {
            legend { "Needed" }
            p class="soft" { "Where nothing stands here, every part that is shown as itself is needed." }
            datalist id="part-ids" { @for p in &on.piece.parts { option value=(p.id) { (p.name) } } }
            ol class="lines" data-list="need" { @for (n, need) in m.needs.iter().enumerate() { (need_line(&n.to_string(), Some(need), currency)) } }
            template id="line-need" { (need_line("NEW", None, currency)) }
            p { button type="button" data-add="need" { "Add a part" } }
        }
        fieldset class="card" {
            legend { "Sibling models" }
            p class="soft" { "Fits: fit, trim or no, as comparing outlines says, or a chance in percent." }
            ol class="lines" data-list="sibling" { @for (n, s) in m.siblings.iter().enumerate() { (sibling_line(&n.to_string(), Some(s))) } }
            template id="line-sibling" { (sibling_line("NEW", None)) }
            p { button type="button" data-add="sibling" { "Add a model" } }
        }
    }
}

fn lot_line(n: &str, lot: Option<&Lot>, conditions: &[(&str, &str)], currency: Currency) -> Markup {
    let name = |what: &str| format!("lot.{n}.{what}");
    let m = |minor| amount(minor, currency);
    let now = lot.and_then(|l| l.condition.as_deref()).unwrap_or("");
    let title = lot.map_or("the new lot", |l| l.title());
    let label = |what: &str| format!("{what} of {title}");
    html! {
        li class="lot-line" {
            input type="hidden" name=(name("id")) value=(lot.map_or("", |l| l.id.as_str()));
            input class="all" type="text" name=(name("title")) value=(lot.map_or("", |l| l.title())) aria-label="What the lot is" placeholder="what it is";
            label class="block" { "Price" input class="n" type="text" inputmode="decimal" name=(name("price")) value=(m(lot.map(|l| l.price_minor))) aria-label=(label("Price")); }
            label class="block" { "Shipping" input class="n" type="text" inputmode="decimal" name=(name("shipping")) value=(m(lot.map(|l| l.shipping_minor))) aria-label=(label("Shipping")); }
            label class="block" { "Each further" input class="n" type="text" inputmode="decimal" name=(name("more_shipping")) value=(m(lot.and_then(|l| l.more_shipping_minor)))
                aria-label=(label("Shipping of each further one")) placeholder="the same"; }
            label class="block" { "On offer" input class="n" type="text" inputmode="numeric" name=(name("available")) value=(lot.map_or(1, |l| l.available)) aria-label=(label("Number on offer")); }
            label class="block wide" { "Condition"
                select name=(name("condition")) aria-label=(label("Condition")) {
                    option value="" selected[now.is_empty()] { "chances are given" }
                    @for (id, title) in conditions { option value=(id) selected[*id == now] { (title) } }
                }
            }
            label class="block" { "All dead, %" input class="n" type="text" inputmode="decimal" name=(name("dead")) value=(lot.and_then(|l| l.dead).map_or(String::new(), |c| in_percent(c.get())))
                aria-label=(label("Chance that nothing is any good, percent,")) placeholder="as usual"; }
            label class="block wide" { "Model, where another" input type="text" name=(name("model")) value=(lot.and_then(|l| l.model.as_deref()).unwrap_or("")) aria-label=(label("Model")); }
            label class="block has" { "Has" input type="text" name=(name("has")) value=(lot.map_or(String::new(), has_in_words)) aria-label=(label("Parts")) placeholder="a whole device"; }
            (take_out(title))
        }
    }
}

fn need_line(n: &str, need: Option<&Need>, currency: Currency) -> Markup {
    let name = |what: &str| format!("need.{n}.{what}");
    let title = need.map_or("the new part", |d| d.title());
    html! {
        li class="short-line four" {
            input type="text" list="part-ids" name=(name("part")) value=(need.map_or("", |d| d.part.as_str())) aria-label="Id of the part" placeholder="part";
            input class="n" type="text" inputmode="numeric" name=(name("quantity")) value=(need.map_or(1, |d| d.quantity)) aria-label={ "How many of " (title) };
            input class="n" type="text" inputmode="decimal" name=(name("confidence")) value=(need.and_then(|d| d.confidence).map_or(String::new(), |c| in_percent(c.get())))
                aria-label={ "How sure of " (title) ", percent" } placeholder="sure, %";
            input class="n" type="text" inputmode="decimal" name=(name("stand_in")) value=(amount(need.and_then(|d| d.stand_in_minor), currency))
                aria-label={ "Cost of a stand-in for " (title) } placeholder="stand-in";
            (take_out(title))
        }
    }
}

fn sibling_line(n: &str, s: Option<&Sibling>) -> Markup {
    let name = |what: &str| format!("sibling.{n}.{what}");
    let fits = match s {
        Some(Sibling {
            chance: Some(c), ..
        }) => in_percent(c.get()),
        Some(Sibling {
            fit: Some(FitWord::Fit),
            ..
        }) => "fit".into(),
        Some(Sibling {
            fit: Some(FitWord::Trim),
            ..
        }) => "trim".into(),
        Some(Sibling {
            fit: Some(FitWord::No),
            ..
        }) => "no".into(),
        _ => String::new(),
    };
    html! {
        li class="short-line wide" {
            input type="text" name=(name("model")) value=(s.map_or("", |s| s.model.as_str())) aria-label="Model" placeholder="model";
            input type="text" list="part-ids" name=(name("part")) value=(s.map_or("", |s| s.part.as_str())) aria-label="Part of that model" placeholder="part";
            input class="n" type="text" name=(name("fits")) value=(fits) aria-label="Fits" placeholder="fits";
            button type="button" class="plain" data-drop="" aria-label="Take out this model's part" title="Take out" { "×" }
        }
    }
}
