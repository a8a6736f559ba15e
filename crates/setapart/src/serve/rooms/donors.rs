//! Donors: lots on offer, and which of them to buy.

mod form;

use super::stock;
use crate::serve::bench::{Bench, OnBench};
use crate::serve::heard::Of;
use crate::serve::ledger_forms::{
    Sent, answer_and_form, bytes_of, heard, in_percent, in_place, keep, taken, told,
};
use crate::serve::refusal::Refusal;
use crate::serve::rooms::{Room, Shown, fact, open};
use axum::Json;
use axum::extract::State;
use axum::response::Response;
use form::{form, market_of};
use ledger::cover::Budget;
use ledger::donors::{Answer, CurvePoint, LotChances, Market, Question, Selection};
use ledger::drawer::Drawer;
use ledger::{Currency, LedgerError, Money};
use maud::{Markup, html};
use piece::Piece;
use serde_json::{Value, json};
use shape::{Cancelled, Watch};
use std::sync::Arc;
use std::time::{Duration, Instant};
use workshop::PieceId;

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
    Of(id): Of<PieceId>,
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
    Of(id): Of<PieceId>,
    sent: Sent,
) -> Result<Json<Value>, Refusal> {
    taken(bench, id, sent, |bench, id, sent| {
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
