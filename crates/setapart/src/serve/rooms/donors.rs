//! Donors: lots on offer, and which of them to buy.

use super::stock;
use crate::serve::bench::{Bench, OnBench};
use crate::serve::ledger_forms::{
    Fields, amount, answer_and_form, bytes_of, field, heard, in_percent, in_place, keep, take_out,
    taken, told,
};
use crate::serve::refusal::Refusal;
use crate::serve::rooms::{Room, Shown, fact, open};
use axum::Json;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::response::Response;
use ledger::cover::Budget;
use ledger::donors::{
    Answer, CurvePoint, FitWord, Lot, LotChances, LotPart, Market, Need, Question, Selection,
    Sibling,
};
use ledger::drawer::Drawer;
use ledger::{Chance, Currency, LedgerError, Money};
use maud::{Markup, html};
use piece::{PartId, Piece};
use serde_json::{Value, json};
use shape::{Cancelled, Watch};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How long a page waits for a choice; what was found by then is shown, and that it is not proved.
const PATIENCE: Duration = Duration::from_secs(12);

/// Stops a search when its time is up.
struct Until(Instant);

impl Watch for Until {
    fn step(&self, _what: &str, _share: f64) -> Result<(), Cancelled> {
        if Instant::now() < self.0 {
            Ok(())
        } else {
            Err(Cancelled)
        }
    }
}

/// `GET /piece/{id}/donors`.
pub(crate) async fn page(
    State(bench): State<Arc<Bench>>,
    Path(id): Path<String>,
) -> Result<Response, Refusal> {
    open(bench, id, Room::Donors, |bench, on, settings| {
        let currency = Currency::try_new(&settings.currency).map_err(|e| told(&e))?;
        Ok(Shown {
            title: format!("Donors for {}", on.piece.name),
            scripts: &["ledger.js"],
            body: room(bench, on, currency),
        })
    })
    .await
}

/// `POST /piece/{id}/donors`: keeps the lots, and answers with the choice.
pub(crate) async fn answer(
    State(bench): State<Arc<Bench>>,
    Path(id): Path<String>,
    headers: HeaderMap,
    body: Body,
) -> Result<Json<Value>, Refusal> {
    taken(bench, &id, &headers, body, |bench, id, sent| {
        let now = bench.piece(id)?;
        let currency = sent.fields.currency()?;
        let before = kept(&now.piece).transpose()?;
        let market = market_of(&sent.fields, currency, before)?;
        let record = json!(market);
        let on = keep(bench, id, sent, "Lots on offer", |shop| {
            shop.lots = Some(record.clone());
        })?;
        let mut all = heard(&on, answered(bench, &on, &market));
        all["again"] = json!(sent.fields.text("table").is_some());
        Ok(all)
    })
    .await
}

fn kept(piece: &Piece) -> Option<Result<Market, Refusal>> {
    let kept = piece.shop.lots.as_ref()?;
    Some(Market::from_json(&bytes_of(kept)).map_err(|e| told(&e)))
}

/// What to buy by the lots that are kept with a piece; `None` where none are.
pub(crate) fn chosen(bench: &Bench, on: &OnBench) -> Option<Result<Answer, Refusal>> {
    let market = kept(&on.piece)?;
    Some(market.and_then(|m| {
        if m.lots.is_empty() {
            return Err(Refusal::bad(
                "No lot is typed in.",
                "Type one in under Donors.",
            ));
        }
        asked(bench, on, &m, |q, watch| q.answer(watch))
    }))
}

fn asked<T>(
    bench: &Bench,
    on: &OnBench,
    market: &Market,
    ask: impl FnOnce(&Question<'_>, &Until) -> Result<T, LedgerError>,
) -> Result<T, Refusal> {
    let needs = market.needs_of(Some(&on.piece)).map_err(|e| told(&e))?;
    let drawer: Drawer = stock::drawer_for(bench, on, &needs)?;
    let chances = LotChances::built_in().map_err(|e| told(&e))?;
    let question = Question {
        market,
        needs,
        drawer: &drawer,
        piece: Some(&on.piece.name),
        chances: &chances,
        budget: Budget::default(),
    };
    ask(&question, &Until(Instant::now() + PATIENCE)).map_err(|e| told(&e))
}

fn market_of(
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

fn answered(bench: &Bench, on: &OnBench, market: &Market) -> Markup {
    if market.lots.is_empty() {
        return html! {
            div class="empty" {
                h2 { "No lots yet" }
                p { "Type in what is on offer, or drop a table of lots in. Then the cheapest choice is shown that makes every part sure enough." }
            }
        };
    }
    let both = asked(bench, on, market, |q, watch| {
        let answer = q.answer(watch)?;
        let curve = q.curve(watch)?;
        Ok((answer, curve))
    });
    match both {
        Ok((answer, curve)) => choice(&answer, &curve, market),
        Err(e) => in_place(&e),
    }
}

fn choice(a: &Answer, curve: &[CurvePoint], market: &Market) -> Markup {
    let money = |minor: i64| Money::new(minor, a.currency).to_string();
    let s = &a.selection;
    html! {
        div class="card verdict" {
            h2 class="large" {
                @if s.buy.is_empty() && s.stand_ins.is_empty() { "Nothing to buy" } @else { "Buy for " (money(a.cost)) }
            }
            @if !s.buy.is_empty() || !s.stand_ins.is_empty() {
                table {
                    tbody {
                        @for b in &s.buy { tr { td { (b.count) " x " (b.title) span class="soft note" { (b.lot) } } td class="n" { (money(b.cost_minor)) } } }
                        @for t in &s.stand_ins { tr { td { "a stand-in for " (t.part) } td class="n" { (money(t.cost_minor)) } } }
                    }
                }
            }
            div class="facts" { (fact("All parts at once", &whole(s))) (fact("Asked of each", &market.confidence.to_string())) }
            p class="soft" {
                @if a.proved { "Nothing cheaper does; that is proved." }
                @else { "Not proved in the time a page waits: nothing below " (money(a.bound_minor)) " does." }
            }
            @if let Some(second) = &a.runner_up {
                p {
                    strong { "Runner-up: " } (money(second.cost_minor)) ", "
                    @for (k, b) in second.buy.iter().enumerate() { @if k > 0 { ", " } (b.count) " x " (b.title) }
                    @for t in &second.stand_ins { ", a stand-in for " (t.part) }
                    "; all at once " (whole(second)) "."
                    @if !a.runner_up_proved { " There may be a cheaper second." }
                }
            }
        }
        div class="card" {
            h2 { "How sure each part is" }
            table {
                thead { tr { th { "Part" } th class="n" { "Needed" } th class="n" { "In stock" } th { "From" } th class="n" { "Sure" } } }
                tbody { @for p in &s.parts {
                    tr {
                        td { (p.name) } td class="n" { (p.quantity) } td class="n" { (p.in_drawer) } td { (p.from.join(", ")) }
                        td class="n" { @match p.confidence { Some(c) => (c), None => "stand-in" } }
                    }
                } }
            }
        }
        div class="card" {
            h2 { "What certainty costs" }
            (steps(curve, market.confidence.get(), a.currency))
            details {
                summary { "As a table" }
                table {
                    thead { tr { th class="n" { "Asked of each part" } th class="n" { "Least cost" } th class="n" { "All at once" } } }
                    tbody { @for p in curve {
                        tr {
                            td class="n" { (p.confidence) }
                            td class="n" { @match p.cost_minor { Some(m) => { (money(m)) @if !p.proved { span class="soft note" { "not proved" } } }, None => "out of reach" } }
                            td class="n" { @if let Some(w) = p.whole { (w) } @else { "–" } }
                        }
                    } }
                }
            }
        }
    }
}

fn whole(s: &Selection) -> String {
    if s.confidence == s.confidence_at_most {
        s.confidence.to_string()
    } else {
        format!("{} to {}", s.confidence, s.confidence_at_most)
    }
}

/// Cost against confidence: one step a confidence, at even distances.
fn steps(curve: &[CurvePoint], asked: f64, currency: Currency) -> Markup {
    let most = curve
        .iter()
        .filter_map(|p| p.cost_minor)
        .max()
        .unwrap_or(0)
        .max(1) as f64;
    let width = 44.0;
    let high = |minor: i64| 8.0 + 120.0 * minor as f64 / most;
    html! {
        svg class="curve" viewBox={ "0 0 " (width * curve.len() as f64) " 182" } role="img"
            aria-label="Least cost by the confidence asked of each part; the figures are in the table below" {
            @for (k, p) in curve.iter().enumerate() {
                @let x = width * k as f64;
                @let near = (p.confidence.get() - asked).abs() < 1e-9;
                @match p.cost_minor {
                    Some(minor) => {
                        rect class={ "step" @if near { " asked" } @if !p.proved { " open" } } x=(x + 3.0) width=(width - 6.0)
                            y=(format!("{:.1}", 160.0 - high(minor))) height=(format!("{:.1}", high(minor))) {}
                        text class="sum" x=(x + width / 2.0) y=(format!("{:.1}", 154.0 - high(minor))) { (in_short(minor, currency)) }
                    },
                    None => text class="sum" x=(x + width / 2.0) y="154" { "–" },
                }
                text class={ "sum" @if near { " asked" } } x=(x + width / 2.0) y="176" { (in_percent(p.confidence.get())) " %" }
            }
        }
    }
}

/// Whole major units: a picture's figure.
fn in_short(minor: i64, currency: Currency) -> String {
    let scale = 10_i64.pow(currency.exponent());
    ((minor + scale / 2) / scale).to_string()
}

fn room(bench: &Bench, on: &OnBench, currency: Currency) -> Markup {
    let market = match kept(&on.piece) {
        Some(Ok(market)) => market,
        Some(Err(e)) => return html! { h1 class="quiet" { "Donors" } (in_place(&e)) },
        None => Market::of_lots(currency, Vec::new()),
    };
    let answer = answered(bench, on, &market);
    answer_and_form(on, Room::Donors, "Choice", &answer, &form(on, &market))
}

fn form(on: &OnBench, m: &Market) -> Markup {
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
            p class="soft" { "Nothing here: every part that is shown as itself." }
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
