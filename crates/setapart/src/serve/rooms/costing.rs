//! Costing: what a piece costs and must bring, and how it travels.

use super::donors;
use crate::serve::bench::{Bench, OnBench};
use crate::serve::ledger_forms::{
    Fields, amount, answer_and_form, bars, bytes_of, choice, field, heard, in_percent, in_place,
    keep, take_out, taken, told,
};
use crate::serve::refusal::Refusal;
use crate::serve::rooms::{Lengths, Room, Shown, fact, open};
use crate::serve::{download, piece_of};
use axum::Json;
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::response::Response;
use ledger::cost::{Batch, Extra, LearningModel, Price, Pricing, Quote, Rates, Reckoning, reckon};
use ledger::parcel::{Carriage, CellRating, Parcel, ParcelOptions, pack};
use ledger::table::to_xlsx;
use ledger::{Currency, Minor, Money};
use maud::{Markup, html};
use piece::{Piece, Sourced, Standing};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use std::sync::Arc;
use workshop::Units;

/// What is asked of the parcel beside the piece; nothing: as the figures that come along say.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
struct Asked {
    #[serde(skip_serializing_if = "Option::is_none")]
    mass_g: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    divisor_cm3_per_kg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fragility_g: Option<f64>,
    /// Cells that travel along, such as spare ones of a kit.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    cells: Vec<CellRating>,
}

/// `GET /piece/{id}/costing`.
pub(crate) async fn page(
    State(bench): State<Arc<Bench>>,
    Path(id): Path<String>,
) -> Result<Response, Refusal> {
    open(bench, id, Room::Costing, |bench, on, settings| {
        Ok(Shown {
            title: format!("Costing of {}", on.piece.name),
            scripts: &["ledger.js"],
            body: room(bench, on, settings.units),
        })
    })
    .await
}

/// `POST /piece/{id}/costing`: keeps the rates, and answers with the reckoning.
pub(crate) async fn answer(
    State(bench): State<Arc<Bench>>,
    Path(id): Path<String>,
    headers: HeaderMap,
    body: Body,
) -> Result<Json<Value>, Refusal> {
    taken(bench, &id, &headers, body, |bench, id, sent| {
        let now = bench.piece(id)?;
        let (rates, asked) = rates_of(&sent.fields, rates_kept(&now.piece)?)?;
        let (record, parcel) = (json!(rates), json!(asked));
        let on = keep(bench, id, sent, "Rates and prices", |shop| {
            shop.rates = Some(record.clone());
            shop.parcel = Some(parcel.clone());
        })?;
        let units = bench.workshop.settings()?.units;
        Ok(heard(&on, answered(bench, &on, &rates, &asked, units)))
    })
    .await
}

/// `GET /piece/{id}/costing/{name}`: the reckoning as `cost.csv` or `cost.xlsx`.
pub(crate) async fn file(
    State(bench): State<Arc<Bench>>,
    Path((id, name)): Path<(String, String)>,
) -> Result<Response, Refusal> {
    let id = piece_of(&id)?;
    bench
        .work(move |bench| {
            let on = bench.piece(id)?;
            let rates = rates_kept(&on.piece)?;
            let (reckoning, _) = reckoned(bench, &on, &rates)?;
            let tables = reckoning.tables();
            let (kind, bytes) = match name.as_str() {
                "cost.csv" => {
                    let first = tables.first();
                    (
                        "text/csv; charset=utf-8",
                        first.map(|t| t.to_csv()).unwrap_or_default(),
                    )
                }
                "cost.xlsx" => (
                    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
                    to_xlsx(&format!("Cost of {}", on.piece.name), &tables)
                        .map_err(|e| told(&e))?,
                ),
                _ => return Err(Refusal::not_there("such file")),
            };
            Ok(download(kind, &name, bytes))
        })
        .await
}

fn rates_kept(piece: &Piece) -> Result<Rates, Refusal> {
    match &piece.shop.rates {
        Some(kept) => Rates::from_json(&bytes_of(kept)),
        None => Rates::built_in(),
    }
    .map_err(|e| told(&e))
}

fn asked_kept(piece: &Piece) -> Asked {
    let kept = piece.shop.parcel.clone();
    kept.and_then(|v| serde_json::from_value(v).ok())
        .unwrap_or_default()
}

fn rates_of(fields: &Fields, mut rates: Rates) -> Result<(Rates, Asked), Refusal> {
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

/// The reckoning with what the lots say is bought, and a note where they cannot count.
fn reckoned(
    bench: &Bench,
    on: &OnBench,
    rates: &Rates,
) -> Result<(Reckoning, Option<String>), Refusal> {
    let mut note = None;
    let mut bought = Vec::new();
    match donors::chosen(bench, on) {
        None => {}
        Some(Ok(answer)) if answer.currency == rates.currency => {
            bought.push(("donors".to_owned(), answer.cost));
        }
        Some(Ok(answer)) => {
            note = Some(format!(
                "Donors are in {}, the rates in {}: money of two currencies is not added up.",
                answer.currency, rates.currency
            ));
        }
        Some(Err(e)) => note = Some(format!("Donors are not in it. {}", e.problem)),
    }
    let reckoning = reckon(&on.piece, rates, &bought).map_err(|e| told(&e))?;
    Ok((reckoning, note))
}

fn answered(bench: &Bench, on: &OnBench, rates: &Rates, asked: &Asked, units: Units) -> Markup {
    html! {
        @match reckoned(bench, on, rates) {
            Ok((r, note)) => (shown(on, rates, &r, note.as_deref())),
            Err(e) => (in_place(&e)),
        }
        (parcel(&on.piece, asked, Lengths(units)))
    }
}

fn shown(on: &OnBench, rates: &Rates, r: &Reckoning, note: Option<&str>) -> Markup {
    let money = |minor: i64| Money::new(minor, rates.currency).to_string();
    let q = &r.finished;
    let groups: Vec<(String, i64, String, bool)> = q
        .by_group()
        .into_iter()
        .map(|(what, minor)| {
            (
                crate::say::capital(what),
                minor,
                money(minor),
                what == "profit",
            )
        })
        .collect();
    let href = |name: &str| format!("/piece/{}/costing/{name}", on.id);
    html! {
        div class="card verdict" {
            h2 class="large" { (money(q.price_minor)) " for the finished piece" }
            @for text in r.notes.iter().map(|n| n.as_str()).chain(note) { p class="caution" { (text) } }
            div class="facts" {
                (fact("Costs", &money(q.total_minor)))
                (fact("Is left", &money(q.profit_minor)))
                (fact("Margin", &format!("{:.1} %", 100.0 * q.margin)))
                (fact("Markup", &format!("{:.1} %", 100.0 * q.markup)))
                (fact("Nothing lost from", &money(q.break_even_price_minor)))
                (fact("Work", &format!("{:.1} h", q.minutes / 60.0)))
            }
            @if q.profit_minor < 0 { p class="caution" { "At this price each piece loses money." } }
            @if let Some(n) = q.break_even_pieces { p { "What is spent once comes back with piece " (n) "." } }
            h3 { "Where the money goes" }
            (bars("Where the money goes", &groups))
            p class="files" {
                a class="button" href=(href("cost.csv")) download="cost.csv" { "The bill as CSV" }
                a class="button" href=(href("cost.xlsx")) download="cost.xlsx" { "All of it as XLSX" }
            }
        }
        div class="card" {
            h2 { "Side by side" }
            table {
                thead { tr { th { "As" } th class="n" { "Price" } th class="n" { "Costs" } th class="n" { "Is left" } } }
                tbody {
                    (side("Finished piece", q))
                    @for (title, quote) in &r.what_if { (side(&format!("With {title}"), quote)) }
                    @if let Some(kit) = &r.kit { (side("Kit", kit)) }
                    @if let Some(b) = &r.batch { (side(&format!("Each of {}", b.size), &b.each)) }
                }
            }
            @if let Some(b) = &r.batch {
                p class="soft" {
                    "A batch of " (b.size) @if b.done > 0 { " after " (b.done) } ": " (format!("{:.1}", b.average_minutes / 60.0)) " h each on the average, the \
                    first " (format!("{:.1}", b.first_minutes / 60.0)) " h. Learning " (format!("{:.0}", 100.0 * b.learning)) " %, " (b.model_title) ". All of \
                    them leave " (money(b.profit_minor)) "."
                }
            }
        }
        details class="card" {
            summary { "The bill, line by line" }
            table {
                thead { tr { th { "What" } th class="n" { "Amount" } th class="n" { "Cost" } } }
                tbody { @for l in &q.lines {
                    tr {
                        td { (l.what) span class="soft note" { (l.group.title()) } }
                        td class="n" { @if let Some(a) = l.amount { (format!("{:.1} {}", a, l.unit)) } }
                        td class="n" { (money(l.minor)) }
                    }
                } }
                tfoot {
                    tr { th { "All costs" } td {} td class="n" { (money(q.total_minor)) } }
                    tr { th { "Tax in the price" } td {} td class="n" { (money(q.tax_minor)) } }
                    tr { th { "The customer pays" } td {} td class="n" { (money(q.price_minor)) } }
                }
            }
            p class="soft" { "Standing of the rates: " (rates.standing.in_words()) @if !rates.source.is_empty() { "; " (rates.source) } "." }
        }
    }
}

fn side(title: &str, q: &Quote) -> Markup {
    let money = |minor: i64| Money::new(minor, q.currency).to_string();
    html! { tr { td { (title) } td class="n" { (money(q.price_minor)) } td class="n" { (money(q.total_minor)) } td class="n" { (money(q.profit_minor)) } } }
}

fn packed(piece: &Piece, asked: &Asked) -> Result<Parcel, Refusal> {
    let mut carriage = Carriage::built_in().map_err(|e| told(&e))?;
    let own = |v| Sourced::new(v, "typed in", Standing::Own);
    if let Some(v) = asked.divisor_cm3_per_kg {
        carriage.divisor_cm3_per_kg = own(v);
    }
    if let Some(v) = asked.fragility_g {
        carriage.fragility_g = own(v);
    }
    let options = ParcelOptions {
        cells: asked.cells.clone(),
        mass_g: asked.mass_g,
    };
    pack(piece, &carriage, &options).map_err(|e| {
        let refusal = told(&e);
        let remedy = "Work out its build, or weigh the framed piece and type its mass under Parcel; the frame's depth is chosen on the Board.";
        match e {
            ledger::LedgerError::Missing { what, .. } => {
                Refusal::bad(crate::say::sentence(&format!("{what} is not known")), remedy)
            }
            _ => refusal,
        }
    })
}

fn parcel(piece: &Piece, asked: &Asked, lengths: Lengths) -> Markup {
    let p = match packed(piece, asked) {
        Ok(p) => p,
        Err(e) => return html! { div class="card" { h2 { "The parcel" } (in_place(&e)) } },
    };
    let size = |s: [f64; 3]| {
        let [a, b, c] = s.map(|mm| lengths.bare(mm));
        format!("{a} x {b} x {c} {}", lengths.unit())
    };
    html! {
        div class="card" {
            h2 { "The parcel" }
            div class="facts" {
                (fact("Box outside", &size(p.size_mm)))
                (fact("Packed", &format!("{:.1} kg", (p.mass_g / 100.0).ceil() / 10.0)))
                (fact("By volume", &format!("{} kg", p.dimensional_kg)))
                (fact("Charged", &format!("{} kg", p.charged_kg)))
                (fact("Cushion all round", &lengths.say(p.cushion_mm)))
                (fact("For a fall of", &lengths.say(p.drop_mm)))
                @if let Some(freight) = p.freight { (fact("Freight", &freight.to_string())) }
            }
            p { strong { "Lithium: " } (p.lithium.statement) }
            @for note in p.notes.iter().chain(&p.lithium.notes) { p class="soft" { (note) } }
            details {
                summary { "How it is packed" }
                ol class="packing" { @for step in &p.steps { li { (step) } } }
            }
            details {
                summary { "Figures that this rests on" }
                table {
                    thead { tr { th { "Figure" } th class="n" { "Value" } th { "Standing" } th { "Source" } } }
                    tbody { @for f in &p.figures { tr { td { (f.name) } td class="n" { (f.value) " " (f.unit) } td { (f.standing.in_words()) } td { (f.source) } } } }
                }
            }
        }
    }
}

fn room(bench: &Bench, on: &OnBench, units: Units) -> Markup {
    let rates = match rates_kept(&on.piece) {
        Ok(rates) => rates,
        Err(e) => return html! { h1 class="quiet" { "Costing" } (in_place(&e)) },
    };
    let asked = asked_kept(&on.piece);
    let answer = html! {
        @if on.piece.parts.is_empty() {
            div class="empty" {
                h2 { "Nothing to reckon yet" }
                p { "A bill follows from the parts, the frame and the build. Rates can be set already." }
                p { a class="button primary" href=(Room::Capture.href(on.id)) { "To Capture" } }
            }
        } @else { (answered(bench, on, &rates, &asked, units)) }
    };
    answer_and_form(
        on,
        Room::Costing,
        "Reckoning",
        &answer,
        &form(&rates, &asked),
    )
}

fn form(r: &Rates, asked: &Asked) -> Markup {
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
                (field("Bears, g", "fragility", &of(asked.fragility_g), "as a rule"))
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
