//! The drawer's stock across all devices: condition, origin, and for which piece each is kept.

use crate::serve::bench::{Bench, OnBench};
use crate::serve::heard::id_of;
use crate::serve::ledger_forms::{Fields, Sent, changed_meanwhile, take_out};
use crate::serve::refusal::Refusal;
use crate::serve::rooms::{open_beside, word};
use crate::serve::words::KINDS;
use axum::Json;
use axum::extract::State;
use axum::response::Response;
use ledger::donors::Need;
use ledger::drawer::{self, Drawer, Stock};
use maud::{Markup, html};
use piece::PartKind;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;
use std::sync::Arc;
use workshop::{Condition, Listed, Reserved, StockChange, StockId, StockItem, Stocked};

const CONDITIONS: [(&str, Condition, &str); 4] = [
    ("whole", Condition::Whole, "whole"),
    ("marked", Condition::Marked, "whole, with marks"),
    ("broken", Condition::Broken, "broken"),
    ("untested", Condition::Untested, "nobody has looked"),
];

/// `GET /stock`.
pub(crate) async fn page(State(bench): State<Arc<Bench>>) -> Result<Response, Refusal> {
    open_beside(bench, "Stock", &["ledger.js"], &["ledger.css"], |bench| {
        let (stock, pieces) = (bench.workshop.stock(false)?, bench.workshop.pieces()?);
        Ok(room(&stock, &pieces))
    })
    .await
}

/// `POST /stock`: keeps what was typed; lines without a number are put in, those named as gone leave.
pub(crate) async fn keep(
    State(bench): State<Arc<Bench>>,
    sent: Sent,
) -> Result<Json<Value>, Refusal> {
    bench
        .work(move |bench| {
            // Compared with the store and written in one: what another process writes comes before it or after it.
            let heard = bench.workshop.change_stock(|stock| stored(stock, &sent))?;
            Ok(Json(heard))
        })
        .await
}

/// Stores what was typed, and answers the page.
fn stored(stock: &StockChange<'_>, sent: &Sent) -> Result<Value, Refusal> {
    let mut now = BTreeMap::new();
    for n in sent.fields.lines("stock") {
        if let Some(id) = sent.fields.text(&format!("stock.{n}.id")) {
            let stocked = stock.one(stock_id(id)?)?;
            now.extend(as_typed(n, stocked));
        }
    }
    // What another window changed and this one did not stays as it is.
    let fields = &sent.over(&now)?;
    let mut numbers = Map::new();
    // All lines are read before any is stored.
    let mut lines = Vec::new();
    for n in fields.lines("stock") {
        let of = |what: &str| format!("stock.{n}.{what}");
        let text = |what: &str| fields.text(&of(what)).unwrap_or_default().to_owned();
        let id = match fields.text(&of("id")) {
            Some(id) => Some(stock_id(id)?),
            None => None,
        };
        if id.is_none() && text("name").is_empty() {
            continue;
        }
        let before = id.map(|id| stock.one(id)).transpose()?;
        let mut item = before.as_ref().map_or_else(new_item, |b| b.item.clone());
        fields.needed(&of("name"))?;
        item.name = text("name");
        item.kind = fields.kind(&of("kind"))?;
        item.condition = condition(fields, &of("condition"))?;
        item.model = text("model");
        item.origin = text("origin");
        item.note = text("note");
        let piece = match fields.text(&of("for")) {
            Some(id) => Some(id_of(id)?),
            None => None,
        };
        if item.reserved.as_ref().map(|r| r.piece) != piece {
            item.reserved = piece.map(|piece| Reserved { piece, part: None });
        }
        if before
            .as_ref()
            .is_some_and(|b| b.gone.is_some() && b.item != item)
        {
            return Err(changed_meanwhile(&of("name")));
        }
        lines.push((of("id"), before, item));
    }
    for (name, before, item) in lines {
        match before {
            None => {
                let id = stock.add(&item)?;
                numbers.insert(name, json!(id.to_string()));
            }
            Some(b) if b.item != item => stock.set(b.id, &item)?,
            Some(_) => {}
        }
    }
    for n in fields.lines("gone") {
        let id = stock_id(&n.to_string())?;
        stock.set_gone(id, Some("taken out of the stock"))?;
    }
    let stock = stock.all(false)?;
    Ok(json!({
        "revision": 0, "undo": null, "redo": null, "set": numbers, "answer": summary(&stock).into_string(),
    }))
}

fn condition(fields: &Fields, name: &str) -> Result<Condition, Refusal> {
    let chosen = fields.needed(name)?;
    let unknown = || Refusal::bad("There is no such condition.", "Choose one of the list.");
    let found = CONDITIONS.iter().find(|c| c.0 == chosen);
    found.map(|c| c.1).ok_or_else(|| unknown().of_field(name))
}

fn stock_id(text: &str) -> Result<StockId, Refusal> {
    text.parse()
        .map_err(|_| Refusal::not_there(format!("part {text:?} in the stock")))
}

fn new_item() -> StockItem {
    StockItem {
        name: String::new(),
        kind: PartKind::Other,
        model: String::new(),
        condition: Condition::Untested,
        origin: String::new(),
        part: None,
        image: None,
        reserved: None,
        note: String::new(),
    }
}

/// The stock as donors count it. A part in stock is a needed one where it was captured as it, is kept for its place, or has
/// its name; kept for another piece, it is nobody's.
pub(crate) fn drawer_for(bench: &Bench, on: &OnBench, needs: &[Need]) -> Result<Drawer, Refusal> {
    let mut drawer = Drawer::new();
    let device = on.piece.device.as_ref().map(|d| d.name.as_str());
    for Stocked { item, .. } in bench.workshop.stock(false)? {
        let kept = item.reserved.as_ref();
        let same = |n: &&Need| {
            kept.and_then(|r| r.part.as_ref()) == Some(&n.part)
                || item.part.as_ref().is_some_and(|p| p.id == n.part)
                || n.title().eq_ignore_ascii_case(&item.name)
        };
        let Some(need) = needs.iter().find(same) else {
            continue;
        };
        let own =
            item.model.is_empty() || device.is_some_and(|d| d.eq_ignore_ascii_case(&item.model));
        drawer.stock.push(Stock {
            part: need.part.clone(),
            model: (!own).then(|| item.model.clone()),
            name: Some(item.name.clone()),
            kind: Some(item.kind),
            count: 1,
            condition: match item.condition {
                Condition::Whole | Condition::Marked => drawer::Condition::Whole,
                Condition::Untested => drawer::Condition::Unseen,
                Condition::Broken => drawer::Condition::Damaged,
            },
            chance: None,
            origin: Some(item.origin.clone()),
            reserved_for: kept.map(|r| match r.piece == on.id {
                true => on.piece.name.clone(),
                false => format!("piece {}", r.piece),
            }),
            place: None,
        });
    }
    Ok(drawer)
}

/// What lies in the demo's drawer; what is kept for another piece stays with its shop.
pub(crate) fn demo_stock(drawer: &Drawer) -> Vec<StockItem> {
    let mut items = Vec::new();
    for s in drawer.stock.iter().filter(|s| s.reserved_for.is_none()) {
        for _ in 0..s.count.min(20) {
            items.push(StockItem {
                name: s.name.clone().unwrap_or_else(|| s.part.to_string()),
                kind: s.kind.unwrap_or(PartKind::Other),
                model: s.model.clone().unwrap_or_default(),
                condition: match s.condition {
                    drawer::Condition::Whole => Condition::Whole,
                    drawer::Condition::Unseen => Condition::Untested,
                    drawer::Condition::Damaged => Condition::Broken,
                },
                origin: s.origin.clone().unwrap_or_default(),
                note: s.place.clone().unwrap_or_default(),
                ..new_item()
            });
        }
    }
    items
}

fn summary(stock: &[Stocked]) -> Markup {
    let kept = stock.iter().filter(|s| s.item.reserved.is_some()).count();
    html! {
        p class="soft" {
            @match stock.len() {
                0 => "Nothing is in stock.",
                n => { (crate::say::counted(n, "part")) " from all devices, " (kept) " kept for a piece." },
            }
        }
    }
}

fn room(stock: &[Stocked], pieces: &[Listed]) -> Markup {
    html! {
        div class="stock" {
            div class="work-bar" {
                h1 { "Stock" }
                div id="answer" { (summary(stock)) }
                span id="saved" class="soft" role="status" {}
            }
            @if stock.is_empty() {
                section class="empty" {
                    h2 { "The stock is empty" }
                    p { "Parts that were taken out of any device and are not in a piece yet. Put the first one in below; Donors counts on it." }
                }
            }
            form class="ledger" id="ledger" data-url="/stock" autocomplete="off" {
                p class="error" id="form-error" role="alert" hidden {}
                div class="card" {
                    ol class="lines stock-lines" data-list="stock" { @for (n, s) in stock.iter().enumerate() { (line(&n.to_string(), Some(s), pieces)) } }
                    template id="line-stock" { (line("NEW", None, pieces)) }
                    p { button type="button" class="primary" data-add="stock" { "Put a part in" } }
                }
            }
        }
    }
}

/// The fields of a line with what stands in them.
fn as_typed(n: u32, stocked: Stocked) -> [(String, String); 8] {
    let item = stocked.item;
    let condition = CONDITIONS.iter().find(|c| c.1 == item.condition);
    let kept = item.reserved.map(|r| r.piece.to_string());
    [
        ("id", stocked.id.to_string()),
        ("name", item.name),
        ("kind", word(&item.kind)),
        ("condition", condition.map_or("", |c| c.0).to_owned()),
        ("model", item.model),
        ("origin", item.origin),
        ("for", kept.unwrap_or_default()),
        ("note", item.note),
    ]
    .map(|(what, text)| (format!("stock.{n}.{what}"), text))
}

fn line(n: &str, s: Option<&Stocked>, pieces: &[Listed]) -> Markup {
    let item = s.map_or_else(new_item, |s| s.item.clone());
    let name = |what: &str| format!("stock.{n}.{what}");
    let title = if item.name.is_empty() {
        "the new part"
    } else {
        &item.name
    };
    let kept = item.reserved.as_ref().map(|r| r.piece);
    html! {
        li class="stock-line" {
            input type="hidden" name=(name("id")) value=(s.map_or(String::new(), |s| s.id.to_string()));
            label class="block" { "Part" input type="text" name=(name("name")) value=(item.name); }
            label class="block" { "Kind" select name=(name("kind")) { @for k in KINDS { option value=(word(&k)) selected[k == item.kind] { (word(&k)) } } } }
            label class="block" { "Condition" select name=(name("condition")) { @for (id, c, title) in CONDITIONS { option value=(id) selected[c == item.condition] { (title) } } } }
            label class="block" { "Model" input type="text" name=(name("model")) value=(item.model) placeholder="the piece's own"; }
            label class="block" { "Came from" input type="text" name=(name("origin")) value=(item.origin); }
            label class="block" { "Kept for" select name=(name("for")) {
                option value="" selected[kept.is_none()] { "whoever needs it" }
                @for p in pieces { option value=(p.id) selected[kept == Some(p.id)] { (p.name) } }
                @if let Some(binned) = kept.filter(|k| pieces.iter().all(|p| p.id != *k)) {
                    option value=(binned) selected { "a piece in the bin" }
                }
            } }
            label class="block" { "Note" input type="text" name=(name("note")) value=(item.note); }
            (take_out(title))
        }
    }
}
