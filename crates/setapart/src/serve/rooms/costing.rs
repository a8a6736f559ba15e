//! Costing: what a piece costs and must bring, and how it travels.

mod form;

use super::donors;
use crate::serve::bench::{Bench, OnBench};
use crate::serve::download;
use crate::serve::heard::{Of, id_of};
use crate::serve::ledger_forms::{
    Sent, answer_and_form, bars, bytes_of, heard, in_place, keep, taken, told,
};
use crate::serve::refusal::Refusal;
use crate::serve::rooms::{Lengths, Room, Shown, fact, open};
use axum::Json;
use axum::extract::{Path, State};
use axum::response::Response;
use form::{form, rates_of};
use ledger::Money;
use ledger::cost::{Quote, Rates, Reckoning, reckon};
use ledger::parcel::{Carriage, CellRating, Parcel, ParcelOptions, pack};
use ledger::table::to_xlsx;
use maud::{Markup, html};
use piece::{Piece, Sourced, Standing};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use std::sync::Arc;
use workshop::{PieceId, Units};

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
    Of(id): Of<PieceId>,
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
    Of(id): Of<PieceId>,
    sent: Sent,
) -> Result<Json<Value>, Refusal> {
    taken(bench, id, sent, |bench, id, sent| {
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
    let id = id_of(&id)?;
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
                (fact("For a fall of", &format!("{} {}", lengths.bare(p.drop_mm), lengths.unit())))
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
